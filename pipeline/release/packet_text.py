"""The packet's fixed wording: read from a template file, checked whole, filled in with plain values."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from pipeline.checked import Document, read_document
from pipeline.errors import ProjectError, nearest_name
from pipeline.release.packet_letters import say_letter, texts_of, unknown_letter
from pipeline.release.told import clean
from pipeline.rendering import render_text, template_file
from pipeline.shipped import TEMPLATES

WORDING = "packet.en.toml"
_SHOWN = f"templates/{WORDING}"
# Values that only some texts are given.
_LATER = {"page": 1, "pages": 1, "count": "1", "size": "1 B", "name": "a", "before": "1 B", "now": "1 B", "names": "A-1"}
_LATER |= {"since": "0.1.0", "since_build": "000000", "since_date": ""}
_LATER |= {"tester": "T1", "own": "1", "head": "a", "value": "b", "task": "1"}
_KINDS = {"text": "a text", "texts": "a list of texts", "pairs": "a list of pairs of texts"}


def mark(text: str) -> str:
    """Return a text as paragraph markup that shows just that text."""
    return escape(clean(text)).replace("\n", "<br/>")


class Wording:
    """The wording of one packet; keys are written ``table.key``."""

    def __init__(self, tables: dict[str, dict[str, Any]], values: dict[str, Any]) -> None:
        self.tables = tables
        self.values = values

    def text(self, key: str, **more: Any) -> str:
        """Return one text, filled in, as plain text."""
        return self._fill(self._raw(key), more)

    def texts(self, key: str) -> list[str]:
        """Return a list of texts, filled in; empty ones are left out."""
        return [text for text in (self._fill(raw, {}) for raw in self._raw(key)) if text]

    def pairs(self, key: str) -> list[tuple[str, str]]:
        """Return a list of (name, text), filled in."""
        return [(self._fill(name, {}), self._fill(text, {})) for name, text in self._raw(key)]

    def _raw(self, key: str) -> Any:
        table, _, name = key.partition(".")
        return self.tables[table][name]

    def _fill(self, raw: str, more: dict[str, Any]) -> str:
        return clean(render_text(raw, _SHOWN, {**self.values, **more}))


def load_wording(folder: Path, values: dict[str, Any]) -> Wording:
    """Read a project's own wording, or the shipped one.

    Args:
        folder: the project folder.
        values: what the texts may name; ``phase`` is replaced by its word in the packet's language.

    Raises:
        ProjectError: not TOML, keys missing, unknown or of another kind, values that are not there, or characters the fonts
            lack; all are named.
    """
    document = read_document(template_file(folder, WORDING), _SHOWN)
    shipped = tomllib.loads((TEMPLATES / WORDING).read_text(encoding="utf-8"))
    _compare(document, shipped)
    document.finish()
    for path, text in texts_of(document.data):
        _check_text(document, path, text, {**_LATER, **values})
    document.finish()
    phase = document.data["phase"][values["phase"]]
    return Wording(document.data, {**values, "phase": phase})


def _check_text(document: Document, path: tuple, text: str, values: dict[str, Any]) -> None:
    letter = unknown_letter(text)
    if letter:
        say_letter(document, path, text, letter)
    try:
        # All at once and here: raised while a page is drawn, an error would lose its words in the library.
        render_text(text, _SHOWN, values)
    except ProjectError as error:
        document.say(path, error.problems[0].wrong, "correct the text, or copy it from the shipped file")


def _compare(document: Document, shipped: dict[str, dict[str, Any]]) -> None:
    """Note where a wording has not just the tables and keys of the shipped one."""
    for name, table in shipped.items():
        own = document.data.get(name, {})
        if not isinstance(own, dict):
            document.say((name,), f"expected a table, saw {own!r}", f"write it as [{name}] with keys")
            continue
        for key, value in table.items():
            _compare_key(document, (name, key), own, value)
        _say_unknown(document, (name,), own, table)
    _say_unknown(document, (), document.data, shipped)


def _compare_key(document: Document, path: tuple[str, str], own: dict[str, Any], model: Any) -> None:
    wanted = _kind(model)
    if path[1] not in own:
        document.say(path, f"the key {'.'.join(path)} is missing", f"add it: {_KINDS[wanted]}; the shipped {_SHOWN} has one to copy")
    elif own[path[1]] != [] and _kind(own[path[1]]) != wanted or own[path[1]] == [] and wanted == "text":
        document.say(path, f"expected {_KINDS[wanted]}, saw {own[path[1]]!r}", f"write it as in the shipped {_SHOWN}")


def _kind(value: Any) -> str:
    if isinstance(value, str):
        return "text"
    if isinstance(value, list) and all(isinstance(one, str) for one in value):
        return "texts"
    if isinstance(value, list) and all(_is_pair(one) for one in value):
        return "pairs"
    return "other"


def _is_pair(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(isinstance(one, str) for one in value)


def _say_unknown(document: Document, path: tuple, own: dict[str, Any], known: dict[str, Any]) -> None:
    for key in own:
        if key not in known:
            near = nearest_name(key, known)
            document.say((*path, key), f"unknown key {key!r}", f"did you mean {near}?" if near else "remove it: nothing reads it")
