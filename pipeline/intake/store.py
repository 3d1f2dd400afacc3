"""What is kept of reports, in ``PROJECT/reports``; nothing else in the project is written by intake but the triage page.

``bugs.json`` and ``feedback.json`` are ``{"format": 1, "next": N, "fields": [...], "reports": [...]}``: the number of the next
report, the fields that were kept when it was written, and the reports by id, one on a line. A report is ``id``
(``R-0001`` for a bug, ``F-0001`` for feedback), ``tester`` (a number) and the kept fields as they were typed, empty ones left
out. Ids are never given twice.

``testers.json`` is ``{"format": 1, "next": N, "testers": [{"number", "tester", "contact"}]}``: the only place that says who a
number is; ``contact`` stands there only when the project keeps it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.errors import refuse
from pipeline.files import replacing
from pipeline.project_intake import same_heading

LETTERS = {"bugs": "R", "feedback": "F"}
PERSON = ("tester", "contact")  # fields that stand in testers.json


@dataclass
class Reports:
    """The kept reports of one form."""

    form: str
    next: int = 1
    fields: tuple[str, ...] = ()
    reports: list[dict[str, Any]] = field(default_factory=list)

    def new_id(self) -> str:
        """Return an id that no report had."""
        self.next += 1
        return f"{LETTERS[self.form]}-{self.next - 1:04}"


@dataclass
class Testers:
    """Who the numbers are."""

    next: int = 1
    testers: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._numbers = {same_heading(one["tester"]): one["number"] for one in self.testers}

    def number(self, person: dict[str, str]) -> int | None:
        """Return the number of a tester, given when first seen; None when nothing says who it is. Case does not count.

        Args:
            person: ``tester`` and ``contact``, as far as they are kept.
        """
        name = person.get("tester") or person.get("contact")
        if not name:
            return None
        plain = same_heading(name)
        if plain not in self._numbers:
            self._numbers[plain] = self.next
            self.testers.append({"number": self.next, "tester": name, **_only(person, "contact")})
            self.next += 1
        return self._numbers[plain]

    def find(self, who: str) -> list[dict[str, Any]]:
        """Return the entries that ``who`` may mean: ``T3`` is number 3 alone, ``3`` also whom a form calls that."""
        plain = same_heading(who)
        named = [one for one in self.testers if plain in (same_heading(one["tester"]), same_heading(one.get("contact", "")))]
        numbered = [one for one in self.testers if plain in (str(one["number"]), f"t{one['number']}")]
        return named + [one for one in numbered if one not in named]


def _only(values: dict[str, str], *names: str) -> dict[str, str]:
    return {name: values[name] for name in names if name in values}


def reports_file(folder: Path, form: str) -> Path:
    """Return the file of a form's reports."""
    return folder / f"{form}.json"


def load_reports(folder: Path, form: str) -> Reports:
    """Read the reports of a form; none when there is no file.

    Raises:
        ProjectError: the file is not what this module writes.
    """
    data = _load(reports_file(folder, form), "reports")
    return Reports(form, data["next"], tuple(data.get("fields", ())), data["reports"]) if data else Reports(form)


def load_testers(folder: Path) -> Testers:
    """Read who the testers are; see ``load_reports``."""
    data = _load(folder / "testers.json", "testers")
    return Testers(data["next"], data["testers"]) if data else Testers()


def _load(path: Path, part: str) -> dict[str, Any] | None:
    shown = f"reports/{path.name}"
    try:
        data = json.loads(path.read_bytes())
    except FileNotFoundError:
        return None
    except ValueError as error:
        raise refuse(shown, "", f"not JSON: {error}", "put back its last good copy; what is lost is read again from the exports") from None
    right = isinstance(data, dict) and data.get("format") == 1 and isinstance(data.get("next"), int) and isinstance(data.get(part), list)
    key = "id" if part == "reports" else "tester"
    if not right or not all(isinstance(one, dict) and isinstance(one.get(key), str) for one in data[part]):
        raise refuse(shown, "", "not laid out as this tool writes it", "put back its last good copy")
    return data


def save_reports(folder: Path, reports: Reports) -> None:
    """Write the reports of a form, sorted by id."""
    head = {"format": 1, "next": reports.next, "fields": list(reports.fields)}
    _save(reports_file(folder, reports.form), head, "reports", sorted(reports.reports, key=_by_number))


def save_testers(folder: Path, testers: Testers) -> None:
    """Write who the testers are, sorted by number."""
    head = {"format": 1, "next": testers.next}
    _save(folder / "testers.json", head, "testers", sorted(testers.testers, key=lambda one: one["number"]))


def _by_number(report: dict[str, Any]) -> tuple[int, str]:
    digits = report["id"].partition("-")[2]
    return int(digits) if digits.isdecimal() else 0, report["id"]


def _save(path: Path, head: dict[str, Any], part: str, items: list[dict[str, Any]]) -> None:
    # One on a line, so that a version control system shows which came and went.
    with replacing(path) as file:
        start = ",\n".join(f'"{key}": {json.dumps(value)}' for key, value in head.items())
        file.write(f'{{\n{start},\n"{part}": ['.encode())
        for rank, item in enumerate(items):
            file.write(("," if rank else "").encode() + b"\n" + json.dumps(item, ensure_ascii=False).encode())
        file.write(b"\n]\n}\n")
