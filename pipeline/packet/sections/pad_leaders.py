"""Where the labels around a drawn pad are, and the lines that lead to them: pure geometry.

Lengths are points; x runs to the right from the drawing's left edge, y down from the top of the pad's face.
"""

from __future__ import annotations

import functools
import itertools
from typing import NamedTuple

GAP = 4.0  # between two labels of a column
_SIDEWAYS = ("straight", "lane above", "lane below")
_WAYS = tuple(itertools.product(("right", "left"), (*_SIDEWAYS, "up", "down")))
_MOST_TRIED = 24  # labels; with more, the first guess is kept
_SWEEPS = 6
# What a fault costs, in points of height: a line behind a button, two lines that touch or one along the body's edge, and a bend.
_HIDDEN, _CROSSED, _BENT = 1000.0, 400.0, 6.0
_NEAR = 1.5

Rect = tuple[float, float, float, float]  # left, top, right, bottom
Part = tuple[tuple[float, float], tuple[float, float]]  # from one point of a line to the next
Line = tuple[tuple[float, float], ...]


class Callout(NamedTuple):
    """What a label points at.

    Attributes:
        box: around the button, or around one arm of a cross.
        heights: of its label in the left and in the right column.
    """

    box: Rect
    heights: tuple[float, float]


class Room(NamedTuple):
    """The columns of labels.

    Attributes:
        left: right edge of the left column.
        right: left edge of the right column.
        body: the pad's body.
        first: depth of the middle of a label's first line, to which its line leads.
        lane: free space a line keeps from a button.
        blocks: what else no line should cross: middles and arms of crosses. Those of ``box`` of a callout do not count for its own line.
    """

    left: float
    right: float
    body: Rect
    first: float
    lane: float
    blocks: tuple[Rect, ...] = ()


class Label(NamedTuple):
    """A label's side ("left", "right"), the y of its top, and the points of its line from the button."""

    side: str
    top: float
    line: Line


@functools.lru_cache(maxsize=64)
def place_labels(callouts: tuple[Callout, ...], room: Room) -> tuple[Label, ...]:
    """Return a label for each callout; no two of a column overlap.

    Lines run straight to the side, along the free lane beside the row, or up or down to their label. From a first
    guess one label after another is turned to where it costs least; a line that must pass a button runs behind it.
    """
    ways, laid = _first_ways(callouts, room), _Layouts(callouts, room).of
    if len(callouts) > _MOST_TRIED:
        return laid(ways)
    cost_of = _Costs(callouts, room).of
    best = cost_of(laid(ways))
    for _ in range(_SWEEPS):
        before = best
        for rank in range(len(callouts)):
            for way in _WAYS:
                tried = (*ways[:rank], way, *ways[rank + 1 :])
                cost = cost_of(laid(tried)) if way != ways[rank] else best
                if cost < best:
                    best, ways = cost, tried
        if best == before:
            break
    return laid(ways)


def boxes_beside(callouts: tuple[Callout, ...], room: Room, at: int) -> list[Rect]:
    """Return all that the line of one callout must pass: other buttons, middles and arms of crosses, each once."""
    own = callouts[at].box
    others = [one.box for rank, one in enumerate(callouts) if rank != at]
    return [*others, *(box for box in room.blocks if box != own and box not in others)]


