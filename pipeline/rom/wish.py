"""What placement must know of an asset before its blob exists."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Wish:
    """One asset to be placed.

    Attributes:
        name, kind, alignment, address: as in ``layout.Item``.
        bytes: size known beforehand (a reserve, a boot notice), or None to take it from the facts.
        tail: placed after the others whose size is known, because less than ``bytes`` may be taken in the end: it is packed.
        last: placed after everything else: a program whose size is not known before its address is.
    """

    name: str
    kind: str
    alignment: int
    address: int | None = None
    bytes: int | None = None
    last: bool = False
    tail: bool = False
