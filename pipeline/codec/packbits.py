"""PackBits: runs of one byte, and bytes as they are. Source: TIFF 6.0, section 9; Apple Technical Note TN1023.

A header byte n is followed, for n 0 to 127, by n + 1 bytes as they are; for n 129 to 255, by one byte that represents
257 - n; 128 means nothing and is skipped.
"""

from __future__ import annotations

from array import array

_LONGEST = 128  # bytes that one header can represent
_NOTHING = 128  # the header that is skipped


class PackBitsFault(ValueError):
    """Bytes that are not PackBits data of the size asked for; the message says why."""


def encode(data: bytes) -> bytes:
    """Return the fewest bytes of PackBits data that decode to ``data``.

    Dynamic programming over the ends of all prefixes. A prefix ends in a run, or in bytes as they are. Of the latter only
    the cheapest way is kept, with the shortest open block: any dearer one can be had later for one more header. Of runs only
    the longest is looked at, since a shorter prefix never costs more.
    """
    counts = _choose(data)
    packed, end, parts = bytearray(), len(data), []
    while end:
        parts.append((end, counts[end]))
        end -= abs(counts[end])
    for end, count in reversed(parts):
        if count < 0:
            packed += bytes((257 + count, data[end - 1]))
        else:
            packed.append(count - 1)
            packed += data[end - count : end]
    return bytes(packed)


def _choose(data: bytes) -> array:
    """Return for the end of every prefix the bytes its last part represents: as they are, or negative, a run."""
    counts = array("h", bytes(2 * (len(data) + 1)))
    costs = array("q", bytes(8 * (len(data) + 1)))
    cost = open_cost = 0  # of the prefix; of the prefix when its last byte is stored as it is
    length = _LONGEST  # of the block open then; none is open yet
    run, before = 0, -1
    for end, byte in enumerate(data, start=1):
        run = run + 1 if byte == before else 1
        before = byte
        if length < _LONGEST and open_cost < cost + 1:
            open_cost, length = open_cost + 1, length + 1
        else:
            open_cost, length = cost + 2, 1
        cost, counts[end] = open_cost, length
        if run > 1:
            longest = min(run, _LONGEST)
            other = costs[end - longest] + 2
            if other < cost:
                cost, counts[end] = other, -longest
        costs[end] = cost
    return counts


def decode(packed: bytes, size: int) -> bytes:
    """Return the ``size`` bytes that were packed.

    Raises:
        PackBitsFault: a part leaves the packed bytes, or more or fewer bytes come out.
    """
    out, at = bytearray(), 0
    while at < len(packed):
        head, at = packed[at], at + 1
        if head == _NOTHING:
            continue
        took = head + 1 if head < _NOTHING else 1
        if at + took > len(packed):
            raise PackBitsFault(f"the part at {at - 1} leaves the {len(packed)} packed bytes")
        out += packed[at : at + took] if head < _NOTHING else packed[at : at + 1] * (257 - head)
        at += took
        if len(out) > size:
            raise PackBitsFault(f"more than {size} bytes come out")
    if len(out) < size:
        raise PackBitsFault(f"unpacked size is {len(out)}, not {size}")
    return bytes(out)
