"""Headers of real consoles, by their published rules, written as target files alone: no code knows them.

Each rule is computed again here in a few lines from its published description. Logo bytes that a console compares are left
zero: they are someone's mark and no rule of arithmetic.
"""

from __future__ import annotations

import random
import zlib

import pytest

from pipeline.joints.facts import DataFacts
from pipeline.reading.reader import FoundEntry, read_image
from pipeline.rom.image import Entry, write_image
from pipeline.rom.layout import Item, Placement
from pipeline.target.loading import load_target
from tests.made_facts import made_facts

_COMMON = """
format = 1
name = "{name}"
byte_order = "{order}"
[memory]
base = {memory}
size = "{memory_size}"
[screen]
width = 160
height = 144
pixels = "direct"
[cells]
width = 8
height = 8
[palette]
entry = "xBBBBBGGGGGRRRRR"
entries = 16
[pixel_formats.direct]
pixel = "xBBBBBGGGGGRRRRR"
[sound]
formats = ["u8"]
[alignment]
default = 2
"""

# "Genesis Technical Overview" 1.00 (1991), ROM cartridge data: vectors, then 100h-1FFh; the checksum at 18Eh is the sum of
# the 16-bit words from 200h to the end of the ROM. From memory.
_WORD_SUM = _COMMON.format(name="Word sum", order="big", memory=0xFF0000, memory_size="64 KiB") + """
[cartridge]
sizes = ["128 KiB"]
[header]
size = 0x200
fields = [
    { name = "stack", offset = 0, bytes = 4, value = "memory.end" },
    { name = "entry", offset = 4, bytes = 4, value = "program.entry" },
    { name = "system", offset = 0x100, bytes = 16, text = "TEST SYSTEM" },
    { name = "copyright", offset = 0x110, bytes = 16, text = "(C)TEST 2026" },
    { name = "home title", offset = 0x120, bytes = 48, value = "project.title" },
    { name = "title", offset = 0x150, bytes = 48, value = "project.title" },
    { name = "serial", offset = 0x180, bytes = 14, text = "GM 00000000-00" },
    { name = "sum", offset = 0x18E, bytes = 2, checksum = "sum16-words", covers = [[0x200, "end"]] },
    { name = "devices", offset = 0x190, bytes = 16, text = "J" },
    { name = "first", offset = 0x1A0, bytes = 4, value = "image.first_address" },
    { name = "last", offset = 0x1A4, bytes = 4, value = "image.last_address" },
    { name = "memory first", offset = 0x1A8, bytes = 4, value = "memory.base" },
    { name = "memory last", offset = 0x1AC, bytes = 4, value = "memory.last" },
    { name = "extra", offset = 0x1B0, bytes = 64, text = "" },
    { name = "regions", offset = 0x1F0, bytes = 16, text = "JUE" },
]
"""

# "Pan Docs", The Cartridge Header (gbdev.io): 14Dh is x after x = x - byte - 1 over 134h-14Ch; 14Eh holds the 16-bit
# big-endian sum of all bytes but these two; 148h gives the size as 32 KiB << value. From memory.
_COMPLEMENT_BYTE = _COMMON.format(name="Complement byte", order="little", memory=0xC000, memory_size="8 KiB") + """
[cartridge]
sizes = ["32 KiB", "64 KiB"]
banks = { size = "16 KiB", window = 0x4000, home = 0 }
[header]
offset = 0x100
size = 0x50
fields = [
    { name = "jump", offset = 0x100, bytes = 2, hex = "00C3" },
    { name = "entry", offset = 0x102, bytes = 2, value = "program.entry" },
    { name = "title", offset = 0x134, bytes = 15, value = "project.title", pad = 0 },
    { name = "kind", offset = 0x147, bytes = 1, number = 1 },
    { name = "size", offset = 0x148, bytes = 1, value = "image.bytes", table = { "32 KiB" = 0, "64 KiB" = 1 } },
    { name = "check", offset = 0x14D, bytes = 1, checksum = "sum8", each = 1, finish = "negate", covers = [[0x134, 0x14D]] },
    { name = "sum", offset = 0x14E, bytes = 2, byte_order = "big", checksum = "sum16", skip_own = true, covers = [["start", "end"]] },
]
"""

