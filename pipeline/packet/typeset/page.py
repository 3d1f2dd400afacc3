"""The packet as a document: its pages with their foot, its outline, and what is said about it in the file."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, KeepTogether, PageTemplate

from pipeline.packet.typeset import style
from pipeline.packet.typeset.style import Look
from pipeline.packet.typeset.tagged import Paragraph, TaggedCanvas
from pipeline.packet.typeset.text import Wording, mark

_FOOT = 11 * style.mm  # baseline of the foot above the edge of the paper
_NUMBER = 30 * style.mm  # kept for the page number
_NO_DATE = "20000101"
_NO_PADDING: dict[str, Any] = {f"{side}Padding": 0 for side in ("left", "right", "top", "bottom")}


@dataclass
class Draft:
    """What the parts of the packet are made from.

    Attributes:
        content: plain values, see ``content.packet_content``.
        wording: the fixed texts.
        boot: picture of the boot notice, or None.
        paper: width and height in points.
        look: the styles of its text.
        known: section -> page, as the pass before found them; "pages" is their number.
        seen: the same, as this pass finds them.
        named: those of them that a text of this pass names, as it names them.
        loose: sections that may part where they would otherwise leave most of a page empty; "form": what comes after it fills that page.
        begins_page: sections that begin a page, unless they are loose.
        filled: of each page laid out by ``find_pages``, the share of its height that is used.
        usual: the same packet by which it is laid out, see ``layout``; None: this one.
        cache: where its layout is kept.
        labels: of drawn pads, see ``sections.pads``: they stay where they are in every pass.
    """

    content: dict[str, Any]
    wording: Wording
    boot: Path | None
    paper: tuple[float, float]
    look: Look
    known: dict[str, int] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)
    named: dict[str, int] = field(default_factory=dict)
    loose: set[str] = field(default_factory=set)
    begins_page: set[str] = field(default_factory=set)
    filled: list[float] = field(default_factory=list)
    usual: Draft | None = None
    cache: Path | None = None
    labels: dict[str, tuple[Any, ...]] = field(default_factory=dict)

    def begin_pass(self) -> None:
        """Let what was seen be known to the next pass."""
        self.known, self.seen, self.named = self.seen, {}, {}

    def page_of(self, section: str) -> int:
        """Return the page of a section, to be named in a text; 1 where the pass before has not found it."""
        self.named[section] = self.known.get(section, 1)
        return self.named[section]

    @property
    def is_settled(self) -> bool:
        """Whether this pass found every page that its texts name to be as they name it."""
        return all(self.seen.get(section, 1) == page for section, page in self.named.items())

    @property
    def width(self) -> float:
        """Width between the margins in points."""
        return self.paper[0] - 2 * style.MARGIN

    @property
    def height(self) -> float:
        """Height between the margins in points."""
        return self.paper[1] - style.TOP - style.BOTTOM

    @property
    def body_indent(self) -> float:
        """What running text leaves free on its right, so that lines do not get too long to read."""
        return max(0.0, self.width - self.look.grown(style.MEASURE))


class Heading(Paragraph):
    """A section's heading, which is also an entry of the outline."""

    role = "H2"

    def __init__(self, draft: Draft, section: str, text: str, look: ParagraphStyle | None = None) -> None:
        super().__init__(mark(text), look or draft.look.HEADING)
        self.place = (draft, section, text)

    def drawOn(self, canvas: Canvas, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802,N803 - the library's names
        if isinstance(canvas, TaggedCanvas):
            canvas.section()
        super().drawOn(canvas, x, y, _sW)

    def draw(self) -> None:
        _, section, text = self.place
        self.note_page(self.canv)
        self.canv.bookmarkHorizontal(section, 0, self.height + 12)
        self.canv.addOutlineEntry(text, section, level=0)
        super().draw()

    def note_page(self, canvas: Canvas) -> None:
        """Say in the draft that the section begins on the current page."""
        draft, section, _ = self.place
        draft.seen[section] = canvas.getPageNumber()


def kept(draft: Draft, section: str, flowables: list[Flowable]) -> list[Flowable]:
    """Return flowables that stay together on a page, if they fit one and the section need not part."""
    if section in draft.loose or not flowables:
        return flowables
    return [KeepTogether([one for one in flowables if not isinstance(one, CondPageBreak)])]


def head(draft: Draft, section: str, text: str, room: float = 0) -> list[Flowable]:
    """Return a section's heading, kept with what follows.

    Args:
        room: points needed on the page for the heading and the beginning of the table below it; 0 if text follows.
    """
    if room:
        # Tied to a table the library would move the whole table to the next page.
        return [CondPageBreak(room), Heading(draft, section, text, draft.look.HEADING_OF_TABLE)]
    return [Heading(draft, section, text)]


def height_of(draft: Draft, flowables: list[Flowable]) -> float:
    """Return the height in points that flowables take below each other, their space included."""
    total, below = 0.0, 0.0
    for one in flowables:
        if isinstance(one, KeepTogether):
            total += height_of(draft, list(one._content))  # pyright: ignore[reportAttributeAccessIssue] (what it holds)
        elif not isinstance(one, CondPageBreak):
            above = one.getSpaceBefore() if total else 0
            total += max(above - below, 0) + one.wrap(draft.width, draft.height)[1] + one.getSpaceAfter()
            below = one.getSpaceAfter()
    return total


class _BlankFrame(Frame):
    """A frame in which all has its place and nothing is drawn."""

    def add(self, flowable: Flowable, canv: Canvas, trySplit: int = 0) -> int:  # noqa: N803 - the library's name
        vars(flowable)["drawOn"] = _draw_nothing  # drawings refuse what is not one of their own attributes
        fits = super().add(flowable, canv, trySplit)
        if fits and isinstance(flowable, Heading):
            flowable.note_page(canv)
        return fits

    @property
    def used(self) -> float:
        """The share of its height down to the last flowable."""
        return (self._y2 - self._y) / (self._y2 - self._y1p)  # pyright: ignore[reportAttributeAccessIssue] (made from what it is given)


class _Unsaved(Canvas):
    """A canvas whose pages are only counted."""

    def save(self) -> None:
        """Write nothing."""


def _draw_nothing(*_: Any, **__: Any) -> None:
    """Take the place of drawing a flowable."""


def find_pages(draft: Draft, story: list[Flowable]) -> None:
    """Lay the packet out without drawing it, which takes a third of the time; ``draft.seen`` and ``draft.filled`` hold it afterwards.

    A heading inside a table is only found where the table is drawn, by ``render``.
    """
    frame = _BlankFrame(*_frame_of(draft), **_NO_PADDING)
    draft.filled = []

    def begin_page(canvas: Canvas, _: BaseDocTemplate) -> None:
        draft.seen["pages"] = canvas.getPageNumber()

    def finish_page(*_: Any) -> None:
        draft.filled.append(frame.used)

    document = BaseDocTemplate(BytesIO(), pagesize=draft.paper, initialFontName=style.SANS)
    document.addPageTemplates([PageTemplate("page", [frame], onPage=begin_page, onPageEnd=finish_page)])
    with _no_clock():
        document.build(story, canvasmaker=_Unsaved)


def render(draft: Draft, story: list[Flowable], date: datetime.date | None) -> bytes:
    """Return one pass over the packet as PDF; ``draft.seen`` holds the pages afterwards."""
    out = BytesIO()
    document = BaseDocTemplate(out, pagesize=draft.paper, invariant=1, initialFontName=style.SANS, displayDocTitle=1, **_facts(draft))
    running = running_line(draft)

    def finish_page(canvas: Canvas, _: BaseDocTemplate) -> None:
        stamp = f"{date:%Y%m%d}" if date else _NO_DATE
        canvas.setDateFormatter(lambda *_: f"D:{stamp}000000Z")
        draft.seen["pages"] = canvas.getPageNumber()
        _draw_foot(canvas, draft, running)

    document.addPageTemplates([PageTemplate("page", [Frame(*_frame_of(draft), **_NO_PADDING)], onPage=finish_page)])
    with _no_clock():
        document.build(story, canvasmaker=TaggedCanvas)
    return out.getvalue()


def _frame_of(draft: Draft) -> tuple[float, float, float, float]:
    """Return left, bottom, width and height of the room between the margins."""
    return style.MARGIN, style.BOTTOM, draft.width, draft.height


def _facts(draft: Draft) -> dict[str, Any]:
    content, wording = draft.content, draft.wording
    return {
        "title": wording.text("page.subject"),
        "subject": content["summary"] or wording.text("page.subject"),
        "author": content["author"] or content["title"],
        "keywords": ", ".join(wording.texts("page.keywords")),
        "creator": "Romwright",
        "lang": content["language"],
    }


def _draw_foot(canvas: Canvas, draft: Draft, running: str) -> None:
    left, right = style.MARGIN, draft.paper[0] - style.MARGIN
    rule = _FOOT + 4 + draft.look.FOOT_SIZE
    canvas.saveState()
    canvas.setStrokeColor(style.RULE)
    canvas.setLineWidth(0.5)
    canvas.line(left, rule, right, rule)
    canvas.setFillColor(style.QUIET)
    canvas.setFont(style.SANS, draft.look.FOOT_SIZE)
    number = draft.wording.text("page.number", page=canvas.getPageNumber(), pages=draft.page_of("pages"))
    canvas.drawRightString(right, _FOOT, number)
    canvas.drawRightString(right - draft.look.grown(_NUMBER), _FOOT, draft.wording.text("page.build"))
    canvas.drawString(left, _FOOT, running)
    canvas.restoreState()


def running_line(draft: Draft) -> str:
    """Return title and version as they fit the foot; where too long, the title loses its end, the version nothing."""
    room = draft.width - draft.look.grown(_NUMBER) - _foot_width(draft, draft.wording.text("page.build")) - 12
    title = draft.content["title"]
    line = draft.wording.text("page.running")
    while title and _foot_width(draft, line) > room:
        title = title[:-1]
        line = draft.wording.text("page.running", title=title.rstrip() + "…")
    return line


def _foot_width(draft: Draft, text: str) -> float:
    return stringWidth(text, style.SANS, draft.look.FOOT_SIZE)


@contextmanager
def _no_clock() -> Iterator[None]:
    """Hide SOURCE_DATE_EPOCH: the library would mix it into the file's ID, though the date comes from the project."""
    hidden = os.environ.pop("SOURCE_DATE_EPOCH", None)
    try:
        yield
    finally:
        if hidden is not None:
            os.environ["SOURCE_DATE_EPOCH"] = hidden
