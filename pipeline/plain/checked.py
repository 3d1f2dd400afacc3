"""Strict reading of a TOML file into records: every error of the file at once, each with its line and a remedy."""

from __future__ import annotations

import datetime
import functools
import hashlib
import tomllib
import types
import typing
from pathlib import Path as FilePath
from typing import Any, TypeVar, get_args, get_origin

import msgspec

from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import TOML_BYTES
from pipeline.plain.errors import Problem, ProjectError, nearest_name, refuse
from pipeline.plain.toml.limits import LEVELS, excess, excess_before_reading, numbers_too_large, too_deep
from pipeline.plain.toml.lines import Path, line_map
from pipeline.plain.written import Record, metadata, reader, written_fields

_MOST_PROBLEMS = 300  # of one file; a file with more is looked at no further
_SIMPLER = "no key of this tool needs that much; see the reference of this file in pipeline/guide"
_WORDS = {str: "text", int: "a whole number", float: "a number", bool: "true or false", datetime.date: "a date", dict: "a table"}


Kind = TypeVar("Kind", bound=Record)


class Document:
    """One TOML file: its data, the line of each part, and the problems found in it so far.

    Attributes:
        paths: the place of each problem.
        broken: names of parts left out after a first look, so that later checks do not call them missing.
        sha256: of the bytes that were read, in hex; empty for a text of no file.
        most: problems after which the file is looked at no further.
    """

    most = _MOST_PROBLEMS
    sha256 = ""

    def __init__(self, shown: str, data: dict[str, Any], text: str = "") -> None:
        self.shown = shown
        self.data = data
        self._text = text
        self.broken: set[str] = set()
        self.problems: list[Problem] = []
        self.paths: list[Path] = []

    @functools.cached_property
    def lines(self) -> dict[Path, int]:
        """Line of each part, from 1; found out only when a problem or an edit asks, which takes as long as reading the file."""
        return line_map(self._text)

    def place(self, path: Path) -> str:
        """Return ``line 12, [sprite.ada] scale`` for a path; a missing part is placed at its nearest owner."""
        owner = path
        while owner and owner not in self.lines:
            if owner in self._owners:
                return self._full_place(f"line {self._owners[owner]}", path)
            owner = owner[:-1]
        return self._full_place(f"line {self.lines[owner]}" if owner in self.lines else "", path)

    @functools.cached_property
    def _owners(self) -> dict[Path, int]:
        """First line of each table that is named only in its parts: [a.b] without [a]."""
        found: dict[Path, int] = {}
        for known, line in self.lines.items():
            for owner in (known[:length] for length in range(1, len(known))):
                found[owner] = min(line, found.get(owner, line))
        return found

    def _full_place(self, line: str, path: Path) -> str:
        table, key = _table_and_key(path, self.data)
        return ", ".join(part for part in (line, f"{table} {key}".strip()) if part)

    def say(self, path: Path, wrong: str, remedy: str) -> None:
        """Note a problem at a path; ``finish`` raises them all together.

        Raises:
            ProjectError: there are ``most`` of them now.
        """
        self.problems.append(Problem(self.shown, self.place(path), wrong, remedy))
        self.paths.append(path)
        if len(self.problems) >= self.most:
            self.finish()

    def finished(self, made: Kind | None) -> Kind:
        """Return what ``build`` has made of the file, once nothing in it is wrong.

        Raises:
            ProjectError: at least one problem was noted.
        """
        self.finish()
        if made is None:
            raise AssertionError("what could not be made has at least one problem")
        return made

    def finish(self) -> None:
        """Raise every problem noted, in the order of the file.

        Raises:
            ProjectError: at least one problem was noted.
        """
        if self.problems:
            raise ProjectError(sorted(self.problems, key=_line_of))


def read_document(path: FilePath, shown: str, within: FilePath | None = None) -> Document:
    """Read a TOML file.

    Args:
        path: the file.
        shown: its name as the author knows it, for messages.
        within: the folder that it must lie in when links are followed, if any.

    Raises:
        ProjectError: missing, no regular file, too large, not UTF-8, not TOML (with line and column from the standard reader),
            or beyond ``plain.toml.limits``.
    """
    try:
        content = read_whole(path, shown, TOML_BYTES, within)
        text = content.decode("utf-8-sig")  # some editors begin a file with a byte order mark
    except FileNotFoundError:
        raise refuse(shown, "", "there is no such file", "check the path, or make a project with: doit start") from None
    except UnicodeDecodeError as error:
        raise refuse(shown, f"byte {error.start}", "not UTF-8 text", "save the file as UTF-8") from None
    document = parse_document(text, shown)
    document.sha256 = hashlib.sha256(content).hexdigest()
    return document


