"""Fields that are filled in on a screen or by hand: boxes to write in and boxes to tick, drawn and as a PDF form (ISO 32000-1, 12.7).

Fields are put down in the order in which they are drawn, which is the order in which a keyboard goes through them.
"""

from __future__ import annotations

from reportlab.lib.colors import Color
from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference, PDFString, xObjectName
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from pipeline.packet.typeset import style
from pipeline.packet.typeset.style import Look
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark

# The one font a packet names and does not carry, and no page is set in: that of what a reader types. An embedded one would have to be
# whole, four times the packet, since letters left out would be gaps; a viewer has this one, and takes others for letters it lacks.
_TYPED = "Helv"
_READ_ONLY, _MANY_LINES = 1, 1 << 12  # field flags, ISO 32000-1, tables 221 and 228
_PRINTED = 4  # annotation flag, table 165
_INSIDE = 1.5  # points between a box and its field
_TICK = 3.6 * style.mm
_BETWEEN, _NEAR = 16, 5  # points between choices, and between a box and its word


class WritingField(Flowable):
    """A box to write in; one that has a value shows it and cannot be changed.

    Args:
        name: of the field, unlike all others of the packet.
        tip: what a screen reader says.
        width, height: in points.
        line: points from one line for handwriting to the next; 0 where there is only one.
    """

    def __init__(self, look: Look, name: str, tip: str, width: float, height: float, value: str = "", line: float = 0) -> None:
        super().__init__()
        self.look, self.name, self.tip, self.value, self.line = look, name, tip, value, line
        self.width, self.height = width, height

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setFillColor(style.TINT if self.value else style.PAPER)
        canvas.setStrokeColor(style.INK)
        canvas.setLineWidth(0.7)
        canvas.rect(0, 0, self.width, self.height, stroke=1, fill=1)
        self._draw_lines(canvas)
        size = self.look.grown(10)
        shown = self._appearance(canvas)
        flags = _READ_ONLY if self.value else _MANY_LINES if self.line else 0
        keys = {"V": PDFString(self.value), "DV": PDFString(self.value)} if self.value else {}
        # A white ground for typed text, which hides the lines for handwriting.
        ground = {} if self.value else {"MK": PDFDictionary({"BG": _numbers(style.PAPER)})}
        keys |= {"FT": PDFName("Tx"), "Ff": flags, "DA": PDFString(_typed_in(size)), "AP": PDFDictionary({"N": shown}), **ground}
        _add(canvas, self.name, self.tip, (_INSIDE, _INSIDE, self.width - _INSIDE, self.height - _INSIDE), keys)

    def _appearance(self, canvas: Canvas) -> PDFObjectReference:
        """Return what the field shows: its value in the packet's own font, smaller where it would not fit, or nothing.

        Every field has one of its own, since programs that fill a form write into the one they find.
        """
        width, height = self.width - 2 * _INSIDE, self.height - 2 * _INSIDE
        canvas.beginForm(f"field-{self.name}", 0, 0, width, height)
        if self.value:
            size = self.look.VALUE.fontSize
            size = min(size, size * (width - 10) / stringWidth(self.value, style.STRONG, size))
            canvas.setFillColor(style.INK)
            canvas.setFont(style.STRONG, size)
            canvas.drawString(5, (height - 0.72 * size) / 2, self.value)
        canvas.endForm()
        return PDFObjectReference(xObjectName(f"field-{self.name}"))

    def _draw_lines(self, canvas: Canvas) -> None:
        if self.line:
            canvas.setStrokeColor(style.RULE)
            canvas.setLineWidth(0.4)
            for rank in range(1, round(self.height / self.line)):
                canvas.line(6, self.height - rank * self.line, self.width - 6, self.height - rank * self.line)


