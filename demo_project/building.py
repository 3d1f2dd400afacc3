"""What builds of the demos' programs share: running commands, putting a whole file in its place, the command line."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path


class ProgramError(Exception):
    """The program could not be made; the message says why."""


def run(command: list[str], folder: Path, warnings: bool = True) -> None:
    """Run a command in a folder, so that sources can be named without a path.

    Args:
        warnings: whether the command may warn.

    Raises:
        ProgramError: it failed, or warned and may not.
    """
    done = subprocess.run(command, cwd=folder, env={**os.environ, "LC_ALL": "C"}, capture_output=True, text=True)
    if done.returncode != 0 or not warnings and "warning" in done.stderr:
        raise ProgramError(f"{' '.join(command)} ended with status {done.returncode}:\n{done.stderr}")


def put(made: Path, output: Path) -> int:
    """Copy what was made to its place, whole or not at all; return its size in bytes."""
    whole = output.with_name(output.name + ".part")
    shutil.copyfile(made, whole)
    os.replace(whole, output)
    return output.stat().st_size


def main(build: Callable[..., int], output: Path, arguments: list[str]) -> int:
    """Build into the file given, or into the usual one; return the exit status.

    Args:
        build: takes paths as they are given, none or more, and returns the program's size.
    """
    try:
        size = build(*[Path(one).resolve() for one in arguments])
    except ProgramError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"{Path(arguments[0]).name if arguments else output.name}: {size} bytes")
    return 0
