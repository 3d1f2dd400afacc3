"""The plain-text notes of a kit: what it is, for someone without a PDF reader."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

from pipeline.joints.found.findings import read_cautions
from pipeline.joints.map import read_map
from pipeline.packet.content.changed import changed_lines
from pipeline.packet.content.content import packet_content
from pipeline.packet.content.filled import Wording
from pipeline.packet.content.found import found_texts
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.project.wording import MessageFile, read_wording


def write_notes(
    map_file: Path,
    template: Template,
    wording: MessageFile,
    spec: dict[str, Any],
    date: datetime.date | None,
    console: str,
    out: Path,
    changes_file: Path | None = None,
    boot_screen: bool = True,
    tester: str = "",
    cautions_file: Path | None = None,
) -> str:
    """Write the notes as UTF-8 text with plain line ends; return one line about them.

    Args:
        map_file: ``map.json`` of the build.
        spec: the project's records by table: game, links, pad, control, issue, contents, instructions, plan.
        date: shown when there is one.
        console: name of the target.
        changes_file: ``changes.json``; None without a ledger.
        boot_screen: whether the game has a boot notice.
        cautions_file: the cautions that testers read of what was found; None where nothing was looked for.
        tester: whose notes they are, such as T3; empty for what everybody gets.

    Raises:
        ProjectError: template or message file has a mistake, or the file cannot be written.
    """
    changes, image = read_json(changes_file) if changes_file else None, read_map(map_file).image
    messages = read_wording(wording)
    values = packet_content(spec, image, date, console, changes=changes, tester=tester, numbers=messages.numbers)
    words = Wording(messages, values | {"boot_screen": boot_screen})
    count = messages.numbers.count(image.bytes)
    changed = changed_lines(values["changes"], words) if values["changes"] else []
    bad, good = found_texts(read_cautions(cautions_file), words)
    more = {"say": words.text, "say_all": words.texts, "count": count, "changed": changed, "warned": bad, "measured": good}
    text = render(template, values | more)
    lines = [line.rstrip() for line in text.splitlines()]
    data = ("\n".join(lines).strip("\n") + "\n").encode()
    write_bytes(out, data)
    return f"{data.count(10)} lines, {len(data):,} bytes"
