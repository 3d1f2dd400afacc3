"""The author's list of testers, ``reports/testers.toml``: their numbers, names and pads; and taking one out of it."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Annotated

from msgspec import Meta, field

from pipeline.joints.build_names import TESTERS, WORK
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import TOML_BYTES
from pipeline.plain.checked import Document, build, parse_document, read_document
from pipeline.plain.errors import ProjectError, nearest_name, refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.versions import PATTERN
from pipeline.plain.written import Record, about
from pipeline.project.intake import same_heading
from pipeline.project.ledger import unreleased

LIST = "reports/testers.toml"
KITS = f"kit/{TESTERS}"  # in the build folder
_OWN = {".pdf": "packet", ".html": "page", ".zip": "kit"}
_LIKE_NUMBER = re.compile(r"t?0*([0-9]{1,9})")


class Tester(Record):
    """One person who tests."""

    number: Annotated[Annotated[int, Meta(ge=1, le=999)], about("What others see of them, as T3; stays theirs for ever.", examples=[3])]
    name: Annotated[str, about("As they sign reports; printed in their own packet and nowhere else.", max_length=60)] = ""
    since: Annotated[
        Annotated[str, Meta(pattern=PATTERN, title="a version such as 0.4.0 or 1.0.0-rc.1")] | None,
        about("Release they had last: their packet and notes say what changed since then. Left out: as for everybody.", examples=["0.3.0"]),
    ] = None
    pads: Annotated[list[str] | None, about("Pads they have, by their names in the project file; left out: all.", examples=[["three"]])] = (
        None
    )
    message: Annotated[str, about("Words for them alone, on the first page of their own packet.", max_length=600)] = ""
    thanks_as: Annotated[
        str, about("The name under which they agreed to be thanked in everybody's packet; left out: their number.", max_length=60)
    ] = ""


class TesterList(Record):
    """The file."""

    tester: list[Tester] = field(default_factory=list)


def label_of(number: int) -> str:
    """Return what others see of a tester: T3."""
    return f"T{number}"


def file_part(number: int) -> str:
    """Return a tester's number as part of a file name, so that names sort: T03."""
    return f"T{number:02}"


def entry_mark(tester: Tester) -> str:
    """Return a text that changes when a tester's name or message does, to put where these must not be: a SHA-512 in hex.

    It can be guessed from a list of names, so what holds it goes with the tester.
    """
    return hashlib.sha512("\0".join((str(tester.number), tester.name, tester.message)).encode()).hexdigest()


def thanked(thanks: Iterable[str], testers: Iterable[Tester]) -> list[str]:
    """Return whom to thank, each number as the name that its owner agreed to, if they did."""
    agreed = {one.number: one.thanks_as for one in testers if one.thanks_as}
    return [agreed.get(number_in(text) or 0, text) for text in thanks]


def number_in(text: str) -> int | None:
    """Return the number that a text says and nothing else: T3, t03, 3; None for other texts."""
    found = _LIKE_NUMBER.fullmatch(same_heading(text))
    return int(found[1]) if found else None


def read_testers(folder: Path, pads: Iterable[str] | None = None, released: Collection[str] | None = None) -> tuple[Tester, ...]:
    """Read the author's list, sorted by number; empty without a file.

    Args:
        folder: the project folder.
        pads: names of the project's pads; None to leave them unchecked.
        released: versions before this one that were released; None to leave since unchecked.

    Raises:
        ProjectError: every problem of the file; it never names people.
    """
    if not os.path.lexists(folder / LIST):
        return ()
    document = read_document(folder / LIST, LIST, folder)
    made = build(document, (), document.data, TesterList)
    if made is not None:
        _check(document, made.tester, pads)
        _check_since(document, made.tester, released)
    return tuple(sorted(document.finished(made).tester, key=lambda one: one.number))


def _check_since(document: Document, testers: list[Tester], released: Collection[str] | None) -> None:
    for rank, one in enumerate(testers):
        if released is not None and one.since is not None and one.since not in released:
            document.say(("tester", rank, "since"), *unreleased(one.since, released))


