"""Programs: a finished file, or one that a command makes. The command is never given to a shell."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import time
from pathlib import Path

from pipeline.assets.blob import save_blob
from pipeline.assets.data import read_file
from pipeline.bounded import read_whole
from pipeline.bounds import COMMAND_TOLD
from pipeline.errors import refuse
from pipeline.files import read_json
from pipeline.project_assets import Program

_LAST_LINES = 12
_LOOK = 0.1  # seconds between looks at the size of what a command writes


def take_program(folder: Path, blobs: Path, name: str, spec: Program, room: int) -> str:
    """Copy a finished program into a blob; return one line about it.

    Args:
        room: bytes of the target's largest cartridge.

    Raises:
        ProjectError: it is missing, empty, larger than the cartridge or its reserve, or its entry lies outside.
    """
    return _save(blobs, name, spec, read_file(folder, spec.file, room), spec.file)


def build_program(folder: Path, build: Path, blobs: Path, layout: Path, name: str, spec: Program, room: int, epoch: int) -> str:
    """Run the program's command in the project folder and take what it made; return one line about it.

    Args:
        build: the build folder; ``{include}`` is its ``include``, ``{output}`` a file under its ``work``. Both, and
            ``{project}``, are written relative to the project folder, which the command runs in, so that no path of the
            machine can reach the image.
        room: bytes of the target's largest cartridge; a command that writes more is stopped.
        epoch: seconds since 1970 that the command sees as SOURCE_DATE_EPOCH.
        layout: ``work/layout.json``, which says where the program will stand, for ``{address}`` (written 0x...).

    Raises:
        ProjectError: the command cannot be found, fails, makes nothing or too much; the message has its last lines.
    """
    output = build / "work" / f"{name}.program"
    output.parent.mkdir(parents=True, exist_ok=True)
    output.unlink(missing_ok=True)
    address = read_json(layout)[name]["address"]
    inside = build.relative_to(folder)
    places = {
        "include": (inside / "include").as_posix(),
        "output": (inside / "work" / output.name).as_posix(),
        "project": ".",
        "address": f"{address:#x}",
    }
    command = [_fill(word, places) for word in spec.command]
    shown = f"[program.{name}] command"
    try:
        status, told = _run(command, folder, output, room, _environment(epoch))
    except OSError as error:
        wrong = f"{command[0]!r} cannot be run: {error.strerror}"
        raise refuse("project.toml", shown, wrong, "install it, or correct the command; it is looked for in PATH") from None
    if output.is_file() and output.stat().st_size > room:
        wrong = f"made {output.stat().st_size:,} bytes or more, the target's largest cartridge holds {room:,}"
        output.unlink()
        raise refuse("project.toml", shown, wrong, "let it write less; it was stopped where it had not ended")
    if status != 0:
        lines = told.decode(errors="replace").strip().splitlines()[-_LAST_LINES:]
        said = "".join(f"\n      | {line}" for line in lines) or "\n      | (it printed nothing)"
        raise refuse("project.toml", shown, f"ended with status {status}:{said}", "correct what it complains about")
    if output.exists() and not output.is_file():
        raise refuse("project.toml", shown, "made no regular file", "let it write the file that {output} names")
    if not output.is_file() or output.stat().st_size == 0:
        raise refuse("project.toml", shown, "ended well but made no output", "let it write the file that {output} names")
    return _save(blobs, name, spec, read_whole(output, shown, room), shown)


def _run(command: list[str], folder: Path, output: Path, room: int, environment: dict[str, str]) -> tuple[int, bytes]:
    """Run a command to its end, or until its output is larger than ``room``; return its status and the end of what it printed.

    Raises:
        OSError: it cannot be run.
    """
    # In this process's own group: Ctrl-C reaches it, and what ends a worker ends it too.
    with subprocess.Popen(
        command, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment
    ) as running:
        try:
            return _followed(running, output, room)
        except BaseException:
            _end(running)
            raise


def _followed(running: subprocess.Popen, output: Path, room: int) -> tuple[int, bytes]:
    told, stream, ended = b"", running.stdout.fileno(), False
    while not ended:
        if select.select([stream], [], [], _LOOK)[0]:
            part = os.read(stream, COMMAND_TOLD)
            told, ended = (told + part)[-COMMAND_TOLD:], not part
        elif running.poll() is not None:
            ended = True  # something it left running still holds its end of the pipe
        if _size(output) > room:
            _end(running)
            return -signal.SIGKILL, told
    while running.poll() is None:  # it has closed its output and goes on
        if _size(output) > room:
            _end(running)
        time.sleep(_LOOK)
    return running.returncode, told


def _size(output: Path) -> int:
    try:
        return output.stat().st_size
    except OSError:
        return 0


def _end(running: subprocess.Popen) -> None:
    """End a command and what it has started, parents first, so that none starts another."""
    waiting = [running.pid]
    while waiting:
        process = waiting.pop(0)
        with contextlib.suppress(ProcessLookupError):
            os.kill(process, signal.SIGSTOP)
        children = _children(process)
        with contextlib.suppress(ProcessLookupError):
            os.kill(process, signal.SIGKILL)
        waiting += children
    running.wait()


def _children(process: int) -> list[int]:
    """Return the processes that one has started, where the system tells (Linux, proc(5))."""
    try:
        return [int(word) for task in Path(f"/proc/{process}/task").glob("*/children") for word in task.read_text().split()]
    except OSError:
        return []


def _fill(word: str, places: dict) -> str:
    for key, value in places.items():
        word = word.replace("{" + key + "}", str(value))
    return word


def _environment(epoch: int) -> dict[str, str]:
    """The author's environment with language, time zone and date fixed, since a compiler's output may depend on them."""
    return {**os.environ, "LC_ALL": "C.UTF-8", "TZ": "UTC", "SOURCE_DATE_EPOCH": str(epoch)}


def _save(blobs: Path, name: str, spec: Program, blob: bytes, shown: str) -> str:
    if spec.reserve is not None and len(blob) > spec.reserve:
        wrong = f"{len(blob)} bytes, {len(blob) - spec.reserve} more than its reserve"
        raise refuse(shown, "", wrong, f"raise reserve of [program.{name}], or make the program smaller")
    if spec.entry >= len(blob):
        wrong = f"entry {spec.entry} lies behind the program's {len(blob)} bytes"
        raise refuse("project.toml", f"[program.{name}] entry", wrong, "give the offset of its first instruction")
    return save_blob(blobs, name, "program", blob, {"entry": spec.entry, "origin": spec.origin})
