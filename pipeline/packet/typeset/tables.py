"""The packet's tables: the one way to make one, and known issues, controls, and plain pairs of a name and a text."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from PIL import Image as Picture
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Spacer, Table

from pipeline.packet.typeset import style
from pipeline.packet.typeset.crisp import crisp
from pipeline.packet.typeset.page import Draft
from pipeline.packet.typeset.tagged import Element, Paragraph, TaggedCanvas
from pipeline.packet.typeset.text import mark
from pipeline.project.file import SEVERITIES

TALLEST_ROW = 600  # points; with a head it still fits a page of either paper
_Sides = tuple[float, float, float, float]
_PADS_IN_A_TABLE = 4
_NAME, _NAME_LARGE = 38 * style.mm, 53 * style.mm
_COLUMNS = ("id", "severity", "where", "what", "workaround")
_PICTURE_SHARE, _PICTURE_HEIGHT, _PICTURE_SCALE = 0.28, 130, 2.25  # of the page's width; points; points a pixel, at most
_FULL, _EMPTY = "■", "□"


class RowTable(Table):
    """A table that parts between rows, and within a row only where the row alone is longer than a page.

    Attributes:
        said: a screen reader reads it as a table, with its first column and the rows that are repeated as heads. Else it only lays out.
        shared: of a table and its parts: the element that they are, once the first is drawn.
        goes_on: it is a later part, whose head was read before.
    """

    said = False
    goes_on = False
    shared: dict[str, Element | None]

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:
        # The library would part any row that does not fit what is left of the page, under a second head.
        heights = self._rowHeights  # pyright: ignore[reportAttributeAccessIssue] (the library's types leave it out)
        first = heights[self.repeatRows : self.repeatRows + 1]
        self.splitInRow = int(max(first, default=0) > TALLEST_ROW)
        parts = super().split(availWidth, availHeight)
        for rank, part in enumerate(parts):
            if isinstance(part, RowTable):
                part.said, part.shared, part.goes_on = self.said, self.shared, self.goes_on or rank > 0
        return parts

    def draw(self) -> None:
        canvas = self.canv
        if not self.said or not isinstance(canvas, TaggedCanvas):
            super().draw()
            return
        table = self.shared.get("table")
        if table is None:
            self.shared["table"] = table = canvas.begin("Table")
        else:
            canvas.resume(table)
        self._open: list[Element | None] = []
        self._renderCB = self._tag
        super().draw()
        canvas.end(table)

    def _tag(self, _: Table, event: str, row: int = 0, column: int = 0, *__: Any) -> None:
        """Open and close rows and cells as the library comes to them."""
        canvas, head = self.canv, row < self.repeatRows
        assert isinstance(canvas, TaggedCanvas)  # else nothing is tagged, see above
        if event == "startRow":
            canvas.hush(head and self.goes_on)
            self._open.append(canvas.begin("TR"))
        elif event == "startCell":
            scope = "Column" if head else "Row" if column == 0 else ""
            self._open.append(canvas.begin("TH" if scope else "TD", scope=scope))
        elif event in ("endCell", "endRow"):
            canvas.end(self._open.pop())
            if event == "endRow":
                canvas.hush(False)


def grid(
    rows: list[list], widths: list[float], look: list[tuple], padding: _Sides = (0, 0, 0, 0), repeat: int = 0, said: bool = False
) -> RowTable:
    """Return a table, its cells set from the top.

    Args:
        rows: cells: a flowable, or a list of them.
        widths: of the columns in points.
        look: further commands, which come last and so win.
        padding: of every cell in points: left, right, top, bottom.
        repeat: rows of its head, set again on every page.
        said: see ``RowTable``; one with a head always is.
    """
    table = RowTable(rows, colWidths=widths, repeatRows=repeat)
    table.said, table.shared = said or repeat > 0, {}
    sides = zip(("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING"), padding, strict=True)
    # The library names a cell's font in the PDF even where the cell holds no plain text; its default is not embedded.
    base = [("FONTNAME", (0, 0), (-1, -1), style.SANS), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    table.setStyle([*base, *((side, (0, 0), (-1, -1), size) for side, size in sides), *look])
    return table


def issue_table(draft: Draft, most: int | None = None) -> Table:
    """Return the known issues, the worst first; its head is repeated on every page.

    Args:
        most: at most this many of them; None for all.
    """
    wording, issues = draft.wording, draft.content["issues"][:most]
    rows = [[[_head(draft, wording.text(f"issues.{key}"))] for key in _COLUMNS]]
    rows += [_issue_row(draft, issue) for issue in issues]
    number = _widest(draft, [issue["id"] for issue in issues], 17 * style.mm, 27 * style.mm, wording.text("issues.id"))
    words = [wording.text(f"severity.{name}") for name in SEVERITIES]
    severity = _widest(draft, words, 20 * style.mm, 30 * style.mm, wording.text("issues.severity"))
    if draft.look.large:
        # Five columns of large print would be too narrow to read: the severity is under the number.
        first, rows = max(number, severity), [[number + severity, *others] for number, severity, *others in rows]
        rest = draft.width - first
        return _ruled(rows, [first, rest * 0.25, rest * 0.42, rest * 0.33])
    rest = draft.width - number - severity
    return _ruled(rows, [number, severity, rest * 0.24, rest * 0.44, rest * 0.32])


def _issue_row(draft: Draft, issue: dict[str, str]) -> list:
    wording = draft.wording
    workaround = issue["workaround"] or wording.text("issues.no_workaround")
    rank = len(SEVERITIES) - SEVERITIES.index(issue["severity"])
    # The squares say how bad it is without colour and without reading the word.
    squares = _FULL * rank + _EMPTY * (len(SEVERITIES) - rank)
    strong = draft.look.CELL_STRONG if rank > 2 else draft.look.CELL
    severity = [Paragraph(mark(wording.text(f"severity.{issue['severity']}")), strong), Paragraph(squares, draft.look.MARKS)]
    named = [Paragraph(mark(issue["title"]), draft.look.CELL_STRONG)] if issue["title"] else []
    what = [*named, Paragraph(mark(issue["what"]), draft.look.CELL), *_picture(draft, issue)]
    texts = [Paragraph(mark(issue["where"]), draft.look.CELL), what]
    look = draft.look.CELL if issue["workaround"] else draft.look.CELL_QUIET
    return [[Paragraph(mark(issue["id"]), draft.look.CELL_STRONG)], severity, *texts, Paragraph(mark(workaround), look)]


def _picture(draft: Draft, issue: dict[str, str]) -> list[Flowable]:
    """Return the picture beside an issue, no wider than its column and not blurred when small."""
    png = draft.content["issue_pictures"].get(issue["id"])
    if png is None:
        return []
    with Picture.open(BytesIO(png), formats=["PNG"]) as opened:
        picture = opened.convert("RGB")
    room = (draft.width * _PICTURE_SHARE, _PICTURE_HEIGHT)
    alt = draft.wording.text("issues.picture", id=issue["id"])
    return [Spacer(1, 4), crisp(picture, min(_PICTURE_SCALE, room[0] / picture.width, room[1] / picture.height), alt)]


def retest_table(draft: Draft) -> Table:
    """Return the issues fixed in this build, each with what happened and how it was made to happen."""
    wording, issues = draft.wording, draft.content["retest"]
    rows = [[_head(draft, wording.text(f"retest.{key}")) for key in ("id", "where", "what")]]
    rows += [_retest_row(draft, issue) for issue in issues]
    number = _widest(draft, [f"☐ {issue['id']}" for issue in issues], 17 * style.mm, 30 * style.mm, wording.text("retest.id"))
    rest = draft.width - number
    return _ruled(rows, [number, rest * 0.24, rest * 0.76])


def _retest_row(draft: Draft, issue: dict[str, Any]) -> list:
    named = [Paragraph(mark(issue["title"]), draft.look.CELL_STRONG)] if issue["title"] else []
    steps = [Paragraph(mark(draft.wording.text("retest.steps")), draft.look.CELL_QUIET)] if issue["reproduce"] else []
    steps += [Paragraph(mark(step), draft.look.CELL_STEP, bulletText=f"{rank}.") for rank, step in enumerate(issue["reproduce"], 1)]
    what = [*named, Paragraph(mark(issue["what"]), draft.look.CELL), *steps]
    return [Paragraph(mark(f"☐ {issue['id']}"), draft.look.CELL_STRONG), Paragraph(mark(issue["where"]), draft.look.CELL), what]


def control_tables(draft: Draft) -> list[Table]:
    """Return what each button does, one column for a pad; many pads are spread over several tables."""
    pads = draft.content["pads"]
    starts = range(0, len(pads), _PADS_IN_A_TABLE) if pads else [0]
    return [_control_table(draft, start) for start in starts]


def _control_table(draft: Draft, start: int) -> Table:
    content, end = draft.content, start + _PADS_IN_A_TABLE
    pads = content["pads"][start:end]
    rows = [[_head(draft, draft.wording.text("controls.action")), *(_head(draft, name) for name in pads)]]
    for control in content["controls"]:
        buttons = [Paragraph(mark(text), draft.look.CELL) for text in control["buttons"][start:end]]
        rows.append([Paragraph(mark(control["action"]), draft.look.CELL_STRONG), *buttons])
    share = 0.46 if len(pads) < 3 else 0.34
    action = draft.width * (share if pads else 1)
    return _ruled(rows, [action, *([(draft.width - action) / len(pads)] * len(pads) if pads else [])])


def pair_table(pairs: list[tuple[str, str]], draft: Draft, look: ParagraphStyle | None = None, lines: bool = False) -> Table:
    """Return names on the left, what is said about each on the right.

    Args:
        look: style of the right side; left out: that of running text.
        lines: rules between the rows.
    """
    rows = [[Paragraph(mark(name), draft.look.BODY_STRONG), Paragraph(mark(text), look or draft.look.BODY_CELL)] for name, text in pairs]
    return plain_table(rows, draft, lines)


def name_width(draft: Draft) -> float:
    """Return the width in points of the column of names in tables of names and texts."""
    return _NAME_LARGE if draft.look.large else _NAME


def text_width(draft: Draft) -> float:
    """Return the width in points of a line of the texts in such a table."""
    return draft.width - name_width(draft) - _air(draft)


def _air(draft: Draft) -> float:
    return 8 if draft.look.large else 4


def plain_table(rows: list[list], draft: Draft, lines: bool = False) -> Table:
    """Return rows of a name and flowables without a head; a row longer than a page goes on on the next."""
    look = [("LINEBELOW", (0, 0), (-1, -1), 0.5, style.RULE)] if lines else []
    name = name_width(draft)
    return grid(rows, [name, draft.width - name], look, (0, _air(draft), 2, 4), said=True)


def _ruled(rows: list[list], widths: list[float]) -> Table:
    look = [
        ("BACKGROUND", (0, 0), (-1, 0), style.TINT),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, style.INK),
        ("LINEBELOW", (0, 1), (-1, -1), 0.5, style.RULE),
    ]
    return grid(rows, widths, look, (5, 5, 3.5, 5.5), repeat=1)


def _head(draft: Draft, text: str) -> Paragraph:
    return Paragraph(mark(text), draft.look.CELL_HEAD)


def _widest(draft: Draft, texts: list[str], least: float, most: float, head: str) -> float:
    """Return the width of a column in which neither its head nor a text wraps, within limits that grow with the text."""
    widths = [stringWidth(text, style.STRONG, draft.look.CELL.fontSize) for text in texts]
    need = max(*widths, stringWidth(head, style.STRONG, draft.look.CELL_HEAD.fontSize)) + 11
    return min(max(need, draft.look.grown(least)), draft.look.grown(most))
