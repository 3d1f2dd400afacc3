"""The sections of the packet after its first page, each a list of what is set; an empty one has nothing to set."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, PageBreak, Spacer

from pipeline.packet.content.found import all_cautions
from pipeline.packet.sections.form import form_pointer
from pipeline.packet.sections.pads import pad_drawings
from pipeline.packet.typeset import style
from pipeline.packet.typeset.codes import link_markup
from pipeline.packet.typeset.page import Draft, head, height_of, kept
from pipeline.packet.typeset.tables import TALLEST_ROW, control_tables, grid, issue_table, pair_table, plain_table, text_width
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark

_TABLE_ROOM = 130  # points a table's heading, its head and two rows need
_ABOVE_TABLE = 75  # points of a heading with its note
_SIDE_BY_SIDE = 14  # items in either list up to which they are side by side
_GAP = 8 * style.mm
_BOX, _DOT = "☐", "•"


def test_part(draft: Draft) -> list[Flowable]:
    """What to test this time, as boxes to tick."""
    wording, wishes = draft.wording, draft.content["test"]
    elsewhere = {"plan": draft.content["plan"]["grids"], "retest": draft.content["retest"]}
    pointers = [wording.text(f"test.{key}", page=draft.page_of(key)) for key, there in elsewhere.items() if there]
    items = [*wishes, *(text for text in pointers if text)]
    days = [wording.text(f"test.{key}") for key, day in (("until", "deadline"), ("expires", "expires")) if draft.content[day]]
    until = [_line(draft, " ".join(days), draft.look.BODY_STRONG_LINE)] if any(days) else []
    title = [*head(draft, "test", wording.text("test.heading")), *until]
    return [*title, *(_items(draft, items, _BOX) if items else [_line(draft, wording.text("test.none"), draft.look.BODY)])]


def run_part(draft: Draft) -> list[Flowable]:
    """How to copy and start the build: the author's steps, else the usual ones."""
    wording = draft.wording
    steps = draft.content["run"] or wording.texts("run.steps")
    if not steps:
        return []
    numbered = [_line(draft, text, draft.look.STEP, f"{rank}.") for rank, text in enumerate(steps, 1)]
    # Steps followed with the hands busy should not need a page to be turned.
    return kept(draft, "run", [*head(draft, "run", wording.text("run.heading")), *numbered, *_note(draft, "run.note")])


def contents_part(draft: Draft) -> list[Flowable]:
    """What is in the build, and what is not in yet."""
    shown = [key for key in ("included", "missing") if draft.content[key]]
    lists = [_contents(draft, key) for key in shown]
    if draft.look.large or len(lists) < 2 or max(map(len, lists)) > _SIDE_BY_SIDE:
        return [flowable for key, one in zip(shown, lists, strict=True) for flowable in kept(draft, key, one)]
    column = (draft.width - _GAP) / 2
    table = grid([lists], [column + _GAP, column], [("RIGHTPADDING", (0, 0), (0, 0), _GAP)])
    table.spaceBefore = draft.look.HEADING.spaceBefore
    return [table]


def _contents(draft: Draft, key: str) -> list[Flowable]:
    note = _note(draft, "missing.note", draft.look.NOTE_OF_LIST) if key == "missing" else []
    return [*head(draft, key, draft.wording.text(f"{key}.heading")), *note, *_items(draft, draft.content[key], _DOT)]


def controls_part(draft: Draft) -> list[Flowable]:
    """What each button of each pad does."""
    if not draft.content["controls"]:
        return []
    drawings = pad_drawings(draft)
    room = max(_room(draft), draft.look.grown(_ABOVE_TABLE) + drawings[0].height if drawings else 0)
    parts = _note(draft, "controls.note") if draft.content["pads"] else []
    parts += drawings
    for table in control_tables(draft):
        parts += [table, Spacer(1, 8)]
    whole = [*head(draft, "controls", draft.wording.text("controls.heading"), room), *parts]
    fits = height_of(draft, whole) < draft.height
    start: list[Flowable] = [PageBreak()] if "controls" in draft.begins_page - draft.loose else []
    return [*start, *(kept(draft, "controls", whole) if fits else whole)]


def issues_part(draft: Draft) -> list[Flowable]:
    """The known issues, or that there are none."""
    heading = draft.wording.text("issues.heading")
    if not draft.content["issues"]:
        return [*head(draft, "issues", heading), _line(draft, draft.wording.text("issues.none"), draft.look.BODY)]
    first = issue_table(draft, 1).wrap(draft.width, draft.paper[1])[1]
    room = draft.look.grown(_ABOVE_TABLE) + (first if first <= TALLEST_ROW else _room(draft))
    title = head(draft, "issues", heading, room)
    return [*title, *_note(draft, "issues.note"), issue_table(draft)]


