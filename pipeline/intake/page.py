"""The triage page and its table, for the author alone: ``build/triage.html`` and ``build/triage.csv``."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.intake.feedback.answers import Given
from pipeline.intake.feedback.spread import LEAST, REDRAWS
from pipeline.intake.shown import cell, links, toml_text, visible
from pipeline.intake.triage import CIRCUMSTANCES, LIKELY
from pipeline.joints.places import ReportPages
from pipeline.plain.errors import Problem
from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import render

_GROUPS, _REPORTS = 300, 40  # shown at most: groups, reports of one; the table has all
_EDITS = 40  # edited answers shown at most
_LABELLED = 11  # per cent from which on a part of a bar has room for its label
_VALUES = 4  # pads, screens and so on of a group shown at most
_TOLD = ("expected", "steps", "counted")  # fields shown below what happened
_TITLE = 160  # characters of a report that head its group
_COLUMNS = (
    "group", "rank", "report", "decided", "severity", "often", "build", "typed build", "where", "what", "expected", "steps", "counted",
    "pad", "console", "cartridge", "screen", "picture", "time", "tester", "known issue", "issue decided", "perhaps", "fixed in",
    "seen again", "like", "per cent", "words in common", "fields in common", "nearest", "before it was edited",
)  # fmt: skip


def write_page(
    pages: ReportPages,
    game: dict[str, str],
    groups: list[dict[str, Any]],
    asked: list[list[dict[str, Any]]],
    unknown: list[dict[str, Any]],
    not_understood: dict[str, list[str]],
    questions: list[dict[str, Any]],
    feedback: list[dict[str, Any]],
    absent: list[Problem],
    dates: list[str],
    missing: list[str],
) -> None:
    """Write the page.

    Args:
        game: title, version, phase.
        groups, asked, unknown, not_understood: see ``Triage`` and ``builds``. questions: see ``feedback.answers``.
        feedback: answers to that form. absent: see ``decisions.absent_reports``.
        dates: how times were read, in words. missing: packages that would have compared better.
    """
    script = pages.script.read_text(encoding="utf-8")
    edits = _edits(feedback, questions)
    shown = [_group(one) for one in groups[:_GROUPS]]
    values = {
        "game": game,
        "groups": [one for one in shown if not one["settled"]],
        "settled": [one for one in shown if one["settled"]],
        "severities": Counter(one["severity"] for one in groups if not one["settled"]),
        "more_groups": max(len(groups) - _GROUPS, 0),
        "group_count": len(groups),
        "report_count": sum(len(one["reports"]) for one in groups),
        "answer_count": len(feedback),
        "missing": missing,
        "asked": [_asked(some) for some in asked],
        "dates": [visible(one) for one in dates if one],
        "absent": [{"place": f"{one.file}, {one.place}", "wrong": one.wrong, "remedy": one.remedy} for one in absent],
        "unknown": [{**one, "typed": visible(one["typed"])} for one in unknown],
        "not_understood": {key: [visible(one) for one in words] for key, words in not_understood.items()},
        "questions": [_question(one) for one in questions],
        "edits": edits[:_EDITS],
        "more_edits": max(len(edits) - _EDITS, 0),
        "least": LEAST,
        "redraws": f"{REDRAWS:,}",
        "script": script,
        # The page's own script may run and nothing else: Content Security Policy Level 3, hash sources.
        "script_hash": base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
    }
    write_bytes(pages.page, render(pages.template, values, markup=True).encode())


def _group(group: dict[str, Any]) -> dict[str, Any]:
    ids = [one["id"] for one in group["reports"]]
    undecided = len(ids) > 1 and not all(one["decided"] for one in group["reports"])
    return {
        **group,
        "title": visible(_brief(group["title"])),
        # The title shows all of one short report.
        "complete": len(ids) == 1 and _brief(group["title"]) == group["title"],
        "where": visible(group["where"]),
        "circumstances": [_circumstance(one) for one in group["circumstances"]],
        "near": [{**_suggestion(one), "title": visible(_brief(one["title"]))} for one in group["near"]],
        "suggested": [{**_suggestion(one), "likely": one["score"] >= LIKELY} for one in group["suggested"]],
        "often": visible(group["often"]),
        "ids": ids,
        "more": max(len(ids) - _REPORTS, 0),
        "reports": [_report(one) for one in group["reports"][:_REPORTS]],
        "entry": _entry(group["entry"]) if group["entry"] else "",
        "issue_line": f'{ids[0]} = "{group["entry"]["id"]}"' if group["entry"] else "",
        "same": "[" + ", ".join(f'"{one}"' for one in ids) + "]," if undecided else "",
    }


def _circumstance(one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "values": [(visible(said), count) for said, count in one["values"][:_VALUES]], "more": len(one["values"]) > _VALUES}


def _asked(some: list[dict[str, Any]]) -> dict[str, Any]:
    """Return a question as the page shows it: ``about`` and ``others`` (``id``, ``what``), and ``same``, the line if all are."""
    first, *others = ({**one, "what": visible(_brief(one["what"]))} for one in some)
    return {"about": first, "others": others, "same": "[" + ", ".join(f'"{one["id"]}"' for one in some) + "],"}


def _suggestion(one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "words": [visible(word) for word in one["words"]]}


def _brief(text: str) -> str:
    """Return a text on one line, and of a long one its beginning."""
    plain = " ".join(text.split())
    return plain if len(plain) <= _TITLE else plain[: _TITLE - 1].rstrip() + "…"


def _report(report: dict[str, Any]) -> dict[str, Any]:
    shown = {key: visible(str(report.get(key, ""))) for key in ("what", "where", "severity", "often", "time", "typed")}
    shown |= {"former": [_former(one) for one in report.get("former", ())]}
    shown |= {"told": [(name, visible(report[name])) for name in _TOLD if report.get(name)]}
    shown |= {"seen_on": [(name, visible(" ".join(report[name].split()))) for name in CIRCUMSTANCES if report.get(name)]}
    because = report["because"] and {**report["because"], "words": [visible(one) for one in report["because"]["words"]]}
    return {**report, **shown, "pictures": links(report.get("picture", "")), "because": because}


def _former(former: dict[str, str]) -> list[tuple[str, str]]:
    """Return what a report said before it was edited: field and text, ``what`` first."""
    return [(name, visible(text)) for name, text in sorted(former.items(), key=lambda one: (one[0] != "what", one[0]))]


def _entry(entry: dict[str, str]) -> str:
    lines = ["[[issue]]", *(f"{key} = {toml_text(text)}" for key, text in entry.items())]
    return "\n".join(lines)


def _question(question: dict[str, Any]) -> dict[str, Any]:
    shown = {**question, "heading": visible(question["heading"])}
    if "texts" in question:
        shown["texts"] = [_said(one) for one in question["texts"]]
        return shown
    shown["choices"] = [{**one, "answer": visible(one["answer"])} for one in question["choices"]]
    shown["beside"] = [_said(one) for one in question["beside"]]
    shown["builds"] = [
        {
            **one,
            "parts": [{**part, "answer": visible(part["answer"]), "labelled": part["percent"] >= _LABELLED} for part in one["parts"]],
            "changes": one["changes"] and [{**change, "what": visible(change["what"])} for change in one["changes"]],
        }
        for one in question["builds"]
    ]
    return shown


def _said(one: Given) -> dict[str, str]:
    return {"id": one.id, "build": one.build, "text": visible(one.text)}


def _edits(feedback: list[dict[str, Any]], questions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the answers that were edited since: ``id``, and ``fields``, each its question, and what was and is answered."""
    headings = {one["key"]: one["heading"] for one in questions}
    found = []
    for one in feedback:
        newer, fields = one, []
        for former in reversed(one.get("former", ())):
            fields += [(visible(headings.get(key, key)), visible(text), visible(str(newer.get(key, "")))) for key, text in former.items()]
            newer = newer | former
        if fields:
            found.append({"id": one["id"], "fields": fields[::-1]})
    return found


