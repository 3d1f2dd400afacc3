"""What the packet cannot set, found before any packet is made: the same that making one would refuse."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.joints.places import Sources
from pipeline.packet.typeset.letters import check_letters, check_words
from pipeline.packet.typeset.text import load_wording
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_json
from pipeline.plain.sizes import counted
from pipeline.plain.versions import precedence
from pipeline.project.wording import MessageFile, read_wording
from pipeline.project.words import read_words


def write_letters(
    written: Sources, words: Sources, wording: MessageFile, spec: dict[str, Any], console: str, since: str, version: str, out: Path
) -> str:
    """Write ``{"faults": [text, ...]}``: every text with a character that the packet's fonts lack; return one line about it.

    Args:
        written: the project file and the file of known issues, read again only to name the lines.
        words: the author's words about versions, where there are some.
        wording: the message file of the packet's language.
        spec: the project's records by table.
        console: name of the target.
        since: the oldest release that a packet compares with; empty for none, and then no words are shown.
        version: of the game.
    """
    shown = [one for name, paragraphs in read_words(words.folder).items() if _between(since, name, version) for one in paragraphs]
    faults: list[str] = []
    for check in (
        lambda: check_letters(written, spec, console),
        lambda: check_words(shown),
        lambda: load_wording(read_wording(wording), {"phase": spec["game"].phase}),
    ):
        try:
            check()
        except ProjectError as error:
            faults += [f"{one.file}{', ' + one.place if one.place else ''}: {one.wrong}" for one in error.problems]
    write_json(out, {"faults": faults})
    return f"{counted(len(faults), 'text')} that the packet cannot set" if faults else "the packet can set every text"


def _between(since: str, name: str, version: str) -> bool:
    return bool(since) and precedence(since) < precedence(name) <= precedence(version)
