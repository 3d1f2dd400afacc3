"""``doit intake``: an export read and kept, then everything that is kept compared and put in order."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from pipeline.intake.alike.sentences import encoder, missing
from pipeline.intake.builds import Builds, known_builds, unknown_builds
from pipeline.intake.dates import DateColumn
from pipeline.intake.decisions import absent_reports, check_decisions
from pipeline.intake.exports import EXPORTS, FORMS, open_export
from pipeline.intake.feedback.answers import show_questions
from pipeline.intake.filled import Pages, files_in, read_pages
from pipeline.intake.keep import add_moments, drop_persons, export_dates, keep_rows, show_dates
from pipeline.intake.page import write_page, write_table
from pipeline.intake.store import LETTERS, load_reports, load_testers, save_reports, save_testers
from pipeline.intake.triage import LIKELY, Triage
from pipeline.joints.places import ReportPages, Sources
from pipeline.plain.errors import BadAnswer, Problem, ProjectError, refuse
from pipeline.plain.files import refuse_links
from pipeline.plain.sizes import counted
from pipeline.project.file import Issue
from pipeline.project.intake import BugForm, FeedbackForm, Intake, kept_fields, kept_of_page

_NOTES = 10  # of one kind, listed in the answer; the page has all about decisions
_PAGE = ".pdf"


def take_in(
    kept: Sources,
    map_file: Path,
    pages: ReportPages,
    intake: Intake,
    issues: list[Issue],
    game: dict[str, str],
    buttons: dict[str, str],
    export: Path | None,
    form: str,
) -> str:
    """Read an export where one is given, write the triage page, and return text for a person.

    Args:
        kept: the folder ``reports``, and the ledger.
        map_file: ``map.json`` of the current build; it may be missing.
        game: title, code, version, phase. buttons: button -> what it does.
        export: a file, or a folder of exports and filled pages; None to look again at what is kept.
        form: the form it is of, where the author says it.

    Raises:
        ProjectError: ``reports`` is a link, or something is wrong with the export or what is kept, and nothing was written; or
            with the decisions, and the export was kept but the page is as it was.
        BadAnswer: some files of several could not be read; the others were, and the page shows them.
    """
    folder = kept.folder
    refuse_links(folder, [folder / "reports"])
    if form and form not in FORMS:
        raise refuse("form=", "", f"there is no form {form!r}", f"write one of {', '.join(FORMS)}, or leave it out")
    forms = {name: one for name in FORMS if (one := getattr(intake, name)) is not None}
    said, problems = _read_all(folder / "reports", forms, export, form) if export is not None else ([], [])
    builds = known_builds(folder, map_file, game["version"], game["phase"], issues)
    said += write_triage(folder, pages, intake, issues, game, buttons, builds)
    if problems:
        raise BadAnswer("\n".join([*said, "Not read, or not as a whole:", str(ProjectError(problems))]))
    return "\n".join(said)


def _read_all(reports_folder: Path, forms: dict[str, BugForm | FeedbackForm], path: Path, form: str) -> tuple[list[str], list[Problem]]:
    """Read an export, a filled page, or all of a folder; return what was read, and what of several files was not."""
    if not os.path.isdir(path):  # which fails for no name, however odd
        if path.suffix.lower() != _PAGE:
            return [_read(reports_folder, forms, path, form)], []
        pages = read_pages([(path, path.name)])
        if not pages.pages:
            raise ProjectError(pages.problems)
        return [_keep_pages(reports_folder, forms, pages)], pages.problems
    files, said, problems = files_in(path), [], []
    for one, shown in files:
        if one.suffix.lower() in EXPORTS:
            try:
                said.append(_read(reports_folder, forms, one, form, shown))
            except ProjectError as error:
                problems += error.problems
    pages = read_pages([(one, shown) for one, shown in files if one.suffix.lower() == _PAGE])
    if pages.pages:
        said.append(_keep_pages(reports_folder, forms, pages))
    other = [shown for one, shown in files if one.suffix.lower() not in (*EXPORTS, _PAGE)]
    if other:
        said.append(f"Not read, since neither CSV nor PDF: {', '.join(other[:_NOTES])}{' ...' if len(other) > _NOTES else ''}")
    if not said and not problems and not pages.problems:
        raise refuse("csv=", "", f"the folder {path.name} has no exports and no filled pages", "name a folder with CSV or PDF files")
    return said, problems + pages.problems


def _keep_pages(reports_folder: Path, forms: dict[str, BugForm | FeedbackForm], pages: Pages) -> str:
    every = {name: load_reports(reports_folder, name) for name in FORMS}
    testers, reports, bugs = load_testers(reports_folder), every["bugs"], forms.get("bugs")
    # Each page has a day in its writer's own style, so that only what is clear by itself is a date.
    taken = keep_rows(pages, kept_of_page(bugs if isinstance(bugs, BugForm) else None), reports, testers, DateColumn())
    save_testers(reports_folder, testers)
    save_reports(reports_folder, reports)
    edited = f", {taken.edited} edited since" if taken.edited else ""
    return f"{counted(taken.rows, 'filled page')}, {taken.new} new{edited}"


def _read(reports_folder: Path, forms: dict[str, BugForm | FeedbackForm], path: Path, wanted: str, shown: str = "") -> str:
    shown = shown or path.name
    export = open_export(path, shown, forms, wanted)
    every = {name: load_reports(reports_folder, name) for name in FORMS}
    testers, reports = load_testers(reports_folder), every[export.form]
    kept = {name: kept_fields(one) for name, one in forms.items()}
    dates = export_dates(export, kept[export.form], forms[export.form].dates or "")
    if not reports.timed:
        add_moments(reports, forms[export.form].dates or "")
    taken = keep_rows(export, kept[export.form], reports, testers, dates)
    reports.dates = show_dates(dates, shown)
    drop_persons({field for fields in kept.values() for field in fields}, list(every.values()), testers)
    # The testers first: a number nobody is named for says less than a name without a report.
    save_testers(reports_folder, testers)
    save_reports(reports_folder, reports)
    left = [field for field in export.places if field not in kept[export.form]]
    dropped = f"; not kept: {', '.join(left)}" if left else ""
    absent = [field for field in export.absent if field in kept[export.form]]
    lacking = f"; no column gives {', '.join(absent)}" if absent else ""
    edited = f", {taken.edited} edited since" if taken.edited else ""
    said = f"{shown}: {counted(taken.rows, 'row')} of the {export.form} form, {taken.new} new{edited}{dropped}{lacking}"
    return f"{said}\n{reports.dates}" if reports.dates else said


def write_triage(
    folder: Path,
    pages: ReportPages,
    intake: Intake,
    issues: list[Issue],
    game: dict[str, str],
    buttons: dict[str, str],
    builds: Builds,
) -> list[str]:
    """Write page and table from what is kept; return lines for a person."""
    reports_folder = folder / "reports"
    stored = {name: load_reports(reports_folder, name) for name in FORMS}
    bugs, feedback = (stored[name].reports for name in FORMS)
    decisions = check_decisions(reports_folder, issues, builds)
    absent = absent_reports(reports_folder, [one["id"] for one in bugs], stored["bugs"].next)
    encode = encoder() if bugs else None
    triage = Triage(bugs, builds, issues, decisions, intake.bugs, game["code"], buttons, encode)
    groups, bad = triage.groups(), triage.not_understood()
    unknown = unknown_builds([*bugs, *(one for one in feedback if one.get("build"))], builds)
    known = [(one.code, one.version) for one in builds.builds]
    matched = [builds.match(one.get("build", "")) for one in feedback]
    questions = show_questions(feedback, matched, known, intake.feedback) if intake.feedback else []
    dates = [one.dates for one in stored.values()]
    lacking = missing(encode) if bugs else []
    write_page(pages, game, groups, triage.to_decide(), unknown, bad, questions, feedback, absent, dates, lacking)
    write_table(pages.table, groups)
    more = [f"and {len(absent) - _NOTES} more like these; see the page"] if len(absent) > _NOTES else []
    return [*map(str, absent[:_NOTES]), *more, *_summary(bugs, feedback, groups, unknown)]


def _summary(bugs: list, feedback: list, groups: list[dict[str, Any]], unknown: list[dict[str, Any]]) -> list[str]:
    if not bugs and not feedback:
        return ["Nothing is kept yet: read an export with intake csv=FILE."]
    lines = [
        f"{counted(len(bugs), 'bug report')} in {counted(len(groups), 'group')}; {counted(len(feedback), 'answer')} to the feedback form"
    ]
    for group in groups[:5]:
        ids = ", ".join(one["id"] for one in group["reports"][:4]) + (" ..." if len(group["reports"]) > 4 else "")
        likely = [one["id"] for one in group["suggested"] if one["score"] >= LIKELY]
        perhaps = f", perhaps {likely[0]}" if likely else ""
        issue = f", {group['issue']['id']}" if group["issue"] else perhaps
        noun = "report" if len(group["reports"]) == 1 else "reports"
        lines.append(f"  {group['severity'] or 'not said':<9} {len(group['reports']):>4} {noun}{issue}: {ids}")
    again = [f"{one['issue']['id']} (in {one['fixed']})" for one in groups if one["again"]]
    if again:
        lines.append(f"Said to be fixed, and seen again: {', '.join(dict.fromkeys(again))}")
    if unknown:
        ids = [report for one in unknown for report in one["reports"]]
        answers = sum(one.startswith(LETTERS["feedback"]) for one in ids)
        parts = [counted(count, word) for count, word in ((len(ids) - answers, "report"), (answers, "answer")) if count]
        lines.append(f"{' and '.join(parts)} without a known build; see the page")
    return [*lines, "In order, with what is alike and why: triage.html and triage.csv in the build folder"]
