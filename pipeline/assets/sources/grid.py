"""A grid of whole numbers from a text file, a row in each line, or from an indexed picture, whose pixels are the numbers."""

from __future__ import annotations

import re
from array import array
from pathlib import Path

import numpy as np

from pipeline.assets.sources.pictures import open_indexed
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import GRID_SIDE, LEVEL_BYTES
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.sizes import counted

_NUMBER = re.compile(r'[ \t]*("?)([+-]?[0-9]{1,18})\1[ \t]*')
_SHOWN = 24  # characters of a cell that a message shows
_FAULTS = 20  # problems after which a file is not looked at further
_LINE = re.compile(r"\r\n|\n|\r")


def read_grid(folder: Path, name: str, least: int, most: int, room: int) -> np.ndarray:
    """Return the numbers of a file: int64, shape (height, width), each side at least 1.

    A text is UTF-8. Commas part its numbers; where there are none, semicolons; else blanks. A number may be in double quotes
    (RFC 4180). A picture has at most 8 bits a pixel, so its numbers are 0 to 255.

    Args:
        folder, name: the project folder, and the file in it.
        least, most: the numbers it may hold.
        room: how many it may hold.

    Raises:
        ProjectError: it cannot be read, is empty, has rows of different lengths, something other than whole numbers, numbers
            outside least to most, or too many. Every place at fault is listed, by row and column from 1, up to twenty.
    """
    grid = _from_picture(folder, name, room) if name.lower().endswith(".png") else _from_text(folder, name, room)
    outside = np.argwhere((grid < least) | (grid > most))[:_FAULTS]
    if len(outside):
        remedy = f"use numbers from {least} to {most}, or change bounds or cell_bytes of the level"
        raise ProjectError(Problem(name, _place(row, at), f"{grid[row, at]} is not in {least} to {most}", remedy) for row, at in outside)
    return grid


def _from_picture(folder: Path, name: str, room: int) -> np.ndarray:
    with open_indexed(folder, name) as picture:
        _check_size(name, picture.width, picture.height, room)
        return np.asarray(picture, dtype=np.int64)


def _from_text(folder: Path, name: str, room: int) -> np.ndarray:
    try:
        text = read_source(folder, name, LEVEL_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(name, f"byte {error.start}", "is not UTF-8 text", "save it as text: CSV with commas, in UTF-8") from None
    lines = _LINE.split(text.rstrip(" \t\r\n"))
    if not text.strip():
        raise refuse(name, "", "is empty", "write a row of numbers in each line")
    parting = next((mark for mark in ",;" if mark in text), None)
    cells, width, faults = array("q"), len(lines[0].split(parting, GRID_SIDE)), []
    _check_size(name, width, len(lines), room)
    for row, line in enumerate(lines):
        parts = line.split(parting, GRID_SIDE)
        if len(parts) != width:
            wrong = f"has {counted(len(parts), 'number')}, the first row {width}"
            faults.append(Problem(name, f"row {row + 1}", wrong, "give every row the same number of cells"))
        else:
            faults += _read_row(name, row, parts, cells)
        if len(faults) >= _FAULTS:
            break
    if faults:
        raise ProjectError(faults)
    return np.frombuffer(cells, dtype=np.int64).reshape(len(lines), width)


def _read_row(name: str, row: int, parts: list[str], cells: array) -> list[Problem]:
    """Add the numbers of a row; return a problem for each of the first that are not numbers."""
    faults: list[Problem] = []
    for at, part in enumerate(parts):
        found = _NUMBER.fullmatch(part)
        if found:
            cells.append(int(found[2]))
        elif len(faults) < _FAULTS:
            shown = part.strip(" \t") if len(part) <= _SHOWN else part[:_SHOWN] + "..."
            wrong = f"{shown!r} is not a whole number" if shown else "is empty"
            faults.append(Problem(name, _place(row, at), wrong, "write a whole number there"))
    return faults


def _check_size(name: str, width: int, height: int, room: int) -> None:
    if max(width, height) > GRID_SIDE:
        raise refuse(name, "", f"has more than {GRID_SIDE:,} {'columns' if width > GRID_SIDE else 'rows'}", "split the level")
    if width * height > room:
        wrong = f"has {width * height:,} cells, the target's largest cartridge or memory holds {room:,}"
        raise refuse(name, "", wrong, "split the level, or make it smaller")


def _place(row: int, at: int) -> str:
    return f"row {row + 1}, column {at + 1}"