def report_part(draft: Draft) -> list[Flowable]:
    """How to write a report that helps."""
    wording = draft.wording
    pairs = wording.pairs("report.points")
    if not pairs:
        return []
    title = head(draft, "report", wording.text("report.heading"), _room(draft))
    return [*title, *_note(draft, "report.note"), pair_table(pairs, draft), *form_pointer(draft)]


def thanks_part(draft: Draft) -> list[Flowable]:
    """Whom the author thanks."""
    names, wording = draft.content["thanks"], draft.wording
    if not names:
        return []
    said = wording.text("thanks.note", names=wording.listed(names))
    return kept(draft, "thanks", [*head(draft, "thanks", wording.text("thanks.heading")), _line(draft, said, draft.look.BODY)])


def links_part(draft: Draft) -> list[Flowable]:
    """Both forms again, and the author's further links."""
    wording, content = draft.wording, draft.content
    links = [(wording.text(f"more.{key}"), content[key]) for key in ("feedback", "bugs")]
    links += [(wording.text("plan.download"), content["download"])] if content["download"] else []
    links += [(more["label"], more["link"]) for more in content["more"]]
    look, room = draft.look.BODY_CELL, text_width(draft)
    rows = [[Paragraph(mark(label), draft.look.BODY_STRONG), Paragraph(link_markup(link, look, room), look)] for label, link in links]
    note = _note(draft, "more.placeholders") if content["placeholders"] else []
    return kept(draft, "more", [*head(draft, "more", wording.text("more.heading"), _room(draft)), *note, plain_table(rows, draft)])


def cautions_part(draft: Draft) -> list[Flowable]:
    """The author's cautions before the usual ones, on one page if they fit it."""
    wording = draft.wording
    pairs = all_cautions(draft.content["cautions"], draft.content["found"], wording)
    last = _note(draft, "cautions.last", draft.look.BODY)
    title = head(draft, "cautions", wording.text("cautions.heading"), _room(draft))
    if draft.look.large:
        # Beside a column of names, large print would run over onto a second page.
        return kept(draft, "cautions", [*title, *(_run_in(draft, name, text) for name, text in pairs), *last])
    return kept(draft, "cautions", [*title, *([pair_table(pairs, draft)] if pairs else []), *last])


def _run_in(draft: Draft, name: str, text: str) -> Paragraph:
    narrow = ParagraphStyle(draft.look.BODY.name, draft.look.BODY, rightIndent=draft.body_indent, spaceBefore=0)
    return Paragraph(f'<font name="{style.STRONG}">{mark(name)}</font>  {mark(text)}', narrow)


def facts_part(draft: Draft) -> list[Flowable]:
    """File, size, checksums and build code, to check a copy with."""
    wording, content, numbers = draft.wording, draft.content, draft.wording.numbers
    size = wording.text("facts.exact", count=numbers.count(content["bytes"]), size=numbers.size(content["bytes"]))
    values = {"file": wording.text("facts.named"), "bytes": size, **{key: content[key] for key in ("crc32", "sha256", "build")}}
    pairs = [(wording.text(f"facts.{key}"), value) for key, value in values.items()]
    table = pair_table(pairs, draft, draft.look.CELL_MONO, lines=True)
    own = _note(draft, "facts.own") if content["marked"] else []
    room = draft.look.grown(_ABOVE_TABLE) + table.wrap(draft.width, draft.paper[1])[1]
    parts = [*head(draft, "facts", wording.text("facts.heading"), room), *_note(draft, "facts.note"), *own, table]
    return kept(draft, "facts", parts)


def _room(draft: Draft) -> float:
    return draft.look.grown(_TABLE_ROOM)


def _items(draft: Draft, texts: list[str], bullet: str) -> list[Flowable]:
    return [_line(draft, text, draft.look.ITEM, bullet) for text in texts]


def _note(draft: Draft, key: str, look: ParagraphStyle | None = None) -> list[Flowable]:
    """Return a section's note; an author who empties it has none."""
    text = draft.wording.text(key)
    return [_line(draft, text, look or draft.look.NOTE)] if text else []


def _line(draft: Draft, text: str, look: ParagraphStyle, bullet: str | None = None) -> Paragraph:
    narrow = ParagraphStyle(look.name, look, rightIndent=draft.body_indent)
    return Paragraph(mark(text), narrow, bulletText=bullet)
