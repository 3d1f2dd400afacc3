"""``doit freeze``: a computed palette written as a file of the project, so that its colours and numbers stay as they are."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from pipeline.joints.facts import PaletteFacts, read_facts
from pipeline.plain.checked import read_document
from pipeline.plain.errors import nearest_name, refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted
from pipeline.project.art import NOT_WITH_FILE
from pipeline.project.model import PROJECT_FILE

_SIDE, _ACROSS = 8, 16  # pixels of a swatch, and swatches a row where the palette has no lines
_MOST = 256  # colours of an indexed PNG


def show_freeze(
    folder: Path | None, out: Path | None, facts: Path | None, written: Path | None, wanted: str, computed: tuple[str, ...], base: str
) -> str:
    """Write a palette as an indexed PNG, and return the lines for the project file that make it the palette.

    Args:
        folder: of the project; None where ``wanted`` is not among ``computed``.
        out: the file; an equal one is left alone, and no other is replaced. None likewise.
        facts: of the palette's conversion; None likewise.
        written: the project file, whose table of the palette says which of the lines are new; None likewise.
        wanted: its name.
        computed: the palettes of the project that are not taken from a file.
        base: the palette that ``wanted`` is a variant of; empty where it is not one.

    Raises:
        ProjectError: there is no such computed palette, it has more colours than an indexed PNG, or a file is in the way.
    """
    if folder is None or out is None or facts is None or written is None:
        raise refuse("of=", "", *_not_computed(wanted, computed, base))
    palette = read_facts(facts, PaletteFacts)
    name = out.relative_to(folder).as_posix()
    if palette.entry_count > _MOST:
        wrong = f"{palette.entry_count} entries, an indexed PNG holds {_MOST}"
        raise refuse("project.toml", f"[palette.{wanted}]", wrong, "use fewer colours or lines")
    _check_place(folder, out, name)
    data = draw_palette(palette)
    if os.path.lexists(out):
        if not out.is_file() or out.read_bytes() != data:
            raise refuse(name, "", "exists and is not this palette; nothing is overwritten", "delete or rename it, and ask again")
        done = f"{name} is this palette already"
    else:
        out.parent.mkdir(exist_ok=True)
        write_bytes(out, data)
        done = f"{counted(sum(palette.line_used), 'entry', 'entries')} written to {name}"
    own = read_document(written, PROJECT_FILE, folder).data["palette"][wanted]
    return "\n".join([done, f"Write into project.toml, below [palette.{wanted}]:", *_changes(own, name, palette.exact)])


def _changes(own: dict[str, Any], file: str, exact: bool) -> list[str]:
    """Return the lines that make a file the palette, given what the author has written in its table; no key can be written twice."""
    wanted: dict[str, str | bool] = {"file": file, "order": "file"} | ({"exact": True} if exact else {})
    reason = {"exact": "       # as now: every colour of the art is an entry, and stays one"}
    lines = [f"    {key} = {json.dumps(value)}{reason.get(key, '')}" for key, value in wanted.items() if key not in own]
    lines += [f"and change {key} to {json.dumps(value)}" for key, value in wanted.items() if key in own and own[key] != value]
    unneeded = [key for key in NOT_WITH_FILE if key in own]
    return [*lines, *([f"and remove {' and '.join(unneeded)} from it"] if unneeded else [])]


def draw_palette(palette: PaletteFacts) -> bytes:
    """Return a palette as an indexed PNG: a swatch for each entry, whose number is its own; entries without a colour are transparent."""
    count, across = palette.entry_count, min(palette.line_entries or _ACROSS, _ACROSS)
    size = palette.line_entries or count
    clear = {number for number in range(count) if number % size >= palette.line_used[number // size]}
    clear |= {number for number in range(0, count, size) if palette.transparent}
    grid = np.zeros(-(-count // across) * across, dtype=np.uint8)
    grid[:count] = np.arange(count)
    grid[count:] = count - 1  # no further number
    swatches = grid.reshape(-1, across).repeat(_SIDE, axis=0).repeat(_SIDE, axis=1)
    picture = Image.frombytes("P", (swatches.shape[1], swatches.shape[0]), swatches.tobytes())
    picture.putpalette([value for colour in palette.colours for value in colour])
    more = {"transparency": bytes(0 if number in clear else 255 for number in range(count))} if clear else {}
    file = io.BytesIO()
    picture.save(file, "PNG", **more)
    return file.getvalue()


def _not_computed(wanted: str, computed: tuple[str, ...], base: str) -> tuple[str, str]:
    if base:
        remedy = f"write: freeze of={base}" if base in computed else "there is nothing to write, because that palette is taken from a file"
        return f"{wanted!r} is a variant, whose numbers are those of palette {base!r}", remedy
    if not computed:
        return "every palette of the project is taken from a file", "there is nothing to write"
    known = ", ".join(computed)
    if not wanted:
        return "no palette is named", f"write: freeze of=NAME; the computed palettes are {known}"
    near = nearest_name(wanted, computed)
    return f"there is no computed palette {wanted!r}", f"did you mean {near}?" if near else f"the computed palettes are {known}"


def _check_place(folder: Path, out: Path, name: str) -> None:
    """Refuse a folder that is a file, or that is a link to a place outside the project."""
    place = out.parent
    if os.path.lexists(place) and not place.is_dir():
        raise refuse(name, "", f"{place.name} is not a folder", "rename it, and ask again")
    if not Path(os.path.realpath(place)).is_relative_to(os.path.realpath(folder)):
        raise refuse(name, "", f"{place.name} is a link that leads out of the project", "put a folder in its place")
