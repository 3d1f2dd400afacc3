"""A font's blob read without its writer: every number that cannot be is a fault, every mistake of content is found."""

from __future__ import annotations

import hashlib
import shutil
import zlib

import msgspec
import pytest

from pipeline.joints.layouts import FONT, GLYPH, record_bytes
from pipeline.plain.shipped import MONO
from pipeline.reading.decoded import BlobFault
from pipeline.reading.verify import verify_image
from tests.makers import TARGETS, Built, as_map, build_here, make_project
from tests.reading.decoding import decode_blob
from tests.reading.test_verify import entries, rank_of, replaced, write

TABLE = '[font.small]\nfile = "a.ttf"\nsize = 9\ncharacters = "ABCAÀ"\nspacing = "fixed"\npalette = "figures"\n'
_GLYPHS_AT = record_bytes(FONT)


@pytest.fixture(scope="module", params=TARGETS)
def made(request, tmp_path_factory) -> Built:
    """The small project with a font of four letters, built for each shipped target."""
    folder = make_project(tmp_path_factory.mktemp("font") / request.param, target=request.param, more=TABLE)
    shutil.copy(MONO, folder / "a.ttf")
    return build_here(folder)


def blob_of(made: Built) -> bytes:
    """Return the font's bytes in the image."""
    return entries(made)[rank_of(made, "small")].blob


def place_of(record, name: str, base: int = 0) -> tuple[int, int]:
    """Return offset and width of a number of a record."""
    names = [part.name for part in record]
    return base + sum(part.bytes for part in record[: names.index(name)]), record[names.index(name)].bytes


def put(made: Built, blob: bytes, place: tuple[int, int], value: int) -> bytes:
    """Return a blob with one number changed."""
    at, width = place
    return blob[:at] + value.to_bytes(width, made.project.target.byte_order) + blob[at + width :]


def test_decoded_font_is_the_one_asked_for(made):
    """Code points rise, all advance alike, no letter is empty."""
    font = decode_blob("font", blob_of(made), made.project.target)
    assert font.glyphs == [(0x41, 5), (0x42, 5), (0x43, 5), (0xC0, 5)]
    assert all((picture != font.head["clear"]).any() for picture in font.pixels)


FAULTS = [
    (FONT, "pixel_format", 9, r"^pixel format 9 is not one of the target's "),
    (FONT, "glyph_count", 0, r"^a font of no glyphs$"),
    (FONT, "glyph_count", 60_000, r"."),
    (FONT, "picture_count", 3, r"^glyph 3 shows picture 3 of 3$"),
    (FONT, "picture_count", 60_000, r"leave the blob$"),
    (FONT, "advance", 6, r"^glyph 0 advances 5, all should 6$"),
    (FONT, "width", 0, r" x \d+ pixels are not whole cells$"),
    (FONT, "glyphs", 1 << 24, r"^code lies at 16777216, outside the blob's "),
    (FONT, "pixels", 1 << 24, r"^pixels at 16777216 leave the blob$"),
    (GLYPH, "code", 0x42, r"^glyph 1 is of U\+0042, which does not follow U\+0042$"),
    (GLYPH, "code", 0x110000, r"^glyph 0 is of U\+110000, which does not follow U\+0000$"),
    (GLYPH, "picture", 4, r"^glyph 0 shows picture 4 of 4$"),
]


@pytest.mark.parametrize(("record", "name", "value", "fault"), FAULTS, ids=[f"{name} {value}" for _, name, value, _ in FAULTS])
def test_number_that_cannot_be_is_a_fault(made, record, name, value, fault):
    """Nothing outside the blob is read, and the message says what was found."""
    place = place_of(record, name, _GLYPHS_AT if record is GLYPH else 0)
    with pytest.raises(BlobFault, match=fault):
        decode_blob("font", put(made, blob_of(made), place, value), made.project.target)


def faults_of(made: Built, blob: bytes) -> list[str]:
    """Return what is wrong with an image whose font is another blob, though every sum and the facts' hash follow it."""
    changed = entries(made)
    rank = rank_of(made, "small")
    changed[rank] = replaced(changed[rank], blob=blob)
    image = write(made, changed)
    facts = made.facts | {"small": msgspec.structs.replace(made.facts["small"], sha256=hashlib.sha256(blob).hexdigest())}
    image_map = made.map | {
        "image": made.map["image"] | {"crc32": f"{zlib.crc32(image):08x}", "sha256": hashlib.sha256(image).hexdigest()},
        "entries": [one | ({"crc32": f"{zlib.crc32(blob):08x}"} if one["name"] == "small" else {}) for one in made.map["entries"]],
    }
    return verify_image(image, made.project.target, as_map(image_map), facts, {})


@pytest.mark.parametrize(
    ("record", "name", "change", "fault"),
    [
        (FONT, "left", 1, "small: its left is 1, not 0"),
        (FONT, "baseline", 1, "small: its baseline is {}, not {}"),
        (FONT, "line_height", 1, "small: its line height is {}, not {}"),
        (FONT, "palette", 1, "small: its palette is {}, not {}"),
        (GLYPH, "code", -1, "small: its characters or widths are not the project's"),
        (GLYPH, "picture", 1, "small: its pixels are not the converted ones"),
    ],
)
def test_mistake_with_right_sums_is_found(made, record, name, change, fault):
    """One number of the record or of the first glyph is another."""
    blob = blob_of(made)
    assert faults_of(made, blob) == []
    at, width = place_of(record, name, _GLYPHS_AT if record is GLYPH else 0)
    old = int.from_bytes(blob[at : at + width], made.project.target.byte_order)
    assert faults_of(made, put(made, blob, (at, width), old + change)) == [fault.format(old + change, old)]


def test_pixels_that_differ_are_found(made):
    """A bit of the last picture."""
    blob = bytearray(blob_of(made))
    blob[-made.facts["small"].bytes // 8] ^= 1
    assert faults_of(made, bytes(blob)) == ["small: its pixels are not the converted ones"]
