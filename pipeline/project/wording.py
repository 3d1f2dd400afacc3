"""The fixed wording of packet and notes: which message file a project's language takes, and whether that file is whole.

A message file is ``templates/packet.TAG.toml``, TAG a language tag of BCP 47 (RFC 5646). The one used is found by lookup as RFC 4647,
section 3.4, describes it: the whole tag, then ever fewer of its subtags; among the project's own files first, then among the
shipped ones. Case does not count.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.plain.checked import Document, read_document
from pipeline.plain.errors import Problem, ProjectError, nearest_name
from pipeline.plain.rendering import Template, find_template, simple_parts
from pipeline.plain.shipped import TEMPLATES
from pipeline.plain.sizes import Numbers

MODEL = "packet.en.toml"  # what every message file is compared with
# Values that every text may name; others only where the English text of the same key names them.
VALUES = (
    "title", "code", "version", "phase", "build", "date", "author", "summary", "console", "image_file", "built_as", "packet_file",
    "page_file", "deadline", "expires",
    "feedback", "bugs", "download", "bytes", "used", "crc32", "sha256", "boot_screen", "language", "tester",
)  # fmt: skip
_BEFORE, _AFTER = "packet.", ".toml"
_NAMELESS = f"{_BEFORE[:-1]}{_AFTER}"  # as it was called when there was one for all languages
_KINDS = {"text": "a text", "texts": "a list of texts", "pairs": "a list of pairs of texts"}


@dataclass(frozen=True)
class Messages:
    """The content of a message file, whole.

    Attributes:
        shown: its name as the author knows it.
        document: to note further problems in.
        numbers: how whole numbers and sizes are written.
    """

    shown: str
    document: Document
    numbers: Numbers

    @property
    def tables(self) -> dict[str, dict[str, Any]]:
        """Table -> key -> text, list of texts, or list of pairs of texts."""
        return self.document.data


def lookup_order(tag: str) -> list[str]:
    """Return a language tag and the shorter ones to fall back on, by RFC 4647, section 3.4.

    A subtag of one letter or digit goes together with the next one.
    """
    parts, order = tag.split("-"), []
    while parts:
        order.append("-".join(parts))
        parts.pop()
        while parts and len(parts[-1]) == 1:
            parts.pop()
    return order


def wording_name(folder: Path, language: str) -> str | None:
    """Return the name of the message file a project's language takes, such as ``packet.de.toml``; None if there is none."""
    for files in (_files(folder / "templates"), _files(TEMPLATES)):
        for tag in lookup_order(language.lower()):
            if tag in files:
                return files[tag][0]
    return None


@dataclass(frozen=True)
class MessageFile:
    """The message file of a language.

    Attributes:
        template: the file.
        model: the shipped one that a project's own is compared with; None for a shipped one.
    """

    template: Template
    model: Path | None


def find_wording(folder: Path, language: str) -> MessageFile:
    """Return the message file of a language, the project's own before the shipped one.

    Raises:
        ProjectError: there is none.
    """
    name = wording_name(folder, language)
    if name is None:
        raise ProjectError(Problem("project.toml", "[game] language", *_no_wording(folder, language)))
    template = find_template(folder, name)
    return MessageFile(template, None if template.shipped else TEMPLATES / MODEL)


def read_wording(found: MessageFile, folder: Path | None = None) -> Messages:
    """Read a message file.

    Args:
        folder: of the project, which its own file must not lead out of; None where that has been looked at.

    Raises:
        ProjectError: it is not TOML, or keys are missing, unknown or of another kind, or name values there are not;
            all are reported.
    """
    template = found.template
    document = read_document(template.file, f"templates/{template.name}", None if template.shipped else folder)
    if found.model is not None:
        _compare(document, _model())
        document.finish()
        _check_names(document)
        document.finish()
    return Messages(document.shown, document, Numbers(**document.data["numbers"]))


