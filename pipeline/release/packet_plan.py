"""The test plan in the packet: each task with its grid; a tester's own cells to tick, or for the author who has which."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from reportlab.lib.enums import TA_CENTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table

from pipeline.project_plan import PADS, Grid
from pipeline.release import packet_style as style
from pipeline.release.packet_grid import TALLEST_ROW, grid
from pipeline.release.packet_page import Draft, head
from pipeline.release.packet_text import mark
from pipeline.testers import label_of

_BOX, _OTHERS, _NOBODY = "☐", "·", "–"
_GAP = 7 * style.mm
_LABEL = (16 * style.mm, 40 * style.mm)  # least and most a row's name may take
_COLUMN = (12 * style.mm, 26 * style.mm)
_NAMED = 24  # cells of a gap told by name


def plan_part(draft: Draft) -> list[Flowable]:
    """The tasks with their grids; nothing where the project has no plan."""
    plan, wording = draft.told["plan"], draft.wording
    if not plan["grids"]:
        return []
    parts: list[Flowable] = []
    for rank, one in enumerate(plan["grids"]):
        parts += _task(draft, rank, one)
    if draft.told["tester"]:
        title = wording.text("plan.share")
        note = wording.text(f"plan.share_{'none' if not parts else 'named' if draft.told['name'] else 'note'}")
    else:
        kind = "who" if plan["shares"] else ""
        title, note = wording.text(f"plan.{kind or 'heading'}"), wording.text(f"plan.{'who_note' if kind else 'note'}")
    first = [*head(draft, "plan", title), *([_line(draft, note, style.NOTE)] if note else [])]
    # The heading stays with the first task, where that is not longer than a page.
    together = KeepTogether([*first, parts[0]]) if parts else None
    return [*([together, *parts[1:]] if together else first), *_gaps(draft)]


def _task(draft: Draft, rank: int, one: Grid) -> list[Flowable]:
    """Return a task and its grid, together on a page where they fit one; nothing where none of it is the tester's."""
    shares = draft.told["plan"]["shares"]
    mine = next(iter(shares.values()))[rank] if draft.told["tester"] and shares else None
    if draft.told["tester"] and not mine:
        return []
    if not one.heads:
        who = "" if draft.told["tester"] or not shares else f" ({_who(shares, rank, 0)})"
        return [_line(draft, one.text + who, style.ITEM, _BOX)]
    count = "" if mine is None else f" ({draft.wording.text('plan.cells', own=f'{len(mine)}', count=f'{len(one.cells)}')})"
    strong = ParagraphStyle(style.BODY_STRONG.name, style.BODY_STRONG, rightIndent=draft.body_indent, spaceBefore=6, spaceAfter=3)
    blocks = list(_blocks(draft, rank, one))
    whole = [Paragraph(mark(one.text + count), strong), *_beside(draft, blocks), Spacer(1, 4)]
    height = sum(flowable.wrap(draft.width, draft.paper[1])[1] for flowable in whole)
    return [KeepTogether(whole)] if height < TALLEST_ROW else whole


