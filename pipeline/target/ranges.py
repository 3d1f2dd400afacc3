"""Places in an image between which a checksum counts, as a target file writes them: ``start``, ``end-2``, ``1/2``, ``header+0x20``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

RANGE_NAMES = ("start", "header", "header_end", "directory", "directory_end", "used", "end")
_PLACE = re.compile(
    r"(?:(?P<name>[a-z_]+)|(?P<part>\d{1,4})/(?P<parts>\d{1,4}))(?: ?(?P<sign>[+-]) ?(?P<shift>0x[0-9A-Fa-f]{1,10}|\d{1,12}))?", re.ASCII
)


class RangePlace(NamedTuple):
    """A place: one with a name, or a fraction of the image's size, and bytes from there.

    Attributes:
        name: one of ``RANGE_NAMES``; empty for a fraction.
        part, parts: the fraction; 0 and 1 for a name.
        shift: bytes, below 0 before the place.
    """

    name: str
    part: int
    parts: int
    shift: int


def offset_of(bound: int | str, places: Mapping[str, int]) -> int | None:
    """Return the offset that a target file means by one end of a range.

    Args:
        places: offsets by name; ``end`` is the size of the image.

    Returns:
        None where it is the text of no place, or of a place that is not among ``places``.
    """
    if isinstance(bound, int):
        return bound
    place = parse_place(bound)
    if place is None or (place.name or "end") not in places:
        return None
    return place.shift + (places[place.name] if place.name else places["end"] * place.part // place.parts)


def mirrored_size(size: int) -> int:
    """Return the size of an image as a console sees it that repeats its end up to the next power of two."""
    return 1 << (size - 1).bit_length()


def parse_place(text: str) -> RangePlace | None:
    """Return the place that a text names; None for any other text. A fraction is from 0 to 1, in halves, quarters and so on."""
    found = _PLACE.fullmatch(text)
    if found is None:
        return None
    name, part, parts = found["name"] or "", int(found["part"] or 0), int(found["parts"] or 1)
    if (name and name not in RANGE_NAMES) or part > parts or parts & (parts - 1) or not parts:
        return None
    written = found["shift"] or "0"
    shift = int(written, 16 if written.startswith("0x") else 10)
    return RangePlace(name, part, parts, -shift if found["sign"] == "-" else shift)
