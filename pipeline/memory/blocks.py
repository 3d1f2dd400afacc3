"""Places in memory for blocks, of which only those that share a scene must not overlap: as low as can be found. Pure.

Blocks placed one after another, each at the lowest place that is free, reach the smallest top in some order: that by which an
arrangement with the smallest top has them from low to high. Few blocks are tried in every order; of many, in some good ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.plain.sizes import round_up

_LOOKS = 20_000  # places tried in the search through all orders before it is given up
Gap = tuple[int, int]
Places = dict[str, int]


@dataclass(frozen=True)
class Block:
    """Something that takes memory.

    Attributes:
        name: unique.
        bytes: at least 1; ``alignment``: power of two.
        scenes: in which it is in memory; blocks with one in common must not overlap.
    """

    name: str
    bytes: int
    alignment: int
    scenes: frozenset[str]


def place_blocks(blocks: Sequence[Block], gaps: Sequence[Gap]) -> Places:
    """Return name -> first byte of every block: nothing overlaps, and the highest end is the lowest that was found.

    Args:
        gaps: free memory as (start, end), rising; the last is taken to have no end, so that the caller sees by how much too
            little there is.
    """
    room = [*gaps[:-1], (gaps[-1][0], gaps[-1][1] + sum(block.bytes + block.alignment for block in blocks))]
    found = [_in_order(order, room) for order in _orders(blocks)]
    best = min(found, key=lambda places: _cost(blocks, places))
    least = max((_least_end(blocks, scene, room) for scene in _scenes(blocks)), default=0)
    if top_of(blocks, best) <= least:
        return best
    return _Search(blocks, room, top_of(blocks, best), least).run() or best


def top_of(blocks: Iterable[Block], places: Places, scene: str | None = None) -> int:
    """Return the byte after the last that blocks take, of all or of one scene."""
    return max((places[one.name] + one.bytes for one in blocks if scene is None or scene in one.scenes), default=0)


def _scenes(blocks: Iterable[Block]) -> list[str]:
    return sorted(frozenset().union(*(block.scenes for block in blocks)))


def _cost(blocks: Sequence[Block], places: Places) -> tuple[int, int]:
    return top_of(blocks, places), sum(top_of(blocks, places, scene) for scene in _scenes(blocks))


def _orders(blocks: Sequence[Block]) -> list[list[Block]]:
    keys = (
        lambda one: (-len(one.scenes), -one.bytes, one.name),
        lambda one: (-one.bytes, -len(one.scenes), one.name),
        lambda one: (-one.alignment, -len(one.scenes), -one.bytes, one.name),
        lambda one: (-one.bytes * len(one.scenes), one.name),
    )
    return [sorted(blocks, key=key) for key in keys]


def _in_order(order: Iterable[Block], gaps: Sequence[Gap]) -> Places:
    places: Places = {}
    placed: list[tuple[Block, int]] = []
    for block in order:
        places[block.name] = at = _lowest(block, placed, gaps)
        placed.append((block, at))
    return places


def _lowest(block: Block, placed: Iterable[tuple[Block, int]], gaps: Iterable[Gap]) -> int:
    """Return the lowest place at which a block overlaps none of those placed that share a scene with it."""
    taken = sorted((at, at + one.bytes) for one, at in placed if one.scenes & block.scenes)
    for start, end in gaps:
        at = round_up(start, block.alignment)
        for low, high in taken:
            if low >= at + block.bytes:
                break
            if high > at:
                at = round_up(high, block.alignment)
        if at + block.bytes <= end:
            return at
    raise ValueError("the last gap is too small")


def _least_end(blocks: Iterable[Block], scene: str, gaps: Sequence[Gap]) -> int:
    """Return where a scene's blocks end at least: their bytes poured into the gaps."""
    left = sum(block.bytes for block in blocks if scene in block.scenes)
    for start, end in gaps:
        if left <= end - start:
            return start + left if left else 0
        left -= end - start
    raise ValueError("the last gap is too small")


class _Search:
    """Depth first through the orders in which blocks rise in memory, until one ends as low as any can."""

    def __init__(self, blocks: Sequence[Block], gaps: Sequence[Gap], top: int, least: int) -> None:
        self._blocks, self._gaps, self._top, self._least = sorted(blocks, key=lambda one: (-one.bytes, one.name)), gaps, top, least
        self._best: Places | None = None
        self._looks = 0

    def run(self) -> Places | None:
        """Return places that end lower than ``top``; None where none were found."""
        self._go([], self._blocks, 0)
        return self._best

    def _go(self, placed: list[tuple[Block, int]], left: list[Block], from_place: int) -> None:
        if not left:
            self._top = max(at + one.bytes for one, at in placed)
            self._best = {one.name: at for one, at in placed}
            return
        tried = set()
        for rank, block in enumerate(left):
            same = block.bytes, block.alignment, block.scenes
            if same in tried:
                continue
            tried.add(same)
            self._looks += 1
            if self._looks > _LOOKS or self._top <= self._least:
                return
            at = _lowest(block, placed, self._gaps)
            if at >= from_place and at + block.bytes < self._top:
                self._go([*placed, (block, at)], left[:rank] + left[rank + 1 :], at)