# "SNES Development Manual", book I (1993), ROM registration data: 7FDCh complement, 7FDEh checksum (16-bit sum of all bytes
# with the complement taken as FFFFh and the checksum as 0), little-endian. From memory.
_COMPLEMENT_WORD = _COMMON.format(name="Complement word", order="little", memory=0x7E0000, memory_size="128 KiB") + """
[cartridge]
sizes = ["64 KiB"]
banks = { size = "32 KiB", window = 0x8000 }
[header]
offset = 0x7FC0
size = 0x40
fields = [
    { name = "title", offset = 0x7FC0, bytes = 21, value = "project.title" },
    { name = "map", offset = 0x7FD5, bytes = 1, number = 0x20 },
    { name = "sum", offset = 0x7FDE, bytes = 2, checksum = "sum16", covers = [["start", "end"]] },
    { name = "complement", offset = 0x7FDC, bytes = 2, placeholder = 0xFFFF, checksum = "same", of = "sum", finish = "invert" },
    { name = "entry", offset = 0x7FFC, bytes = 2, value = "program.entry" },
]
"""


def _write(tmp_path, text: str):
    """Return a target made of a text, and an image of three made-up blobs written for it with their found entries."""
    path = tmp_path / "target.toml"
    path.write_text(text, encoding="utf-8")
    target = load_target(path)
    bytes_of = random.Random(4).randbytes
    blobs = {"main": bytes_of(1200), "art": bytes_of(9001), "tune": bytes_of(5000)}
    offsets = Placement(target, 3).place([Item(name, "data", len(blob), 2) for name, blob in blobs.items()])
    order = sorted(blobs, key=offsets.get)
    entries = [Entry(_facts(name, blobs[name]), blobs[name], offsets[name], 2) for name in order]
    size = target.cartridge.sizes[0]
    used = max(offsets[name] + len(blobs[name]) for name in blobs)
    values = {"project.title": "Small Game", "program.entry": 0x8000}
    image = write_image(target, entries, size, used, values)
    found = [FoundEntry(0, "data", offsets[name], len(blobs[name]), zlib.crc32(blobs[name]), 2, name) for name in order]
    return target, image, found


def _facts(name: str, blob: bytes) -> DataFacts:
    return made_facts(DataFacts, name, bytes=len(blob))


def _word_sum_holds(image: bytes) -> None:
    total = sum(int.from_bytes(image[at : at + 2], "big") for at in range(0x200, len(image), 2)) & 0xFFFF
    assert int.from_bytes(image[0x18E:0x190], "big") == total
    assert int.from_bytes(image[0:4], "big") == 0x1000000
    assert int.from_bytes(image[0x1A4:0x1A8], "big") == len(image) - 1
    assert image[0x1A8:0x1B0] == bytes.fromhex("00FF000000FFFFFF")
    assert image[0x150:0x180] == b"Small Game".ljust(48)


def _complement_byte_holds(image: bytes) -> None:
    x = 0
    for at in range(0x134, 0x14D):
        x = x - image[at] - 1
    assert image[0x14D] == x & 0xFF
    total = sum(image) - image[0x14E] - image[0x14F]
    assert int.from_bytes(image[0x14E:0x150], "big") == total & 0xFFFF
    assert 32768 << image[0x148] == len(image)
    assert image[0x100:0x104] == bytes.fromhex("00C30080")


def _complement_word_holds(image: bytes) -> None:
    check, total = (int.from_bytes(image[at : at + 2], "little") for at in (0x7FDC, 0x7FDE))
    assert check ^ total == 0xFFFF
    as_counted = image[:0x7FDC] + b"\xff\xff\0\0" + image[0x7FE0:]
    assert total == sum(as_counted) & 0xFFFF
    assert total == sum(image) & 0xFFFF  # the pair always adds up the same, which is the point of the complement


CONSOLES = {
    "16-bit word sum": (_WORD_SUM, _word_sum_holds),
    "complement byte and 16-bit sum": (_COMPLEMENT_BYTE, _complement_byte_holds),
    "complement word and 16-bit sum": (_COMPLEMENT_WORD, _complement_word_holds),
}


@pytest.mark.parametrize("name", CONSOLES)
def test_image_follows_the_published_rule_and_reads_back(name, tmp_path):
    """The image written for a target file obeys the console's rule, and the reader finds no fault in it."""
    text, holds = CONSOLES[name]
    target, image, found = _write(tmp_path, text)
    holds(image)
    assert read_image(image, target, found).faults == []


@pytest.mark.parametrize("name", CONSOLES)
def test_flipped_bits_of_what_the_sum_covers_are_found(name, tmp_path):
    """Bits all over the image, its header's sums among them, are found by the reader."""
    text, _ = CONSOLES[name]
    target, image, found = _write(tmp_path, text)
    covered = range(0x200, len(image)) if text is _WORD_SUM else range(len(image))
    at = {field.offset + rank for field in target.header.fields if field.checksum for rank in range(field.bytes)}
    for byte in sorted(at | set(random.Random(9).sample(covered, 150))):
        changed = bytearray(image)
        changed[byte] ^= 1 << byte % 8
        assert read_image(bytes(changed), target, found).faults, f"byte {byte:#x} passed"
