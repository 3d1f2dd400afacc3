"""Programs: a finished file, or one that a command makes. The command is never given to a shell."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

from pipeline.assets.blob import save_blob
from pipeline.assets.data import read_file
from pipeline.errors import refuse
from pipeline.files import read_json, remove_tree
from pipeline.project_assets import Program

_LAST_LINES = 12


def take_program(folder: Path, blobs: Path, name: str, spec: Program) -> str:
    """Copy a finished program into a blob; return one line about it.

    Raises:
        ProjectError: it is missing, empty, larger than its reserve, or its entry lies outside.
    """
    return _save(blobs, name, spec, read_file(folder, spec.file), spec.file)


def build_program(folder: Path, build: Path, blobs: Path, layout: Path, name: str, spec: Program, epoch: int) -> str:
    """Run the program's command in the project folder and take what it made; return one line about it.

    Args:
        build: the build folder; ``{include}`` is its ``include``, ``{output}`` a file under its ``work``. Both, and
            ``{project}``, are written relative to the project folder, which the command runs in, so that no path of the
            machine can reach the image.
        epoch: seconds since 1970 that the command sees as SOURCE_DATE_EPOCH.
        layout: ``work/layout.json``, which says where the program will stand, for ``{address}`` (written 0x...).

    Raises:
        ProjectError: the command cannot be found, fails, or makes nothing; the message has its last lines.
    """
    output = build / "work" / f"{name}.program"
    output.parent.mkdir(parents=True, exist_ok=True)
    remove_tree(output)
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
        done = subprocess.run(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=_environment(epoch)
        )
    except OSError as error:
        wrong = f"{command[0]!r} cannot be run: {error.strerror}"
        raise refuse("project.toml", shown, wrong, "install it, or correct the command; it is looked for in PATH") from None
    if done.returncode != 0:
        lines = done.stdout.decode(errors="replace").strip().splitlines()[-_LAST_LINES:]
        said = "".join(f"\n      | {line}" for line in lines) or "\n      | (it printed nothing)"
        raise refuse("project.toml", shown, f"ended with status {done.returncode}:{said}", "correct what it complains about")
    if output.is_symlink() or not output.is_file() or output.stat().st_size == 0:
        raise refuse("project.toml", shown, "ended well but made no output", "let it write the file that {output} names")
    return _save(blobs, name, spec, output.read_bytes(), shown)


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
