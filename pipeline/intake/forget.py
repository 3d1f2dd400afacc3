"""``doit forget tester=N``: everything one person sent is removed from ``PROJECT/reports``, exports that lie there included."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.errors import ProjectError, refuse
from pipeline.files import write_bytes
from pipeline.intake.builds import known_builds
from pipeline.intake.exports import FORMS, open_export
from pipeline.intake.store import load_reports, load_testers, reports_file, save_reports, save_testers
from pipeline.intake.take_in import write_triage
from pipeline.project_file import Issue
from pipeline.project_intake import Intake, same_heading
from pipeline.testers import number_in, remove_packets, remove_tester

_EXPORTS = (".csv", ".tsv", ".txt")


def forget(folder: Path, build: Path, intake: Intake, issues: list[Issue], game: dict[str, str], who: str) -> str:
    """Remove a person's reports, name and contact; write the triage page anew; return where they were.

    Args:
        who: the tester's number, name or contact, as it is kept or stands in an export under ``reports``. Others as in ``take_in``.

    Raises:
        ProjectError: nobody was named, or there is nothing of that person.
    """
    if not who.strip():
        raise refuse("tester=", "", "nobody is named", "write: forget tester=NUMBER; numbers stand on the triage page")
    reports_folder = folder / "reports"
    testers = load_testers(reports_folder)
    found = testers.find(who)
    if len(found) > 1:
        told = ", ".join(f"T{one['number']}" for one in found)
        raise refuse("tester=", "", f"{who!r} may be {told}", "see reports/testers.json, and write which: tester=T and the number")
    person = found[0] if found else {}
    number = person.get("number")
    texts = (person.get("tester", ""), person.get("contact", ""), "" if person else who, *testers.names(number or 0))
    names = {same_heading(text) for text in texts if text}
    said = []
    for form in FORMS:
        said += _forget_reports(reports_folder, form, number)
    if person in testers.testers:
        testers.testers.remove(person)
        save_testers(reports_folder, testers)
        said.append(f"testers.json: T{person['number']}")
    by_hand: list[str] = []
    listed = number in {one.number for one in testers.listed}
    if listed:
        done, line = remove_tester(folder, number)
        (said if done else by_hand).append(line)
        said += remove_packets(build, number)
    said += _forget_in_exports(reports_folder, intake, names, number if listed else None)
    if not said and not by_hand:
        remedy = "numbers stand on the triage page, names in reports/testers.json"
        raise refuse("tester=", "", f"nothing of {who!r} is in reports", remedy)
    builds = known_builds(folder, build / "map.json", game["version"], game["phase"], issues)
    write_triage(folder, build, intake, issues, game, builds)
    said.append("build/triage.html and triage.csv: written anew without them")
    left = _still_named(reports_folder, {name for name in names if number_in(name) is None})
    return "\n".join(["Removed from reports:", *(f"  {line}" for line in said), *by_hand, *left, *_BEYOND])


_BEYOND = (
    "Not reached from here: the form's own answers, exports elsewhere, copies and backups, the history of a version control system.",
    "Delete the person there too: an export that still has them brings them back when it is read.",
)


def _forget_reports(folder: Path, form: str, number: int | None) -> list[str]:
    reports = load_reports(folder, form)
    theirs = [one["id"] for one in reports.reports if number is not None and one.get("tester") == number]
    if not theirs:
        return []
    reports.reports = [one for one in reports.reports if one["id"] not in set(theirs)]
    save_reports(folder, reports)
    return [f"{reports_file(folder, form).name}: {len(theirs)} reports ({', '.join(theirs[:10])}{' ...' if len(theirs) > 10 else ''})"]


def _forget_in_exports(folder: Path, intake: Intake, names: set[str], number: int | None) -> list[str]:
    """Cut a person's rows out of the exports under a folder; the other bytes stay as they are.

    Args:
        names: as they sign. number: of somebody on the author's list, who may sign with it; else None.
    """

    def theirs_is(text: str) -> bool:
        return same_heading(text) in names or number is not None and number_in(text) == number

    forms = {name: one for name in FORMS if (one := getattr(intake, name)) is not None}
    said: list[str] = []
    for path in sorted(folder.rglob("*")) if forms else ():
        if path.suffix.lower() not in _EXPORTS or not path.is_file():
            continue
        shown = path.relative_to(folder).as_posix()
        try:
            export = open_export(path, shown, forms)
            places = [export.places[name] for name in ("tester", "contact") if name in export.places]
            theirs = [row for row in export.rows() if any(theirs_is(row.cells[place]) for place in places)]
        except ProjectError:
            continue  # no export of these forms; a name in it is told of by _still_named
        if theirs:
            _cut_out(export, theirs)
            said.append(f"{shown}: {len(theirs)} rows")
    return said


def _cut_out(export: Any, rows: list) -> None:
    text = export.path.read_bytes()[len(export.mark) :].decode(export.encoding)
    at, kept = 0, []
    for row in rows:
        start = text.index(row.text, at)
        kept.append(text[at:start])
        at = start + len(row.text)
    write_bytes(export.path, export.mark + "".join([*kept, text[at:]]).encode(export.encoding))


def _still_named(folder: Path, names: set[str]) -> list[str]:
    """Return a line for every file under a folder that still has one of the names in it: in somebody else's text, say."""
    found = []
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            data = path.read_bytes()
            text = same_heading(data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8", "replace"))
            if any(name in text for name in names):
                found.append(path.relative_to(folder).as_posix())
    return [f"The name still stands in {', '.join(found)}, in what others wrote; look for it there yourself."] if found else []
