"""Report pages of packets, filled in on a screen and sent back as PDF: their fields read like the cells of a row.

A packet's form (ISO 32000-1, 12.7) has fields with names of its own (see ``packet.sections.form``), so nothing has to be described. What is
written by hand, and pages that were printed into a new PDF, have no fields and cannot be read.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import EXPORT_CELL, PAGE_FIELDS, PAGE_FILES, PAGE_LEVELS, PDF_BYTES
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.project.intake import FROM_PAGE

if TYPE_CHECKING:
    import pikepdf

# Field of a page -> field of a bug report; boxes to tick are below.
_TEXTS = {
    "build": "build", "version": "version", "date": "time", "tester": "tester", "where": "where", "issue": "known", "expected": "expected",
    "seen": "what", "steps": "steps", "counted": "counted", "console": "console", "cartridge": "cartridge", "screen": "screen",
}  # fmt: skip
_TICKS = {"often": "often", "severity": "severity", "pad": "pad"}
_TICK = re.compile(rf"({'|'.join(_TICKS)})_(.+)")
_GIVEN = ("build", "version", "tester")  # filled in by the packet itself
_HEAD = 1024  # bytes within which readers look for %PDF- (ISO 32000-1, annex H, 3.4.1; from memory)
# What a small file may grow to while it is read.
_LIMITS: dict[str, Any] = {
    "flate_max_memory": PDF_BYTES, "run_length_max_memory": PDF_BYTES, "parser_max_container_size": 1 << 20, "doc_max_warnings": 1000,
}  # fmt: skip
_LEAST = 3  # fields with a packet's names that make a form one of ours


@dataclass(frozen=True)
class Page:
    """One filled page, as a row; ``line`` is its place among the pages."""

    line: int
    shown: str
    values: dict[str, str]


@dataclass
class Pages:
    """The filled pages of a folder, to be kept like the rows of an export.

    Attributes:
        problems: files that hold no filled page, and why. paths: the file of each page.
    """

    pages: list[Page] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    paths: dict[int, Path] = field(default_factory=dict)
    form: str = "bugs"
    from_page: bool = True

    @property
    def places(self) -> dict[str, int]:
        """Fields that a page can have; what one does not have is empty there."""
        return {name: at for at, name in enumerate(FROM_PAGE)}

    def rows(self) -> Iterator[Page]:
        """Yield the pages."""
        yield from self.pages

    def fields(self, row: Page, names: Iterable[str]) -> dict[str, str]:
        """Return some fields of a page that are not empty."""
        return {name: row.values[name] for name in names if name in row.values}


def read_pages(paths: list[tuple[Path, str]]) -> Pages:
    """Read filled pages; what is wrong with one is noted, and the others are read.

    Args:
        paths: files and their names in messages.

    Raises:
        ProjectError: there are more than are read at once.
    """
    if len(paths) > PAGE_FILES:
        remedy = "sort them into folders, and read one after another"
        raise refuse("csv=", "", f"{len(paths):,} PDF files, at most {PAGE_FILES:,} are read at once", remedy)
    found = Pages()
    for number, (path, shown) in enumerate(paths, 1):
        try:
            values = _read_page(path, shown, found.problems)
        except ProjectError as error:
            found.problems += error.problems
            continue
        found.pages.append(Page(number, shown, values))
        found.paths[number] = path
    return found


def _read_page(path: Path, shown: str, notes: list[Problem]) -> dict[str, str]:
    """Return what a page says, field -> text; a damaged file that could be repaired is noted.

    Raises:
        ProjectError: no PDF, encrypted, damaged, no packet's form in it, or nothing is filled in.
    """
    import pikepdf
    import pikepdf.settings

    data = _bytes_of(path, shown)
    limits: dict[str, Any] = pikepdf.settings.set_qpdf_limits(**_LIMITS)
    try:
        with pikepdf.open(io.BytesIO(data), suppress_warnings=True) as pdf:
            every = dict(_fields(pdf))
            values = _values(every)
            repaired = bool(pdf.get_warnings())
    except pikepdf.PasswordError:
        raise refuse(shown, "", "is encrypted, and opens with a password only", "ask the tester for it without one") from None
    except (pikepdf.PdfError, ValueError, TypeError, AttributeError, KeyError, RecursionError, OverflowError) as error:
        # Only the last part is about the file; before it the library names what it read from.
        said = str(error).rpartition(": ")[2] or "its structure cannot be followed"
        wrong = f"is damaged: {said}" if b"%PDF-" in data[:_HEAD] else "is not a PDF file"
        raise refuse(shown, "", wrong, "ask the tester to send it again") from None
    finally:
        pikepdf.settings.set_qpdf_limits(**limits)
    if len(set(every) & set(_TEXTS)) < _LEAST:
        wrong = "fields of a packet's report page" if every else "fields at all: it is another document, or a page that was printed"
        remedy = "type its words into your form, or ask for the page as it was saved after filling it in"
        raise refuse(shown, "", f"has no {wrong}", remedy)
    if not set(values) - {_TEXTS[name] for name in _GIVEN}:
        raise refuse(shown, "", "nothing is filled in", "if it was filled in by hand, type its words into your form")
    if repaired:
        notes.append(Problem(shown, "", "is damaged; what could be read of it is kept", "compare the report with the page"))
    return values


def _bytes_of(path: Path, shown: str) -> bytes:
    try:
        data = read_whole(path, shown, PDF_BYTES)
    except FileNotFoundError:
        raise refuse(shown, "", "there is no such file", "name the page, or a folder: intake csv=FOLDER") from None
    if not data:
        raise refuse(shown, "", "is empty, it has 0 bytes", "ask the tester to send it again")
    return data


def _fields(pdf: pikepdf.Pdf) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the fields that end branches, by their full names (12.7.3.2), with inherited keys (table 220)."""
    import pikepdf

    form = pdf.Root.get("/AcroForm")
    roots = form.get("/Fields") if isinstance(form, pikepdf.Dictionary) else None
    waiting = [(one, "", {}, 1) for one in reversed(_items(roots))]
    count = 0
    while waiting:
        one, owner, inherited, level = waiting.pop()
        count += 1
        if count > PAGE_FIELDS or level > PAGE_LEVELS:
            raise ValueError(f"more than {PAGE_FIELDS:,} fields, or {PAGE_LEVELS} levels of them")
        if not isinstance(one, pikepdf.Dictionary):
            continue
        name = ".".join(part for part in (owner, _text(one.get("/T"))) if part)
        keys = inherited | {key: one[key] for key in ("/V", "/AS", "/TU") if key in one}
        kids = _items(one.get("/Kids"))
        # Kids without a name are the widgets of this field.
        named = [kid for kid in kids if isinstance(kid, pikepdf.Dictionary) and "/T" in kid]
        if named:
            waiting += [(kid, name, keys, level + 1) for kid in reversed(named)]
        else:
            states = [kid["/AS"] for kid in kids if isinstance(kid, pikepdf.Dictionary) and kid.get("/AS") not in (None, "/Off")]
            yield name, keys | ({"/AS": states[0]} if states else {})


