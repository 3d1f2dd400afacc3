"""The page of the author's own copy: for every scene what fills memory in its worst case, and what comes next."""

from __future__ import annotations

from typing import Any

from reportlab.graphics.shapes import Drawing, Line, Rect
from reportlab.lib.colors import Color, HexColor
from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer

from pipeline.joints.budget import Budget, Case, Part, SceneBudget
from pipeline.memory.budget_text import show_names
from pipeline.memory.usage import CARRIED, show_limit
from pipeline.packet.typeset import style
from pipeline.packet.typeset.page import Draft, head
from pipeline.packet.typeset.tables import grid
from pipeline.packet.typeset.tagged import Paragraph, box_of, tagged
from pipeline.packet.typeset.text import mark

_HEIGHT, _KEY, _HATCH = 20, 9, 3  # points
# Dark beside light, so that neighbours look different without colour.
_FILLS = [HexColor(value) for value in (0x8A949E, 0x16475A, 0xA9CFCF, 0x2F6F73, 0xE3C27A, 0x6B4A2E, 0xD9DEE2, 0x1B2127)]


def budget_part(draft: Draft) -> list[Flowable]:
    """What every scene needs at worst; nothing in a tester's copy."""
    budget: Budget | None = draft.content.get("budget")
    if not budget:
        return []
    parts = [PageBreak(), *head(draft, "budget", draft.wording.text("budget.heading")), _text(draft, "budget.note", draft.look.NOTE)]
    if not budget.scenes:
        return [*parts, _text(draft, "budget.none", draft.look.BODY)]
    for name, scene in budget.scenes.items():
        parts.append(KeepTogether(_scene(draft, name, scene, budget)))
    return parts


def _scene(draft: Draft, name: str, scene: SceneBudget, budget: Budget) -> list[Flowable]:
    parts = [*budget.held_parts(), *scene.parts]
    free = draft.wording.text("budget.free" if scene.margin >= 0 else "budget.missing")
    filled = zip(parts, _cycle(len(parts)), strict=True)
    rows = [_row(draft, part.name + _estimated(draft, part), part.bytes, fill) for part, fill in filled]
    rows.append(_row(draft, free, abs(scene.margin), None))
    title = _title(draft, name, scene, budget.memory)
    bar = _bar(title, draft.width, parts, budget.memory, max(budget.memory, scene.bytes))
    table = grid(rows, [14, *(draft.look.grown(width) for width in (60 * style.mm, 30 * style.mm))], [])
    table.hAlign = "LEFT"
    more = [_next(draft, one) for one in scene.next]
    after = [_text(draft, "budget.next", draft.look.BODY_STRONG), *more] if more else []
    fetched = [*_fetched(draft, scene), Spacer(1, 6)] if scene.traffic else []
    shown = [bar, Spacer(1, 6), table, Spacer(1, 6), *fetched, *after]
    return [Spacer(1, 10), Paragraph(mark(title), draft.look.BODY_STRONG), Spacer(1, 4), *shown]


def _fetched(draft: Draft, scene: SceneBudget) -> list[Flowable]:
    """Return what a scene holds in part, what that fetches, and how much of what the console carries."""
    wording, numbers = draft.wording, draft.wording.numbers
    lines: list[Flowable] = []
    if any(part.fetched for part in scene.parts):
        lines.append(_text(draft, "budget.hatched", draft.look.CELL))
    for one in scene.streamed:
        size = f"{one.size[0]} × {one.size[1]}" if one.size else ""
        sizes = {"held": numbers.size(one.bytes), "whole": numbers.size(one.whole)}
        said = wording.text(f"budget.{one.how}", name=one.name, buffers=one.buffers, window=size, **sizes)
        lines.append(Paragraph(mark(said), draft.look.CELL))
    if scene.traffic:
        counts = {"count": numbers.count(scene.traffic.bytes), "transfers": numbers.count(scene.traffic.transfers)}
        said = wording.text("budget.traffic", pace=numbers.count(scene.traffic.pace), **counts)
        lines.append(Paragraph(mark(said), draft.look.CELL))
    for key in CARRIED:
        if limit := scene.limits.get(key):
            said = wording.text(f"budget.{key}", used=numbers.count(limit.used), most=numbers.count(limit.most))
            lines.append(Paragraph(mark(said), draft.look.BODY_STRONG if limit.passed else draft.look.CELL))
            used = [Part(name=key, bytes=limit.used)]
            lines += [Spacer(1, 3), _bar(said, draft.width, used, limit.most, max(limit.used, limit.most), 2), Spacer(1, 3)]
    return lines


