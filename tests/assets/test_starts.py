"""Parts of blobs that hardware fetches by itself start where the target says, counted from the image's first byte.

The blobs are taken apart here with ``struct`` alone, from the published layout (``guide/blobs.md``); nothing of the reader is used.
"""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from PIL import Image

from pipeline.reading.decoded import BlobFault, decode_blob
from pipeline.target.kinds import calls_of
from tests.makers import Built, build_here, make_project
from tests.rom.reader_walk import every_kind, own_console

STARTS = {"default": 128, "frame": 128, "cell": 64, "tile": 128, "glyph": 32, "entries": 16}


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Built:
    """Every kind of asset for a little-endian console of cells of 16 x 12 pixels, 3 bits in planes by row: cells of 144 bytes."""
    console = own_console(planes="by row", order="rows", bits=3, row_unit=4, alignment=STARTS)
    return every_kind(tmp_path_factory.mktemp("starts") / "project", "lattice16", console)


def number(blob: bytes, at: int, size: int) -> int:
    """Return an unsigned number of a blob, least significant byte first."""
    return struct.unpack_from({1: "<B", 2: "<H", 4: "<I"}[size], blob, at)[0]


def blobs(made: Built, kind: str) -> dict[str, tuple[int, bytes]]:
    """Return name -> offset in the image and bytes of the assets of a kind."""
    taken = [one for one in made.map["entries"] if one["kind"] == kind]
    return {one["name"]: (one["offset"], made.image[one["offset"] : one["offset"] + one["bytes"]]) for one in taken}


def starts_of_frames(blob: bytes) -> list[int]:
    """Return where the frames of a sprite start in its blob, or its cells if it is in pieces and has its own."""
    version, frames = blob[0], number(blob, 2, 2)
    if version == 1:
        size, first = number(blob, 20, 4), number(blob, 32, 4)
        return [first + rank * size for rank in range(frames)]
    if version == 2:
        return [number(blob, 48, 4)]
    boxes = number(blob, 32, 4)
    shown = [boxes + 16 * rank for rank in range(frames)]
    return [number(blob, at + 12, 4) for at in shown if number(blob, at + 4, 2)]


def test_frames_of_sheets_and_cells_start_at_multiples_of_what_the_target_says(made):
    """Counted from the image's start."""
    found = blobs(made, "sprite")
    assert {blob[0] for _, blob in found.values()} == {1, 2, 3}
    for name, (offset, blob) in found.items():
        if name != "cid":  # its cells are in the pool
            start = STARTS["cell" if blob[0] == 2 else "frame"]
            assert {(offset + place) % start for place in starts_of_frames(blob)} == {0}, name


def of_three_figures(folder: Path, alignment: dict[str, int]) -> Built:
    """Build a project with a sprite of trimmed frames that are one, two and three cells wide."""
    more = '[sprite.eve]\nframes = "art/eve/*.png"\npalette = "figures"\narrangement = "frames"\n'
    make_project(folder, ('target = "lattice16"', 'target = "own.toml"'), target="lattice16", more=more)
    (folder / "own.toml").write_text(own_console(planes="by row", order="rows", bits=3, alignment={"default": 128} | alignment))
    (folder / "art/eve").mkdir()
    for rank in range(3):
        picture = Image.new("RGBA", (48, 12))
        picture.paste((200, 60, 40, 255), (0, 0, 16 * rank + 9, 12))
        picture.save(folder / f"art/eve/{rank}.png")
    return build_here(folder)


@pytest.mark.parametrize(("alignment", "after"), [({}, [72, 216]), ({"frame": 128}, [128, 384])], ids=["as before", "with the key"])
def test_trimmed_frames_start_at_multiples_of_what_the_target_says(tmp_path, alignment, after):
    """Rows of 2, 4 and 6 bytes in 3 planes: 72, 144 and 216 bytes, so the second and the third start in the middle without the key."""
    made = of_three_figures(tmp_path / "project", alignment)
    offset, blob = blobs(made, "sprite")["eve"]
    places = starts_of_frames(blob)
    assert (offset + places[0]) % 128 == 0
    assert [place - places[0] for place in places[1:]] == after
    assert made.facts["eve"].padding == (56 + 112 + 40 if alignment else 0)
    assert len(blob) == places[-1] + (256 if alignment else 216)
    assert ('"padding"' in (made.project.folder / "build/blobs/eve.json").read_text()) == bool(alignment)


def test_cells_tiles_glyphs_and_entries_start_there_too(made):
    """A cell takes 12 rows of 3 planes of 4 bytes, 144; the next starts at 192. So does a tile, at 256."""
    (offset, pool), = blobs(made, "pool").values()
    count, first = number(pool, 8, 4), number(pool, 12, 4)
    assert (offset + first) % 64 == 0
    assert len(pool) == first + count * 192
    tiled = [one for one in blobs(made, "background").values() if one[1][0] == 2]
    for offset, blob in tiled:
        assert number(blob, 24, 4) == 256
        assert (offset + number(blob, 52, 4)) % 128 == 0
    assert tiled
    for offset, blob in blobs(made, "palette").values():
        assert number(blob, 8, 4) == 16
        assert offset % 16 == 0
    (offset, font), = blobs(made, "font").values()
    assert number(font, 28, 4) % 32 == 0
    assert (offset + number(font, 36, 4)) % 32 == 0


def test_rows_are_whole_units_with_zeros(made):
    """A cell of 16 pixels has 2 bytes of pixels in each plane's row of 4."""
    (_, pool), = blobs(made, "pool").values()
    first = number(pool, 12, 4)
    rows = [pool[first + at : first + at + 4] for at in range(0, 144, 4)]
    assert all(row[2:] == b"\0\0" for row in rows)
    assert any(row[:2] != b"\0\0" for row in rows)
    assert pool[first + 144 : first + 192] == bytes(48)


def test_what_is_lost_is_in_the_facts(made):
    """A cell of 16 x 12 pixels in 3 planes has 72 bytes of pixels; 192 - 72 are lost with each."""
    (name, (_, pool)), = blobs(made, "pool").items()
    assert made.facts[name].padding == number(pool, 8, 4) * 120


@pytest.mark.parametrize("kind", ["sprite", "palette", "background", "font", "pool"])
def test_a_part_that_starts_elsewhere_is_found(made, kind):
    """The offset of the first part is moved by a byte, which leaves all pixels inside the blob's bytes."""
    places = {"sprite": 32, "palette": 8, "background": 52, "font": 36, "pool": 12}
    _, blob = next(one for one in blobs(made, kind).values() if one[1][0] in ({2} if kind == "background" else {1}))
    at = places[kind]
    moved = blob[:at] + struct.pack("<I", number(blob, at, 4) - 1) + blob[at + 4 :]
    with pytest.raises(BlobFault, match="not at a multiple of"):
        decode_blob(kind, moved, made.project.target, calls_of("decode", kind))
