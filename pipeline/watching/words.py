"""The words after ``watch``: which project, on which port, and what goes on to each build."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from pipeline.graph.front import NAME_A_PROJECT, folder_of
from pipeline.graph.words import wrong_words
from pipeline.plain.errors import BadAnswer, refuse, shown
from pipeline.project.model import PROJECT_FILE

_PORTS = range(1024, 65536)  # below, ports are the system's
_FOR_DOIT = ("-f", "-d")  # which file and folder doit is to use: it has done so already
_KNOWN = ("project", "commands", "why", "port")


class Asked(NamedTuple):
    """What the command line asks for.

    Attributes:
        folder: of the project; it has a project file.
        port: to serve on; 0 for a free one.
        words: for each build.
    """

    folder: Path
    port: int
    words: list[str]


def read_words(words: Sequence[str]) -> Asked:
    """Take the words of a command line that names ``watch``.

    Raises:
        ProjectError: one of them is not for ``watch``, the port is not a valid number, or there is no project.
    """
    wrong = wrong_words(words)
    if wrong:
        raise BadAnswer(wrong)
    given, workers = {}, []
    waiting = iter([word for word in words if word != "watch"])
    for word in waiting:
        name, equals, value = word.partition("=")
        if word[:2] in _FOR_DOIT:
            if len(word) == 2:
                next(waiting, None)
        elif word[:2] == "-n":
            workers = ["-n", word[2:] or next(waiting, "")]
        elif equals and name in _KNOWN:
            given[name] = value
        elif word != "run":
            wrong = f"takes no {'option' if word.startswith('-') else 'name of a step'}: {shown(word)}"
            raise refuse("watch", "", wrong, "it builds everything; write: watch [project=PATH] [port=NUMBER] [-n 2] [commands=yes]")
    if workers and not workers[1].isdecimal():
        raise refuse("watch", "-n", f"{shown(workers[1])} is not a number of workers", "write for example: -n 2")
    if given.get("commands", "") not in ("yes", "no", ""):
        raise refuse("watch", "commands", f"{shown(given['commands'])} is not known", "write commands=yes, or leave it out")
    kept = [f"{name}={given[name]}" for name in ("project", "commands", "why") if name in given]
    return Asked(_project(given.get("project")), _port(given.get("port")), kept + workers)


def _port(word: str | None) -> int:
    if word is None:
        return 0
    if not (word.isascii() and word.isdecimal() and len(word) < 6 and int(word) in _PORTS):
        hint = f"write a number from {_PORTS.start} to {_PORTS.stop - 1}, or leave it out for a free one"
        raise refuse("watch", "port", f"{shown(word)} is not a port for this", hint)
    return int(word)


def _project(asked: str | None) -> Path:
    if asked == "":
        raise refuse("watch", "project", "names no folder", "write: project=PATH, or leave it out in the project's own folder")
    folder = folder_of(asked)
    try:
        found = (folder / PROJECT_FILE).is_file()
    except (OSError, ValueError):
        found = False
    if not found:
        raise refuse("watch", "project", f"there is no {shown(folder / PROJECT_FILE)}", NAME_A_PROJECT)
    return Path(os.path.realpath(folder))