def _title(draft: Draft, name: str, scene: SceneBudget, memory: int) -> str:
    """Return one line about a scene, as ``memory.budget.describe_scene`` has it in English."""
    wording, numbers = draft.wording, draft.wording.numbers
    state = wording.text("budget.left" if scene.margin >= 0 else "budget.over", size=numbers.size(abs(scene.margin)))
    if scene.estimated:
        state += " " + wording.text("budget.part", size=numbers.size(scene.estimated))
    for key, limit in scene.limits.items():
        if limit.passed:
            state += ", " + wording.text("budget.limit", count=numbers.count(limit.used - limit.most), what=show_limit(key))
    return wording.text("budget.scene", name=name, size=numbers.size(scene.bytes), state=state, memory=numbers.size(memory))


def _cycle(count: int, first: int = 0) -> list:
    return [_FILLS[(first + rank) % len(_FILLS)] for rank in range(count)]


def _estimated(draft: Draft, part: Part) -> str:
    return f" ({draft.wording.text('budget.estimated')})" if part.estimated else ""


def _row(draft: Draft, name: str, count: int, fill) -> list:
    box = Drawing(_KEY, _KEY)
    box.add(_box(0, 0, _KEY, _KEY, fill or style.PAPER, style.INK, 0.6))
    return [box, Paragraph(mark(name), draft.look.CELL), Paragraph(draft.wording.numbers.count(count), draft.look.CELL_MONO)]


class _Bar(Drawing):
    """A bar with words for those who do not see it."""

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        with tagged(canvas, "Figure", alt=vars(self).get("alt", ""), box=box_of(canvas, x, y, self.width, self.height)):
            super().drawOn(canvas, x, y, _sW)  # pyright: ignore[reportCallIssue] (the library's types leave one out)


def _bar(alt: str, width: float, parts: list[Part], memory: int, whole: int, fill: int = 0) -> Drawing:
    """Return all of memory as one bar whose parts begin with this fill, and where it ends if what is needed goes on."""
    drawing, left = _Bar(width, _HEIGHT + 4), 0.0
    vars(drawing)["alt"] = alt  # the library checks attributes set in the usual way
    drawing.add(_box(0, 2, width, _HEIGHT, style.PAPER, style.INK, 0.8))
    for part, colour in zip(parts, _cycle(len(parts), fill), strict=True):
        share = width * part.bytes / whole
        drawing.add(_box(left, 2, share, _HEIGHT, colour, style.PAPER, 0.6))
        left += share
        for line in _hatching(left - width * part.fetched / whole, left):
            drawing.add(line)
    end = width * memory / whole
    if memory < whole:
        drawing.add(Line(end, 0, end, _HEIGHT + 4, strokeColor=style.INK, strokeWidth=2.2))
    return drawing


def _hatching(left: float, right: float) -> list[Line]:
    """Return lines over the part of a bar that is buffers and windows."""
    places = [left + _HATCH * rank for rank in range(1, int((right - left) / _HATCH) + 1)]
    return [Line(at, 2, at, _HEIGHT + 2, strokeColor=style.PAPER, strokeWidth=0.8) for at in places]


def _box(left: float, bottom: float, width: float, height: float, fill: Color, line: Color, line_width: float) -> Rect:
    # As attributes: the library's types do not know that a shape takes them as arguments.
    box = Rect(left, bottom, width, height)
    box.fillColor, box.strokeColor, box.strokeWidth = fill, line, line_width
    return box


def _next(draft: Draft, one: Case) -> Paragraph:
    return Paragraph(mark(f"{draft.wording.numbers.count(one.bytes)}: {show_names(one.chosen)}"), draft.look.CELL)


def _text(draft: Draft, key: str, look) -> Paragraph:
    return Paragraph(mark(draft.wording.text(key)), look)