def write_table(out: Path, groups: list[dict[str, Any]]) -> None:
    """Write every report on a row: UTF-8 with a byte order mark, RFC 4180, all cells quoted and none that runs as a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for rank, group in enumerate(groups, start=1):
        issue = group["issue"] or {"id": "", "decided": False}
        perhaps = " ".join(one["id"] for one in group["suggested"] if one["score"] >= LIKELY)
        for one in group["reports"]:
            because = one["because"] or {"like": "", "score": "", "words": [], "fields": []}
            row = (
                group["reports"][0]["id"], rank, one["id"], _yes(one["decided"]), one.get("severity", ""), one.get("often", ""),
                one["build"], one["typed"], one.get("where", ""), one.get("what", ""),
                *(one.get(name, "") for name in (*_TOLD, *CIRCUMSTANCES)), one.get("picture", ""), one.get("time", ""),
                one.get("tester", ""), issue["id"], _yes(issue["decided"]), perhaps, group["fixed"], _yes(group["again"]),
                because["like"], because["score"], " ".join(because["words"]), " ".join(because["fields"]),
                " ".join(near["id"] for near in one["near"]), _was(one.get("former", ())),
            )  # fmt: skip
            writer.writerow([cell(str(part)) for part in row])
    write_bytes(out, b"\xef\xbb\xbf" + text.getvalue().encode())


def _was(former: Iterable[dict[str, str]]) -> str:
    return "\n".join(f"{name}: {text or 'nothing'}" for one in former for name, text in one.items())


def _yes(value: bool) -> str:
    return "yes" if value else ""