def parse_document(text: str, shown: str) -> Document:
    """Return the document that a TOML text is; see ``read_document``."""
    _refuse_excess(excess_before_reading(text), shown)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, _, where = str(error).partition(" (at ")
        raise refuse(shown, where.rstrip(")"), f"not TOML: {what}", "correct the syntax there; see toml.io for the rules") from None
    except (RecursionError, ValueError, OverflowError) as error:
        _refuse_excess(excess(text), shown)
        raise refuse(shown, "", f"cannot be read: {error}", "look for numbers, dates or nested lists that make no sense") from None
    if too_deep(data):
        _refuse_excess(excess(text), shown)
        name = next(name for name, part in data.items() if too_deep({name: part}))
        raise refuse(shown, f"[{name}]", f"tables and lists nested more than {LEVELS} deep", _SIMPLER)
    document = Document(shown, data, text)
    for at, wrong in numbers_too_large(data):
        document.say(at, wrong, "write a number that makes sense there")
    document.finish()
    return document


def _refuse_excess(found: tuple[int, str] | None, shown: str) -> None:
    if found is not None:
        line, wrong = found
        raise refuse(shown, f"line {line}", wrong, _SIMPLER)


def build(document: Document, path: Path, value: Any, kind: type[Kind]) -> Kind | None:
    """Return ``value`` as a record of ``kind``, or None after noting every problem in it."""
    if not isinstance(value, dict):
        document.say(path, f"expected a table, saw {value!r}", "write it as a [table] with keys")
        return None
    fields = written_fields(kind)
    before = len(document.problems)
    for key in value:
        if key not in fields:
            _say_unknown(document, path, key, fields)
    made = {}
    for key, field in fields.items():
        if key in value:
            made[field.name] = _convert(document, (*path, key), value[key], field.type)
        elif field.required:
            document.say((*path, key), f"{key} is missing", _addition(key, field.type))
    if len(document.problems) > before:
        return None
    try:
        return kind(**made)
    except ValueError as error:
        document.say(path, str(error), "see the reference of this file in pipeline/guide")
        return None


def check_part(document: Document, path: Path, value: dict[str, Any], kind: type[Record]) -> dict[str, Any]:
    """Check a table that may give only some keys of ``kind`` (defaults); return its raw values that are right."""
    fields = written_fields(kind)
    right = {}
    for key, raw in value.items():
        before = len(document.problems)
        if key in fields:
            _convert(document, (*path, key), raw, fields[key].type)
        else:
            _say_unknown(document, path, key, fields)
        if len(document.problems) == before:
            right[key] = raw
    return right


def _say_unknown(document: Document, path: Path, key: str, fields: dict[str, Any]) -> None:
    near = nearest_name(key, fields)
    remedy = f"did you mean {near}?" if near else f"the keys here are {', '.join(sorted(fields))}"
    document.say((*path, key), f"unknown key {key!r}", remedy)


def _convert(document: Document, path: Path, value: Any, hint: Any) -> Any:
    bare = _without_meta(hint)
    options = _options(bare)
    record = next((option for option in options if isinstance(option, type) and issubclass(option, Record)), None)
    if record is not None and (isinstance(value, dict) or len(options) == 1):
        return build(document, path, value, record)
    for option in options:
        origin = get_origin(option)
        if origin is list and isinstance(value, list):
            inner = get_args(option)[0]
            if not _count_fits(value, hint):
                document.say(path, f"expected {describe(hint)}, saw {_show(value)}", _remedy(value, hint))
                return None
            return [_convert(document, (*path, rank), item, inner) for rank, item in enumerate(value)]
        if origin is dict and isinstance(value, dict):
            inner = get_args(option)[1]
            return {key: _convert(document, (*path, key), item, inner) for key, item in value.items()}
    try:
        plain = msgspec.convert(value, hint)
    except msgspec.ValidationError:
        document.say(path, f"expected {describe(hint)}, saw {_show(value)}", _remedy(value, hint))
        return None
    read = reader(hint)
    if read is None or plain is None:
        return plain
    try:
        return read(plain)
    except ValueError as error:
        wrong, _, remedy = str(error).partition("; ")
        document.say(path, wrong, remedy)
        return None


def _count_fits(value: list, hint: Any) -> bool:
    metas = _metas(hint)
    least = max((meta.min_length for meta in metas if meta.min_length is not None), default=0)
    most = min((meta.max_length for meta in metas if meta.max_length is not None), default=len(value))
    return least <= len(value) <= most


def describe(hint: Any) -> str:
    """Return a type in words, with its limits: ``a whole number, 1 to 256``."""
    for meta in _metas(hint):
        if meta.title and meta.pattern is None:
            return meta.title
    limits = _limits(hint)
    words = " or ".join(_word(option) for option in _options(_without_meta(hint)))
    return f"{words}, {limits}" if limits else words


