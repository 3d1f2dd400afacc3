"""What placement must know of an asset before its blob exists."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Wish:
    """One asset to be placed.

    Attributes:
        name, kind, alignment, address: as in ``layout.Item``.
        bank: as in ``layout.Item``.
        split: as in ``layout.Item``.
        bytes: size known beforehand (a reserve, a boot notice), or None to take it from the facts.
        run: contiguous bundle that holds it, and its rank there; None for none.
        tail: placed after the others whose size is known, because less than ``bytes`` may be taken in the end: it is packed.
        last: placed after everything else: a program whose size is not known before its address is.
    """

    name: str
    kind: str
    alignment: int
    address: int | None = None
    bytes: int | None = None
    last: bool = False
    bank: int | Literal["any"] | None = None
    split: bool = False
    run: tuple[str, int] | None = None
    tail: bool = False
