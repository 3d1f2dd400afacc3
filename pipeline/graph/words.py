"""The words of a command line before doit reads them: options put where doit takes them, and what is misspelt.

doit takes options only before the names of steps, skips a variable it does not know, and suggests no other name.
"""

from __future__ import annotations

import getopt
import os
import re
import signal
import sys
from collections.abc import Collection, Iterable, Sequence

from doit.cmd_base import Command, DodoTaskLoader
from doit.cmd_dumpdb import DumpDB
from doit.cmd_strace import Strace
from doit.cmdparse import CmdOption, CmdParse, CmdParseError
from doit.doit_cmd import DoitMain
from doit.exceptions import InvalidCommand, InvalidDodoFile

from pipeline.graph.stopping import SIGNALS
from pipeline.plain.errors import nearest_name, shown
from pipeline.plain.sizes import listed

# name=VALUE words of the command line -> the steps that read it; none where any run may have it.
VARIABLES: dict[str, tuple[str, ...]] = {
    "project": (), "why": (), "commands": (), "of": ("freeze", "flashes", "fit"), "name": ("where",), "file": ("where",),
    "since": ("changes",), "csv": ("intake",), "form": ("intake",), "tester": ("erase",), "from": ("start", "bring"), "target": ("start",),
    "link": ("start", "bring"), "write": ("bring",), "port": ("watch",), "rate": ("flashes",),
}  # fmt: skip
# Options of doit that would keep records elsewhere or leave out what a build promises.
_NOT_HERE = ("db-file", "backend", "codec", "check_file_uptodate", "reporter")
# doit's commands, without those that look into its own workings.
COMMANDS = tuple(command for command in DoitMain.DOIT_CMDS if command not in (DumpDB, Strace))
_COMMANDS = {command.get_name(): command for command in COMMANDS}


def check_words(words: Iterable[str]) -> None:
    """Look for what doit itself would skip or take.

    Raises:
        InvalidDodoFile: a misspelt ``name=value`` word, one whose step is not named, or an option that cannot be used here.
    """
    words = list(words)
    for word in words:
        name, equals, _ = word.partition("=")
        # Options may be cut short as long as they are clear; -r is the short name of the last.
        if word == "-r" or word[:2] == "--" and len(name) > 2 and any(option.startswith(name[2:]) for option in _NOT_HERE):
            raise InvalidDodoFile(f"{name} cannot be used here: records and reports of a build are the tool's own")
        if equals and not word.startswith("-") and name not in VARIABLES:
            near = nearest_name(name, VARIABLES)
            known = ", ".join(f"{key}=" for key in VARIABLES)
            raise InvalidDodoFile(f"unknown word {shown(name)}=; " + (f"did you mean {near}=?" if near else f"known are {known}"))
        steps = VARIABLES.get(name, ()) if equals else ()
        if steps and not set(steps) & set(words):
            owner = listed(steps) + (", which is not named" if len(steps) == 1 else ", of which none is named")
            raise InvalidDodoFile(f"{name}= belongs to {owner}\n    write: {steps[-1]} {shown(word)}")


def in_order(words: Sequence[str]) -> list[str]:
    """Return the words of a command line in an order that doit takes: variables, command, options, names of steps.

    Words that are in such an order already, or that doit will refuse, are returned as they are.
    """
    ordered = _ordered(words)
    return list(words) if ordered is None else [word for part in ordered for word in part]


def _ordered(words: Sequence[str]) -> tuple[list[str], list[str], list[str]] | None:
    """Return variables and command, options, and names of steps; None where the words can stay as they are."""
    variables = [word for word in words if _is_variable(word)]
    rest = [word for word in words if not _is_variable(word)]
    if "--" in rest:
        return None
    command, first, leads = "run", [], rest[:1]
    try:
        first = rest[:1] if rest[:1] and rest[0] in _COMMANDS else _parted(rest, "run")[1][:1]  # options may be before a command
        command = first[0] if first and first[0] in _COMMANDS else "run"
        if first == [command]:
            rest.remove(command)
        options, names = _parted(rest, command)
    except getopt.GetoptError:  # doit says what is wrong with the option, of the right command
        return (variables + first, [], rest) if first == [command] != leads else None
    if _taken(words) == (command, names):
        return None
    return [*variables, command], [word for pair in options for word in pair if word], names