def _blocks(draft: Draft, rank: int, one: Grid) -> Iterator[list[Flowable]]:
    """Yield small tables of one task: rows and columns are its two longest dimensions, and a table for each of the others' values."""
    order = sorted(range(len(one.heads)), key=lambda side: -len(one.values[side]))
    across = max(order[:2]) if len(order) > 1 else order[0]
    down = min(order[:2]) if len(order) > 1 else None
    if down is not None and len(one.values[across]) > len(one.values[down]):
        across, down = down, across
    others = [side for side in range(len(one.heads)) if side not in (across, down)]
    at = {cell: place for place, cell in enumerate(one.cells)}
    label, column = _widths(draft, one, across, down)
    fit = max(1, int((draft.width - label) // column))
    for fixed in itertools.product(*(range(len(one.values[side])) for side in others)):
        title = ", ".join(_caption(draft, one, side, value) for side, value in zip(others, fixed, strict=True))
        columns = range(len(one.values[across]))
        for start in range(0, len(columns), fit):
            shown = columns[start : start + fit]
            rows = [[_head(_side_name(draft, one, down) if down is not None else ""), *(_head(one.values[across][x], True) for x in shown)]]
            marks: list[tuple] = []
            for y in range(len(one.values[down])) if down is not None else (None,):
                row = [_head(one.values[down][y]) if y is not None else _head(_side_name(draft, one, across))]
                for place, x in enumerate(shown, 1):
                    cell = [0] * len(one.heads)
                    for side, value in [*zip(others, fixed, strict=True), (across, x), *([(down, y)] if y is not None else [])]:
                        cell[side] = value
                    text, tinted = _cell(draft, rank, at.get(tuple(cell)))
                    row.append(Paragraph(mark(text), _TICK if text in (_BOX, _OTHERS, _NOBODY) else _WHO))
                    marks += [("BACKGROUND", (place, len(rows)), (place, len(rows)), style.TINT)] if tinted else []
                rows.append(row)
            table = grid(rows, [label] + [column] * len(shown), [*_RULES, *marks], (4, 4, 1.5, 2.5), repeat=1)
            table.hAlign = "LEFT"
            yield [*([Paragraph(mark(title), style.CELL_QUIET), Spacer(1, 2)] if title else []), table]


_RULES = [
    ("INNERGRID", (0, 0), (-1, -1), 0.5, style.RULE),
    ("LINEBELOW", (0, 0), (-1, 0), 0.8, style.INK),
    ("LINEBELOW", (0, -1), (-1, -1), 0.5, style.RULE),
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ("ALIGN", (1, 0), (-1, -1), "CENTER"),
]
_TICK = ParagraphStyle("tick", style.BODY_CELL, alignment=TA_CENTER)
_WHO = ParagraphStyle("who", style.CELL, alignment=TA_CENTER)
_HEAD_MIDDLE = ParagraphStyle("cell head in the middle", style.CELL_HEAD, alignment=TA_CENTER)


def _head(text: str, middle: bool = False) -> Paragraph:
    return Paragraph(mark(text), _HEAD_MIDDLE if middle else style.CELL_HEAD)


def _side_name(draft: Draft, one: Grid, side: int) -> str:
    name = one.heads[side]
    return draft.wording.text("plan.pads") if name == PADS else name[:1].upper() + name[1:]


def _caption(draft: Draft, one: Grid, side: int, value: int) -> str:
    return draft.wording.text("plan.of", head=_side_name(draft, one, side), value=one.values[side][value])


def _cell(draft: Draft, rank: int, cell: int | None) -> tuple[str, bool]:
    """Return what stands in a cell, and whether it is tinted."""
    shares = draft.told["plan"]["shares"]
    if cell is None:
        return "", False
    if draft.told["tester"]:
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
    label = min(max(*_text_widths(names), _LABEL[0]), _LABEL[1])
    return label, min(max(*_text_widths(one.values[across]), _COLUMN[0]), _COLUMN[1])


def _text_widths(texts) -> list[float]:
    return [0.0, *(stringWidth(text, style.STRONG, style.CELL_HEAD.fontSize) + 9 for text in texts)]


def _beside(draft: Draft, blocks: list[list[Flowable]]) -> list[Flowable]:
    """Return blocks two by two where they are narrow enough, else below each other."""
    half = (draft.width - _GAP) / 2
    if len(blocks) < 2 or max(sum(block[-1]._colWidths) for block in blocks) > half:
        return [flowable for block in blocks for flowable in (*block, Spacer(1, 5))]
    rows = [blocks[at : at + 2] for at in range(0, len(blocks), 2)]
    return [_pair(draft, row, half) for row in rows]


def _pair(draft: Draft, row: list[list[Flowable]], half: float) -> Table:
    return grid([[*row, *([[]] * (2 - len(row)))]], [half + _GAP, half], [], (0, 0, 0, 5))


def _gaps(draft: Draft) -> list[Flowable]:
    """Return for the author what is nobody's, and why."""
    grids, lines = draft.told["plan"]["grids"], []
    for gap in draft.told["plan"]["gaps"]:
        one = grids[gap.task]
        kind = "pad" if gap.pad else "few"
        pads = one.values[one.heads.index(PADS)] if gap.pad else ()
        value = pads[one.cells[gap.cells[0]][one.heads.index(PADS)]] if gap.pad else ""
        text = draft.wording.text(f"plan.gap_{kind}", value=value, task=f"{gap.task + 1}", count=f"{len(gap.cells)}")
        if not gap.pad and one.heads and len(gap.cells) <= _NAMED:
            text += " " + "; ".join(_cell_name(one, cell) for cell in gap.cells)
        lines.append(_line(draft, text, style.ITEM, "•"))
    return lines


def _cell_name(one: Grid, cell: int) -> str:
    return ", ".join(values[at] for values, at in zip(one.values, one.cells[cell], strict=True))


def _line(draft: Draft, text: str, look: ParagraphStyle, bullet: str | None = None) -> Paragraph:
    return Paragraph(mark(text), ParagraphStyle(look.name, look, rightIndent=draft.body_indent), bulletText=bullet)
