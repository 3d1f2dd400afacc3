"""LZ4 blocks against the format's description, its reference library, and a published block."""

from __future__ import annotations

import random

import lz4.block
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.codec.lz4_block import Lz4Fault, decode, encode
from tests.codec.cases import blob, spoilt_cases, verdict
from tests.conftest import tries

blobs = st.integers(0, 2**32).map(lambda seed: blob(random.Random(seed), 3000)) | st.binary(max_size=300)


@settings(max_examples=tries(60, 200), deadline=None)
@given(blobs, st.sampled_from(["default", "fast", "high_compression"]))
def test_library_and_decoder_agree_both_ways(data, mode):
    """What the library packs in any of its ways unpacks here; what is packed here the library unpacks."""
    assert decode(lz4.block.compress(data, mode=mode, store_size=False), len(data)) == data
    assert lz4.block.decompress(encode(data), uncompressed_size=len(data)) == data


def test_published_block():
    """43 bytes in 33, as shown in a public discussion of the format: 17 literals, a run of 15, 11 literals."""
    data = b"Abcdefghijklmnop" + b"0" * 16 + b"Abcdefghijk"
    block = b"\xfb\x02Abcdefghijklmnop0\x01\x00\xb0Abcdefghijk"
    assert decode(block, 43) == data
    assert encode(data) == block


# Worked out by hand from lz4_Block_format.md.
@pytest.mark.parametrize(
    ("block", "plain"),
    [
        (b"\x00", b""),
        (b"\x50abcde", b"abcde"),
        (b"\xf0\x00" + b"x" * 15, b"x" * 15),
        (b"\xf0\xff\x00" + b"x" * 270, b"x" * 270),
        (b"\x13a\x01\x00\x50aaaaa", b"a" * 13),
        (b"\x23ab\x02\x00\x50abcde", b"ababababa" + b"abcde"),
        (b"\x1fa\x01\x00\x00\x50aaaaa", b"a" * 25),
        (b"\x1fa\x01\x00\xff\x14\x50aaaaa", b"a" * 300),
    ],
)
def test_blocks_made_by_hand(block, plain):
    """Lengths of 15 go on in further bytes; a match may reach into what it makes."""
    assert decode(block, len(plain)) == plain


@pytest.mark.parametrize(
    ("block", "size", "said"),
    [
        (b"", 0, "the 0 packed bytes end inside a sequence"),
        (b"\xf0", 15, "the 1 packed bytes end inside a sequence"),
        (b"\xf0\xff", 300, "the 2 packed bytes end inside a sequence"),
        (b"\x50abcd", 5, "5 literals at 1 leave the 5 packed bytes"),
        (b"\x50abcde", 4, "more than 4 bytes come out"),
        (b"\x50abcde", 6, "unpacked size is 5, not 6"),
        (b"\x14a\x01", 20, "the 3 packed bytes end inside a sequence"),
        (b"\x1aa\x00\x00\x50aaaaa", 20, "a match 0 bytes back from byte 1"),
        (b"\x1aa\x02\x00\x50aaaaa", 20, "a match 2 bytes back from byte 1"),
        (b"\x1ba\x01\x00\x40aaaa", 20, "a match of 15 bytes at 1 is too near the end of 20 bytes"),
        (b"\x12a\x01\x00\x50aaaaa", 12, "a match of 6 bytes at 1 is too near the end of 12 bytes"),
        (b"\x1aa\x01\x00", 15, "a match of 14 bytes at 1 is too near the end of 15 bytes"),
        (b"\x13a\x01\x00", 100, "the 4 packed bytes end inside a sequence"),
    ],
)
def test_corrupt_block_is_refused_with_the_reason(block, size, said):
    """The description's rules: distances of 1 and more, the last 5 bytes literals, no match in the last 12, a last sequence."""
    with pytest.raises(Lz4Fault, match=f"^{said}$"):
        decode(block, size)


def test_nothing_is_accepted_that_the_library_refuses():
    """Of spoilt blocks, those unpacked here the library unpacks to the same bytes."""
    accepted = 0
    for case in spoilt_cases(4000):
        if case.codec == "lz4" and case.size and (made := verdict(decode, case.packed, case.size)) is not None:
            assert lz4.block.decompress(case.packed, uncompressed_size=case.size) == made
            accepted += 1
    assert accepted > 50
