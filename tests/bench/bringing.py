"""How many sheets are guessed as their makers cut them: ``python -m tests.bench.bringing FOLDER``.

FOLDER is the data of a free game that says how its pictures are cut, unpacked with ``dpkg -x``:

- pingus-data (GPL-2 or later): files ``NAME.sprite`` with ``(image "FILE")``, ``(array COLUMNS ROWS)`` and ``(size WIDTH HEIGHT)``.
  Pictures without ``array`` are one frame each. Held back until 38 of 61 sheets were right; rows that repeat with changes came after.
- mrrescue (zlib, CC-BY-SA-3.0; its archive unpacked): ``newAnimation(img.NAME, WIDTH, HEIGHT, SECONDS, COUNT)`` in its scripts, of which
  the count is compared. Held back until 18 of 34 were right; rows that end before their picture does came after.

What was drawn for kobodeluxe-data and ardentryst was looked at while the rules were made.
"""

from __future__ import annotations

import argparse
import re
from collections import Counter
from pathlib import Path

from PIL import Image

from pipeline.bringing.guess import describe
from pipeline.bringing.look import look_through
from pipeline.bringing.records import Found

_SCREEN = (320, 240)


def described_sheets(folder: Path) -> dict[str, tuple[int, int]]:
    """Return file -> columns and rows, as the descriptions say; pictures that several describe differently are left out."""
    said: dict[str, set[tuple[int, int]]] = {}
    for path in sorted(folder.rglob("*.sprite")):
        text = path.read_text(encoding="utf-8", errors="replace")
        image, array = re.search(r'\(image\s+"([^"]+)"', text), re.search(r"\(array\s+(\d+)\s+(\d+)\)", text)
        if image:
            file = folder.parent / image[1].lstrip("/") if image[1].startswith("/") else path.parent / image[1]
            if file.resolve().is_file() and file.resolve().is_relative_to(folder.resolve()):
                name = file.resolve().relative_to(folder.resolve()).as_posix()
                said.setdefault(name, set()).add(_whole(file, text, (int(array[1]), int(array[2]))) if array else (1, 1))
    return {name: next(iter(cuts)) for name, cuts in said.items() if len(cuts) == 1}


def _whole(file: Path, text: str, array: tuple[int, int]) -> tuple[int, int]:
    """Return the cells of the whole picture, of which a description may name only some rows: by the size of a cell."""
    size = re.search(r"\(size\s+(\d+)\s+(\d+)\)", text)
    with Image.open(file) as picture:
        if size and not picture.width % int(size[1]) and not picture.height % int(size[2]):
            return picture.width // int(size[1]), picture.height // int(size[2])
    return array


def described_counts(folder: Path) -> dict[str, set[int]]:
    """Return name of a picture without its ending -> frames of its animations, as scripts say; those that compute them are left out."""
    counts: dict[str, set[int]] = {}
    for path in sorted(folder.glob("*.lua")):
        text = path.read_text(encoding="utf-8", errors="replace")
        for name, count in re.findall(r"newAnimation\(img\.(\w+),\s*\d+,\s*\d+,\s*[\d.]+,\s*(\d+)", text):
            counts.setdefault(name, set()).add(int(count))
    return counts


def guessed(found: tuple[Found, ...]) -> dict[str, tuple[int, int]]:
    """Return file -> columns and rows guessed; 1 and 1 for what is one frame, 0 and the number of figures where there is no grid."""
    cuts = {}
    for one in found:
        for name in one.files:
            cuts[name] = (one.grid.columns, one.grid.rows) if one.grid else (0, len(one.frames)) if one.source == "sheet" else (1, 1)
    return cuts


def main() -> None:
    """Read the command line, look, guess, compare, and print what differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bringing", description=__doc__.partition("\n")[0])
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    said = described_sheets(folder)
    found = describe(look_through(folder), _SCREEN, folder.name).found
    cuts = guessed(found)
    counts = {Path(name).stem: len(one.frames) if one.source == "sheet" else 1 for one in found for name in one.files}
    animations = {name: wanted for name, wanted in described_counts(folder).items() if name in counts}
    if animations:
        print(f"animations: {sum(counts[name] in wanted for name, wanted in animations.items())} of {len(animations)} have their frames")
    right, all_of = Counter(), Counter()
    for name, cut in sorted(said.items()):
        kind = "sheets" if cut != (1, 1) else "single pictures"
        all_of[kind] += 1
        right[kind] += cuts.get(name) == cut
        if cuts.get(name) != cut:
            print(f"{name}: {cut[0]} x {cut[1]}, guessed {cuts.get(name)}")
    for kind in all_of:
        print(f"{kind}: {right[kind]} of {all_of[kind]} as their makers cut them")


if __name__ == "__main__":
    main()