def _first_ways(callouts: tuple[Callout, ...], room: Room) -> tuple[tuple[str, str], ...]:
    """To the nearer side; up from the upper half of that side's buttons, down from the others."""
    middle = _middle(room.body)[0]
    sides = ["left" if _middle(one.box)[0] < middle else "right" for one in callouts]
    ways = []
    for one, side in zip(callouts, sides, strict=True):
        heights = sorted(_middle(other.box)[1] for other, there in zip(callouts, sides, strict=True) if there == side)
        level, centre = _middle(one.box)[1], heights[len(heights) // 2]
        ways.append((side, "straight" if len(heights) == 1 else "up" if level < centre else "down"))
    return tuple(ways)


class _Layouts:
    """Layouts of the same labels; a column is kept, as one of the two is the same in most layouts that are tried."""

    def __init__(self, callouts: tuple[Callout, ...], room: Room) -> None:
        left, right = (room.left, room.body[0]), (room.right, room.body[2])
        self._columns = {
            "left": functools.cache(_Column(callouts, room, "left", 0, *left).lay),
            "right": functools.cache(_Column(callouts, room, "right", 1, *right).lay),
        }

    def of(self, ways: tuple[tuple[str, str], ...]) -> tuple[Label, ...]:
        """Return the labels when each line goes its way."""
        found: dict[int, Label] = {}
        for side, lay in self._columns.items():
            found |= lay(tuple((at, way) for at, (there, way) in enumerate(ways) if there == side))
        return tuple(found[at] for at in range(len(ways)))


class _Column:
    """One column of labels."""

    def __init__(self, callouts: tuple[Callout, ...], room: Room, side: str, rank: int, edge: float, out: float) -> None:
        self.callouts, self.room, self.side, self.rank, self.edge, self.out = callouts, room, side, rank, edge, out
        self._clear = functools.cache(self._find_clear)

    def lay(self, ways: tuple[tuple[int, str], ...]) -> dict[int, Label]:
        """Place the labels of lines that leave the body sideways near those lines, the others below and above them."""
        found: dict[int, Label] = {}
        levels = {at: self._level(at, way) for at, way in ways if way in _SIDEWAYS}
        order = sorted(levels, key=lambda at: (levels[at], at))
        starts = spread([levels[at] - self.room.first for at in order], [self._height(at) for at in order])
        for at, start in zip(order, starts, strict=True):
            found[at] = self._sideways(at, levels[at], start)
        top = starts[0] if order else None
        bottom = starts[-1] + self._height(order[-1]) if order else None
        for at in sorted((at for at, way in ways if way == "down"), key=self._from_side):
            start = self._clear(at, 1) - self.room.first
            start = start if bottom is None else max(start, bottom + GAP)
            found[at] = self._bent(at, start)
            top, bottom = start if top is None else top, start + self._height(at)
        for at in sorted((at for at, way in ways if way == "up"), key=self._from_side):
            start = self._clear(at, -1) - self.room.first
            start = start if top is None else min(start, top - GAP - self._height(at))
            found[at] = self._bent(at, start)
            top = start
        return found

    def _level(self, at: int, way: str) -> float:
        """Return the y at which a line leaves the body."""
        return _middle(self._box(at))[1] if way == "straight" else self._clear(at, 1 if way == "lane below" else -1)

    def _box(self, at: int) -> Rect:
        return self.callouts[at].box

    def _height(self, at: int) -> float:
        return self.callouts[at].heights[self.rank]

    def _from_side(self, at: int) -> tuple[float, int]:
        return abs(self.edge - _middle(self._box(at))[0]), at

    def _sideways(self, at: int, level: float, start: float) -> Label:
        left, top, right, bottom = self._box(at)
        across, end = _middle(self._box(at))[0], start + self.room.first
        begin = ((left if self.side == "left" else right, level),)
        if not top < level < bottom:
            begin = ((across, top if level < top else bottom), (across, level))
        line = (*begin, (self.out, level), (self.edge, end)) if end != level else (*begin, (self.edge, end))
        return Label(self.side, start, line)

    def _bent(self, at: int, start: float) -> Label:
        _, top, _, bottom = self._box(at)
        across, end = _middle(self._box(at))[0], start + self.room.first
        return Label(self.side, start, ((across, top if end < top else bottom), (across, end), (self.edge, end)))

    def _find_clear(self, at: int, down: int) -> float:
        """Return the level nearest to a button, below or above it, at which no button is between it and the side."""
        across, lane = _middle(self._box(at))[0], self.room.lane
        between = [box for box in boxes_beside(self.callouts, self.room, at) if self._is_between(box, across)]
        level = self._box(at)[3] + lane if down > 0 else self._box(at)[1] - lane
        for box in sorted(between, key=lambda box: down * box[1 if down > 0 else 3]):
            if box[1] - lane < level < box[3] + lane:
                level = box[3] + lane if down > 0 else box[1] - lane
        return level

    def _is_between(self, box: Rect, across: float) -> bool:
        return box[0] - self.room.lane < across if self.side == "left" else box[2] + self.room.lane > across


def spread(wanted: list[float], heights: list[float]) -> list[float]:
    """Return where stacked labels begin so that none overlaps and the sum of squares of their shifts is least.

    This is isotonic regression by pooling adjacent violators (Barlow and others, 1972) once the heights above are taken off.
    """
    above = list(itertools.accumulate((height + GAP for height in heights), initial=0.0))
    pools: list[tuple[float, int]] = []  # sum and count of each
    for want, offset in zip(wanted, above, strict=False):
        pools.append((want - offset, 1))
        while len(pools) > 1 and pools[-2][0] * pools[-1][1] >= pools[-1][0] * pools[-2][1]:
            (one, count), (other, more) = pools[-2:]
            pools[-2:] = [(one + other, count + more)]
    means = [total / count for total, count in pools for _ in range(count)]
    return [mean + offset for mean, offset in zip(means, above, strict=False)]


def _middle(box: Rect) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


class _Costs:
    """What layouts of the same labels cost; what a line hides and crosses is kept, as two layouts tried have most lines in common."""

    def __init__(self, callouts: tuple[Callout, ...], room: Room) -> None:
        self._callouts, self._room = callouts, room
        left, top, right, bottom = room.body
        self._edges: list[Part] = [((left, y), (right, y)) for y in (top, bottom)]
        self._hides = functools.cache(self._count_hidden)
        self._crosses = functools.cache(_count_crossings)

    def of(self, labels: tuple[Label, ...]) -> float:
        """Return the cost of a layout, in points of height."""
        lines = [label.line for label in labels]
        hidden = sum(self._hides(at, line) for at, line in enumerate(lines))
        crossed = sum(self._crosses(one, other) for one, other in itertools.combinations(lines, 2))
        crossed += sum(self._runs_along(line) for line in lines)
        bends = sum(len(line) - 2 for line in lines)
        length = sum(abs(x - z) + abs(y - w) for line in lines for (x, y), (z, w) in itertools.pairwise(line))
        top, bottom = extent(self._callouts, self._room, labels)
        return _HIDDEN * hidden + _CROSSED * crossed + _BENT * bends + bottom - top + length * 0.1

    def _count_hidden(self, at: int, line: Line) -> int:
        boxes = boxes_beside(self._callouts, self._room, at)
        return sum(_touch(_around(part), box, 0.5) for part in itertools.pairwise(line) for box in boxes)

    def _runs_along(self, line: Line) -> int:
        return sum(part[0][1] == part[1][1] and _meet(part, edge) for part in itertools.pairwise(line) for edge in self._edges)


def _count_crossings(one: Line, other: Line) -> int:
    return sum(_meet(a, b) for a in itertools.pairwise(one) for b in itertools.pairwise(other))


def extent(callouts: tuple[Callout, ...], room: Room, labels: tuple[Label, ...]) -> tuple[float, float]:
    """Return the highest and the lowest y of labels, buttons and body."""
    ends = [label.top + one.heights[label.side == "right"] for one, label in zip(callouts, labels, strict=True)]
    boxes = [room.body, *(one.box for one in callouts)]
    return min([*(label.top for label in labels), *(box[1] for box in boxes)]), max([*ends, *(box[3] for box in boxes)])


def _around(part: Part) -> Rect:
    (x, y), (z, w) = part
    left, right = (x, z) if x < z else (z, x)  # asked so often that min and max would take half the time
    return (left, y, right, w) if y < w else (left, w, right, y)


def _touch(one: Rect, other: Rect, near: float) -> bool:
    return one[0] - near < other[2] and other[0] < one[2] + near and one[1] - near < other[3] and other[1] < one[3] + near


def _meet(one: Part, other: Part) -> bool:
    """Return whether two parts of lines come so near that they could be taken for one."""
    if not _touch(_around(one), _around(other), _NEAR):
        return False
    slanted = [a != c and b != d for (a, b), (c, d) in (one, other)]
    if not all(slanted):
        return True
    # Two slanted parts lead from the same x to the same x; they cross when their ends are in another order.
    return (one[0][1] - other[0][1]) * (one[1][1] - other[1][1]) <= 0
