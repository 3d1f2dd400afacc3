"""Palettes written as text, in the two formats paint programs exchange.

``GIMP Palette``: that line, perhaps ``Name:`` and ``Columns:`` lines, then a colour a line, ``R G B`` and perhaps its
name; ``#`` starts a comment. Source: the format's description in that program's developer documentation (from memory).

``JASC-PAL``: that line, the version ``0100``, the number of colours, then ``R G B`` a line (from memory; there is no
published standard).
"""

from __future__ import annotations

from pipeline.plain.errors import Problem, ProjectError, refuse

_GIMP, _JASC = "GIMP Palette", "JASC-PAL"
_MOST_SHOWN = 20  # problems of one file; a file of another kind would have one in every line
_COLOUR_REMEDY = "write red, green and blue as whole numbers from 0 to 255, with spaces between them"

Colour = tuple[int, int, int]


def read_palette_text(data: bytes, name: str) -> list[Colour]:
    """Return the colours of a palette file in its order, doubles included.

    Args:
        data: the file.
        name: the file as the author knows it, for refusals.

    Returns:
        Red, green and blue, each 0..255, sRGB; at least one colour.

    Raises:
        ProjectError: neither format, or damaged; every damaged line is reported, up to 20 of them.
    """
    lines = data.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    head = lines[0].strip()
    if not data.strip():
        raise refuse(name, "", "is an empty file", "save the palette again")
    if head == _GIMP:
        problems, colours = _read_gimp(lines, name)
    elif head == _JASC:
        problems, colours = _read_jasc(lines, name)
    else:
        remedy = f"save it as a text palette whose first line is {_GIMP!r} or {_JASC!r}"
        raise refuse(name, "line 1", f"begins with {head[:30]!r}, which is not a known palette format", remedy)
    if not colours and not problems:
        problems = [Problem(name, "", "holds no colour", "add a line with red, green and blue for each colour")]
    if problems:
        raise ProjectError(problems[:_MOST_SHOWN])
    return colours


def _read_gimp(lines: list[str], name: str) -> tuple[list[Problem], list[Colour]]:
    problems: list[Problem] = []
    colours: list[Colour] = []
    for number, line in enumerate(lines[1:], start=2):
        text = line.strip()
        if not text or text.startswith("#") or (not colours and text.startswith(("Name:", "Columns:"))):
            continue
        _take(text.split()[:3], name, number, problems, colours)
    return problems, colours


def _read_jasc(lines: list[str], name: str) -> tuple[list[Problem], list[Colour]]:
    while lines and not lines[-1].strip():
        lines = lines[:-1]
    head = [line.strip() for line in lines[1:3]] + ["", ""]
    if head[0] != "0100":
        return [Problem(name, "line 2", f"version {head[0][:30]!r}", "save it as version 0100, the only one known here")], []
    count = _whole(head[1])
    if count is None:
        return [Problem(name, "line 3", f"{head[1][:30]!r} is not a number of colours", "write how many colours follow")], []
    problems: list[Problem] = []
    colours: list[Colour] = []
    for number, line in enumerate(lines[3:], start=4):
        _take(line.split(), name, number, problems, colours)
    if len(lines) - 3 != count:
        wrong = f"the number of colours is {count}, the number of lines with one is {len(lines) - 3}"
        problems.append(Problem(name, "line 3", wrong, "correct the number, or save the palette again if it was cut short"))
    return problems, colours


def _take(parts: list[str], name: str, number: int, problems: list[Problem], colours: list[Colour]) -> None:
    """Read one line's colour; say what is wrong with it otherwise."""
    values = [value for part in parts if (value := _whole(part)) is not None]
    if len(parts) != 3:
        wrong = f"{len(parts)} values where a colour has 3"
    elif len(values) != 3:
        odd = next(part for part in parts if _whole(part) is None)
        wrong = f"{odd[:30]!r} is not a whole number"
    elif max(values) > 255:
        wrong = f"{max(values)} is above 255"
    else:
        colours.append((values[0], values[1], values[2]))
        return
    problems.append(Problem(name, f"line {number}", wrong, _COLOUR_REMEDY))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 9 else None
