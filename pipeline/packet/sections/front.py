"""The first page: all a tester needs before playing."""

from __future__ import annotations

from pathlib import Path

from PIL import Image as Picture
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Spacer, Table

from pipeline.packet.typeset import style
from pipeline.packet.typeset.codes import card
from pipeline.packet.typeset.crisp import crisp
from pipeline.packet.typeset.page import Draft, Heading
from pipeline.packet.typeset.tables import grid
from pipeline.packet.typeset.tagged import Image, Paragraph
from pipeline.packet.typeset.text import mark

_LONG_TITLE = 22  # characters from which the title is set smaller
_BUILD_BOX = 55 * style.mm
_BOOT = (79 * style.mm, 76 * style.mm)  # the most the picture may take
_GAP = 6 * style.mm


def front(draft: Draft) -> list[Flowable]:
    """Return the parts of the first page down to the codes."""
    parts: list[Flowable] = [_masthead(draft)]
    if draft.content["summary"]:
        parts.append(Paragraph(mark(draft.content["summary"]), draft.look.SUMMARY))
    parts += [Spacer(1, 9), _facts(draft), Spacer(1, 12), _boot_and_codes(draft), Spacer(1, 10), _before(draft)]
    return parts


def message_part(draft: Draft) -> list[Flowable]:
    """The author's words for one tester."""
    if not draft.content["message"]:
        return []
    shown = ((draft.wording.text("first.message"), draft.look.LABEL), (draft.content["message"], draft.look.BODY))
    words = [Paragraph(mark(text), look) for text, look in shown]
    look = [("LINEBEFORE", (0, 0), (0, -1), 3, style.ACCENT)]
    return [Spacer(1, 12), grid([[words]], [draft.width], look, (10, 6, 2, 2))]


def _masthead(draft: Draft) -> Table:
    content, wording = draft.content, draft.wording
    look = draft.look.TITLE if len(content["title"]) <= _LONG_TITLE else draft.look.TITLE_LONG
    title = _Title(draft, content["title"], look)
    left = [Paragraph(mark(wording.text("first.kind")), draft.look.KIND), title]
    look = [("VALIGN", (0, 0), (0, 0), "MIDDLE"), ("RIGHTPADDING", (0, 0), (0, 0), 12)]
    return grid([[left, _build_box(draft)]], [draft.width - _BUILD_BOX, _BUILD_BOX], look)


class _Title(Heading):
    """The game's title; in the outline the page is called by what it is for."""

    role = "H1"

    def __init__(self, draft: Draft, title: str, look) -> None:
        super().__init__(draft, "first", title, look)
        self.place = (draft, "first", draft.wording.text("first.heading"))


def _build_box(draft: Draft) -> Table:
    wording = draft.wording
    lines = [
        Paragraph(mark(wording.text("first.build")), draft.look.BOX_LABEL),
        Paragraph(mark(draft.content["build"]), draft.look.CODE),
        Paragraph(mark(wording.text("first.build_use")), draft.look.BOX_LABEL),
    ]
    return grid([[lines]], [_BUILD_BOX], [("BACKGROUND", (0, 0), (-1, -1), style.TINT)], (6, 6, 7, 8))


def _facts(draft: Draft) -> Table:
    """Return version, phase, console, date and author in one row, or in two where they are long; what is not known has no column."""
    content, wording = draft.content, draft.wording
    values = {key: content[key] for key in ("version", "phase", "console", "date", "author")}
    values["phase"] = wording.values["phase"]
    shown = [(wording.text("plan.tester"), content["tester"])] if content["tester"] else []
    shown += [(wording.text(f"first.{key}"), value) for key, value in values.items() if value]
    cells = [[Paragraph(mark(name), draft.look.LABEL), Paragraph(mark(value), draft.look.VALUE)] for name, value in shown]
    lines = [(line, (0, 0), (-1, -1), 0.5, style.RULE) for line in ("LINEABOVE", "LINEBELOW")]
    widths = _shares(draft, shown)
    wraps = any(width < _fact_width(draft, *fact) for width, fact in zip(widths[:-1], shown[:-1], strict=True))
    if values["author"] and (draft.look.large or wraps):
        # The author's name is the longest by far, and would leave the others too little room.
        rows = [cells[:-1], [cells[-1], *([""] * (len(cells) - 2))]]
        return grid(rows, _shares(draft, shown[:-1]), [*lines, ("SPAN", (0, 1), (-1, 1))], (0, 8, 6, 7))
    return grid([cells], widths, lines, (0, 8, 6, 7))


