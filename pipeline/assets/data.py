"""Data: bytes taken as they are."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.blob import save_blob
from pipeline.errors import refuse
from pipeline.project_assets import Data


def convert_data(folder: Path, blobs: Path, name: str, spec: Data) -> str:
    """Copy a file into a blob; return one line about it.

    Raises:
        ProjectError: the file is empty or cannot be read.
    """
    blob = read_file(folder, spec.file)
    return save_blob(blobs, name, "data", blob, {"origin": spec.origin})


def read_file(folder: Path, name: str) -> bytes:
    """Return a source file's bytes.

    Raises:
        ProjectError: it is empty or cannot be read.
    """
    try:
        data = (folder / name).read_bytes()
    except OSError as error:
        raise refuse(name, "", f"cannot be read: {error.strerror}", "check the file and its permissions") from None
    if not data:
        raise refuse(name, "", "is an empty file", "put something in it, or remove the asset")
    return data
