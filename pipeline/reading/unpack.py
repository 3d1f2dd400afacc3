"""Unpacking what is packed in an image, from its bytes alone. Shares no code with the packers, to find their mistakes.

Formats: PackBits as in TIFF 6.0, section 9; LZ4 blocks as in the open LZ4 Block Format Description.
"""

from __future__ import annotations

import io


class UnpackFault(ValueError):
    """Packed bytes that do not unpack; the message says why."""


def unpack(codec: str, packed: bytes, size: int) -> bytes:
    """Return the ``size`` bytes that a codec packed; ``stored`` gives the bytes themselves.

    Raises:
        UnpackFault: the codec is unknown, or the bytes are not what it makes of ``size`` bytes.
    """
    if codec not in _UNPACKERS:
        raise UnpackFault(f"there is no codec {codec!r}")
    source = io.BytesIO(packed)
    made = _UNPACKERS[codec](source, size)
    if len(made) != size:
        raise UnpackFault(f"{codec} data makes {len(made)} bytes, not {size}")
    return bytes(made)


def _stored(source: io.BytesIO, size: int) -> bytes:
    return source.read()


def _packbits(source: io.BytesIO, size: int) -> bytearray:
    made = bytearray()
    while len(made) <= size and (head := source.read(1)):
        number = int.from_bytes(head, "big", signed=True)
        if number >= 0:
            made.extend(_take(source, number + 1))
        elif number > -128:
            made.extend(_take(source, 1) * (1 - number))
    return made


def _lz4(source: io.BytesIO, size: int) -> bytearray:
    made = bytearray()
    while True:
        literals, match = divmod(_take(source, 1)[0], 16)
        made.extend(_take(source, _long(source, literals, size)))
        if source.tell() == len(source.getbuffer()):
            return made
        distance = int.from_bytes(_take(source, 2), "little")
        match = _long(source, match, size) + 4
        if not 0 < distance <= len(made):
            raise UnpackFault(f"lz4 data looks {distance} bytes back from byte {len(made)}")
        # Rules at the end of a block: its last 5 bytes are literals, its last match starts 12 bytes before the end or earlier.
        if len(made) > size - 12 or len(made) + match > size - 5:
            raise UnpackFault(f"lz4 data has a match of {match} bytes at byte {len(made)} of {size}, too near the end")
        for _ in range(0, match, distance):
            step = min(distance, match)
            made.extend(made[len(made) - distance :][:step])
            match -= step


def _long(source: io.BytesIO, start: int, size: int) -> int:
    """Return a length that begins in half a byte: after 15, bytes are added up to the first that is not 255."""
    total, last = start, 255
    while start == 15 and last == 255 and total <= size:
        last = _take(source, 1)[0]
        total += last
    return total


def _take(source: io.BytesIO, count: int) -> bytes:
    taken = source.read(count)
    if len(taken) != count:
        raise UnpackFault(f"the packed bytes end where {count} more are needed")
    return taken


_UNPACKERS = {"stored": _stored, "packbits": _packbits, "lz4": _lz4}
