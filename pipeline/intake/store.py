"""What is kept of reports, in ``PROJECT/reports``; nothing else in the project is written by intake but the triage page.

``bugs.json`` and ``feedback.json`` are ``{"format": 2, "next": N, "fields": [...], "dates": "...", "reports": [...]}``: the number of
the next report, the fields that were kept when it was written, how the times of the last export were read, and the reports by id, one on
a line. A report is ``id`` (``R-0001`` for a bug, ``F-0001`` for feedback), ``tester`` (a number), the kept fields as they were typed,
empty ones left out, ``at`` (the moment that ``time`` says, where it is a date; see ``dates``) and ``former``: for each time it was
edited the fields that changed, as they were before, the oldest first. One that came from a filled page of a packet has ``page``, and
``page_fields`` are the fields of such reports. Ids are never given twice. Format 1 had no ``dates``, ``at``, ``former`` and ``page``.

``testers.json`` is ``{"format": 2, "next": N, "testers": [{"number", "tester", "contact", "also"}]}``: the only place that says who a
number is; ``contact`` is there only when the project keeps it, and ``also`` where somebody gave further ones. Format 1 had no ``also``.
"""

from __future__ import annotations

import io
import json
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import KEPT_REPORTS, REPORTS_BYTES
from pipeline.plain.errors import refuse
from pipeline.plain.files import replacing
from pipeline.plain.strict_json import read_strictly
from pipeline.project.intake import same_heading
from pipeline.project.testers import LIST, Tester, number_in, read_testers

LETTERS = {"bugs": "R", "feedback": "F"}
_KEYS = {"reports": (("id",), "tester"), "testers": (("tester", "number"), "number")}  # what every entry has, and what is a number
_END = b"\n]\n}\n"  # of a file
PERSON = ("tester", "contact")  # fields kept in testers.json
MOMENT = "at"  # of a report: the moment that its ``time`` says
PAGE = "page"  # of a report: it came from a filled page of a packet, not from an export
_FORMATS = (1, 2)
_SHORT = 40  # characters of a text that may come again
_LARGEST = 2**63 - 1
_SURROGATE = re.compile(rb"\\u[dD][89a-fA-F]")


@dataclass
class Reports:
    """The kept reports of one form.

    Attributes:
        dates: how the times of the last export were read, in words for the page; empty where nothing had to be decided.
        page_fields: those of filled pages that were kept; ``fields`` are those of exports.
        timed: moments are known where times are dates; else they were written before moments were.
    """

    form: str
    next: int = 1
    fields: tuple[str, ...] = ()
    reports: list[dict[str, Any]] = field(default_factory=list)
    dates: str = ""
    timed: bool = True
    page_fields: tuple[str, ...] = ()

    def of(self, from_page: bool) -> list[dict[str, Any]]:
        """Return the reports that came from filled pages, or those that came from exports."""
        return [one for one in self.reports if (PAGE in one) == from_page]

    def new_id(self) -> str:
        """Return an id that no report had."""
        self.next += 1
        return f"{LETTERS[self.form]}-{self.next - 1:04}"