def _word(option: Any) -> str:
    origin, arguments = get_origin(option), get_args(option)
    if origin is typing.Literal:
        return " or ".join(_toml(choice) for choice in arguments)
    if origin is list:
        return f"a list of {_plural(describe(arguments[0]))}"
    if origin is tuple:
        return f"a list of {len(arguments)}: " + ", ".join(describe(part) for part in arguments)
    if origin is dict:
        return f"a table of {_plural(describe(arguments[1]))}"
    if isinstance(option, type) and issubclass(option, Record):
        return "a table"
    return _WORDS.get(option, getattr(option, "__name__", str(option)))


def _plural(words: str) -> str:
    """Make ``a table`` into ``tables``, and ``a pair`` into ``pairs``; other words are left as they are."""
    return next((f"{noun}s{words[len(noun) + 2:]}" for noun in ("table", "pair") if words.startswith(f"a {noun}")), words)


def _limits(hint: Any) -> str:
    for meta in _metas(hint):
        if meta.ge is not None and meta.le is not None:
            return f"{meta.ge} to {meta.le}"
        if meta.gt is not None:
            return f"above {meta.gt}" + (f", at most {meta.le}" if meta.le is not None else "")
        if meta.ge is not None:
            return f"at least {meta.ge}"
        if meta.max_length is not None:
            return f"at most {meta.max_length} characters"
        if meta.pattern is not None:
            return meta.title or f"matching {meta.pattern}"
    return ""


def _remedy(value: Any, hint: Any) -> str:
    choices = [choice for option in _options(_without_meta(hint)) if get_origin(option) is typing.Literal for choice in get_args(option)]
    if choices:
        near = nearest_name(str(value), [str(choice) for choice in choices])
        return f"did you mean {_toml(near)}?" if near else "write one of those"
    if datetime.date in _options(_without_meta(hint)):
        return "write year, month and day without quotes, for example 2026-11-20"
    for meta in _metas(hint):
        if meta.examples:
            return f"for example: {_toml(meta.examples[0])}"
    return f"write {describe(hint)}"


def _addition(key: str, hint: Any) -> str:
    for meta in _metas(hint):
        if meta.examples:
            return f"add it, for example: {key} = {_toml(meta.examples[0])}"
    option = _options(_without_meta(hint))[0]
    if isinstance(option, type) and issubclass(option, Record):
        return f"add a [{key}] table"
    if get_origin(option) is typing.Literal and len(get_args(option)) == 1:
        return f"add {key} = {_toml(get_args(option)[0])}"
    return f"add {key}: {describe(hint)}"


def _toml(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def _metas(hint: Any) -> list[msgspec.Meta]:
    """Return what msgspec knows of a type and of the parts of an optional one, outermost first."""
    return [meta for meta in metadata(hint) if isinstance(meta, msgspec.Meta)]


def _without_meta(hint: Any) -> Any:
    return hint.__origin__ if hasattr(hint, "__metadata__") else hint


def _options(hint: Any) -> list[Any]:
    if get_origin(hint) in (typing.Union, types.UnionType):
        return [_without_meta(option) for option in get_args(hint) if option is not type(None)]
    return [hint]


def _show(value: Any) -> str:
    text = repr(value) if not isinstance(value, bool) else str(value).lower()
    return text if len(text) <= 60 else text[:57] + "..."


def _table_and_key(path: Path, data: Any) -> tuple[str, str]:
    """Split a path into the table as TOML writes it and the key in it."""
    split = len(path)
    node = data
    for rank, part in enumerate(path):
        node = _child(node, part)
        if not isinstance(node, dict) and not _is_table_list(node):
            split = rank
            break
    table, key = path[:split], path[split:]
    if split == len(path) and path and not isinstance(path[-1], int) and not isinstance(node, dict):
        table, key = path[:-1], path[-1:]
    return _brackets(table), _dotted(key)


def _child(node: Any, part: str | int) -> Any:
    try:
        return node[part]
    except (KeyError, IndexError, TypeError):
        return None


def _is_table_list(node: Any) -> bool:
    return isinstance(node, list) and bool(node) and all(isinstance(item, dict) for item in node)


def _brackets(table: Path) -> str:
    if not table:
        return ""
    if isinstance(table[-1], int):
        return f"[[{_dotted(table[:-1])}]] number {table[-1] + 1}"
    return f"[{_dotted(table)}]"


def _dotted(path: Path) -> str:
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _line_of(problem: Problem) -> int:
    digits = problem.place.removeprefix("line ").split(",")[0]
    return int(digits) if digits.isdigit() else 0
