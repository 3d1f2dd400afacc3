"""What changed since the last release, and which fixed issues to look at again, as sections of the packet."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from pipeline.packet.content.changed import changed_lines
from pipeline.packet.typeset.page import Draft, head
from pipeline.packet.typeset.pictures import pictures_before_and_now
from pipeline.packet.typeset.tables import TALLEST_ROW, pair_table, retest_table
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark

_ROOM = 130  # points a table's heading, its head and two rows need


def retest_part(draft: Draft) -> list[Flowable]:
    """The issues fixed in this build; nothing if there are none."""
    if not draft.content["retest"]:
        return []
    wording, table = draft.wording, retest_table(draft)
    least = draft.look.grown(_ROOM)
    whole = table.wrap(draft.width, draft.paper[1])[1] + least / 2
    room = whole if whole <= TALLEST_ROW / 2 else least
    note = _line(draft, wording.text("retest.note"), draft.look.NOTE)
    return [*head(draft, "retest", wording.text("retest.heading"), room), *note, table]


def changes_part(draft: Draft) -> list[Flowable]:
    """The author's own words, then what was added, removed and changed; nothing without an earlier release."""
    changes, wording = draft.content["changes"], draft.wording
    if not changes:
        return []
    since = {"since": changes["since"], "since_build": changes["build"], "since_date": changes["date"]}
    note = _line(draft, wording.text("changes.note", **since), draft.look.NOTE)
    words = [line for text in changes["words"] for line in _line(draft, text, draft.look.BODY)]
    table = pair_table(changed_lines(changes, wording), draft)
    title = head(draft, "changes", wording.text("changes.heading"), draft.look.grown(_ROOM))
    return [*title, *note, *words, table, *pictures_before_and_now(draft)]


def _line(draft: Draft, text: str, look: ParagraphStyle) -> list[Paragraph]:
    """Return a text no wider than is good to read; one that an author emptied is left out."""
    return [Paragraph(mark(text), ParagraphStyle(look.name, look, rightIndent=draft.body_indent))] if text else []
