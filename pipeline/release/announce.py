"""The announcement of a build: texts to paste where testers are, from the words and values of the packet."""

from __future__ import annotations

import datetime
import re
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.joints.map import ASSETS, read_map
from pipeline.packet.content.content import packet_content
from pipeline.packet.content.filled import Wording
from pipeline.plain.files import read_json, write_bytes
from pipeline.project.wording import MessageFile, read_wording

LONGEST = 500  # characters of the short text
_MARKS = re.compile(r"([\\`*_{}\[\]<>#|~])")  # what a text must not mean in Markdown (CommonMark 0.31, 2.4)
_LIST = re.compile(r"(\d*)([-+.)])")  # a first word that would begin a list (5.2)


class Section(NamedTuple):
    """A heading and what is under it: paragraphs, then points."""

    heading: str
    lines: list[str]
    points: list[str]


def write_announcement(
    map_file: Path,
    wording: MessageFile,
    spec: dict[str, Any],
    date: datetime.date | None,
    console: str,
    manifest: Path,
    outs: dict[str, Path],
    changes_file: Path | None = None,
    boot_screen: bool = True,
) -> str:
    """Write the announcement in three forms; return the plain one, and where the others are.

    Args:
        map_file: ``map.json`` of the build.
        spec: the project's records by table, as the packet gets them.
        console: name of the target.
        manifest: ``kit.json``, which names the kit.
        outs: ``text`` (plain), ``markdown`` and ``short`` (at most ``LONGEST`` characters) -> file.
        changes_file: ``changes.json``; None without a ledger.
        boot_screen: whether the game has a boot notice.

    Raises:
        ProjectError: the wording is not whole, or a file cannot be written.
    """
    changes = read_json(changes_file) if changes_file else None
    messages = read_wording(wording)
    values = packet_content(spec, read_map(map_file).image, date, console, changes=changes, numbers=messages.numbers)
    kit, sha256 = next(iter(read_json(manifest)["files"].items()))
    words = Wording(messages, values | {"boot_screen": boot_screen})
    title, sections = words.text("announce.title"), announcement(values, words, kit, sha256)
    forms = {"text": plain(title, sections), "markdown": markdown(title, sections), "short": short(title, values, words, kit)}
    for form, text in forms.items():
        write_bytes(outs[form], text.encode())
    files = ", ".join(f"build/{outs[form].name}" for form in forms)
    return f"{forms['text']}\n{len(forms['short']):,} of {LONGEST} characters in the short form. To paste: {files}"


def announcement(values: dict[str, Any], words: Wording, kit: str, sha256: str) -> list[Section]:
    """Return what is new, what to test, how to get and check the build, where to report and until when; empty sections are left out."""
    new = values["changes"]["words"] if values["changes"] else []
    points = _changed(values["changes"], words) if values["changes"] else values["included"]
    retest = [words.text("announce.retest", names=", ".join(one["id"] for one in values["retest"]))] if values["retest"] else []
    get = words.text("announce.get", kit=kit) if values["download"] else words.text("announce.ask", kit=kit)
    check = [words.text("announce.sum", kit=kit, kit_sum=sha256), words.text("announce.code")]
    report = [f"{words.text(f'first.{key}')}: {values[key]}" for key in ("feedback", "bugs")]
    days = [words.text(f"test.{key}") for key, day in (("until", "deadline"), ("expires", "expires")) if values[day]]
    thanks = [words.text("thanks.note", names=words.listed(values["thanks"]))] if values["thanks"] else []
    sections = [
        Section("", [one for one in (values["summary"], words.text("announce.caution")) if one], []),
        Section(words.text("announce.new"), new, points),
        Section(words.text("announce.test"), [], [*values["test"], *values["tasks"], *retest]),
        Section(words.text("announce.how"), [get, *check], []),
        Section(words.text("announce.report"), days, report),
        Section(words.text("thanks.heading"), thanks, []),
    ]
    if values["placeholders"]:
        sections[4].lines.append(words.text("announce.placeholders"))
    return [one for one in sections if any(one.lines) or any(one.points)]


def _changed(changes: dict[str, Any], words: Wording) -> list[str]:
    named = {key: [one["name"] for one in changes[key]] for key in ASSETS} | {"fixed": changes["fixed"]}
    return [f"{words.text(f'changes.{key}')}: {', '.join(names)}" for key, names in named.items() if names]


def plain(title: str, sections: list[Section]) -> str:
    """Return the announcement as plain text; a line is a paragraph or a point."""
    parts = [title]
    for one in sections:
        head = [one.heading.upper()] if one.heading else []
        parts.append("\n".join([*head, *one.lines, *(f"* {text}" for text in one.points)]))
    return "\n\n".join(parts) + "\n"


def markdown(title: str, sections: list[Section]) -> str:
    """Return the announcement as Markdown; links are left as they are, which all renderers turn into links."""
    parts = [f"# {_escaped(title)}"]
    for one in sections:
        parts += [f"## {_escaped(one.heading)}"] if one.heading else []
        parts += [_escaped(text) for text in one.lines]
        parts += ["\n".join(f"- {_escaped(text)}" for text in one.points)] if one.points else []
    return "\n\n".join(parts) + "\n"


def _escaped(text: str) -> str:
    first, *others = [word if "://" in word else _MARKS.sub(r"\\\1", word) for word in text.split()] or [""]
    return " ".join([_LIST.sub(r"\1\\\2", first) if _LIST.fullmatch(first) else first, *others])


def short(title: str, values: dict[str, Any], words: Wording, kit: str) -> str:
    """Return a text of at most ``LONGEST`` characters: what matters most comes in first, and what does not fit is left out."""
    changes = values["changes"]
    lines = {
        "title": title,
        "new": (changes["words"] or _changed(changes, words) or [""])[0] if changes else values["summary"],
        "test": next(iter([*values["test"], *values["tasks"]]), ""),
        "get": words.text("announce.get", kit=kit) if values["download"] else words.text("announce.ask", kit=kit),
        "code": words.text("announce.code"),
        "until": words.text("test.until") if values["deadline"] else "",
        "caution": words.text("announce.caution_short"),
    }
    kept: dict[str, str] = {}
    for key in ("title", "caution", "code", "get", "until", "test", "new"):
        if lines[key] and sum(len(text) + 1 for text in (*kept.values(), lines[key])) <= LONGEST:
            kept[key] = " ".join(lines[key].split())
    return "\n".join(kept[key] for key in lines if key in kept) + "\n"