def _items(value: Any) -> list[Any]:
    import pikepdf

    return list(value) if isinstance(value, pikepdf.Array) else []


def _text(value: Any) -> str:
    """Return a text of a PDF, which is a string or a stream (7.9.2, table 220), with line feeds."""
    import pikepdf

    if isinstance(value, pikepdf.Stream):
        value = pikepdf.String(value.read_bytes())
    if not isinstance(value, pikepdf.String):
        return ""
    try:
        text = str(value)
    except UnicodeDecodeError:
        text = bytes(value).decode("utf-16", "replace")
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "").strip()


def _values(every: dict[str, dict[str, Any]]) -> dict[str, str]:
    """Return fields of a bug report -> text, empty ones left out."""
    found: dict[str, str] = {_TEXTS[name]: text for name, keys in every.items() if name in _TEXTS and (text := _text(keys.get("/V")))}
    ticked: dict[str, list[str]] = {}
    for name, keys in every.items():
        match = _TICK.fullmatch(name)
        if match and _is_on(keys):
            # A screen reader says "How often: every time"; severities are known by the field's own name.
            said = match[2] if match[1] == "severity" else _text(keys.get("/TU")).partition(": ")[2] or match[2]
            ticked.setdefault(_TICKS[match[1]], []).append(said)
    found |= {name: said[0] if name == "severity" else ", ".join(said) for name, said in ticked.items()}
    if "build" not in found and "version" in found:
        found["build"] = found["version"]
    for name, text in found.items():
        if len(text) > EXPORT_CELL:
            raise ValueError(f"{len(text):,} characters in the field of {name}, at most {EXPORT_CELL:,} are read")
    return {name: found[name] for name in FROM_PAGE if name in found}


def _is_on(keys: dict[str, Any]) -> bool:
    """Say whether a box is ticked: its value, or without one its appearance, is a state other than Off (12.7.4.2.3)."""
    state = keys.get("/V", keys.get("/AS"))
    return state is not None and str(state).lstrip("/") not in ("", "Off")


def files_in(folder: Path) -> list[tuple[Path, str]]:
    """Return the files under a folder by their names, hidden ones left out, each with its name from there."""
    found = []
    for place, folders, names in os.walk(folder):
        folders[:] = [one for one in folders if not one.startswith(".")]
        found += [Path(place, name) for name in names if not name.startswith(".")]
    return sorted(((path, path.relative_to(folder).as_posix()) for path in found), key=lambda one: one[1])
