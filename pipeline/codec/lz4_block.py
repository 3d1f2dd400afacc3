"""LZ4 blocks without frame or size. Source: the open LZ4 Block Format Description (lz4_Block_format.md, Y. Collet).

A block is a list of sequences: a token (high half: literals, low half: bytes of the match less 4; 15 goes on in further
bytes, each added, up to the first below 255), the literals, and how far back the match starts (2 bytes, little-endian). The
last sequence ends after its literals. The last 5 bytes are literals, and no match starts in the last 12.
"""

from __future__ import annotations

import lz4.block

_LEAST_MATCH = 4
_LAST_LITERALS = 5
_NO_START = 12  # a match starts at least this many bytes before the end
_HIGHEST = 12  # level at which the library looks for the best parting it knows


class Lz4Fault(ValueError):
    """Bytes that are not an LZ4 block of the size asked for; the message says why."""


def encode(data: bytes) -> bytes:
    """Return a block that decodes to ``data``, as small as the library at its highest level makes it."""
    return lz4.block.compress(data, mode="high_compression", compression=_HIGHEST, store_size=False)


def decode(packed: bytes, size: int) -> bytes:
    """Return the ``size`` bytes that were packed.

    Raises:
        Lz4Fault: a part leaves the block, a match starts before the first byte or at distance 0, the end breaks a rule of
            the format, or more or fewer bytes come out.
    """
    out, at = bytearray(), 0
    while True:
        token, at = _byte(packed, at), at + 1
        count, at = _length(packed, at, token >> 4)
        if count > len(packed) - at:
            raise Lz4Fault(f"{count} literals at {at} leave the {len(packed)} packed bytes")
        out += packed[at : at + count]
        at += count
        if len(out) > size:
            raise Lz4Fault(f"more than {size} bytes come out")
        if at == len(packed):
            break
        back, at = _byte(packed, at) | _byte(packed, at + 1) << 8, at + 2
        count, at = _length(packed, at, token & 15)
        _copy(out, back, count + _LEAST_MATCH, size)
    if len(out) < size:
        raise Lz4Fault(f"unpacked size is {len(out)}, not {size}")
    return bytes(out)


def _byte(packed: bytes, at: int) -> int:
    if at >= len(packed):
        raise Lz4Fault(f"the {len(packed)} packed bytes end inside a sequence")
    return packed[at]


def _length(packed: bytes, at: int, half: int) -> tuple[int, int]:
    """Return a length and the place after it."""
    count, more = half, 255 if half == 15 else 0
    while more == 255:
        more, at = _byte(packed, at), at + 1
        count += more
    return count, at


def _copy(out: bytearray, back: int, count: int, size: int) -> None:
    start = len(out) - back
    if back == 0 or start < 0:
        raise Lz4Fault(f"a match {back} bytes back from byte {len(out)}")
    if size - len(out) < _NO_START or size - len(out) - count < _LAST_LITERALS:
        raise Lz4Fault(f"a match of {count} bytes at {len(out)} is too near the end of {size} bytes")
    if back >= count:
        out += out[start : start + count]
        return
    pattern = bytes(out[start:])  # the match reaches into what it makes
    out += (pattern * (count // back + 1))[:count]
