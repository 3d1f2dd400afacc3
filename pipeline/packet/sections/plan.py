"""The test plan in the packet: each task with its grid; a tester's own cells to tick, or for the author, which tester has which."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, Table

from pipeline.packet.typeset import style
from pipeline.packet.typeset.page import Draft, head
from pipeline.packet.typeset.tables import TALLEST_ROW, grid
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark
from pipeline.project.plan import PADS, Grid
from pipeline.project.testers import label_of

_BOX, _OTHERS, _NOBODY = "☐", "·", "–"
_GAP = 7 * style.mm
_LABEL = (16 * style.mm, 40 * style.mm)  # least and most a row's name may take
_COLUMN = (12 * style.mm, 26 * style.mm)
_ROOM = 130  # points the heading, a task's text, a table's head and two rows need
_NAMED = 24  # cells of a gap listed by name


def plan_part(draft: Draft) -> list[Flowable]:
    """The tasks with their grids; nothing where the project has no plan."""
    plan, wording = draft.content["plan"], draft.wording
    if not plan["grids"]:
        return []
    parts: list[Flowable] = []
    for rank, one in enumerate(plan["grids"]):
        parts += _task(draft, rank, one)
    if draft.content["tester"]:
        title = wording.text("plan.share")
        note = wording.text(f"plan.share_{'none' if not parts else 'named' if draft.content['name'] else 'note'}")
    else:
        kind = "who" if plan["shares"] else ""
        title, note = wording.text(f"plan.{kind or 'heading'}"), wording.text(f"plan.{'who_note' if kind else 'note'}")
    first = [*head(draft, "plan", title), *([_line(draft, note, draft.look.NOTE)] if note else [])]
    if parts and isinstance(parts[0], KeepTogether):
        return [KeepTogether([*first, parts[0]]), *parts[1:], *_gaps(draft)]
    return [CondPageBreak(draft.look.grown(_ROOM)), *first, *parts, *_gaps(draft)]


def _task(draft: Draft, rank: int, one: Grid) -> list[Flowable]:
    """Return a task and its grid, together on a page where they fit one; nothing where none of it is the tester's."""
    shares = draft.content["plan"]["shares"]
    mine = next(iter(shares.values()))[rank] if draft.content["tester"] and shares else None
    if draft.content["tester"] and not mine:
        return []
    if not one.heads:
        who = "" if draft.content["tester"] or not shares else f" ({_who(shares, rank, 0)})"
        return [_line(draft, one.text + who, draft.look.ITEM, _BOX)]
    count = "" if mine is None else f" ({draft.wording.text('plan.cells', own=f'{len(mine)}', count=f'{len(one.cells)}')})"
    strong = ParagraphStyle(draft.look.BODY_STRONG.name, draft.look.BODY_STRONG, rightIndent=draft.body_indent, spaceBefore=6, spaceAfter=3)
    blocks = list(_blocks(draft, rank, one))
    whole = [Paragraph(mark(one.text + count), strong), *_beside(draft, blocks), Spacer(1, 4)]
    height = sum(flowable.wrap(draft.width, draft.paper[1])[1] for flowable in whole)
    return [KeepTogether(whole)] if height < TALLEST_ROW and "plan" not in draft.loose else whole


@dataclass(frozen=True)
class _Table:
    """How a grid is laid out: columns and, where it has more than one dimension, rows; a table for each value of the others.

    Attributes:
        across, down, others: ranks of dimensions; ``down`` is None where there is one.
        label, column: widths in points.
        at: coordinates of a cell -> its rank.
    """

    across: int
    down: int | None
    others: tuple[int, ...]
    label: float
    column: float
    at: dict[tuple[int, ...], int]


def _lay_out(draft: Draft, one: Grid) -> _Table:
    # The longest goes down the page, the next across; of equals in the order of the plan.
    order = sorted(range(len(one.heads)), key=lambda side: -len(one.values[side]))
    down, across = (order[0], order[1]) if len(order) > 1 else (None, order[0])
    others = tuple(side for side in range(len(one.heads)) if side not in (across, down))
    return _Table(across, down, others, *_widths(draft, one, across, down), {cell: rank for rank, cell in enumerate(one.cells)})


