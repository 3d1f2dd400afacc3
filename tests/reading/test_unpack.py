"""The reader's own unpackers: the published PackBits example, the LZ4 library, and the packers' decoders on spoilt bytes."""

from __future__ import annotations

import lz4.block
import pytest

from pipeline.reading.unpack import UnpackFault, unpack
from tests.codec.cases import DECODERS, spoilt_cases, valid_cases, verdict


def test_published_example_of_packbits():
    """Apple Technical Note TN1023: 15 bytes that represent 24."""
    packed = bytes.fromhex("FE AA 02 80 00 2A FD AA 03 80 00 2A 22 F7 AA")
    assert unpack("packbits", packed, 24) == bytes.fromhex("AAAAAA80002AAAAAAAAA80002A22AAAAAAAAAAAAAAAAAAAA")


def test_what_the_library_packs_unpacks():
    """Blocks of the LZ4 library, of every shape."""
    for case in valid_cases(400, 2000):
        if case.codec == "lz4" and case.size:
            assert unpack("lz4", case.packed, case.size) == lz4.block.decompress(case.packed, uncompressed_size=case.size)


def test_same_verdict_as_the_packers_decoders():
    """On 4,000 spoilt inputs both say the same, and make the same bytes where they make any."""
    refused = 0
    for case in spoilt_cases(4000):
        made = verdict(unpack, *case)
        assert made == verdict(DECODERS[case.codec], case.packed, case.size), case
        refused += made is None
    assert 2000 < refused < 4000


@pytest.mark.parametrize(
    ("codec", "packed", "size", "said"),
    [
        ("stored", b"abc", 4, "stored data makes 3 bytes, not 4"),
        ("other", b"", 0, "there is no codec 'other'"),
        ("packbits", b"\x05ab", 6, "the packed bytes end where 6 more are needed"),
        ("lz4", b"\x1aa\x00\x00\x50aaaaa", 20, "lz4 data looks 0 bytes back from byte 1"),
        ("lz4", b"\x1ba\x01\x00\x40aaaa", 20, "lz4 data has a match of 15 bytes at byte 1 of 20, too near the end"),
    ],
)
def test_what_does_not_unpack_is_reported(codec, packed, size, said):
    """The message says what is wrong."""
    with pytest.raises(UnpackFault) as caught:
        unpack(codec, packed, size)
    assert str(caught.value) == said
