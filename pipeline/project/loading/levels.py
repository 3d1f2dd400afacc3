"""Checks of levels: what their file may be, and numbers that a cell can hold."""

from __future__ import annotations

from pathlib import Path

from pipeline.plain.checked import Document
from pipeline.project.model import Asset, LoadedProject

_ENDINGS = (".csv", ".txt", ".png")


def check_level(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a level."""
    path, spec = ("level", asset.name), asset.spec
    if Path(spec.file).suffix.lower() not in _ENDINGS:
        wrong = f"{spec.file!r} has the ending of neither a text nor an indexed picture"
        document.say((*path, "file"), wrong, f"name a file that ends in {', '.join(_ENDINGS[:-1])} or {_ENDINGS[-1]}")
    least, most = spec.limits
    if least > most:
        document.say((*path, "bounds"), f"{least} is above {most}", "write the smallest number first, for example [0, 63]")
    elif most >= 256**spec.cell_bytes:
        document.say((*path, "bounds"), f"{most} does not fit a cell of {spec.cell_bytes} byte", "set cell_bytes = 2, or a smaller bound")
