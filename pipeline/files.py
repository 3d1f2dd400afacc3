"""Files between tasks: written under a temporary name and renamed, so that no half file is ever seen."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO

from pipeline.errors import refuse

TEMPORARY = ".part"


@contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing that takes the place of ``path`` only when the block ends without an error.

    Raises:
        ProjectError: the system would not write it (a full disk, no permission); ``path`` is as it was.
    """
    temporary = path.with_name(f"{path.name}.{os.getpid()}{TEMPORARY}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "wb") as file:
            yield file
        os.replace(temporary, path)
    except OSError as error:
        _remove(temporary)
        # An error that names another file is not about this one: the block was reading something.
        if error.filename is not None and not str(temporary).startswith(str(error.filename)):
            raise
        wrong = f"cannot be written: {error.strerror or error}"
        raise refuse(path.name, "", wrong, "free some room on the disk, or check permissions, and build again") from None
    except BaseException:
        _remove(temporary)
        raise


def _remove(temporary: Path) -> None:
    with suppress(OSError):  # it may never have been made
        temporary.unlink()


def write_bytes(path: Path, data: bytes) -> None:
    """Write a whole file at once; see ``replacing``."""
    with replacing(path) as file:
        file.write(data)


def write_json(path: Path, value: Any) -> None:
    """Write JSON: UTF-8, two spaces, keys in the order given, one final newline.

    Half of a surrogate pair, as in the name of a file that is not UTF-8, is written as JSON's own escape of it.
    """
    write_bytes(path, (json.dumps(value, indent=2, ensure_ascii=False) + "\n").encode("utf-8", "backslashreplace"))


def read_json(path: Path) -> Any:
    """Read a JSON file that an earlier task wrote."""
    return json.loads(path.read_bytes())
