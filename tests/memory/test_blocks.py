"""Places of blocks against all orders tried by the test itself. Common practice, no source."""

from __future__ import annotations

import itertools
import random

import pytest

from pipeline.memory.blocks import Block, place_blocks, top_of
from tests.conftest import tries


def _some(dice: random.Random, count: int) -> list[Block]:
    scenes = "abc"[: dice.randrange(1, 4)]
    return [
        Block(
            f"b{rank}", dice.randrange(1, 40), dice.choice((1, 2, 4, 8)), frozenset(dice.sample(scenes, dice.randrange(1, len(scenes) + 1)))
        )
        for rank in range(count)
    ]


def _gaps(dice: random.Random) -> list[tuple[int, int]]:
    low = dice.randrange(0, 30)
    return [(0, low), (low + dice.randrange(1, 9), 10_000)] if low > 3 else [(low, 10_000)]


def check(blocks: list[Block], places: dict[str, int], gaps: list[tuple[int, int]]) -> None:
    """Whether each is aligned, lies in a gap, and overlaps no other of its scenes."""
    assert set(places) == {block.name for block in blocks}
    for block in blocks:
        start, end = places[block.name], places[block.name] + block.bytes
        assert start % block.alignment == 0
        assert any(low <= start and end <= high for low, high in gaps)
    for one, other in itertools.combinations(blocks, 2):
        apart = places[one.name] + one.bytes <= places[other.name] or places[other.name] + other.bytes <= places[one.name]
        assert apart or not one.scenes & other.scenes


def _smallest_top(blocks: list[Block], gaps: list[tuple[int, int]]) -> int:
    """The lowest top of any arrangement: every block tried at every place up to the best so far, one after another."""
    best = top_of(blocks, place_blocks(blocks, gaps))

    def go(rank: int, taken: list[tuple[int, int, frozenset]], top: int) -> None:
        nonlocal best
        if top >= best:
            return
        if rank == len(blocks):
            best = top
            return
        block = blocks[rank]
        for at in range(0, best - block.bytes, block.alignment):
            end = at + block.bytes
            free = all(end <= low or high <= at or not scenes & block.scenes for low, high, scenes in taken)
            if free and any(low <= at and end <= high for low, high in gaps):
                go(rank + 1, [*taken, (at, end, block.scenes)], max(top, end))

    go(0, [], 0)
    return best


@pytest.mark.parametrize("seed", range(tries(30, 300)))
def test_few_blocks_end_as_low_as_any_arrangement(seed):
    """Up to four blocks: no arrangement at all, of any places, has a lower top."""
    dice = random.Random(seed)
    blocks, gaps = _some(dice, dice.randrange(1, 5)), _gaps(dice)
    places = place_blocks(blocks, gaps)
    check(blocks, places, gaps)
    assert top_of(blocks, places) == _smallest_top(blocks, gaps)


def _lowest_in_order(blocks, gaps) -> int:
    taken: list[tuple[int, int, frozenset]] = []
    for block in blocks:
        starts = sorted({0, *(low for low, _ in gaps), *(high for _, high, _ in taken)})
        for start in starts:
            at = -(-start // block.alignment) * block.alignment
            end = at + block.bytes
            inside = any(low <= at and end <= high for low, high in gaps)
            if inside and all(end <= low or high <= at or not scenes & block.scenes for low, high, scenes in taken):
                taken.append((at, end, block.scenes))
                break
    return max(end for _, end, _ in taken)


@pytest.mark.parametrize("seed", range(tries(15, 150)))
def test_six_blocks_end_as_low_as_in_any_order(seed):
    """Six blocks, by all 720 orders."""
    dice = random.Random(1000 + seed)
    blocks, gaps = _some(dice, 6), _gaps(dice)
    places = place_blocks(blocks, gaps)
    check(blocks, places, gaps)
    assert top_of(blocks, places) == min(_lowest_in_order(order, gaps) for order in itertools.permutations(blocks))


@pytest.mark.parametrize("seed", range(tries(2, 20)))
def test_many_blocks_do_not_overlap(seed):
    """Sixty blocks; in another order of the list they get the same places."""
    dice = random.Random(2000 + seed)
    blocks, gaps = _some(dice, 60), _gaps(dice)
    places = place_blocks(blocks, gaps)
    check(blocks, places, gaps)
    assert place_blocks(dice.sample(blocks, 60), gaps) == places
