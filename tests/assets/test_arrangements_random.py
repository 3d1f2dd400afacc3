"""Random small sprites, converted in every arrangement and decoded again, are what was drawn, pixel for pixel."""

from __future__ import annotations

import tempfile
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pipeline.assets.sources.prepared import write_frames
from pipeline.assets.sprites.cut import cut_sprite
from pipeline.assets.sprites.pool import make_pool
from pipeline.assets.sprites.sprite import convert_pooled_sprite, convert_sprite
from pipeline.joints.facts import PaletteFacts, SpriteFacts, read_facts, write_facts
from pipeline.joints.places import blob_files, cut_files, facts_file, frame_files, index_file
from pipeline.joints.views import PaletteView
from pipeline.project.assets import Pool, Sprite
from pipeline.reading.decoded import Decoded
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import Target, picture_rules
from tests.conftest import tries
from tests.made_facts import made_facts
from tests.makers import TARGETS
from tests.reading.decoding import decode_blob

COLOURS = [[0, 0, 0], [255, 0, 0], [0, 255, 0]]  # entry 0 is transparent; all as every shipped target shows them
FIRST = 1
moving = settings(max_examples=tries(10, 25), deadline=None)  # a conversion writes files


@st.composite
def sprites(draw) -> np.ndarray:
    """Entries of a few frames, with frames that come back, mirrored, shifted and empty ones among them."""
    height, width = draw(st.integers(1, 21)), draw(st.integers(1, 21))
    drawn = draw(st.lists(arrays(np.uint8, (height, width), elements=st.integers(0, 2)), min_size=1, max_size=2))
    more = [np.zeros_like(drawn[0]), drawn[0], drawn[0][:, ::-1], drawn[-1][::-1], np.roll(drawn[0] * (drawn[0] > 1), 3, axis=1)]
    return np.stack([*drawn, *draw(st.permutations(more))[: draw(st.integers(0, 5))]])


def prepare(folder: Path, name: str, frames: np.ndarray, colours: np.ndarray) -> None:
    """Write frames as scaling leaves them, and the palette's facts."""
    rgba = np.concatenate([colours[frames], 255 * (frames[..., None] > 0)], axis=-1).astype(np.uint8)
    (folder / f"{name}.rgba").write_bytes(rgba.tobytes())
    count, height, width = frames.shape
    write_frames(frame_files(folder, name).described, count, (width, height), (width, height))
    known = [tuple(colour) for colour in colours.tolist()]
    facts = made_facts(PaletteFacts, "colours", first=FIRST, entry_count=len(colours), transparent=True, colours=known)
    write_facts(facts_file(folder, "colours"), facts)


def read_back(folder: Path, name: str, kind: str, target: Target) -> Decoded:
    """Decode a blob; pools are found by the CRC-32 of their name."""

    def find_pool(number: int) -> Decoded | None:
        return read_back(folder, "crew", "pool", target) if number == zlib.crc32(b"crew") else None

    return decode_blob(kind, (folder / f"{name}.bin").read_bytes(), target, find_pool)


@pytest.mark.parametrize("name", TARGETS)
@moving
@given(frames=sprites())
def test_every_arrangement_holds_the_same_frames(name, frames):
    """As a sheet (but for its padding), as trimmed frames and in pieces: entry n is the pixel first + n."""
    target = load_target(SHIPPED / f"{name}.toml")
    rules, flips = picture_rules(target, target.screen.pixels), (target.sprites.flip_x, target.sprites.flip_y)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        prepare(folder, "one", frames, np.array(COLOURS))
        facts = {}
        for arrangement in ("sheet", "frames", "pieces"):
            spec = Sprite(palette="colours", arrangement=arrangement)
            given = frame_files(folder, "one"), PaletteView(facts_file(folder, "colours")), blob_files(folder, "one")
            convert_sprite(*given, "one", (), spec, rules, 60.0, flips, 4, 1 << 20)
            seen = read_back(folder, "one", "sprite", target).pixels
            assert np.array_equal(seen[:, : frames.shape[1], : frames.shape[2]], frames + FIRST)
            assert (seen[:, frames.shape[1] :] == FIRST).all()
            assert (seen[:, :, frames.shape[2] :] == FIRST).all()
            facts[arrangement] = read_facts(facts_file(folder, "one"), SpriteFacts)
        compared = [[getattr(one, key) for key in ("sheet_bytes", "frames_bytes", "opaque_bytes")] for one in facts.values()]
        assert compared == [compared[0]] * 3
        assert compared[0][2] <= compared[0][0]


@pytest.mark.parametrize("name", TARGETS)
@moving
@given(first=sprites(), second=sprites())
def test_sprites_of_one_pool_hold_their_frames_and_share_their_cells(name, first, second):
    """Two sprites through cut, pool and tables; the pool holds no cell twice, mirrored or not, and none that none uses."""
    target = load_target(SHIPPED / f"{name}.toml")
    rules, flips = picture_rules(target, target.screen.pixels), (target.sprites.flip_x, target.sprites.flip_y)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        spec = Sprite(palette="colours", arrangement="pieces", pool="crew")
        for user, frames in (("one", first), ("two", second)):
            prepare(folder, user, frames, np.array(COLOURS))
            palette = PaletteView(facts_file(folder, "colours"))
            cut_sprite(frame_files(folder, user), palette, cut_files(folder, user), user, "none", rules, flips)
        cuts = {user: cut_files(folder, user) for user in ("one", "two")}
        given = [{user: cut.cells for user, cut in cuts.items()}, {user: cut.described for user, cut in cuts.items()}]
        given.append({user: index_file(folder, user) for user in cuts})
        make_pool(*given, blob_files(folder, "crew"), "crew", Pool(), rules, flips, 4)
        for user, frames in (("one", first), ("two", second)):
            given = frame_files(folder, user).described, cuts[user].described, cuts[user].pieces, index_file(folder, user)
            convert_pooled_sprite(*given, blob_files(folder, user), user, (), spec, rules, 60.0)
            assert np.array_equal(read_back(folder, user, "sprite", target).pixels, frames + FIRST)
        cells = read_back(folder, "crew", "pool", target).pixels
        ways = [(1 - 2 * down, 1 - 2 * across) for across in range(1 + flips[0]) for down in range(1 + flips[1])]
        images = [min(str(cell[::down, ::across].tolist()) for down, across in ways) for cell in cells]
        assert len(set(images)) == len(images)
        facts = {user: read_facts(facts_file(folder, user)) for user in ("one", "two", "crew")}
        owned = [facts[user].stored.own_cells for user in ("one", "two")]
        assert max(owned) <= len(cells) <= sum(owned)
        assert facts["crew"].pieces == facts["one"].stored.pieces + facts["two"].stored.pieces
