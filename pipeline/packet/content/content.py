"""What a tester reads, as plain values: one reading of the project and the map for the packet and the notes."""

from __future__ import annotations

import datetime
import functools
import unicodedata
from collections.abc import Callable
from pathlib import PurePath
from typing import Any

from pipeline.joints.links import report_link, with_build
from pipeline.joints.map import ASSETS, MappedImage
from pipeline.plain.sizes import ENGLISH, Numbers
from pipeline.project.file import SEVERITIES
from pipeline.project.issues import issue_title, open_issues, to_retest
from pipeline.project.pad_shapes import read_place, used_buttons

_UNSEEN = ("palette", "pool", "lists")  # a tester sees them only in the pictures that use them, and those are listed
NOT_POSSIBLE = "-"  # what a pad cannot do


def kit_stem(code: str, version: str, build_code: str) -> str:
    """Return the name every file of a kit begins with, such as ``HREL-0.4.0-S6AREG``."""
    return f"{code}-{version}-{build_code}"


@functools.lru_cache(maxsize=1 << 12)  # every text of a packet is set twice, and most are cleaned more than once before
def clean(text: str) -> str:
    """Return a text as it can be set: letters composed (Unicode NFC), no control or format characters, plain newlines."""
    plain = unicodedata.normalize("NFC", text).replace("\r\n", "\n").replace("\t", " ")
    for line_end in ("\r", "\u2028", "\u2029", "\v", "\f"):
        plain = plain.replace(line_end, "\n")
    return "".join(char for char in plain if char == "\n" or unicodedata.category(char) not in ("Cc", "Cf")).strip()


def packet_content(
    spec: dict[str, Any],
    image: MappedImage,
    date: datetime.date | None,
    console: str,
    image_name: str = "",
    changes: dict[str, Any] | None = None,
    tester: str = "",
    numbers: Numbers = ENGLISH,
) -> dict[str, Any]:
    """Return everything testers read, cleaned, links with the build code filled in, issues sorted.

    Args:
        spec: the project's records by table: game, links, pad, control, issue, contents, instructions, plan, caution.
        image: as ``map.json`` describes it.
        date: of the build, or None.
        console: name of the target.
        image_name: the image's file name in the build folder; left out: as the build names it.
        changes: content of ``changes.json``; None where no release comes before.
        tester: number that the links carry, such as T3; empty for what everybody gets.
        numbers: how sizes are written.
    """
    build = image.build_code
    contents, instructions = spec["contents"], spec["instructions"]
    return {
        **_game(spec["game"], build, image_name),
        "build": build,
        "marked": bool(spec["game"].mark and tester),
        "date": _day(date),
        "deadline": _day(spec["game"].deadline),
        "expires": _day(spec["game"].expires),
        "console": clean(console),
        "bytes": image.bytes,
        "used": image.used,
        "crc32": image.crc32,
        "sha256": image.sha256,
        **_links(spec["links"], build, tester),
        "included": _each(contents.included),
        "missing": _each(contents.missing),
        "run": _each(instructions.run),
        "test": _each(instructions.test),
        "tasks": _each([task.text for task in spec["plan"].task]),
        "cautions": _each([*instructions.cautions, *spec.get("caution", [])]),
        "thanks": _each(instructions.thanks),
        "pads": [clean(pad.name) for pad in spec["pad"].values()],
        "pad_drawings": pads_content(spec["pad"], spec["control"], clean),
        "controls": [_control(control, spec["pad"]) for control in spec["control"]],
        "issues": [_issue(issue) for issue in by_severity(open_issues(spec["issue"]))],
        "retest": [_issue(issue) for issue in by_severity(to_retest(spec["issue"], spec["game"].version))],
        "changes": _changes(changes, numbers) if changes else None,
    }


def by_severity(issues: list) -> list:
    """Return issues with the worst first; of the same severity by id, numbers in it by value."""
    return sorted(issues, key=lambda issue: (SEVERITIES.index(issue.severity), by_number(issue.id)))


def by_number(text: str) -> tuple:
    """Return a key that puts HR-2 before HR-10."""
    digits, parts = "", []
    for char in text + "\n":
        if char.isascii() and char.isdigit():
            digits += char
            continue
        if digits:
            plain = digits.lstrip("0")
            parts.append((0, len(plain), plain))  # by value, without a sum
        digits = ""
        parts.append((1, 0, char))
    return (*parts, text)


def _day(date: datetime.date | None) -> str:
    return date.isoformat() if date else ""


def _game(game, build: str, image_name: str) -> dict[str, str]:
    image_name = image_name or f"{game.code.lower()}.rom"
    words = {key: clean(getattr(game, key)) for key in ("title", "code", "version", "phase", "author", "summary")}
    return words | {
        "language": game.language,
        "built_as": image_name,
        "image_file": kit_stem(game.code, game.version, build) + PurePath(image_name).suffix,
        "packet_file": kit_stem(game.code, game.version, build) + "-packet.pdf",
        "page_file": kit_stem(game.code, game.version, build) + "-packet.html",
    }


