"""``doit forms``: what an author needs to set up both forms, and both as pages that need no server."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.joints.links import report_link
from pipeline.joints.map import read_map
from pipeline.packet.content.content import clean, kit_stem
from pipeline.packet.content.filled import Wording
from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.project.file import SEVERITIES
from pipeline.project.intake import BugForm, FeedbackForm, Intake, named_columns
from pipeline.project.wording import MessageFile, read_wording

_LONG = ("expected", "what", "steps", "more")  # answers of several lines
_BUG = (
    *("build", "tester", "where", "known", "expected", "what", "steps", "often", "severity", "pad"),
    *("console", "cartridge", "screen", "picture"),
)
_LABELS = {"what": "form.seen", "known": "form.issue", "picture": "forms.picture"}  # of a field whose label has another name
FEEDBACK = ("overall", "pictures", "sound", "music", "controls", "pace", "more")


@dataclass(frozen=True)
class Question:
    """A question of a form.

    Attributes:
        field: of ``[intake]``, or the name of a question there.
        text: as testers read it; ``heading``: of its column in an export.
        kind: line, lines, choice, or picture.
        choices: in order, of a choice.
        needed: whether a report is worth nothing without it.
    """

    field: str
    text: str
    heading: str
    kind: str
    choices: tuple[str, ...] = ()
    needed: bool = False


def write_forms(
    map_file: Path, wording: MessageFile, template: Template, script: Path, spec: dict[str, Any], intake: Intake, outs: dict[str, Path]
) -> str:
    """Write questions, tables for the project file, and both pages; return text for a person.

    Args:
        map_file: ``map.json`` of the build, whose code the pages begin with.
        wording: the message file of the packet's language.
        template: of a page; ``script``: what it runs.
        spec: the project's records by table: game, links, pad.
        intake: the project's, whose headings are taken where it has some.
        outs: report-form.html, feedback-form.html, questions.txt and intake.toml.

    Raises:
        ProjectError: message file or template has a mistake, or a file cannot be written.
    """
    game, links, build = spec["game"], spec["links"], read_map(map_file).image.build_code
    values = {key: clean(getattr(game, key)) for key in ("title", "code", "version", "phase")} | {"build": build}
    words = Wording(read_wording(wording), values)
    forms = {"bugs": bug_questions(words, [clean(pad.name) for pad in spec["pad"].values()], intake.bugs)}
    forms["feedback"] = feedback_questions(words, intake.feedback)
    text = "\n".join(_listed(words, name, questions, getattr(links, name)) for name, questions in forms.items())
    write_bytes(outs["questions.txt"], text.encode())
    write_bytes(outs["intake.toml"], show_tables(words, forms, intake).encode())
    for name, page in (("bugs", "report-form.html"), ("feedback", "feedback-form.html")):
        given = {
            "language": game.language, "heading": words.text(f"forms.{name}"), "questions": forms[name], "say": words.text, "build": build,
            "stem": f"{kit_stem(game.code, game.version, build)}-{'report' if name == 'bugs' else 'feedback'}", "title": values["title"],
            "script": script.read_text(encoding="utf-8"), "link": report_link(getattr(links, name), build),
            "data": _columns(forms[name], show_time(words, getattr(intake, name))),
        }  # fmt: skip
        write_bytes(outs[page], render(template, given).encode())
    return text + "\n" + "\n".join(f"build/forms/{name}" for name in outs)


def bug_questions(words: Wording, pads: list[str], form: BugForm | None) -> list[Question]:
    """Return the questions of the bug form, in the order of the packet's report page; those with an empty label are left out."""
    often = form.frequencies if form and form.frequencies else words.texts("form.often_words")
    choices = {"often": tuple(often), "severity": tuple(_severities(words, form)), "pad": tuple(pads)}
    found = []
    for field in _BUG:
        text, given = words.text(_LABELS.get(field, f"form.{field}")), choices.get(field, ())
        if text and (given or field not in choices):
            kind = "choice" if given else "picture" if field == "picture" else "lines" if field in _LONG else "line"
            found.append(Question(field, text, _heading(form, field, text), kind, given, field in ("build", "what")))
    return found