def _is_variable(word: str) -> bool:
    return "=" in word and not word.startswith("-")


def _parted(words: list[str], command: str) -> tuple[list[tuple[str, str]], list[str]]:
    """Return options with their values and the other words, wherever they are."""
    parser = _parser(_COMMANDS[command])
    return getopt.gnu_getopt(words, parser.get_short(), parser.get_long())


def _taken(words: Sequence[str]) -> tuple[str, list[str]]:
    """Return the command and the names of steps as doit would take them from the words as they are."""
    loader = CmdParse([CmdOption(one) for one in DodoTaskLoader.cmd_options])
    try:
        rest = getopt.getopt(list(words), loader.get_short(), loader.get_long())[1]
    except getopt.GetoptError:  # an option of a command: doit takes it for run's
        rest = list(words)
    rest = [word for word in rest if not _is_variable(word)]
    command = rest.pop(0) if rest and rest[0] in _COMMANDS else "run"
    parser = _parser(_COMMANDS[command])
    return command, getopt.getopt(rest, parser.get_short(), parser.get_long())[1]


def _parser(command: type[Command]) -> CmdParse:
    given = (*getattr(command, "base_options", ()), *DodoTaskLoader.cmd_options, *command.cmd_options)
    return CmdParse([CmdOption(one) for one in given])


def asks_to_watch(words: Sequence[str]) -> bool:
    """Return whether a command line names ``watch`` as it would name a step: not as the value of an option, or after ``list``."""
    if "watch" not in words:
        return False
    rest = [word for word in words if not _is_variable(word)]
    try:
        names = _parted(rest, "run")[1]
    except getopt.GetoptError:  # of another command, or misspelt: it is refused later
        names = rest
    return "watch" in names and not (names[:1] and names[0] in _COMMANDS and names[0] != "run")


def wrong_words(words: Iterable[str]) -> str:
    """Return what ``check_words`` refuses, as text; empty where it refuses nothing."""
    try:
        check_words(words)
    except InvalidDodoFile as error:
        return Exception.__str__(error)
    return ""


def start_in_order(dodo: str) -> None:
    """Start doit again, in place of this process, where options are after the names of steps.

    Args:
        dodo: path of the file that doit reads. The current folder is the one it has changed to.
    """
    ordered = _ordered(sys.argv[1:])
    if ordered is not None:
        before, options, names = ordered
        # The last of several options of one name counts, and these hold from any folder.
        here = ["-f", os.path.abspath(dodo), "-d", os.getcwd()]
        # A stop is answered in words again once the new process is ready. -P: doit has changed to a folder of the author's.
        signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
        os.execv(sys.executable, [sys.executable, "-P", "-m", "doit", *before, *options, *here, *names])


def check_steps(words: Iterable[str], steps: Collection[str]) -> None:
    """Look at the names given to doit's ``info``, which ends with a traceback for a step that does not exist.

    Raises:
        InvalidCommand: a name is not that of a step.
    """
    names = [word for word in words if not _is_variable(word) and not word.startswith("-")]
    missing = [name for name in names[1:] if name not in steps]
    if names[:1] == ["info"] and missing:
        raise InvalidCommand(not_found=missing[0])


def plain_words(steps: Iterable[str] = ()) -> None:
    """Let doit say in a line what is wrong with an option or the name of a step; it would list the insides of all options.

    Args:
        steps: the names that a misspelt one is compared with.
    """

    def show_usage(self: CmdParseError) -> str:
        return Exception.__str__(self).partition(" (parsing options: ")[0]

    def show_name(self: InvalidCommand) -> str:
        whole = Exception.__str__(self)
        listed = re.fullmatch(r"'(.*)' is not a task\.", whole, re.DOTALL)  # as list and clean say it
        missing = listed[1] if listed else self.not_found
        if missing is None:
            return whole
        if missing in _COMMANDS:
            return f"{missing} is a command and not a step\n    write it before the names of steps"
        known = {name for name in steps if ":" not in name or ":" in missing} | set(() if self.cmd_used else _COMMANDS)
        near = nearest_name(missing, known)
        return f"there is no step {shown(missing)}\n    " + (f"did you mean {near}?" if near else "to see all steps: list")

    CmdParseError.__str__ = show_usage
    InvalidCommand.__str__ = show_name