@dataclass
class Testers:
    """Who the numbers are.

    Attributes:
        listed: the author's own list; its numbers are given to nobody else.
    """

    next: int = 1
    testers: list[dict[str, Any]] = field(default_factory=list)
    listed: tuple[Tester, ...] = ()

    def __post_init__(self) -> None:
        self._numbers = {same_heading(one["tester"]): one["number"] for one in self.testers}
        self._numbers |= {same_heading(one.name): one.number for one in self.listed if one.name}
        self._reserved = {one.number for one in self.listed}
        self._entries = {one["number"]: one for one in self.testers}

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
            said = number_in(name)
            self._numbers[plain] = said if said in self._reserved else self._new_number()
        number = self._numbers[plain]
        if number not in self._entries:
            self._entries[number] = {"number": number, "tester": name}
            self.testers.append(self._entries[number])
        if person.get("contact"):
            _add_contact(self._entries[number], person["contact"])
        return number

    def number_of(self, person: dict[str, str]) -> int | None:
        """Return the number of a tester who has one; see ``number``."""
        name = person.get("tester") or person.get("contact") or ""
        said = number_in(name)
        return self._numbers.get(same_heading(name), said if said in self._reserved else None)

    def _new_number(self) -> int:
        """Return a number that nobody had and the author's list does not give."""
        while self.next in self._reserved:
            self.next += 1
        self.next += 1
        return self.next - 1

    def find(self, who: str) -> list[dict[str, Any]]:
        """Return the entries that ``who`` may mean: ``T3`` is number 3 alone, ``3`` also whom a form calls that."""
        plain = same_heading(who)
        kept = {one["number"] for one in self.testers}
        everyone = self.testers + [{"number": one.number, "tester": one.name} for one in self.listed if one.number not in kept]
        own = {one.number: same_heading(one.name) for one in self.listed}
        texts = [{same_heading(text) for text in (one["tester"], *contacts_of(one))} | {own.get(one["number"])} for one in everyone]
        named = [one for one, said in zip(everyone, texts, strict=True) if plain and plain in said]
        numbered = [one for one in everyone if number_in(who) == one["number"]]
        return named + [one for one in numbered if one not in named]

    def names(self, number: int) -> list[str]:
        """Return the name that the author's list gives a number; none where it gives none."""
        return [one.name for one in self.listed if one.number == number and one.name]


def contacts_of(entry: dict[str, Any]) -> list[str]:
    """Return every way to reach a tester that is kept."""
    return [*([entry["contact"]] if entry.get("contact") else ()), *entry.get("also", ())]


def _add_contact(entry: dict[str, Any], contact: str) -> None:
    known = contacts_of(entry)
    if not known:
        entry["contact"] = contact
    elif same_heading(contact) not in map(same_heading, known):
        entry.setdefault("also", []).append(contact)


def reports_file(folder: Path, form: str) -> Path:
    """Return the file of a form's reports."""
    return folder / f"{form}.json"


def load_reports(folder: Path, form: str) -> Reports:
    """Read the reports of a form; none when there is no file.

    Raises:
        ProjectError: the file is not what this module writes.
    """
    data = _load(reports_file(folder, form), "reports")
    if not data:
        return Reports(form)
    pages = tuple(data.get("page_fields", ()))
    return Reports(form, data["next"], tuple(data.get("fields", ())), data["reports"], data.get("dates", ""), data["format"] > 1, pages)


def load_testers(folder: Path) -> Testers:
    """Read who the testers are, the author's list among them.

    Args:
        folder: ``PROJECT/reports``.

    Raises:
        ProjectError: see ``load_reports`` and ``testers.read_testers``; or the list gives a number that somebody else has.
    """
    data, listed = _load(folder / "testers.json", "testers"), read_testers(folder.parent)
    testers = Testers(data["next"], data["testers"], listed) if data else Testers(listed=listed)
    given = {one.number: same_heading(one.name) for one in listed}
    for one in testers.testers:
        number, plain = one["number"], same_heading(one["tester"])
        if number in given and plain != given[number] and number_in(plain) != number:
            wrong = f"number {number} is that of somebody in reports/testers.json already, who signs otherwise"
            raise refuse(LIST, "", wrong, f"give this tester another number, or, if they are one, the name that {number} has there")
    return testers


def _load(path: Path, part: str) -> dict[str, Any] | None:
    shown = f"reports/{path.name}"
    try:
        content = read_whole(path, shown, REPORTS_BYTES, path.parent.parent)
    except FileNotFoundError:
        return None
    data = _as_written(content, part)
    if data is None:
        data = read_strictly(content, shown, "put back its last good copy; what is lost is read again from the exports")
    right = isinstance(data, dict) and data.get("format") in _FORMATS and isinstance(data.get(part), list)
    right = right and type(data.get("next")) is int and data["next"] >= 1 and isinstance(data.get("dates", ""), str)
    fields = [data.get(name, []) for name in ("fields", "page_fields")] if right else []
    if not right or not all(map(_are_texts, fields)) or not _are_entries(data[part], *_KEYS[part]):
        raise refuse(shown, "", "not laid out as this tool writes it", "put back its last good copy")
    return data


