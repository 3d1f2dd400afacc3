"""Filling the gaps of banks one after another, each as full as the sums of sizes allow."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from pipeline.plain.sizes import round_up

_BITS = 1 << 28  # most bits that sums are noted in; beyond, sizes are rounded up to coarser units

Gap = tuple[int, int]
Places = dict[str, int]


@dataclass(frozen=True)
class Piece:
    """An asset without a fixed place.

    Attributes:
        name: of the asset.
        bytes: room it takes.
        alignment: power of two.
        home: end of the banks that it must start in; 0 where any will do.
    """

    name: str
    bytes: int
    alignment: int
    home: int = 0

    @property
    def rounded(self) -> int:
        """Room it takes if another of its alignment follows it."""
        return round_up(self.bytes, self.alignment)


@dataclass
class Packing:
    """Pieces dealt to gaps.

    Attributes:
        gaps: as in ``packing.pack_banks``.
        groups: the pieces of each gap; they fit it in a row.
        left: pieces that found no room.
    """

    gaps: list[Gap]
    groups: list[list[Piece]]
    left: list[Piece] = field(default_factory=list)

    def places(self) -> Places:
        """Return name -> offset of all pieces dealt."""
        return {name: at for gap, group in zip(self.gaps, self.groups, strict=True) for name, at in in_row(gap[0], group).items()}

    def cost(self, bank: int) -> tuple[int, int, int]:
        """Return bytes without room, banks taken, and the bytes in the last of them: less is better."""
        used = [(gap[0] // bank, group) for gap, group in zip(self.gaps, self.groups, strict=True) if group]
        last = max((number for number, _ in used), default=-1)
        tail = sum(piece.bytes for number, group in used if number == last for piece in group)
        return sum(piece.bytes for piece in self.left), last + 1, tail


def fits(gaps: Iterable[Gap], piece: Piece, bank: int) -> Iterator[tuple[int, int]]:
    """Yield the bytes left after a piece, and its offset, at the start of every gap that holds it."""
    for start, end in gaps:
        offset = round_up(start, piece.alignment)
        if offset + piece.bytes <= end and (start < piece.home or not piece.home):
            yield end - offset - piece.bytes, offset


def without(gaps: Sequence[Gap], start: int, end: int) -> list[Gap]:
    """Return the gaps less what lies between two offsets."""
    return [part for low, high in gaps for part in ((low, min(high, start)), (max(low, end), high)) if part[0] < part[1]]


def in_row(start: int, pieces: Sequence[Piece]) -> Places:
    """Return consecutive places, by falling alignment, so that what one leaves the next can take."""
    places = {}
    for piece in sorted(pieces, key=lambda one: (-one.alignment, -one.bytes, one.name)):
        start = places[piece.name] = round_up(start, piece.alignment)
        start += piece.bytes
    return places


def fill_in_turn(gaps: Sequence[Gap], pieces: Sequence[Piece], spare: int) -> Packing:
    """Fill one gap after another.

    Args:
        pieces: in falling order of size, none of which has to be in the first bank.
        spare: bytes that a fill may leave free where larger pieces are used up by that.
    """
    return Packing(list(gaps), *deal(gaps, pieces, functools.partial(_fullest, spare=spare)))


def deal(rooms: Sequence, pieces: Sequence[Piece], choose: Callable[..., list[Piece]]) -> tuple[list[list[Piece]], list[Piece]]:
    """Return the pieces that ``choose(room, left)`` takes for each room in turn, and what is left."""
    left, groups = list(pieces), []
    for room in rooms:
        groups.append(choose(room, left))
        taken = {piece.name for piece in groups[-1]}
        left = [piece for piece in left if piece.name not in taken]
    return groups, left


def _fullest(gap: Gap, pieces: Sequence[Piece], spare: int) -> list[Piece]:
    """Return pieces that fill a gap, the largest that fits among them; where the start suits not all alignments, the best over
    pieces up to each alignment."""
    start, end = gap
    fitting = [piece for piece in pieces if round_up(start, piece.alignment) + piece.bytes <= end]
    best: list[Piece] = []
    for alignment in sorted({piece.alignment for piece in fitting}, reverse=True):
        first, *others = [piece for piece in fitting if piece.alignment <= alignment]
        chosen = [first, *choose_sum(end - round_up(start, alignment) - first.rounded, others, spare)]
        if sum(piece.bytes for piece in chosen) > sum(piece.bytes for piece in best):
            best = chosen
        if start % alignment == 0:
            break
    return best


def choose_sum(room: int, pieces: Sequence[Piece], spare: int = 0) -> list[Piece]:
    """Return the pieces whose rounded sizes sum up to as near below ``room`` as any choice does, or nearer than ``spare``.

    Of such choices the one that takes the first pieces. Sums that can be reached are bits of a number.
    """
    if room < 0 or not pieces:
        return []
    sizes = [piece.rounded for piece in pieces]
    unit = max(math.gcd(*sizes), -(-room * len(pieces) // _BITS), 1)
    units, rest = [-(-size // unit) for size in sizes], room // unit
    mask, reached = (2 << rest) - 1, [1]
    for count in reversed(units):
        reached.append((reached[-1] | reached[-1] << count) & mask if count <= rest else reached[-1])
    least = min(reached.pop().bit_length() - 1, rest - spare // unit)  # the sum to reach at least
    chosen = []
    for piece, count, without in zip(pieces, units, reversed(reached), strict=True):
        low, high = max(least - count, 0), rest - count
        if high >= 0 and without >> low & ((2 << (high - low)) - 1):
            chosen.append(piece)
            least, rest = least - count, high
    return chosen