def check_wording(document: Document, folder: Path, language: str) -> None:
    """Note among the problems of a project file that its language has no wording, and what is wrong with its own."""
    own = _files(folder / "templates")
    if (folder / "templates" / _NAMELESS).is_file():
        wrong, remedy = "is no longer read: each language has its own file", f"rename it to {_BEFORE}{language}{_AFTER}, or remove it"
        document.problems.append(Problem(f"templates/{_NAMELESS}", "", wrong, remedy))
    for tag, names in own.items():
        if len(names) > 1:
            wrong = f"there are {len(names)} of {tag}: {', '.join(names)}"
            document.problems.append(Problem("templates", "", wrong, "keep one: the case of a language tag does not count"))
    name = wording_name(folder, language)
    if name is None:
        document.say(("game", "language"), *_no_wording(folder, language))
    elif any(name in names for names in own.values()):
        try:
            read_wording(find_wording(folder, language), folder)
        except ProjectError as error:
            document.problems.extend(error.problems)


def names_in(value: Any) -> set[str]:
    """Return the names of all values that a text, or the texts of a list, are filled in with.

    Raises:
        jinja2.TemplateSyntaxError: a text is not a template, or says more than such a text may.
    """
    return {name for text in _texts(value) for name in _names_in_one(text)}


def _names_in_one(text: str) -> Iterable[str]:
    parts = simple_parts(text)
    if parts is not None:
        return parts[1::2]
    from pipeline.plain.template_language import text_of_messages

    return text_of_messages(text)[1]


def _files(folder: Path) -> dict[str, list[str]]:
    """Return tag in small letters -> names of the message files in a folder."""
    found: dict[str, list[str]] = {}
    for path in sorted(folder.glob(f"{_BEFORE}*{_AFTER}")):
        tag = path.name[len(_BEFORE) : -len(_AFTER)].lower()
        if tag and path.is_file():
            found.setdefault(tag, []).append(path.name)
    return found


def _no_wording(folder: Path, language: str) -> tuple[str, str]:
    """Return what is wrong with a language that has no message file, and the remedy."""
    known = ", ".join(sorted({*_files(folder / "templates"), *_files(TEMPLATES)}))
    new = f"{_BEFORE}{lookup_order(language)[-1]}{_AFTER}"
    remedy = f"choose another language, or copy {MODEL}, which comes with the tool, to templates/{new} in the project and translate it"
    return f"the packet has no wording in {language!r}, only in {known}", remedy


@functools.cache
def _model() -> dict[str, dict[str, Any]]:
    return tomllib.loads((TEMPLATES / MODEL).read_text(encoding="utf-8"))


def _compare(document: Document, model: dict[str, dict[str, Any]]) -> None:
    """Note where a message file has not just the tables and keys of the English one."""
    for name, table in model.items():
        own = document.data.get(name, {})
        if not isinstance(own, dict):
            document.say((name,), f"expected a table, saw {own!r}", f"write it as [{name}] with keys")
            continue
        for key, value in table.items():
            _compare_key(document, (name, key), own, value)
        _say_unknown(document, (name,), own, table)
    _say_unknown(document, (), document.data, model)


def _compare_key(document: Document, path: tuple[str, str], own: dict[str, Any], model: Any) -> None:
    wanted = kind_of(model)
    if path[1] not in own:
        wrong = f"the key {'.'.join(path)} is missing"
        document.say(path, wrong, f"add it: {_KINDS[wanted]}; the shipped {MODEL} has one to copy")
    elif own[path[1]] != [] and kind_of(own[path[1]]) != wanted or own[path[1]] == [] and wanted == "text":
        document.say(path, f"expected {_KINDS[wanted]}, saw {own[path[1]]!r}", f"write it as in the shipped {MODEL}")


def kind_of(value: Any) -> str:
    """Return what a key of a message file holds: text, texts, pairs or other."""
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


def _check_names(document: Document) -> None:
    """Note texts that are not templates, and those that name a value which is not there for them."""
    import jinja2

    for table, keys in document.data.items():
        for key, value in keys.items():
            known = {*VALUES, *names_in(_model()[table][key])}
            try:
                unknown = sorted(names_in(value) - known)
            except jinja2.TemplateSyntaxError as error:
                document.say((table, key), str(error.message), f"correct the text, or copy it from the shipped {MODEL}")
                continue
            for name in unknown:
                near = nearest_name(name, known)
                remedy = f"did you mean {near}?" if near else f"this text may name {', '.join(sorted(known))}"
                document.say((table, key), f"there is no value {name!r} for this text", remedy)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    else:
        for part in value:
            yield from _texts(part)
