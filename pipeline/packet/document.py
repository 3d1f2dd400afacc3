"""The packet: a PDF that gives a volunteer tester everything about one build."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
from reportlab.platypus import Flowable

from pipeline.cache.results import Results
from pipeline.joints.budget import read_budget_file
from pipeline.joints.found.findings import read_cautions
from pipeline.joints.map import read_map
from pipeline.joints.places import Sources
from pipeline.packet.content.content import clean, packet_content
from pipeline.packet.content.filled import Wording
from pipeline.packet.content.party import Gap, Share
from pipeline.packet.layout import Layout, kept_layout, of_any_build
from pipeline.packet.sections.budget import budget_part
from pipeline.packet.sections.form import form_part
from pipeline.packet.sections.front import front, message_part
from pipeline.packet.sections.parts import (
    cautions_part,
    contents_part,
    controls_part,
    facts_part,
    issues_part,
    links_part,
    report_part,
    run_part,
    test_part,
    thanks_part,
)
from pipeline.packet.sections.plan import plan_part
from pipeline.packet.sections.what_changed import changes_part, retest_part
from pipeline.packet.typeset.letters import check_letters, check_words
from pipeline.packet.typeset.page import Draft, find_pages, height_of, render
from pipeline.packet.typeset.style import PAPERS, Look, use_fonts
from pipeline.packet.typeset.text import load_wording
from pipeline.plain.files import read_json, replacing
from pipeline.plain.sizes import counted
from pipeline.project.plan import Grid
from pipeline.project.wording import MessageFile, read_wording

_PARTS = (
    front,
    message_part,
    test_part,
    run_part,
    cautions_part,
    controls_part,
    plan_part,
    contents_part,
    retest_part,
    issues_part,
    changes_part,
    report_part,
    thanks_part,
    links_part,
    facts_part,
    form_part,
    budget_part,
)
# Read before anything is played, so no later than the second page: what would push them further comes after them.
_EARLY = (message_part, test_part, run_part)
# The form begins a page, and so may leave little on the one before it: then it comes sooner, and what it passes comes after it.
_BEFORE_FORM = (facts_part, links_part, report_part)
_EARLY_PAGES = 2
_THIN = 1 / 3  # of a page; less is a page that looks left over
_LAYOUTS = 8  # tried at most
Part = Callable[[Draft], list[Flowable]]
_PASSES = 3  # page numbers named in the text settle in one; more would mean that they change the layout


def write_packet(
    map_file: Path,
    wording: MessageFile,
    written: Sources,
    spec: dict[str, Any],
    date: datetime.date | None,
    console: str,
    out: Path,
    boot: Path | None,
    image_name: str,
    budget_file: Path | None = None,
    changes_file: Path | None = None,
    grids: tuple[Grid, ...] = (),
    shares: dict[int, Share] | None = None,
    gaps: list[Gap] | None = None,
    tester: str = "",
    name: str = "",
    message: str = "",
    issue_pictures: dict[str, Path] | None = None,
    cache: Path | None = None,
    cautions_file: Path | None = None,
) -> str:
    """Write the packet; return one line about it.

    Args:
        map_file: ``map.json`` of the build.
        wording: the message file of the packet's language.
        written: the project file and the file of known issues, read again only to name the lines of a mistake.
        spec: the project's records by table: game, links, pad, control, issue, contents, instructions, plan.
        date: shown on the first page; None shows none.
        console: name of the target.
        boot: PNG of the boot notice as decoded from the image; None where the game has none.
        image_name: the image's file name in the build folder.
        budget_file: ``budget.json``, for the author's own copy; None for the testers'.
        changes_file: ``changes.json``; None without a ledger.
        grids: of the test plan.
        shares: whose share is shown, by number: the tester's own in their packet, all in the author's copy.
        gaps: for the author's copy, what is nobody's.
        tester, name, message: of the tester whose packet it is, such as T3, and words for them; empty for what everybody gets.
        cautions_file: the cautions that testers read of what was found; None where nothing was looked for. See ``joints.found.findings``.
        issue_pictures: id -> PNG to show beside a known issue.
        cache: where its layout is kept; see ``cache.results``. None of a tester's own packet: what is kept depends on its words.

    Raises:
        ProjectError: a text holds a character the fonts lack, or the wording is not whole.
    """
    use_fonts()
    check_letters(written, spec, console)
    changes = read_json(changes_file) if changes_file else None
    check_words(changes["words"] if changes else [])
    messages = read_wording(wording)
    image, own = read_map(map_file).image, (date, console, image_name, changes, tester, messages.numbers)
    more: dict[str, Any] = {"boot_screen": boot is not None, "name": clean(name), "message": clean(message)}
    more["issue_pictures"] = {key: path.read_bytes() for key, path in (issue_pictures or {}).items()}
    if budget_file:
        more["budget"] = read_budget_file(budget_file)
    more["found"] = read_cautions(cautions_file)
    more["plan"] = {"grids": grids, "shares": shares or {}, "gaps": gaps or []}
    values = packet_content(spec, image, *own) | more
    usual = packet_content(spec, of_any_build(image), *own) | more
    if budget_file:
        # Scenes come last, after the beginning of a page: they move nothing.
        usual["budget"] = msgspec.structs.replace(more["budget"], scenes={})
    look = boot, PAPERS[spec["game"].paper], Look(spec["game"].text)
    draft = Draft(values, load_wording(messages, values), *look)
    draft.usual = Draft(usual, Wording(messages, usual), *look)
    draft.cache = cache
    pdf = _settled(draft, date)
    with replacing(out) as file:
        file.write(pdf)
    return f"{counted(draft.seen['pages'], 'page')}, {len(pdf):,} bytes"


def _settled(draft: Draft, date: datetime.date | None) -> bytes:
    """Set the packet again until the page numbers it names are those it has."""
    _guess_pages(draft)
    for _ in range(_PASSES):
        draft.begin_pass()
        pdf = render(draft, _story(draft), date)
        if draft.is_settled:
            break
    return pdf


def _guess_pages(draft: Draft) -> None:
    """Let the first pass know the layout and the pages of the packet as it is with what no build in particular has.

    That stays the same from one build to the next, and what is different then, such as the build code, hardly ever moves anything.
    """
    usual = draft.usual or draft
    with Results(draft.cache) as results:
        layout = kept_layout("pipeline.packet.document:write_packet", usual, results, _find_layout)
    draft.loose, draft.begins_page, draft.seen = set(layout.loose), set(layout.begins_page), dict(layout.seen)
    draft.labels = layout.labels


def _find_layout(draft: Draft) -> Layout:
    """Lay the packet out as it is without page numbers in the text, and so that no page is nearly empty.

    Page numbers hardly ever move anything. Where a page but the last is thin, what begins the next one may part, or gives way if it is
    the form; of layouts that all have thin pages the one with the fewest is taken.
    """
    tried: list[tuple[int, int, set[str]]] = []
    while len(tried) < _LAYOUTS:
        draft.seen = {}
        find_pages(draft, _story(draft))
        if draft.seen.get("controls", 0) > _EARLY_PAGES and "controls" not in draft.begins_page:
            draft.begins_page.add("controls")  # a page to lie beside the console, since it does not come with the first ones
            continue
        thin = [page for page, used in enumerate(draft.filled[:-1], 1) if used < _THIN]
        tried.append((len(thin), len(tried), set(draft.loose)))
        more = next((what for page in thin if (what := _loosen(draft, page + 1))), None)
        if more is None:
            break
        draft.loose.add(more)
    best = min(tried)[2]
    if best != draft.loose:
        draft.loose, draft.seen = best, {}
        find_pages(draft, _story(draft))
    return Layout(loose=sorted(draft.loose), begins_page=sorted(draft.begins_page), seen=draft.seen, labels=draft.labels)


def _loosen(draft: Draft, page: int) -> str | None:
    """Return what may be loosened so that more comes onto the page before one; None if nothing is left."""
    here = [section for section, at in draft.seen.items() if at == page and section != "pages"]
    if "form" in here[:1]:
        return next((name for name in _form_moves() if name not in draft.loose), None)
    return next((section for section in here if section not in draft.loose), None)


def _form_moves() -> list[str]:
    return [f"form before {part.__name__}" for part in _BEFORE_FORM]


def _story(draft: Draft) -> list[Flowable]:
    parts: list[Part] = list(_PARTS)
    moved = max((rank for rank, name in enumerate(_form_moves(), 1) if name in draft.loose), default=0)
    if moved and form_part in parts:
        parts.remove(form_part)
        parts.insert(parts.index(_BEFORE_FORM[moved - 1]), form_part)
    set_parts = {part: part(draft) for part in parts}
    return [flowable for part in _in_order(draft, parts, set_parts) for flowable in set_parts[part]]


def _in_order(draft: Draft, parts: list[Part], set_parts: dict[Part, list[Flowable]]) -> list[Part]:
    """Return the parts with those before the cautions that do not fit the first page after them."""
    early = [part for part in _EARLY if part in parts]
    if front not in parts or cautions_part not in parts:
        return parts
    left = draft.height - height_of(draft, set_parts[front])
    late = []
    for part in early:
        left -= height_of(draft, set_parts[part])
        if left < 0:
            late.append(part)
    rest = [part for part in parts if part not in late]
    after = rest.index(cautions_part) + 1
    return [*rest[:after], *late, *rest[after:]]