def _links(links, build: str, tester: str) -> dict[str, Any]:
    more = [{"label": clean(label), "link": with_build(link, build, tester)} for label, link in links.more.items()]
    both = {"feedback": report_link(links.feedback, build, tester), "bugs": report_link(links.bugs, build, tester)}
    download = with_build(links.download, build, tester)
    numbered = both["feedback"] != report_link(links.feedback, build, "") or both["bugs"] != report_link(links.bugs, build, "")
    return {**both, "download": download, "more": more, "placeholders": links.placeholders, "tester": tester, "numbered": numbered}


def _changes(changes: dict[str, Any], numbers: Numbers) -> dict[str, Any]:
    plain = changes_content(changes, numbers)
    return plain | {"words": _each(plain["words"])}


def _each(texts: list[str]) -> list[str]:
    return [text for text in map(clean, texts) if text]


def _control(control, pads: dict) -> dict[str, Any]:
    buttons = [clean(control.buttons.get(pad, "")) or NOT_POSSIBLE for pad in pads]
    return {"action": clean(control.action), "buttons": buttons}


def _issue(issue) -> dict[str, Any]:
    texts = {key: clean(getattr(issue, key)) for key in ("id", "title", "severity", "where", "what", "workaround")}
    return texts | {"name": clean(issue_title(issue)), "since": issue.since or "", "reproduce": _each(issue.reproduce)}


def changes_content(changes: dict[str, Any], numbers: Numbers = ENGLISH) -> dict[str, Any]:
    """Return the changes for packet, notes and report.

    Args:
        changes: content of ``changes.json``; see ``release.differences``.
        numbers: how sizes are written.

    Returns:
        since, date, build: of the release compared with; words: texts; image: before and now, as sizes; added, removed,
        changed, recoloured, renamed: for each asset name, was (its name before), kind, before and now, as sizes or empty, and
        pictures, as ``changes.json`` has them; timing, anchors, controls, contents, settled: as there; fixed, new, again: ids.
    """
    since = changes["since"]
    return {
        "since": since["version"],
        "date": since["date"],
        "build": since["build_code"],
        "words": [one["text"] for one in changes["words"]],
        "image": {key: numbers.size(changes["image"][key]) for key in ("before", "now")},
        **{key: [_asset(one, numbers) for one in changes[key] if one["kind"] not in _UNSEEN] for key in ASSETS},
        **{key: changes[key] for key in ("timing", "anchors", "controls", "contents", "settled", "fixed", "new", "again")},
    }


def _asset(one: dict[str, Any], numbers: Numbers) -> dict[str, Any]:
    before, now = (numbers.size(one[key]) if one[key] is not None else "" for key in ("before", "now"))
    if before == now and one["before"] != one["now"]:
        before, now = (numbers.exact(one[key]) for key in ("before", "now"))
    return {"name": one["name"], "was": one["was"], "kind": one["kind"], "before": before, "now": now, "pictures": one["pictures"]}


def pads_content(pads: dict[str, Any], controls: list[Any], clean: Callable[[str], str]) -> list[dict[str, Any]]:
    """Return the pads whose buttons have places.

    Args:
        pads: the project's pads by name.
        controls: the project's controls.
        clean: what makes an author's text one that can be set.

    Returns:
        For each pad ``name``, ``columns``, ``rows`` and ``buttons``, each ``name``, ``shape``, ``box`` (left, top, right, bottom in
        columns and rows from the face's top left) and ``does``: what it does, alone or, after ``+``, together with others.
    """
    return [_pad(name, pad, controls, clean) for name, pad in pads.items() if isinstance(pad.buttons, dict) and pad.buttons]


def _pad(name: str, pad: Any, controls: list[Any], clean: Callable[[str], str]) -> dict[str, Any]:
    buttons = []
    for button, text in pad.buttons.items():
        place = read_place(text)
        box = [(edge - 1) / 2 for edge in place.box]
        does = [clean(text) for text in _does(button, name, controls)]
        buttons.append({"name": clean(button), "shape": place.shape, "box": box, "does": list(dict.fromkeys(does))})
    return {"name": clean(pad.name), "columns": pad.grid[0], "rows": pad.grid[1], "buttons": buttons}


def _does(button: str, pad: str, controls: list[Any]) -> list[str]:
    texts = []
    for control in controls:
        for way in used_buttons(control.buttons.get(pad, "")):
            if button in way:
                others = [other for other in way if other != button]
                texts.append(f"+ {' + '.join(others)}: {control.action}" if others else control.action)
    return texts
