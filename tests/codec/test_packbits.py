"""PackBits against its published example, a reader of TIFF, and a plain search for the fewest bytes."""

from __future__ import annotations

import io
import itertools
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pipeline.codec.packbits import PackBitsFault, decode, encode
from tests.conftest import tries

# Apple Technical Note TN1023, "Understanding PackBits" (1996): 24 bytes and the 15 they become.
PLAIN = bytes.fromhex("AAAAAA 80 00 2A AAAAAAAA 80 00 2A 22 AAAAAAAAAAAAAAAAAAAA")
PACKED = bytes.fromhex("FE AA 02 80 00 2A FD AA 03 80 00 2A 22 F7 AA")

pieces = st.tuples(st.integers(0, 3), st.sampled_from([1, 1, 1, 2, 2, 3, 4, 126, 127, 128, 129, 130, 257]))
blobs = st.lists(pieces, max_size=40).map(lambda parts: b"".join(bytes([value]) * count for value, count in parts))


def test_published_example():
    """Both ways, to the byte."""
    assert encode(PLAIN) == PACKED
    assert decode(PACKED, 24) == PLAIN


@pytest.mark.parametrize(
    ("packed", "plain"),
    [
        ("", ""),
        ("80", ""),
        ("80 00 AA 80", "AA"),
        ("FF AA", "AA AA"),
        ("81 AA", "AA" * 128),
        ("7F" + "01 02" * 64, "01 02" * 64),
    ],
)
def test_headers_at_the_edges(packed, plain):
    """TIFF 6.0, section 9: n of 0 to 127 copies n + 1 bytes, -1 to -127 repeats one 1 - n times, -128 does nothing."""
    assert decode(bytes.fromhex(packed), len(bytes.fromhex(plain))) == bytes.fromhex(plain)


@pytest.mark.parametrize(
    ("packed", "size", "said"),
    [
        ("FE", 3, "the part at 0 leaves the 1 packed bytes"),
        ("02 01", 3, "the part at 0 leaves the 2 packed bytes"),
        ("00 01 FE AA", 3, "more than 3 bytes come out"),
        ("00 01", 2, "unpacked size is 1, not 2"),
    ],
)
def test_corrupt_bytes_are_refused_with_the_place(packed, size, said):
    """What leaves the packed bytes, or makes another size, is said so."""
    with pytest.raises(PackBitsFault, match=f"^{said}$"):
        decode(bytes.fromhex(packed), size)


def fewest(data: bytes) -> int:
    """Return the fewest bytes that decode to some data: for every prefix, all last parts are tried."""
    costs = [0]
    for end in range(1, len(data) + 1):
        best = min(costs[end - count] + count + 1 for count in range(1, min(128, end) + 1))
        for count in range(2, min(128, end) + 1):
            if data[end - count] != data[end - 1]:
                break
            best = min(best, costs[end - count] + 2)
        costs.append(best)
    return costs[-1]


@settings(max_examples=tries(25, 150), deadline=None)
@given(blobs)
def test_no_encoding_is_shorter(data):
    """The output is as short as a search over all partings finds, and decodes."""
    packed = encode(data)
    assert decode(packed, len(data)) == data
    assert len(packed) == fewest(data)


def test_no_encoding_of_any_short_text_is_shorter():
    """All texts of two letters up to 10 bytes."""
    for length in range(11):
        for letters in itertools.product(b"ab", repeat=length):
            assert len(encode(bytes(letters))) == fewest(bytes(letters))


@pytest.mark.parametrize("size", [1, 127, 128, 129, 1000])
def test_worst_case_is_one_header_for_128_bytes(size):
    """Bytes without runs grow by one for each 128 begun (TIFF 6.0, section 9)."""
    data = bytes(rank % 251 for rank in range(size))
    assert len(encode(data)) == size + -(-size // 128)


def tiff(packed: bytes, width: int) -> bytes:
    """Return a grey TIFF of one row whose only strip is PackBits data (TIFF 6.0: baseline tags, compression 32773)."""
    tags = [(256, width), (257, 1), (258, 8), (259, 32773), (262, 1), (273, 0), (277, 1), (278, 1), (279, len(packed))]
    strip = 8 + 2 + 12 * len(tags) + 4
    entries = b"".join(struct.pack("<HHII", tag, 4, 1, strip if tag == 273 else value) for tag, value in tags)
    return struct.pack("<2sHIH", b"II", 42, 8, len(tags)) + entries + bytes(4) + packed


@settings(max_examples=tries(30, 60), deadline=None)
@given(blobs.filter(len))
def test_a_reader_of_tiff_unpacks_it(data):
    """Pillow reads the data as the strip of a TIFF."""
    with Image.open(io.BytesIO(tiff(encode(data), len(data)))) as picture:
        assert picture.tobytes() == data
