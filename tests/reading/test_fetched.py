"""What a frame needs of the cartridge, against decoding it from those bytes alone; no outside source."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from pipeline.joints.fetched import read_frames
from pipeline.project.loading.load import load_project
from pipeline.reading.decoded import BlobFault
from pipeline.reading.kinds.fetched import measure_frames, stored_parts
from pipeline.reading.kinds.sprite import decode_pool, decode_sprite
from tests.conftest import some
from tests.makers import TARGETS, make_project, run_steps

CHOOSE = 'choose = [{ count = 1, of = ["crew"] }]'
POOL = '[pool.cells]\n[defaults.sprite]\narrangement = "pieces"\npool = "cells"\n'
ARRANGED = {name: f'[defaults.sprite]\narrangement = "{name}"\n' for name in ("sheet", "frames", "pieces")} | {"pool": POOL}


@pytest.fixture(scope="module", params=some(itertools.product(TARGETS, ARRANGED), 5))
def built(request, tmp_path_factory):
    """A project whose scene streams its sprite, stored in some way, with its budget made."""
    target, stored = request.param
    folder = tmp_path_factory.mktemp("project") / "ferry"
    make_project(folder, (CHOOSE, f"{CHOOSE}\nstreamed.crew = {{ buffers = 2 }}"), target=target, more=ARRANGED[stored])
    project = load_project(folder)
    run_steps(project, "memory")
    pool = folder / "build/blobs/cells.bin"
    return project, (folder / "build/blobs/ada.bin").read_bytes(), pool.read_bytes() if pool.is_file() else None


def decoded(project, blob: bytes, pool: bytes | None) -> np.ndarray:
    """Return the frames of a sprite."""
    return decode_sprite(blob, project.target, (lambda _: decode_pool(pool, project.target)) if pool else None).pixels


def test_frame_is_whole_from_what_is_fetched_for_it(built):
    """With all pixels lost but those of its parts a frame decodes as before; with one part lost too it does not."""
    project, blob, pool = built
    whole = decoded(project, blob, pool)
    parts, source = stored_parts(blob, pool, project.target), pool or blob
    every = sorted(frozenset().union(*parts))
    for frame, mine in enumerate(parts):
        assert (without(project, blob, pool, [one for one in every if one not in mine])[frame] == whole[frame]).all()
        for one in mine:
            lost = source[one[0] : sum(one)]
            same = (without(project, blob, pool, [one])[frame] == whole[frame]).all()
            assert not same or not any(lost), "a part that shows nothing need not be fetched"


def without(project, blob: bytes, pool: bytes | None, parts: list[tuple[int, int]]) -> np.ndarray:
    """Return the frames of a sprite where some parts of its pixels are zeros."""
    changed = bytearray(pool or blob)
    for offset, size in parts:
        changed[offset : offset + size] = bytes(size)
    return decoded(project, blob if pool else bytes(changed), bytes(changed) if pool else None)


def test_file_says_what_the_parts_are(built):
    """Bytes and cells of each frame, what is left of the blob, and the animation with every part once."""
    project, blob, pool = built
    parts, cell = stored_parts(blob, pool, project.target), project.target.cells
    found = read_frames(project.folder / "build/work/ada.fetched.json")
    assert found == measure_frames(blob, pool, project.target)
    assert [one.bytes for one in found.frames] == [sum(size for _, size in one) for one in parts]
    bits = project.target.pixel_formats[project.target.screen.pixels].pixel.width
    assert [one.cells * cell.width * cell.height * bits for one in found.frames] == [8 * one.bytes for one in found.frames]
    union = frozenset().union(*parts)
    assert found.animations[0].bytes == sum(size for _, size in union)
    assert found.tables == len(blob) - (0 if pool else found.animations[0].bytes)


def test_parts_side_by_side_are_one_run():
    """Adjacent parts are copied at once; a gap of a byte makes two runs of them. No outside source."""
    from pipeline.reading.kinds.fetched import _fetch

    assert _fetch(frozenset([(8, 8), (0, 8), (24, 8)]), 8).runs == [16, 8]
    assert _fetch(frozenset([(0, 8), (9, 8)]), 8).runs == [8, 8]
    assert (_fetch(frozenset(), 8).runs, _fetch(frozenset(), 8).cells) == ([], 0)


def test_layout_that_is_not_known_is_refused(built):
    """The number of a layout to come."""
    project, blob, pool = built
    with pytest.raises(BlobFault, match="layout 99 of a sprite is not known here"):
        measure_frames(bytes([99]) + blob[1:], pool, project.target)