def _blocks(draft: Draft, rank: int, one: Grid) -> Iterator[list[Flowable]]:
    """Yield the tables of one task, each with its title; what is too wide goes on in a further table."""
    plan = _lay_out(draft, one)
    columns, fit = range(len(one.values[plan.across])), max(1, int((draft.width - plan.label) // plan.column))
    for fixed in itertools.product(*(range(len(one.values[side])) for side in plan.others)):
        title = ", ".join(_caption(draft, one, side, value) for side, value in zip(plan.others, fixed, strict=True))
        above = [Paragraph(mark(title), draft.look.CELL_QUIET), Spacer(1, 2)] if title else []
        for start in range(0, len(columns), fit):
            yield [*above, _block(draft, rank, one, plan, dict(zip(plan.others, fixed, strict=True)), columns[start : start + fit])]


def _block(draft: Draft, rank: int, one: Grid, plan: _Table, fixed: dict[int, int], columns: range) -> Table:
    corner = _side_name(draft, one, plan.down) if plan.down is not None else ""
    rows: list[list[Flowable]] = [[_head(draft, corner), *(_head(draft, one.values[plan.across][x], True) for x in columns)]]
    tints: list[tuple] = []
    for y, name in enumerate(one.values[plan.down] if plan.down is not None else [_side_name(draft, one, plan.across)]):
        row: list[Flowable] = [_head(draft, name)]
        for place, x in enumerate(columns, 1):
            where = fixed | {plan.across: x} | ({plan.down: y} if plan.down is not None else {})
            text, tinted = _cell(draft, rank, plan.at.get(tuple(where[side] for side in range(len(one.heads)))))
            row.append(Paragraph(mark(text), _middle(draft.look.BODY_CELL if text in (_BOX, _OTHERS, _NOBODY) else draft.look.CELL)))
            tints += [("BACKGROUND", (place, len(rows)), (place, len(rows)), style.TINT)] if tinted else []
        rows.append(row)
    table = grid(rows, [plan.label] + [plan.column] * len(columns), [*_RULES, *tints], (4, 4, 1.5, 2.5), repeat=1)
    table.hAlign = "LEFT"
    return table


_RULES = [
    ("INNERGRID", (0, 0), (-1, -1), 0.5, style.RULE),
    ("LINEBELOW", (0, 0), (-1, 0), 0.8, style.INK),
    ("LINEBELOW", (0, -1), (-1, -1), 0.5, style.RULE),
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
]


def _middle(look: ParagraphStyle) -> ParagraphStyle:
    return ParagraphStyle(f"{look.name} in the middle", look, alignment=TA_CENTER)


def _head(draft: Draft, text: str, middle: bool = False) -> Paragraph:
    return Paragraph(mark(text), _middle(draft.look.CELL_HEAD) if middle else draft.look.CELL_HEAD)


def _side_name(draft: Draft, one: Grid, side: int) -> str:
    name = one.heads[side]
    return draft.wording.text("plan.pads") if name == PADS else name[:1].upper() + name[1:]


def _caption(draft: Draft, one: Grid, side: int, value: int) -> str:
    return draft.wording.text("plan.of", head=_side_name(draft, one, side), value=one.values[side][value])


def _cell(draft: Draft, rank: int, cell: int | None) -> tuple[str, bool]:
    """Return the content of a cell, and whether it is tinted."""
    shares = draft.content["plan"]["shares"]
    if cell is None:
        return "", False
    if draft.content["tester"]:
        own = any(cell in share[rank] for share in shares.values())
        return (_BOX, True) if own else (_OTHERS, False)
    if not shares:
        return _BOX, False
    return _who(shares, rank, cell) or _NOBODY, not _who(shares, rank, cell)


def _who(shares: dict, rank: int, cell: int) -> str:
    return " ".join(label_of(number) for number, share in shares.items() if cell in share[rank])


def _widths(draft: Draft, one: Grid, across: int, down: int | None) -> tuple[float, float]:
    """Return the widths of the names of rows and of one column, in points."""
    names = [_side_name(draft, one, down), *one.values[down]] if down is not None else [_side_name(draft, one, across)]
    label, column = (tuple(map(draft.look.grown, limits)) for limits in (_LABEL, _COLUMN))
    name = min(max(*_text_widths(draft, names), label[0]), label[1])
    return name, min(max(*_text_widths(draft, one.values[across]), column[0]), column[1])


def _text_widths(draft: Draft, texts) -> list[float]:
    return [0.0, *(stringWidth(text, style.STRONG, draft.look.CELL_HEAD.fontSize) + 9 for text in texts)]


def _beside(draft: Draft, blocks: list[list[Flowable]]) -> list[Flowable]:
    """Return blocks two by two where they are narrow enough, else below each other."""
    half = (draft.width - _GAP) / 2
    if len(blocks) < 2 or max(block[-1].wrap(draft.width, 0)[0] for block in blocks) > half:
        return [flowable for block in blocks for flowable in (*block, Spacer(1, 5))]
    rows = [blocks[at : at + 2] for at in range(0, len(blocks), 2)]
    return [_pair(draft, row, half) for row in rows]


def _pair(draft: Draft, row: list[list[Flowable]], half: float) -> Table:
    return grid([[*row, *([[]] * (2 - len(row)))]], [half + _GAP, half], [], (0, 0, 0, 5))


def _gaps(draft: Draft) -> list[Flowable]:
    """Return for the author what is nobody's, and why."""
    grids, lines = draft.content["plan"]["grids"], []
    for gap in draft.content["plan"]["gaps"]:
        one = grids[gap.task]
        kind = "pad" if gap.pad else "few"
        pads = one.values[one.heads.index(PADS)] if gap.pad else ()
        value = pads[one.cells[gap.cells[0]][one.heads.index(PADS)]] if gap.pad else ""
        text = draft.wording.text(f"plan.gap_{kind}", value=value, task=f"{gap.task + 1}", count=f"{len(gap.cells)}")
        if not gap.pad and one.heads and len(gap.cells) <= _NAMED:
            text += " " + "; ".join(_cell_name(one, cell) for cell in gap.cells)
        lines.append(_line(draft, text, draft.look.ITEM, "•"))
    return lines


def _cell_name(one: Grid, cell: int) -> str:
    return ", ".join(values[at] for values, at in zip(one.values, one.cells[cell], strict=True))


def _line(draft: Draft, text: str, look: ParagraphStyle, bullet: str | None = None) -> Paragraph:
    return Paragraph(mark(text), ParagraphStyle(look.name, look, rightIndent=draft.body_indent), bulletText=bullet)
