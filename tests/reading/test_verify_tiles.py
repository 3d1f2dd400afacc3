"""A background of tiles in the image: a mistake in its record, its map or a tile is found, though every checksum is right."""

from __future__ import annotations

import pytest

from pipeline.joints.layouts import PALETTE, TILED
from pipeline.reading.decoded import BlobFault
from pipeline.reading.verify import verify_image
from tests.assets.test_tiled import shore
from tests.makers import Built, as_map, build_here
from tests.reading.decoding import decode_blob
from tests.reading.test_verify import blob_of, faults_of_blob, faults_of_change, number

LINED = "lines = 2\nfirst = 16\ntransparent = true"


@pytest.fixture(scope="module")
def lattice(tmp_path_factory) -> Built:
    """A background of tiles on a big-endian tile console, its palette in two lines."""
    folder = shore(tmp_path_factory.mktemp("tiles") / "p", "lattice16", 'arrangement = "tiles"\nfirst_tile = 7', LINED)
    return build_here(folder, "verify", "include")


@pytest.fixture(scope="module")
def pebble(tmp_path_factory) -> Built:
    """The same on a little-endian console with banks and planar pixels."""
    return build_here(shore(tmp_path_factory.mktemp("tiles") / "p", "pebble8", 'arrangement = "tiles"'))


def test_image_with_tiles_is_as_meant(lattice, pebble):
    """Nothing is wrong with either image."""
    for made in (lattice, pebble):
        assert verify_image(made.image, made.project.target, as_map(made.map), made.facts, {}) == []


def test_every_flipped_bit_of_the_map_is_found(lattice):
    """Each bit of an entry turned over, in an entry of the sky and in one of the shore: another picture, or no picture."""
    blob = blob_of(lattice, "quay")
    at, row = number(blob, TILED, "map"), 2 * number(blob, TILED, "columns")
    seen = set()
    for place in (at, at + 6 * row + 2):
        for bit in range(16):
            changed = bytearray(blob)
            changed[place + (bit < 8)] ^= 1 << bit % 8
            faults = faults_of_blob(lattice, "quay", bytes(changed))
            if bit in (10, 11):  # x and P, which no picture shows
                assert faults == []
            elif bit < 10 or bit in (12, 13):
                assert len(faults) == 1, (place, bit)
                seen.add(faults[0].partition(":")[2][:12])
            else:  # a tile that is its own mirror image may be mirrored
                assert len(faults) <= 1
                seen.update(f"mirrored {fault[:4]}" for fault in faults)
    assert seen == {" its pixels ", " the map's e", "mirrored quay"}


def test_flipped_bit_of_a_tile_is_found(lattice):
    """The last byte of the last tile."""
    blob = blob_of(lattice, "quay")
    assert faults_of_blob(lattice, "quay", blob[:-1] + bytes([blob[-1] ^ 1])) == ["quay: its pixels are not the converted ones"]


@pytest.mark.parametrize("part", [part.name for part in TILED if part.name != "pixel_format"])
def test_every_number_of_the_record_is_compared(lattice, part):
    """Any number of the record changed by one bit is found."""
    value = number(blob_of(lattice, "quay"), TILED, part) ^ 1
    assert faults_of_change(lattice, "quay", TILED, TILED, part, None, value) != []


def test_wrong_length_of_lines_is_found(lattice):
    """The palette's record is compared with its facts."""
    assert faults_of_change(lattice, "quay_colours", PALETTE, PALETTE, "line_entries", None, 8) != []


def test_blob_cut_anywhere_does_not_decode_or_crash(lattice, pebble):
    """A blob of tiles that ends too early is a BlobFault, whatever was cut."""
    for made in (lattice, pebble):
        blob = blob_of(made, "quay")
        for length in sorted({*range(1, 80), len(blob) // 2, len(blob) - 1}):
            with pytest.raises(BlobFault):
                decode_blob("background", blob[:length], made.project.target)


def test_map_that_names_no_tile_is_reported(lattice):
    """A number below the first tile, as an entry of 0 is here."""
    blob = blob_of(lattice, "quay")
    at = number(blob, TILED, "map")
    with pytest.raises(BlobFault, match="entry in row 0, column 1 names tile -7 of"):
        decode_blob("background", blob[: at + 2] + b"\0\0" + blob[at + 4 :], lattice.project.target)


def test_includes_tell_tiles_and_map(lattice):
    """A program gets the numbers it needs to set up the tile unit."""
    text = (lattice.project.folder / "build/include/assets.h").read_text()
    stored = lattice.facts["quay"].stored
    for name in ("tile_count", "columns", "rows", "first_tile"):
        assert f"QUAY_{name.upper()}" in text
        assert any(f"QUAY_{name.upper()}" in line and f"{getattr(stored, name)}" in line for line in text.splitlines())