def _shares(draft: Draft, facts: list[tuple[str, str]]) -> list[float]:
    """Return column widths in which only the widest values have to wrap."""
    natural = sorted(_fact_width(draft, *fact) for fact in facts)
    room, cap = draft.width, draft.width
    for rank, need in enumerate(natural):
        cap = room / (len(natural) - rank)
        if need > cap:
            break
        room -= need
    widths = [min(_fact_width(draft, *fact), cap) for fact in facts]
    spare = (draft.width - sum(widths)) / len(widths)
    return [one + spare for one in widths]


def _fact_width(draft: Draft, name: str, value: str) -> float:
    label = stringWidth(name, style.SANS, draft.look.LABEL.fontSize)
    return max(max(label, stringWidth(value, style.STRONG, draft.look.VALUE.fontSize)) + 9, 45)


def _boot_and_codes(draft: Draft) -> Table:
    if draft.boot is None:
        cards = _cards(draft, (draft.width - _GAP) / 2)
        return grid([[[cards[0]], [cards[1]]]], [(draft.width + _GAP) / 2, (draft.width - _GAP) / 2], [])
    width = draft.width - _BOOT[0] - _GAP
    feedback, bugs = _cards(draft, width)
    boot, codes = _boot(draft, draft.boot), [feedback, Spacer(1, 10), bugs]
    return grid([[boot, codes]], [_BOOT[0] + _GAP, width], [("RIGHTPADDING", (0, 0), (0, 0), _GAP)])


def _boot(draft: Draft, path: Path) -> list[Flowable]:
    wording = draft.wording
    picture = boot_picture(path, wording.text("alt.boot"))
    caption = Paragraph(mark(wording.text("first.boot")), draft.look.CAPTION)
    # The notice is in the image, which all testers get alike.
    own = [wording.text("first.boot_tester")] if draft.content["numbered"] else []
    return [picture, caption, *(Paragraph(mark(text), draft.look.CAPTION_TEXT) for text in (*own, wording.text("first.boot_use")) if text)]


def boot_picture(path: Path, alt: str) -> Image:
    """Return the boot notice as large as it may be, its pixels kept square-edged."""
    with Picture.open(path, formats=["PNG"]) as opened:
        picture = opened.convert("RGB")
    return crisp(picture, min(_BOOT[0] / picture.width, _BOOT[1] / picture.height), alt)


def _cards(draft: Draft, width: float) -> list[Table]:
    content, wording = draft.content, draft.wording
    return [
        card(
            draft.look,
            wording.text(f"first.{key}"),
            wording.text(f"first.{key}_use"),
            content[key],
            wording.text("alt.code", link=content[key]),
            dark,
            width,
        )
        for key, dark in (("feedback", False), ("bugs", True))
    ]


def _before(draft: Draft) -> Table:
    """Return the line that sends everyone to the cautions before they play."""
    words = mark(draft.wording.text("first.before", page=draft.page_of("cautions")))
    look = [("BACKGROUND", (0, 0), (-1, -1), style.TINT), ("LINEBEFORE", (0, 0), (0, -1), 3, style.ACCENT)]
    return grid([[Paragraph(f'<a href="#cautions">{words}</a>', draft.look.BEFORE)]], [draft.width], look, (10, 6, 5, 7))
