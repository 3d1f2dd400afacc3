"""Programs: a finished file, or one that a command makes. The command is never given to a shell."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
from contextlib import suppress
from io import BufferedReader
from pathlib import Path

from pipeline.assets.blob import save_blob, save_facts
from pipeline.assets.data import read_file
from pipeline.joints.facts import ProgramFacts
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import COMMAND_SHOWN
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import read_json, remove_tree
from pipeline.project.assets import Program

_LAST_LINES = 12
_LOOK = 0.1  # seconds between looks at the size of what a command writes
_WAIT = 0.5  # seconds for what others that the command has started still print after its end
# Ends its process group as soon as its input does. It leads the group that the command runs in, so a signal to the build does not
# reach it, and however the build ends, its end closes that input.
_GUARD = ("/bin/sh", "-c", "read line; kill -s KILL 0")


def take_program(sources: Sources, out: BlobFiles, name: str, spec: Program, room: int) -> str:
    """Copy a finished program into a blob; return one line about it.

    Args:
        room: bytes of the target's largest cartridge.

    Raises:
        ProjectError: it is missing, empty, larger than the cartridge or its reserve, or its entry lies outside.
    """
    if spec.file is None:
        raise ValueError(f"program {name} has no file")  # such a program is built
    return _save(out, name, spec, read_file(sources.folder, spec.file, room), spec.file)


def build_program(
    sources: Sources,
    includes: tuple[Path, ...],
    layout: Path,
    output: Path,
    out: BlobFiles,
    name: str,
    spec: Program,
    room: int,
    epoch: int,
) -> str:
    """Run the program's command in the project folder and take what it made; return one line about it.

    The command may do whatever the author may. The caller has the author's yes; see ``graph.consent``.

    Args:
        sources: of the project folder, which the command runs in.
        includes: files written for the program, all in one folder, which is ``{include}``.
        output: the file that ``{output}`` names. It, ``{include}`` and ``{project}`` are written relative to the project folder,
            so that no path of the machine can reach the image.
        room: bytes of the target's largest cartridge; a command that writes more is stopped.
        epoch: seconds since 1970 that the command sees as SOURCE_DATE_EPOCH.
        layout: ``work/layout.json``, which says where the program will be, for ``{address}`` (written 0x...) and ``{bank}``.

    Raises:
        ProjectError: the command cannot be found, fails, makes nothing or too much; the message has its last lines.
    """
    output.parent.mkdir(parents=True, exist_ok=True)
    remove_tree(output)
    place = read_json(layout)[name]
    folder = sources.folder
    places = {
        "include": includes[0].parent.relative_to(folder).as_posix(),
        "output": output.relative_to(folder).as_posix(),
        "project": ".",
        "address": f"{place['address']:#x}",
        "bank": f"{place['bank']}",
    }
    command = [_fill(word, places) for word in spec.command or ()]
    shown = f"[program.{name}] command"
    try:
        _run(command, folder, _environment(epoch), shown, output, room)
        if output.is_symlink() or output.exists() and not output.is_file():
            raise refuse("project.toml", shown, "made no regular file", "let it write the file that {output} names")
        if _size(output) == 0:
            raise refuse("project.toml", shown, "ended well but made no output", "let it write the file that {output} names")
        made = read_whole(output, shown, room)
    except BaseException:
        remove_tree(output)  # it may be half written
        raise
    return _save(out, name, spec, made, shown)


def _run(command: list[str], folder: Path, environment: dict[str, str], shown: str, output: Path, room: int) -> None:
    """Run a command to its end; whatever ends this process ends the command and what it has started too.

    Raises:
        ProjectError: it cannot be run, ends with another status than 0, or writes more than ``room`` bytes.
    """
    said = bytearray()
    with subprocess.Popen(_GUARD, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, process_group=0) as guard:
        try:
            child = subprocess.Popen(
                command,
                cwd=folder,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                process_group=guard.pid,
            )
            reader = threading.Thread(target=_keep_end, args=(child.stdout, said), daemon=True)
            reader.start()
            status = _watched(child, output, room, shown)
            reader.join(_WAIT)
        except OSError as error:
            raise _not_run(shown, command, error.strerror or str(error)) from None
        except ValueError as error:  # a word with a NUL
            raise _not_run(shown, command, str(error)) from None
        finally:
            # What it has left running must not write while the build goes on, or into the next one.
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(guard.pid, signal.SIGKILL)
    if (size := _size(output)) > room:
        raise _too_large(shown, size, room)
    if status != 0:
        lines = bytes(said).decode(errors="replace").strip().splitlines()[-_LAST_LINES:]
        printed = "".join(f"\n      | {line}" for line in lines) or "\n      | (it printed nothing)"
        raise refuse("project.toml", shown, f"ended with status {status}:{printed}", "correct what it complains about")


def _watched(child: subprocess.Popen, output: Path, room: int, shown: str) -> int:
    """Wait for a command and return its status.

    Raises:
        ProjectError: its output has become larger than ``room`` while it runs.
    """
    while True:
        with suppress(subprocess.TimeoutExpired):
            return child.wait(_LOOK)
        if (size := _size(output)) > room:
            raise _too_large(shown, size, room)


def _size(output: Path) -> int:
    try:
        return output.stat().st_size
    except OSError:
        return 0


def _too_large(shown: str, size: int, room: int) -> ProjectError:
    wrong = f"made {size:,} bytes or more, the target's largest cartridge holds {room:,}"
    return refuse("project.toml", shown, wrong, "let it write less; it was stopped where it had not ended")


def _keep_end(pipe: BufferedReader, said: bytearray) -> None:
    with pipe:
        while part := pipe.read1(COMMAND_SHOWN):
            said += part
            del said[:-COMMAND_SHOWN]


def _not_run(shown: str, command: list[str], why: str) -> ProjectError:
    wrong = f"{command[0]!r} cannot be run: {why}"
    return refuse("project.toml", shown, wrong, "install it, or correct the command; it is looked for in PATH")


def _fill(word: str, places: dict) -> str:
    for key, value in places.items():
        word = word.replace("{" + key + "}", str(value))
    return word


def _environment(epoch: int) -> dict[str, str]:
    """The author's environment with language, time zone and date fixed, since a compiler's output may depend on them."""
    return {**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC", "SOURCE_DATE_EPOCH": str(epoch)}


def _save(out: BlobFiles, name: str, spec: Program, blob: bytes, shown: str) -> str:
    if spec.reserve is not None and len(blob) > spec.reserve:
        wrong = f"{len(blob)} bytes, {len(blob) - spec.reserve} more than its reserve"
        raise refuse(shown, "", wrong, f"raise reserve of [program.{name}], or make the program smaller")
    if spec.entry >= len(blob):
        wrong = f"entry {spec.entry} lies after the program's {len(blob)} bytes"
        raise refuse("project.toml", f"[program.{name}] entry", wrong, "give the offset of its first instruction")
    return save_facts(out.facts, ProgramFacts(**save_blob(out.content, name, [blob], spec.origin), entry=spec.entry))
