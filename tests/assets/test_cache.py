"""What is kept of frames changes no byte of what is made of them, and saves what it is there to save.

The reference is the same conversion with nothing kept.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import msgspec
import numpy as np
import pytest

from pipeline.assets.converted import ConvertedFrame, pack_frame, unpack_frame
from pipeline.assets.palette import compute_palette
from pipeline.assets.sources.prepared import write_frames
from pipeline.assets.sprites import cut as cut_module
from pipeline.assets.sprites.cut import cut_sprite
from pipeline.assets.sprites.sprite import convert_sprite
from pipeline.joints.facts import PaletteFacts, write_facts
from pipeline.joints.places import FrameFiles, Sources, blob_files, cut_files, facts_file, frame_files
from pipeline.joints.views import PaletteView
from pipeline.pixels.colours.apply import Converter
from pipeline.pixels.colours.difference import FrameLoss
from pipeline.plain.bits import parse_pattern
from pipeline.project.assets import Palette, Sprite
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import picture_rules
from tests.made_facts import made_facts

BASALT = load_target(SHIPPED / "basalt32.toml")
RULES = picture_rules(BASALT, BASALT.screen.pixels)
COLOURS = [(0, 0, 0), (248, 0, 0), (0, 248, 0), (40, 40, 120)]


def art(seed: int, count: int) -> np.ndarray:
    """Random frames of 30 x 40 with many colours, a figure and nothing around it."""
    rng = np.random.default_rng(seed)
    frames = rng.integers(0, 256, (count, 40, 30, 4), dtype=np.uint8)
    rows, columns = np.mgrid[:40, :30]
    inside = [(rows - 20) ** 2 + (columns - rng.integers(8, 22)) ** 2 < rng.integers(30, 160) for _ in range(count)]
    return np.where(np.array(inside)[..., None], frames | (0, 0, 0, 255), 0).astype(np.uint8)


def prepare(folder: Path, name: str, frames: np.ndarray, numbers: np.ndarray | None = None) -> FrameFiles:
    files = frame_files(folder, name, numbered=numbers is not None)
    files.pixels.write_bytes(frames.tobytes())
    if numbers is not None:
        files.numbers.write_bytes(numbers.tobytes())
    write_frames(files.described, len(frames), (30, 40), (30, 40), anchor=(15, 39))
    return files


@pytest.fixture
def palette(tmp_path) -> PaletteView:
    entries = {"entry_count": 4, "line_used": [4], "colours": COLOURS, "drawn": COLOURS, "transparent": True, "exact": False}
    write_facts(facts_file(tmp_path, "ink"), made_facts(PaletteFacts, "ink", **entries))
    return PaletteView(facts_file(tmp_path, "ink"))


@pytest.fixture
def counted(monkeypatch) -> dict[str, int]:
    """How many frames were converted, and how many covered."""
    counts = {"converted": 0, "covered": 0}
    convert, cover = Converter.convert, cut_module.cover

    def converting(self, frames, *words):
        counts["converted"] += len(frames)
        return convert(self, frames, *words)

    def covering(*words):
        counts["covered"] += 1
        return cover(*words)

    monkeypatch.setattr(Converter, "convert", converting)
    monkeypatch.setattr(cut_module, "cover", covering)
    return counts


@pytest.mark.parametrize("dither", ["none", "ordered", "diffusion"])
@pytest.mark.parametrize("arrangement", ["sheet", "frames", "pieces"])
def test_sprite_is_the_same_with_some_frames_known(arrangement, dither, tmp_path, palette, counted):
    """Three frames are known of eight, in other places; then all are."""
    frames, spec = art(1, 8), Sprite(palette="ink", arrangement=arrangement, dither=dither)
    numbers = np.random.default_rng(2).integers(0, 6, frames.shape[:3], dtype=np.uint8)
    frames[numbers == 3, :3] = COLOURS[3]  # some pixels keep the number that they have in their file

    def converted(name: str, chosen: list[int], cache: Path | None) -> list[bytes]:
        files = prepare(tmp_path, name, frames[chosen], numbers[chosen])
        convert_sprite(files, palette, blob_files(tmp_path, name), "one", (), spec, RULES, 60.0, (True, True), 4, 1 << 20, cache)
        return [path.read_bytes() for path in (blob_files(tmp_path, name).content, blob_files(tmp_path, name).facts)]

    wanted = converted("plain", list(range(8)), None)
    cache = tmp_path / "one.results"
    converted("part", [6, 1, 3], cache)
    counted.update(converted=0, covered=0)
    assert converted("known", list(range(8)), cache) == wanted
    assert counted == {"converted": 5, "covered": 5 if arrangement == "pieces" else 0}
    assert converted("again", list(range(8)), cache) == wanted
    assert counted["converted"] == 5


TWICE = [*COLOURS, COLOURS[3]]  # one colour at two numbers, so that a picture's own numbers say which

# What is other than in the first conversion; each must be part of a frame's key.
OTHERWISE = {
    "dither": {"dither": "diffusion"},
    "no dither": {"dither": "none"},
    "pattern starts elsewhere": {"anchor": (3, 2)},
    "shape": {"size": (40, 30)},
    "colours": {"colours": TWICE[::-1]},
    "fewer colours": {"colours": TWICE[:3]},
    "no transparent entry": {"transparent": False},
    "colours of the file": {"drawn": []},
    "numbers of the file": {"numbers": 1},
    "no numbers": {"numbers": None},
    "colours as they are": {"dither": "none", "exact": True},
    "entry's pattern": {"dither": "none", "exact": True, "entry": parse_pattern("xxxxxxBBxxxGGxRR")},
    "direct colour": {"palette": None},
    "other direct colour": {"palette": None, "pixel": parse_pattern("1BBBBBGGGGGRRRRR")},
    "cell": {"cell": (16, 8)},
    "flips": {"flips": (False, False)},
}


@pytest.fixture(scope="module")
def converted_before(tmp_path_factory) -> Path:
    """What is kept of every conversion, each after the other."""
    folder = tmp_path_factory.mktemp("kept")
    for given in ({}, *OTHERWISE.values()):
        convert_otherwise(folder, folder / "shared.results", **given)
    return folder / "shared.results"


def convert_otherwise(
    folder: Path, cache: Path | None, *, dither="ordered", anchor=(15, 39), size=(30, 40), colours=TWICE, transparent=True, drawn=TWICE,
    exact=False, numbers=5, entry=RULES.entry, palette="ink", pixel=None, cell=(8, 8), flips=(True, True),
) -> list[bytes]:  # fmt: skip
    """Convert the same bytes of art and return its blob and facts."""
    frames = art(4, 2)
    frames[:, 10:14, :, :3] = COLOURS[3]
    own = None if numbers is None else np.random.default_rng(numbers).integers(0, 6, frames.shape[:3], dtype=np.uint8)
    files = prepare(folder, "one", frames, own)
    write_frames(files.described, len(frames), size, size, anchor=anchor)
    entries = {"entry_count": len(colours), "line_used": [len(colours)], "colours": colours, "transparent": transparent, "exact": exact}
    write_facts(facts_file(folder, "ink"), made_facts(PaletteFacts, "ink", drawn=drawn[: len(colours)], **entries))
    direct = parse_pattern("0BBBBBGGGGGRRRRR") if pixel is None else pixel
    form = RULES.pixel_format if palette else msgspec.structs.replace(RULES.pixel_format, pixel=direct)
    rules = dataclasses.replace(RULES, entry=entry, cell=cell, pixel_format=form)
    view, out = PaletteView(facts_file(folder, "ink")) if palette else None, blob_files(folder, "out")
    spec = Sprite(palette=palette, arrangement="pieces" if palette else "frames", dither=dither if palette else "none")
    convert_sprite(files, view, out, "one", (), spec, rules, 60.0, flips, 4, 1 << 20, cache)
    return [path.read_bytes() for path in (out.content, out.facts)]


@pytest.mark.parametrize("given", OTHERWISE.values(), ids=OTHERWISE)
def test_all_that_a_frame_depends_on_is_in_its_key(given, converted_before, tmp_path):
    """One file holds what was made of the same pixels in other ways; none of it is taken for this way. Reference: nothing kept."""
    wanted = convert_otherwise(tmp_path, None, **given)
    cache = tmp_path / "one.results"
    convert_otherwise(tmp_path, cache)
    assert convert_otherwise(tmp_path, cache, **given) == wanted
    assert convert_otherwise(tmp_path, converted_before, **given) == wanted


def test_other_palette_searches_for_no_place_again(tmp_path, palette, counted):
    """Places of cells depend on which pixels are opaque, and on nothing else."""
    files, cache = prepare(tmp_path, "one", art(3, 4)), tmp_path / "one.results"

    def cut(name: str, kept: Path | None) -> list[bytes]:
        out = cut_files(tmp_path, name)
        cut_sprite(files, palette, out, "one", "none", RULES, (True, False), kept)
        return [path.read_bytes() for path in (out.cells, out.pieces, out.described)]

    cut("first", cache)
    other = [(0, 0, 0), (248, 248, 0), (0, 0, 248), (120, 120, 120)]
    write_facts(palette.path, made_facts(PaletteFacts, "ink", first=0, entry_count=4, transparent=True, line_used=[4], colours=other))
    counted.update(converted=0, covered=0)
    known = cut("known", cache)
    assert counted == {"converted": 4, "covered": 0}
    assert known == cut("plain", None)


def test_palette_counts_only_what_changed(tmp_path, monkeypatch):
    """Of three sprites one is other art; the entries and what was seen are those of a palette made of nothing known."""
    from pipeline.assets import palette as module

    counted, count = [], module._counted
    monkeypatch.setattr(module, "_counted", lambda user: counted.append(user.pixels.name) or count(user))

    def computed(name: str, kept: Path | None) -> list[bytes]:
        users, out = tuple(frame_files(tmp_path, one) for one in ("a", "b", "c")), blob_files(tmp_path, name)
        compute_palette(users, Sources(tmp_path, ()), out, "ink", Palette(colours=16), 16, RULES, kept)
        return [path.read_bytes() for path in (out.content, out.facts)]

    for seed, name in enumerate(("a", "b", "c")):
        prepare(tmp_path, name, art(seed, 2))
    first = computed("first", tmp_path / "ink.results")
    prepare(tmp_path, "b", art(9, 3))
    counted.clear()
    known = computed("known", tmp_path / "ink.results")
    assert counted == ["b.rgba"]
    assert known == computed("plain", None) != first


def test_colours_are_kept_for_the_pixels_that_were_counted(tmp_path, monkeypatch):
    """The file is another one while it is counted and is then put back: what was counted is not kept for what it was before and after."""
    from pipeline.assets import palette as module

    files, count, before = prepare(tmp_path, "a", art(1, 2)), module._counted, art(1, 2).tobytes()

    def computed(kept: Path | None) -> list[bytes]:
        out = blob_files(tmp_path, "out")
        compute_palette((files,), Sources(tmp_path, ()), out, "ink", Palette(colours=16), 16, RULES, kept)
        return [path.read_bytes() for path in (out.content, out.facts)]

    def exchanged(user: FrameFiles) -> tuple:
        files.pixels.write_bytes(art(9, 2).tobytes())
        try:
            return count(user)
        finally:
            files.pixels.write_bytes(before)

    wanted, cache = computed(None), tmp_path / "ink.results"
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(module, "_counted", exchanged)
        assert computed(cache) != wanted
    assert computed(cache) == wanted


@pytest.mark.parametrize("most", [0, 255, 256, 65_535, 65_536, (1 << 32) - 1])
def test_converted_frame_comes_back_whole(most):
    """Pixels of any width, a loss with and without pixels."""
    pixels = np.array([[0, most, 1], [most, 0, most]], dtype=np.uint32)
    for micro in (np.array([], dtype=np.int64), np.array([0, 4_999, 5_000, 250_000_000, 7], dtype=np.int64)):
        back = unpack_frame(pack_frame(ConvertedFrame(pixels, FrameLoss.of(micro))))
        assert back.pixels.dtype == np.uint32
        assert np.array_equal(back.pixels, pixels)
        assert (back.loss.pixels, back.loss.total) == (len(micro), micro.sum())
        assert back.loss.bins.tolist() == ([0, 1, 10_000] if len(micro) else [])
        assert back.loss.counts.tolist() == ([3, 1, 1] if len(micro) else [])