class Choices(Flowable):
    """Boxes to tick, each followed by its word, as many in a line as there is room for.

    Args:
        ticks: of each box its field's name, what a screen reader says, and the word.
    """

    def __init__(self, look: Look, ticks: list[tuple[str, str, str]]) -> None:
        super().__init__()
        self.look, self.ticks = look, ticks
        self.side = look.grown(_TICK)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.placed: list[tuple[float, float, Paragraph]] = []
        left, top, deep = 0.0, 0.0, 0.0
        for _, _, word in self.ticks:
            paragraph = Paragraph(mark(word), self.look.CELL)
            natural = stringWidth(word, paragraph.style.fontName, paragraph.style.fontSize) + 2
            across = min(natural, width - self.side - _NEAR)
            down = max(paragraph.wrap(across, height)[1], self.side)
            if left and left + self.side + _NEAR + across > width:
                left, top, deep = 0.0, top + deep + _NEAR, 0.0
            self.placed.append((left, top, paragraph))
            left, deep = left + self.side + _NEAR + across + _BETWEEN, max(deep, down)
        self.width, self.height = width, top + deep
        return self.width, self.height

    def draw(self) -> None:
        for (name, tip, _), (left, top, paragraph) in zip(self.ticks, self.placed, strict=True):
            bottom = self.height - top - self.side
            self._draw_box(name, tip, left, bottom)
            # The first line of a long word is beside the box, the others under it.
            above = (self.side + paragraph.style.fontSize) / 2 + 1
            paragraph.drawOn(self.canv, left + self.side + _NEAR, bottom + above - paragraph.height)

    def _draw_box(self, name: str, tip: str, left: float, bottom: float) -> None:
        canvas, side = self.canv, self.side
        canvas.setStrokeColor(style.INK)
        canvas.setLineWidth(0.8)
        canvas.rect(left, bottom, side, side, stroke=1, fill=0)
        states = PDFDictionary({"Yes": _tick_form(canvas, side, True), "Off": _tick_form(canvas, side, False)})
        keys = {"FT": PDFName("Btn"), "V": PDFName("Off"), "AS": PDFName("Off"), "AP": PDFDictionary({"N": states})}
        _add(canvas, name, tip, (left, bottom, left + side, bottom + side), keys)


def _add(canvas: Canvas, name: str, tip: str, box: tuple[float, float, float, float], keys: dict) -> None:
    """Put a field, which is also its only widget, on the page and into the document's form."""
    left, bottom = canvas.absolutePosition(box[0], box[1])
    right, top = canvas.absolutePosition(box[2], box[3])
    field = PDFDictionary(
        {
            "Type": PDFName("Annot"),
            "Subtype": PDFName("Widget"),
            "T": PDFString(name),
            "TU": PDFString(tip),
            "Rect": PDFArray([round(number, 2) for number in (left, bottom, right, top)]),
            "F": _PRINTED,
            **keys,
        }
    )
    form = canvas.acroForm
    canvas._addAnnotation(field)  # pyright: ignore[reportAttributeAccessIssue] (the library's types leave it out)
    form.fields.append(form.getRef(field))
    names = {"Type": "Font", "Subtype": "Type1", "BaseFont": "Helvetica", "Encoding": "WinAnsiEncoding"}
    font = PDFDictionary({key: PDFName(value) for key, value in names.items()})
    resources = PDFDictionary({"Font": PDFDictionary({_TYPED: font})})
    form.extras = {"DR": resources, "DA": PDFString(_typed_in(0))}


def _typed_in(size: float) -> str:
    """Return how typed text is set: font, size and colour, as a default appearance (12.7.3.3)."""
    return f"/{_TYPED} {size:.4g} Tf {' '.join(f'{part:.3f}' for part in style.INK.rgb())} rg"


def _numbers(colour: Color) -> PDFArray:
    return PDFArray([round(part, 3) for part in colour.rgb()])


def _tick_form(canvas: Canvas, side: float, ticked: bool) -> PDFObjectReference:
    """Return a cross as drawn lines, or nothing: the fonts with ticks that viewers have are not embedded."""
    name = f"tick-{side:.2f}-{ticked}"
    if not canvas.hasForm(name):
        canvas.beginForm(name, 0, 0, side, side)
        canvas.setStrokeColor(style.INK)
        canvas.setLineWidth(side / 7)
        canvas.setLineCap(1)
        near, far = side * 0.22, side * 0.78
        for start, end in ((near, far), (far, near)) if ticked else ():
            canvas.line(near, start, far, end)
        canvas.endForm()
    return PDFObjectReference(xObjectName(name))
