"""``doit erase tester=N``: everything one person sent is removed from ``PROJECT/reports``, exports that lie there included."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.intake.builds import known_builds
from pipeline.intake.dates import DateColumn
from pipeline.intake.decisions import check_decisions
from pipeline.intake.exports import FORMS, Export, Row, open_export
from pipeline.intake.keep import reports_of_rows
from pipeline.intake.store import Testers, load_reports, load_testers, reports_file, save_reports, save_testers
from pipeline.intake.take_in import write_triage
from pipeline.joints.places import ReportPages, Sources
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import EXPORT_BYTES, REPORTS_BYTES
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import refuse_links, write_bytes
from pipeline.plain.sizes import counted
from pipeline.project.file import Issue
from pipeline.project.intake import Intake, same_heading
from pipeline.project.testers import number_in, remove_packets, remove_tester

_EXPORTS = (".csv", ".tsv", ".txt")


def erase(
    kept: Sources,
    build: Path,
    map_file: Path,
    pages: ReportPages,
    intake: Intake,
    issues: list[Issue],
    game: dict[str, str],
    buttons: dict[str, str],
    who: str,
) -> str:
    """Remove a person's reports, name and contact; write the triage page again; return where they were.

    Args:
        build: the build folder, with packets and kits of testers.
        who: the tester's number, name or contact, as it is kept or as it is in an export under ``reports``. Others as in ``take_in``.

    Raises:
        ProjectError: nobody was named, ``reports`` is a link, there is nothing of that person, or the page cannot be made;
            nothing is removed then.
    """
    if not who.strip():
        raise refuse("tester=", "", "nobody is named", "write: erase tester=NUMBER; the numbers are on the triage page")
    folder = kept.folder
    reports_folder = folder / "reports"
    refuse_links(folder, [reports_folder])
    # What could end the writing of the page comes first: a page that still shows the person must not be left.
    builds = known_builds(folder, map_file, game["version"], game["phase"], issues)
    check_decisions(reports_folder, issues, builds)
    testers = load_testers(reports_folder)
    found = testers.find(who)
    if len(found) > 1:
        numbers = ", ".join(f"T{one['number']}" for one in found)
        raise refuse("tester=", "", f"{who!r} may be {numbers}", "see reports/testers.json, and write which: tester=T and the number")
    person = found[0] if found else {}
    number = person.get("number")
    texts = (person.get("tester", ""), person.get("contact", ""), "" if person else who, *testers.names(number or 0))
    names = {same_heading(text) for text in texts if text}
    listed = number in {one.number for one in testers.listed}
    rows = _rows_in_exports(reports_folder, intake, names, number if listed else None)
    known = person in testers.testers
    # What says who the person is goes last: the same command then finishes what was cut short.
    said = []
    for form in FORMS:
        said += _erase_reports(reports_folder, form, number, [one for one in rows if one[0].form == form], testers)
    cut = []
    for export, theirs in rows:
        _cut_out(export, theirs)
        cut.append(f"{export.shown}: {counted(len(theirs), 'row')}")
    found_some = bool(known or listed or said or cut)
    if found_some or pages.page.is_file():
        write_triage(folder, pages, intake, issues, game, buttons, builds)
    if not found_some and not _unnamed(reports_folder, testers):
        remedy = "the numbers are on the triage page, the names in reports/testers.json"
        raise refuse("tester=", "", f"nothing of {who!r} is in reports", remedy)
    packets = remove_packets(build, number) if listed else []
    said += _erase_entries(reports_folder, [person] if known else _unnamed(reports_folder, testers), testers)
    by_hand: list[str] = []
    if listed:
        done, line = remove_tester(folder, number)
        (said if done else by_hand).append(line)
    said += [*packets, *cut, "build/triage.html and triage.csv: written again without them"]
    left = _still_named(reports_folder, {name for name in names if number_in(name) is None})
    return "\n".join(["Removed from reports:", *(f"  {line}" for line in said), *by_hand, *left, *_BEYOND])


_BEYOND = (
    "Not reached from here: the form's own answers, exports elsewhere, copies and backups, the history of a version control system.",
    "Delete the person there too: an export that still has them brings them back when it is read.",
)


def _erase_reports(folder: Path, form: str, number: int | None, rows: list[tuple[Export, list[Row]]], testers: Testers) -> list[str]:
    """Remove reports of a number, and those that rows of exports became: a contact that is not kept is only there."""
    reports = load_reports(folder, form)
    theirs = {one["id"] for one in reports.reports if number is not None and one.get("tester") == number}
    for export, some in rows:
        theirs |= reports_of_rows(export, some, reports, testers, DateColumn())
    if not theirs:
        return []
    ids = [one["id"] for one in reports.reports if one["id"] in theirs]
    reports.reports = [one for one in reports.reports if one["id"] not in theirs]
    save_reports(folder, reports)
    return [f"{reports_file(folder, form).name}: {counted(len(ids), 'report')} ({', '.join(ids[:10])}{' ...' if len(ids) > 10 else ''})"]


def _unnamed(folder: Path, testers: Testers) -> list[dict[str, Any]]:
    """Return the testers whom no report names any more."""
    named = {one.get("tester") for form in FORMS for one in load_reports(folder, form).reports}
    return [one for one in testers.testers if one["number"] not in named]


def _erase_entries(folder: Path, gone: list[dict[str, Any]], testers: Testers) -> list[str]:
    """Remove entries of testers.json."""
    if gone:
        testers.testers = [one for one in testers.testers if one not in gone]
        save_testers(folder, testers)
    return [f"testers.json: T{one['number']}" for one in gone]


def _rows_in_exports(folder: Path, intake: Intake, names: set[str], number: int | None) -> list[tuple[Export, list[Row]]]:
    """Return the exports under a folder that have rows of a person, with those.

    Args:
        names: as they sign. number: of somebody on the author's list, who may sign with it; else None.
    """

    def theirs_is(text: str) -> bool:
        return same_heading(text) in names or number is not None and number_in(text) == number

    forms = {name: one for name in FORMS if (one := getattr(intake, name)) is not None}
    found = []
    for path in sorted(folder.rglob("*")) if forms else ():
        if path.suffix.lower() not in _EXPORTS or not path.is_file():
            continue
        try:
            export = open_export(path, path.relative_to(folder).as_posix(), forms)
            places = [place for name in ("tester", "contact") for place in export.places.get(name, ())]
            theirs = [row for row in export.rows() if any(theirs_is(row.cells[place]) for place in places)]
        except ProjectError:
            continue  # no export of these forms; _still_named reports a name in it
        if theirs:
            found.append((export, theirs))
    return found


def _cut_out(export: Export, rows: list[Row]) -> None:
    data = read_whole(export.path, export.shown, EXPORT_BYTES)
    text = data[len(export.mark) :].decode(export.encoding)
    at, kept = 0, []
    for row in rows:
        start = text.index(row.text, at)
        kept.append(text[at:start])
        at = start + len(row.text)
    write_bytes(export.path, export.mark + "".join([*kept, text[at:]]).encode(export.encoding))


def _still_named(folder: Path, names: set[str]) -> list[str]:
    """Return a line for every file under a folder that still has one of the names in it: in somebody else's text, say."""
    found, large = [], []
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        shown = path.relative_to(folder).as_posix()
        try:
            data = read_whole(path, shown, REPORTS_BYTES)
        except ProjectError:
            large.append(shown)
            continue
        text = same_heading(data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8", "replace"))
        if any(name in text for name in names):
            found.append(shown)
    said = [f"The name is still in {', '.join(found)}, in what others wrote; look for it there yourself."] if found else []
    unseen = f"Not looked through, since more than {REPORTS_BYTES:,} bytes or unreadable: {', '.join(large)}; look there yourself."
    return said + ([unseen] if large else [])