def listed_tester(folder: Path, number: int, mark: str) -> Tester:
    """Return a tester whose entry is as it was when the build began.

    Args:
        mark: see ``entry_mark``.

    Raises:
        ProjectError: as ``read_testers``; or the entry is gone or changed.
    """
    tester = next((one for one in read_testers(folder) if one.number == number), None)
    if tester is None or entry_mark(tester) != mark:
        raise refuse(LIST, "", "changed while the build ran", "build again")
    return tester


def _check(document: Document, testers: list[Tester], pads: Iterable[str] | None) -> None:
    known = None if pads is None else list(pads)
    numbers: set[int] = set()
    names: set[str] = set()
    for rank, one in enumerate(testers):
        path = ("tester", rank)
        if one.number in numbers:
            document.say((*path, "number"), f"{one.number} is given twice", "a number is one person's for ever; take a free one")
        numbers.add(one.number)
        plain = same_heading(one.name)
        if plain and plain in names:
            document.say((*path, "name"), "the name is given twice", "add what distinguishes the two")
        if plain and number_in(plain) is not None:
            document.say((*path, "name"), "is a number, which would be taken for that of a tester", "write a name, or leave it out")
        names.add(plain)
        for at, pad in enumerate(one.pads or ()):
            if known is not None and pad not in known:
                near = nearest_name(pad, known)
                remedy = f"did you mean {near}?" if near else f"the project's pads are {', '.join(known) or 'none yet'}"
                document.say((*path, "pads", at), f"there is no pad {pad!r}", remedy)


def remove_tester(folder: Path, number: int) -> tuple[bool, str]:
    """Take a tester out of the list, whose other lines stay as they are; return whether that was done, and a line that says so.

    Comments that touch the entry go with it. Where the file is laid out so that the entry cannot be cut out as whole lines,
    nothing is changed, and the line says what is left to do by hand.
    """
    data = read_whole(folder / LIST, LIST, TOML_BYTES, folder)
    document = read_document(folder / LIST, LIST, folder)
    entries = document.data["tester"]
    rank = next(at for at, one in enumerate(entries) if one["number"] == number)
    line = document.lines.get(("tester", rank), document.lines[("tester",)])
    lines = data.decode("utf-8-sig").splitlines(keepends=True)
    start = _first_line(lines, line - 1)
    after = document.lines.get(("tester", rank + 1))
    end = _last_line(lines, line - 1, _first_line(lines, after - 1) if after else len(lines))
    kept = "".join([*lines[:start], *lines[end:]])
    wanted = [one for at, one in enumerate(entries) if at != rank]
    if not lines[line - 1].lstrip().startswith("[[") or _entries(kept) != wanted:
        return False, f"{LIST}, line {line}: remove the entry of {label_of(number)} by hand; until then builds make their packet again."
    mark = data[:3] if data.startswith(b"\xef\xbb\xbf") else b""
    write_bytes(folder / LIST, mark + kept.encode())
    return True, f"testers.toml: the entry of {label_of(number)}, {_line_text(start + 1, end)}"


def _line_text(first: int, last: int) -> str:
    return f"lines {first} to {last}" if last > first else f"line {first}"


def _first_line(lines: list[str], header: int) -> int:
    """Return where an entry begins: comments that touch its header are about it, and may name the person."""
    while header > 0 and lines[header - 1].lstrip().startswith("#"):
        header -= 1
    return header


def _last_line(lines: list[str], header: int, end: int) -> int:
    """Return where an entry ends that another follows at ``end``: comments apart from it, by an empty line, are not about it."""
    last = end
    while last > header + 1 and lines[last - 1].strip()[:1] in ("", "#"):
        last -= 1
    while last < end and lines[last].strip():
        last += 1
    return last + 1 if last < end else last


def _entries(text: str) -> list | None:
    try:
        return parse_document(text, LIST).data.get("tester", [])
    except ProjectError:
        return None


def remove_packets(build: Path, number: int) -> list[str]:
    """Remove a tester's packet, page, notes, marks and kit from a build folder; return lines that say so."""
    own = sorted((build / WORK / TESTERS).glob(f"{file_part(number)}-*"))
    found = [*own, *(build / KITS).glob(f"*-{file_part(number)}.zip")]
    for path in found:
        path.unlink()
    return [f"build/{path.relative_to(build).as_posix()}: their own {_word(path)}" for path in found]


def _word(path: Path) -> str:
    return _OWN.get(path.suffix) or path.stem.rpartition("-")[2]
