"""``doit erase tester=N``: everything one person sent is removed from ``PROJECT/reports``, exports that lie there included."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.intake.builds import known_builds
from pipeline.intake.decisions import check_decisions
from pipeline.intake.exports import EXPORTS, FORMS
from pipeline.intake.filled import files_in
from pipeline.intake.forgetting.persons import People, Person
from pipeline.intake.forgetting.signed import SignedFile, signed_export, signed_page
from pipeline.intake.keep import reports_of_rows
from pipeline.intake.store import Testers, load_reports, load_testers, reports_file, save_reports, save_testers
from pipeline.intake.take_in import write_triage
from pipeline.joints.places import ReportPages, Sources
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import REPORTS_BYTES
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import refuse_links
from pipeline.plain.sizes import counted
from pipeline.project.file import Issue
from pipeline.project.intake import Intake, same_heading
from pipeline.project.testers import label_of, remove_packets, remove_tester


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
    files = _files(reports_folder, intake)
    people = People(testers, set().union(*(one.signed for one in files)))
    person = _person(people, testers, who)
    listed = sorted(person.numbers & {one.number for one in testers.listed})
    known = [one for one in testers.testers if one["number"] in person.numbers]
    for one in files:
        one.choose(people, person)
    # What says who the person is goes last: the same command then finishes what was cut short.
    said = []
    for form in FORMS:
        said += _erase_reports(reports_folder, form, person.numbers, [one for one in files if one.form == form], testers)
    cut = [one.remove() for one in files if one.theirs]
    found_some = bool(known or listed or said or cut)
    if found_some or pages.page.is_file():
        write_triage(folder, pages, intake, issues, game, buttons, builds)
    if not found_some and not _unnamed(reports_folder, testers):
        remedy = "the numbers are on the triage page, the names in reports/testers.json"
        raise refuse("tester=", "", f"nothing of {who!r} is in reports", remedy)
    packets = [line for number in listed for line in remove_packets(build, number)]
    said += _erase_entries(reports_folder, known or _unnamed(reports_folder, testers), testers)
    by_hand: list[str] = []
    for number in listed:
        done, line = remove_tester(folder, number)
        (said if done else by_hand).append(line)
    said += [*packets, *cut, "build/triage.html and triage.csv: written again without them"]
    left = [*_show_undecided(files, person), *_still_named(reports_folder, person.texts)]
    return "\n".join(["Removed from reports:", *(f"  {line}" for line in said), *by_hand, *left, *_BEYOND])


def _person(people: People, testers: Testers, who: str) -> Person:
    """Return the only person that somebody's number, name or address can mean.

    Raises:
        ProjectError: they can be several.
    """
    found = [one["number"] for one in testers.find(who)]
    sharing = people.sharing(who)
    person = people.person(who, set(found[:1])) if not sharing else None
    if person is None or not set(found) <= person.numbers:
        named = ", ".join(label_of(one) if isinstance(one, int) else "somebody without a number" for one in sharing or found)
        raise refuse("tester=", "", f"{who!r} may be {named}", "see reports/testers.json, and write which: tester=T and the number")
    return person


def _show_undecided(files: list[SignedFile], person: Person) -> list[str]:
    """Return lines about what may be theirs or somebody else's, and was left."""
    lines = []
    for one in files:
        if one.unclear:
            where = f"{'line' if len(one.unclear) == 1 else 'lines'} {', '.join(map(str, one.unclear))}"
            lines.append(f"  {one.shown}, {where}: no name, and an address that others use too")
    lines += [f"  {label_of(number)}: known by an address alone that others use too" for number in sorted(person.unclear)]
    return ["Not decided, and left; look at these yourself:", *lines] if lines else []


_BEYOND = (
    "Not reached from here: the form's own answers, exports elsewhere, copies and backups, the history of a version control system.",
    "Delete the person there too: an export that still has them brings them back when it is read.",
)


def _erase_reports(folder: Path, form: str, numbers: set[int], files: list[SignedFile], testers: Testers) -> list[str]:
    """Remove reports of some numbers, and those that rows and pages became: a contact that is not kept is only there."""
    reports = load_reports(folder, form)
    gone = {one["id"] for one in reports.reports if one.get("tester") in numbers}
    for one in files:
        gone |= reports_of_rows(one.source, one.theirs, reports, testers, one.dates)
    if not gone:
        return []
    ids = [one["id"] for one in reports.reports if one["id"] in gone]
    reports.reports = [one for one in reports.reports if one["id"] not in gone]
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


def _files(folder: Path, intake: Intake) -> list[SignedFile]:
    """Return the exports under a folder that can be read to their end, and the filled pages."""
    forms = {name: one for name in FORMS if (one := getattr(intake, name)) is not None}
    found = []
    for path, shown in files_in(folder):
        try:
            if path.suffix.lower() in EXPORTS and forms:
                found.append(signed_export(path, shown, forms))
            elif path.suffix.lower() == ".pdf":
                found.append(signed_page(path, shown))
        except ProjectError:
            continue  # no export of these forms, or not a filled page; _still_named reports a name in it
    return found


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
