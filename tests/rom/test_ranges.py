"""Ranges of checksums that go with the image's size, and images that a console repeats up to a power of two.

The sums are worked out here from the image's bytes by hand: what a cartridge's header holds where 3 MiB are seen as 4, the last of them
twice, is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.plain.errors import ProjectError
from pipeline.reading.reader import read_image
from pipeline.rom.image import mirrored
from pipeline.target.ranges import parse_place
from tests.makers import Built, build_here, changed, make_project, target_data, toml_text

KIB = 1024


def built(folder: Path, size: int, covers: list[list], **keys) -> Built:
    """Build the small project for a console of our own with cartridges of some sizes and a sum of words at 0xF0 of its header."""
    data = target_data("basalt32")
    extra = {"name": "extra", "offset": 0xF0, "bytes": 2, "checksum": "sum16-words", "covers": covers, **keys}
    fields = [*data["header"]["fields"], extra]
    data = changed(data, (("cartridge", "sizes"), [512 * KIB, 768 * KIB, 1024 * KIB]), (("header", "fields"), fields))
    make_project(folder, ('target = "basalt32"', f'target = "console.toml"\ncartridge = {size}'))
    (folder / "console.toml").write_text(toml_text(data), encoding="utf-8")
    return build_here(folder)


def words(data: bytes) -> int:
    return int(np.frombuffer(data, dtype=">u2").sum(dtype=np.uint64)) & 0xFFFF


@pytest.mark.parametrize("size", [512 * KIB, 768 * KIB, 1024 * KIB])
def test_parts_and_shifts_go_with_the_size(size, tmp_path):
    """One target for all its cartridges: the second half but for its last word, and the header's end."""
    made = built(tmp_path / "ferry", size, [["1/2", "end-2"], ["header+0x80", "header_end-0x20"]])
    assert len(made.image) == size
    assert int.from_bytes(made.image[0xF0:0xF2], "big") == words(made.image[size // 2 : -2] + made.image[0x80:0xE0])
    assert read_image(made.image, made.project.target).faults == []
    wrong = made.image[: size - 4] + b"\x12\x34" + made.image[size - 2 :]
    assert any("'extra'" in fault for fault in read_image(wrong, made.project.target).faults)


@pytest.mark.parametrize("size", [512 * KIB, 768 * KIB])
def test_image_that_is_repeated_counts_as_the_console_sees_it(size, tmp_path):
    """Of 768 KiB the last 256 are there twice; a power of two is there once."""
    made = built(tmp_path / "ferry", size, [["header_end", "end"]], mirrored=True)
    more = made.image[512 * KIB :] if size > 512 * KIB else b""
    assert int.from_bytes(made.image[0xF0:0xF2], "big") == words(made.image[0x100:] + more)
    assert read_image(made.image, made.project.target).faults == []


@pytest.mark.parametrize("whole", [b"a", b"ab", b"abcc", b"abcd", b"abcdeeee", b"abcdefef", b"abcdefgg", b"abcdefgh"])
def test_repeated_image_is_a_power_of_two(whole):
    """Small ones, written out."""
    assert mirrored(bytes(sorted(set(whole)))) == whole


def test_range_that_is_odd_only_in_the_image_is_refused(tmp_path):
    """The assets end at an even byte, and words are added up to the byte before."""
    with pytest.raises(ProjectError, match="header field 'extra': the range header_end to used-1.* no whole number of words"):
        built(tmp_path / "ferry", 512 * KIB, [["header_end", "used-1"]])


@pytest.mark.parametrize("text", ["End", "end-", "end--2", "2/1", "1/3", "1/0", "1/", "/2", "end+2+2", "begin", "1/2-0y2", "", "٣/٤"])
def test_what_is_not_a_place_is_none(text):
    assert parse_place(text) is None


def test_places_are_read_as_written():
    """Name or fraction, then bytes in decimal or hexadecimal."""
    assert parse_place("end") == ("end", 0, 1, 0)
    assert parse_place("header_end+0x20") == ("header_end", 0, 1, 32)
    assert parse_place("3/4 - 010") == ("", 3, 4, -10)
