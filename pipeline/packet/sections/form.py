"""The report page: what a useful report holds, to fill in on a screen or by hand."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, PageBreak, Spacer, Table

from pipeline.packet.sections.fields import Choices, WritingField
from pipeline.packet.typeset import style
from pipeline.packet.typeset.codes import CodeDrawing, link_markup
from pipeline.packet.typeset.page import Draft, head
from pipeline.packet.typeset.tables import grid
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark
from pipeline.project.file import SEVERITIES

_BOX = 8.5 * style.mm  # height of a box for one line
_LINE, _LINE_LARGE = 8 * style.mm, 10 * style.mm  # from one line for handwriting to the next
_NAME = 30 * style.mm  # of a row of boxes to tick
_GAP, _BELOW = 9, 7  # points between boxes, and under a row
_WIDEST = 0.3  # of the page, what follows boxes to tick
# The long answers, each with the least lines it needs and its share of those left over.
_ANSWERS = {"expected": (2, 2), "seen": (3, 4), "steps": (4, 5)}
_Rows = Sequence[Flowable]


def form_part(draft: Draft) -> list[Flowable]:
    """A page of its own to fill in, or two where one is too small; nothing where the wording has no heading for it."""
    title = draft.wording.text("form.heading")
    if not title:
        return []
    above = [
        *head(draft, "form", title),
        _top(draft),
        *_row(draft, {"build": 0.2, "version": 0.22, "date": 0.29, "tester": 0.29}),
        *_row(draft, {"where": 0.62, "issue": 0.38}),
    ]
    below = [*_often(draft), *_severity(draft), *_pads(draft), *_row(draft, {"console": 0.36, "cartridge": 0.34, "screen": 0.3})]
    # Parted between what was seen and how it came about, not wherever the room ends.
    return _filled(draft, above, list(_ANSWERS), below) or [
        *(_filled(draft, above, ["expected", "seen"], []) or [PageBreak(), *above]),
        *(_filled(draft, [], ["steps"], below) or [PageBreak(), *below]),
    ]


def form_pointer(draft: Draft) -> list[Paragraph]:
    """The line that sends a reader from how to report to the page to fill in."""
    words = draft.wording.text("form.pointer", page=draft.page_of("form"))
    if not words or not draft.wording.text("form.heading"):
        return []
    return [Paragraph(f'<a href="#form">{mark(words)}</a>', draft.look.BODY)]


def _top(draft: Draft) -> Table:
    """Return what the page is for, beside the code of the bug form."""
    link = draft.content["bugs"]
    code = CodeDrawing(link, draft.wording.text("alt.code", link=link))
    words = [Paragraph(mark(text), draft.look.BODY) for text in (draft.wording.text("form.note"), draft.wording.text("form.send")) if text]
    words.append(Paragraph(link_markup(link, draft.look.CARD_LINK, draft.width - code.width - _GAP), draft.look.CARD_LINK))
    return grid([[words, code]], [draft.width - code.width, code.width], [("RIGHTPADDING", (0, 0), (0, 0), _GAP)], (0, 0, 0, _BELOW))


def _row(draft: Draft, shares: dict[str, float]) -> list[Table]:
    """Return boxes of one line beside each other, by key and share of the width; those without a label are left out."""
    shown = {key: share for key, share in shares.items() if draft.wording.text(f"form.{key}")}
    if not shown:
        return []
    room = draft.width - _GAP * (len(shown) - 1)
    widths = [room * share / sum(shown.values()) for share in shown.values()]
    cells = [_labelled(draft, key, width, draft.look.grown(_BOX)) for key, width in zip(shown, widths, strict=True)]
    gaps = [("RIGHTPADDING", (0, 0), (-2, 0), _GAP), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")]
    return [grid([cells], [*(width + _GAP for width in widths[:-1]), widths[-1]], gaps, (0, 0, 0, _BELOW))]


def _labelled(draft: Draft, key: str, width: float, height: float, line: float = 0) -> list[Flowable]:
    """Return a box to write in under its label, with what is known of it already."""
    label = draft.wording.text(f"form.{key}")
    known = draft.content[key] if key in ("build", "version", "tester") else ""
    return [
        Paragraph(mark(label), draft.look.CELL_HEAD),
        Spacer(1, 2),
        WritingField(draft.look, key, label, width, height, known, line),
    ]


def _filled(draft: Draft, above: _Rows, answers: list[str], below: _Rows) -> list[Flowable]:
    """Return a page whose boxes of several lines take all that the other rows leave; nothing where they would be too small."""
    shown = {key: _ANSWERS[key] for key in answers if draft.wording.text(f"form.{key}")}
    line = _LINE_LARGE if draft.look.large else _LINE
    least = {key: _answer(draft, key, lines, line) for key, (lines, _) in shown.items()}
    # A heading's space before it is not set at the top of a page.
    free = draft.height - sum(_height(draft, one) + one.getSpaceAfter() for one in (*above, *least.values(), *below)) - 1
    if free < 0:
        return []
    more, whole, boxes = int(free / line), sum(share for _, share in shown.values()), []
    for key, (lines, share) in shown.items():
        extra = more * share // whole
        more, whole = more - extra, whole - share
        boxes.append(_answer(draft, key, lines + extra, line))
    return [PageBreak(), *above, *boxes, *below]


def _answer(draft: Draft, key: str, lines: int, line: float) -> Table:
    return grid([[_labelled(draft, key, draft.width, lines * line, line)]], [draft.width], [], (0, 0, 0, _BELOW))


def _often(draft: Draft) -> list[Table]:
    """Return how often it happens, and a box for a count: in the same row, or in large print in one of its own."""
    ticks = [(f"often_{rank}", word) for rank, word in enumerate(draft.wording.texts("form.often_words"), 1)]
    counted = _counted(draft)
    if not counted or not draft.look.large:
        return _ticks(draft, "often", ticks, counted)
    words, box = counted
    pair = grid([[words, box]], [_natural(words), box.width], [("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    pair.hAlign = "LEFT"
    row = _ticks(draft, "often", ticks)
    return [*row, _labels_row(draft, "", pair)] if row else []


def _counted(draft: Draft) -> list[Flowable]:
    label = draft.wording.text("form.counted")
    if not label:
        return []
    box = WritingField(draft.look, "counted", label, draft.look.grown(20 * style.mm), draft.look.grown(6 * style.mm))
    return [Paragraph(mark(label), draft.look.CELL), box]


def _severity(draft: Draft) -> list[Table]:
    return _ticks(draft, "severity", [(f"severity_{name}", draft.wording.text(f"severity.{name}")) for name in SEVERITIES])


def _pads(draft: Draft) -> list[Table]:
    return _ticks(draft, "pad", [(f"pad_{rank}", name) for rank, name in enumerate(draft.content["pads"], 1)])


def _ticks(draft: Draft, key: str, ticks: list[tuple[str, str]], more: _Rows | None = None) -> list[Table]:
    """Return a row of boxes to tick after its label, and what else is in it."""
    label = draft.wording.text(f"form.{key}")
    if not label or not ticks:
        return []
    return [_labels_row(draft, label, Choices(draft.look, [(name, f"{label}: {word}", word) for name, word in ticks]), *(more or []))]


def _labels_row(draft: Draft, label: str, *cells: Flowable) -> Table:
    """Return a label in a column of its own, and cells as wide as they need, the first with the room that is left."""
    name = draft.look.grown(_NAME)
    widths = [min(_natural(one), draft.width * _WIDEST) for one in cells[1:]]
    row = [Paragraph(mark(label), draft.look.CELL_HEAD), *cells]
    look = [("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("RIGHTPADDING", (0, 0), (-2, 0), _GAP)]
    return grid([row], [name, draft.width - name - sum(widths), *widths], look, (0, 0, 1, _BELOW))


def _natural(cell: Flowable) -> float:
    """Return the width in which a paragraph does not wrap, or that of a box."""
    if isinstance(cell, Paragraph):
        return stringWidth(cell.text, cell.style.fontName, cell.style.fontSize) + _GAP + 2
    return cell.width


def _height(draft: Draft, flowable: Flowable) -> float:
    return flowable.wrap(draft.width, draft.height)[1]