def feedback_questions(words: Wording, form: FeedbackForm | None) -> list[Question]:
    """Return the questions of the feedback form: the build, the tester, and the project's, or seven about the game.

    Each has its scale: the project's answers, or else those of the message file; what is asked last, and what has no scale, is free text.
    """
    found = [
        Question("build", text := words.text("form.build"), _heading(form, "build", text), "line", (), True),
        Question("tester", text := words.text("form.tester"), _heading(form, "tester", text), "line"),
    ]
    for field in form.questions if form else FEEDBACK:
        text = _heading(form, field, "") or words.text(f"forms.{field}")
        scale = form.answers.get(field, []) if form else []
        if not scale and field in FEEDBACK and field not in _LONG:
            scale = words.texts("forms.paces" if field == "pace" else "forms.scale")
        found.append(Question(field, text, text, "choice" if scale else "lines", tuple(scale), field == "overall"))
    return [one for one in found if one.text]


def _severities(words: Wording, form: BugForm | None) -> dict[str, str]:
    """Return what a form calls each severity -> the severity, the worst first."""
    own = form.severities if form else {}
    if own:
        return dict(sorted(own.items(), key=lambda one: SEVERITIES.index(one[1])))
    return {words.text(f"severity.{name}"): name for name in SEVERITIES}


def show_time(words: Wording, form: BugForm | FeedbackForm | None) -> str:
    """Return the heading under which a page writes when a report was saved."""
    return _heading(form, "time", words.text("forms.time"))


def _columns(questions: list[Question], time: str) -> str:
    """Return field and heading of every column of a page's file, as JSON that may be inside a script element of HTML."""
    columns = [*((one.field, one.heading) for one in questions), ("time", time)]
    return json.dumps(columns, ensure_ascii=True).replace("<", "\\u003c")


def _heading(form: BugForm | FeedbackForm | None, field: str, text: str) -> str:
    """Return the heading that the project reads a field by, or else the question itself."""
    return (named_columns(form).get(field) or (text,))[0] if form else text


def _listed(words: Wording, name: str, questions: list[Question], link: str) -> str:
    """Return a form's questions as text to copy into the page of any form service."""
    title = words.text(f"forms.{name}")
    lines = [title, "=" * len(title), link, ""]
    for rank, one in enumerate(questions, 1):
        is_filled = one.field == "build" or one.field == "tester" and "{tester}" in link
        notes = {"file" if one.kind == "picture" else one.kind: True, "needed": one.needed, "filled": is_filled}
        marks = [words.text(f"forms.{key}") for key, holds in notes.items() if holds]
        lines += [f"{rank:>2}. {one.heading}", f"    ({', '.join(filter(None, marks))})", *(f"    - {choice}" for choice in one.choices)]
    return "\n".join([*lines, ""])


def show_tables(words: Wording, forms: dict[str, list[Question]], intake: Intake) -> str:
    """Return the tables of ``[intake]`` that read the exports of both forms, as TOML."""
    bugs, feedback = forms["bugs"], forms["feedback"]
    severities = _severities(words, intake.bugs) if any(one.field == "severity" for one in bugs) else {}
    times = {name: f"time = {_quoted(show_time(words, getattr(intake, name)))}" for name in forms}
    often = next((one.choices for one in bugs if one.field == "often"), ())
    lines = ["[intake.bugs]"]
    if severities:
        pairs = ", ".join(f"{_quoted(text)} = {_quoted(name)}" for text, name in severities.items())
        lines.append(f"severities = {{ {pairs} }}")
    lines += [f"frequencies = [{', '.join(map(_quoted, often))}]"] if often else []
    lines += ["", "[intake.bugs.columns]", times["bugs"], *(f"{one.field} = {_quoted(one.heading)}" for one in bugs)]
    asked = [one for one in feedback if one.field not in ("build", "tester")]
    others = (one for one in feedback if one not in asked)
    lines += ["", "[intake.feedback.columns]", times["feedback"], *(f"{one.field} = {_quoted(one.heading)}" for one in others)]
    lines += ["", "[intake.feedback.questions]", *(f"{one.field} = {_quoted(one.heading)}" for one in asked)]
    scales = [f"{one.field} = [{', '.join(map(_quoted, one.choices))}]" for one in asked if one.choices]
    return "\n".join([*lines, "", "[intake.feedback.answers]", *scales, ""])


def _quoted(text: str) -> str:
    """Return a TOML basic string; JSON's escapes are among those of TOML."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
