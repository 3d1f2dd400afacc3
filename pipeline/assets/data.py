"""Data: bytes taken as they are."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.blob import save_blob, save_facts
from pipeline.joints.facts import DataFacts
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bounded import read_source
from pipeline.plain.errors import refuse
from pipeline.project.assets import Data


def convert_data(sources: Sources, out: BlobFiles, name: str, spec: Data, room: int) -> str:
    """Copy a file into a blob; return one line about it.

    Args:
        room: bytes it may have; see ``bounds.asset_room``.

    Raises:
        ProjectError: the file is empty, too large or cannot be read.
    """
    blob = read_file(sources.folder, spec.file, room)
    return save_facts(out.facts, DataFacts(**save_blob(out.content, name, [blob], spec.origin)))


def read_file(folder: Path, name: str, most: int) -> bytes:
    """Return a source file's bytes, of which it may have ``most``.

    Raises:
        ProjectError: it is empty, too large or cannot be read.
    """
    data = read_source(folder, name, most)
    if not data:
        raise refuse(name, "", "is an empty file", "put something in it, or remove the asset")
    return data