def _as_written(content: bytes, part: str) -> dict[str, Any] | None:
    """Return what a file holds that is laid out line by line as ``_save`` does; None for any other, which is then read as a whole.

    So at no time is there more of it in memory than its bytes and what is made of them; short texts that come again are one.
    """
    if _SURROGATE.search(content):
        return None
    once: dict[str, str] = {}

    def checked(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        made = {key: once.setdefault(value, value) if type(value) is str and len(value) < _SHORT else value for key, value in pairs}
        if len(made) < len(pairs) or any(type(value) is int and value > _LARGEST for value in made.values()):
            raise ValueError("not as it is written")
        return made

    lines, opening = io.BytesIO(content), b'"%b": [' % part.encode()
    head: list[bytes] = []
    items: list[Any] = []
    try:
        for line in lines:
            if line.rstrip() == opening:
                break
            head.append(line)
        ended = b","
        for line in lines:
            if line == b"]\n":
                break
            if not ended:
                return None
            ended = b"," if line.endswith(b",\n") else b""
            items.append(json.loads(line.removesuffix(b"\n").removesuffix(b","), object_pairs_hook=checked))
        data = json.loads(b"".join([*head, opening, b"]", *lines]), object_pairs_hook=checked)
    except (ValueError, TypeError, RecursionError):
        return None
    return {**data, part: items} if isinstance(data, dict) and (not ended or not items) else None


def _are_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def _are_entries(entries: list[Any], keys: tuple[str, ...], number: str) -> bool:
    """Say whether all are objects of texts, the one of the first key never twice, but for one that is a whole number."""
    for one in entries:
        if not isinstance(one, dict) or any(key not in one for key in keys):
            return False
        if any(not _is_value(name, value, number) for name, value in one.items()):
            return False
    return len({one[keys[0]] for one in entries}) == len(entries)


def _is_value(name: str, value: Any, number: str) -> bool:
    if type(value) is list:
        former = all(type(one) is dict and _are_texts([*one.values()]) for one in value)
        return name == "former" and former or name == "also" and _are_texts(value)
    return type(value) is (int if name == number else str)


def save_reports(folder: Path, reports: Reports) -> None:
    """Write the reports of a form, sorted by id.

    Raises:
        ProjectError: they are more, or take more bytes, than could be read again; the file stays as it was.
    """
    shown = f"reports/{reports_file(folder, reports.form).name}"
    if len(reports.reports) > KEPT_REPORTS:
        wrong = f"would hold {len(reports.reports):,} reports, at most {KEPT_REPORTS:,} are kept"
        raise refuse(shown, "", wrong, "move the file out of the project as an archive, and read newer exports only")
    head = {"format": _FORMATS[-1], "next": reports.next, "fields": list(reports.fields), "dates": reports.dates}
    head |= {"page_fields": list(reports.page_fields)} if reports.page_fields else {}
    _save(reports_file(folder, reports.form), head, "reports", sorted(reports.reports, key=_by_number))


def save_testers(folder: Path, testers: Testers) -> None:
    """Write who the testers are, sorted by number."""
    head = {"format": _FORMATS[-1], "next": testers.next}
    _save(folder / "testers.json", head, "testers", sorted(testers.testers, key=lambda one: one["number"]))


def _by_number(report: dict[str, Any]) -> tuple[int, str, str]:
    """Return a key that puts R-9999 before R-10000; digits without leading zeros need no sum."""
    digits = report["id"].partition("-")[2].lstrip("0")
    return (len(digits), digits, report["id"]) if digits.isdecimal() else (0, "", report["id"])


def _save(path: Path, head: dict[str, Any], part: str, items: list[dict[str, Any]]) -> None:
    # One on a line, so that a version control system shows which came and went.
    with replacing(path) as file:
        start = ",\n".join(f'"{key}": {json.dumps(value)}' for key, value in head.items())
        file.write(f'{{\n{start},\n"{part}": ['.encode())
        for rank, item in enumerate(items):
            file.write(("," if rank else "").encode() + b"\n" + json.dumps(item, ensure_ascii=False).encode())
            size = file.tell() + len(_END)
            if size > REPORTS_BYTES:
                wrong = f"would have {size:,} bytes or more, at most {REPORTS_BYTES:,} are read again"
                raise refuse(f"reports/{path.name}", "", wrong, "keep fewer fields, or move the file out of the project as an archive")
        file.write(_END)
