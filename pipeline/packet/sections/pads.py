"""Drawings of pads: a plain slab with its buttons, and around it what each of them does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from pipeline.packet.sections.pad_keys import Key, draw_keys, in_order, keys_of
from pipeline.packet.sections.pad_leaders import Callout, Label, Room, extent, place_labels
from pipeline.packet.typeset import style
from pipeline.packet.typeset.page import Draft
from pipeline.packet.typeset.tagged import Figure, Paragraph
from pipeline.packet.typeset.text import mark

_CELL = 2.5  # side of a cell of the grid in letter sizes of the buttons
_BODY_SHARE, _BODY_SHARE_LARGE = 0.44, 0.52  # of the width, at most; large letters need large buttons
_MARGIN = 0.45  # of the body around its grid, in cells
_CORNER = 1.1  # radius of the body's corners in cells
_GUTTER = 16.0  # from the body to the labels
_TEXT_GAP = 3.0  # from the end of a line to its label
# Most lines of what a button does, and how much of the paper's height the drawing may then take; tried in turn.
_TRIES = ((8, 0.25), (4, 0.6), (2, 0.6), (0, 0.6))
_ABOVE, _BELOW = 8.0, 14.0


def pad_drawings(draft: Draft) -> list[Flowable]:
    """Return a drawing of each pad whose buttons have places and fit; what is not drawn is in the table."""
    made = (_drawing(draft, pad) for pad in draft.content["pad_drawings"])
    return [drawing for drawing in made if drawing]


def _drawing(draft: Draft, pad: dict[str, Any]) -> PadDrawing | None:
    for lines, share in _TRIES:
        drawing = PadDrawing(draft, pad, lines)
        if drawing.height <= draft.paper[1] * share:
            return drawing
    return None


def _labels(draft: Draft, callouts: tuple[Callout, ...], room: Room) -> tuple[Label, ...]:
    """Return the labels of a pad, which take long to place, as the draft knows them or for the first time."""
    key = f"{callouts} {room}"
    if key not in draft.labels:
        draft.labels[key] = place_labels(callouts, room)
    return draft.labels[key]


@dataclass(frozen=True)
class _Words:
    """A label set for both columns, left and right."""

    both: tuple[Paragraph, Paragraph]
    heights: tuple[float, float]


class PadDrawing(Figure):
    """One pad with its name, its buttons and their labels.

    Args:
        draft: content and wording of the packet.
        pad: a pad as ``pads_content`` returns it.
        lines: most lines of what a button does; a longer text becomes a hint to the table, and 0 leaves the name alone.
    """

    def __init__(self, draft: Draft, pad: dict[str, Any], lines: int) -> None:
        super().__init__()
        self.width, self.lines, self.wording, self.look = draft.width, lines, draft.wording, draft.look
        columns, rows = pad["columns"], pad["rows"]
        share = _BODY_SHARE_LARGE if self.look.large else _BODY_SHARE
        self.cell = min(self.look.PAD_BUTTON.fontSize * _CELL, self.width * share / (columns + 2 * _MARGIN))
        body = self.cell * (columns + 2 * _MARGIN)
        left, margin = (self.width - body) / 2, self.cell * _MARGIN
        self.keys = keys_of(pad, left + margin, self.cell)
        crosses = [key.cross for key in self.keys if key.cross]
        self.room = Room(
            left - _GUTTER, left + body + _GUTTER, (left, -margin, left + body, rows * self.cell + margin),
            self.look.PAD_LABEL.leading * 0.55, self.cell * 0.11,
            tuple(box for cross in crosses for box in (cross.hub, *(cap.box for cap in cross.arms))),
        )  # fmt: skip
        self.words = [self._words(key) for key in self.keys]
        self.callouts = tuple(Callout(key.box, words.heights) for key, words in zip(self.keys, self.words, strict=True))
        self.labels = _labels(draft, self.callouts, self.room)
        self.top, bottom = extent(self.callouts, self.room, self.labels)
        self.alt = self.wording.text("alt.pad", pad=pad["name"])
        self.title = Paragraph(mark(pad["name"]), self.look.CAPTION)
        self.title_height = self.title.wrap(self.width, draft.paper[1])[1]
        self.height = self.title_height + _ABOVE + bottom - self.top + _BELOW

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.title.drawOn(self.canv, 0, self.height - self.title_height)
        self.canv.saveState()
        # From here on y grows upwards from the top of the pad's face, so that what points down is negative.
        self.canv.translate(0, self.height - self.title_height - _ABOVE + self.top)
        self._draw_body()
        for label in self.labels:
            self._draw_line(label)
        draw_keys(self.canv, self.keys, self.cell, self.look.PAD_BUTTON.fontSize)
        for words, label in in_order(self.words, self.labels):
            self._draw_words(words, label)
        self.canv.restoreState()

    def _draw_body(self) -> None:
        left, top, right, bottom = self.room.body
        self.canv.setFillColor(style.TINT)
        self.canv.setStrokeColor(style.INK)
        self.canv.setLineWidth(1.2)
        corner = min(self.cell * _CORNER, (bottom - top) / 2)
        self.canv.roundRect(left, -bottom, right - left, bottom - top, corner, stroke=1, fill=1)

    def _draw_line(self, label: Label) -> None:
        path = self.canv.beginPath()
        for rank, (x, y) in enumerate(label.line):
            (path.lineTo if rank else path.moveTo)(x, -y)
        self.canv.setStrokeColor(style.QUIET)
        self.canv.setLineWidth(0.7)
        self.canv.drawPath(path, stroke=1, fill=0)

    def _draw_words(self, words: _Words, label: Label) -> None:
        on_right = label.side == "right"
        x = self.room.right + _TEXT_GAP if on_right else 0
        words.both[on_right].drawOn(self.canv, x, -label.top - words.heights[on_right])

    def _words(self, key: Key) -> _Words:
        width = self.room.left - _TEXT_GAP
        texts = self._text(key.names, key.does, width)
        left, right = Paragraph(texts, self.look.PAD_LABEL_LEFT), Paragraph(texts, self.look.PAD_LABEL)
        return _Words((left, right), (left.wrap(width, 0)[1], right.wrap(width, 0)[1]))

    def _text(self, names: str, does: tuple[str, ...], width: float) -> str:
        """Return a button's label as markup, the text of what it does cut to a hint where it needs too many lines."""
        name = f'<font name="{style.STRONG}">{mark(names)}</font>'
        if not self.lines:
            return name
        if not does:
            return f'{name} <font color="#{style.QUIET.hexval()[2:]}">{mark(self.wording.text("controls.unused"))}</font>'
        full = f"{name} {';<br/>'.join(map(mark, does))}"
        whole = all(stringWidth(word, style.SANS, self.look.PAD_LABEL.fontSize) <= width for text in does for word in text.split())
        if whole and Paragraph(full, self.look.PAD_LABEL).wrap(width, 0)[1] <= self.lines * self.look.PAD_LABEL.leading:
            return full
        return f"{name} {mark(self.wording.text('controls.in_table'))}"
