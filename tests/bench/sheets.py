"""How many frames of free games' sheets are found without their grids.

``python -m tests.bench.sheets FOLDER`` reads Debian packages unpacked there (``apt-get download NAME; dpkg -x FILE FOLDER/NAME``):
pingus-data (GPL-3+), freeciv-data (GPL-2+), caveexpress-data (CC-BY-SA-3.0 and others), and mrrescue, whose .love archive is unpacked
beside it (zlib, CC-BY-SA-3.0). Each says itself where its frames are. The join distance was fitted on pingus-data alone. What the boxes
are compared with is the box of the drawn pixels in each frame; frames that touch another one's pixels cannot be told apart, and
are counted on their own.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.sources.islands import JOINS, TooManyIslands, find_islands

Box = tuple[int, int, int, int]


def pingus(folder: Path) -> Iterator[tuple[Path, list[Box]]]:
    """Yield sheets and the boxes of their cells, as .sprite files give array and size."""
    seen = set()
    for file in sorted(folder.rglob("*.sprite")):
        text = file.read_text()
        image, array, size = (re.search(rf"\({key} ([^)]*)\)", text) for key in ("image", "array", "size"))
        if image and array and size:
            picture = next(iter(folder.rglob(image[1].strip('"').removeprefix("/images/"))), None)
            (columns, rows), (width, height) = (tuple(map(int, found[1].split())) for found in (array, size))
            if picture and picture not in seen and columns * rows > 1:
                seen.add(picture)
                yield picture, [(x * width, y * height, width, height) for y in range(rows) for x in range(columns)]


def freeciv(folder: Path) -> Iterator[tuple[Path, list[Box]]]:
    """Yield sheets of specs with one grid."""
    for file in sorted(folder.rglob("*.spec")):
        text = re.sub(r";.*", "", file.read_text(errors="replace"))
        gfx, grids = re.search(r'gfx *= *"([^"]*)"', text), re.findall(r"\n\[grid_", text)
        given = {key: re.search(rf"{key} *= *(\d+)", text) for key in ("x_top_left", "y_top_left", "dx", "dy", "pixel_border")}
        picture = next(iter(folder.rglob(gfx[1] + ".png")), None) if gfx else None
        if not picture or len(grids) != 1 or not given["dx"] or not given["dy"]:
            continue
        left, top, across, down, border = (int(found[1]) if found else 0 for found in given.values())
        with Image.open(picture) as image:
            width, height = image.size
        columns, rows = (width - left + border) // (across + border), (height - top + border) // (down + border)
        if columns * rows > 1:
            cells = [(x, y) for y in range(rows) for x in range(columns)]
            yield picture, [(left + x * (across + border), top + y * (down + border), across, down) for x, y in cells]


def mrrescue(folder: Path) -> Iterator[tuple[Path, list[Box]]]:
    """Yield sheets of animations, one row of frames each."""
    text = "\n".join(file.read_text(errors="replace") for file in sorted(folder.rglob("*.lua")))
    for name, width, height in sorted(set(re.findall(r"newAnimation\(img\.(\w+), *(\d+), *(\d+)", text))):
        picture = next(iter(folder.rglob(f"data/{name}.png")), None)
        if picture:
            with Image.open(picture) as image:
                size = image.size
            wide, high = int(width), int(height)
            boxes = [(x, y, wide, high) for y in range(0, size[1] - high + 1, high) for x in range(0, size[0] - wide + 1, wide)]
            if len(boxes) > 1:
                yield picture, boxes


def caveexpress(folder: Path) -> Iterator[tuple[Path, list[Box]]]:
    """Yield atlases of the larger size, whose Lua table gives each frame's rectangle as parts of the picture."""
    text = next(folder.rglob("complete.lua")).read_text().partition("texturessmall")[0]
    found: dict[str, list[tuple[float, ...]]] = {}
    for image, *numbers in re.findall(
        r'image = "([^"]*)",\s*x0 = ([\d.]+),\s*y0 = ([\d.]+),\s*x1 = ([\d.]+),\s*y1 = ([\d.]+)', text
    ):
        found.setdefault(image, []).append(tuple(map(float, numbers)))
    for name, rectangles in sorted(found.items()):
        picture = next(iter(folder.rglob(f"{name}.png")), None)
        if picture and len(rectangles) > 1:
            with Image.open(picture) as image:
                width, height = image.size
            sides = [(width, height, width, height)] * len(rectangles)
            boxes = [tuple(round(part * side) for part, side in zip(*both, strict=True)) for both in zip(rectangles, sides, strict=True)]
            yield picture, boxes


def tight(drawn: np.ndarray, box: Box) -> Box | None:
    """Return the box of the drawn pixels in a box; None where there is none."""
    left, top, width, height = box
    ys, xs = np.nonzero(drawn[top : top + height, left : left + width])
    return (left + int(xs.min()), top + int(ys.min()), int(np.ptp(xs)) + 1, int(np.ptp(ys)) + 1) if len(xs) else None


def apart(drawn: np.ndarray, boxes: list[Box]) -> set[Box]:
    """Return the boxes whose drawn pixels touch no drawn pixel outside them."""
    free = set()
    for left, top, width, height in boxes:
        around = drawn[max(0, top - 1) : top + height + 1, max(0, left - 1) : left + width + 1]
        if around.sum() == drawn[top : top + height, left : left + width].sum():
            free.add((left, top, width, height))
    return free


def found_with(drawn: np.ndarray, join: int | None) -> tuple[set[Box], int]:
    """Return the boxes found, and the join distance used."""
    try:
        islands = find_islands(~drawn, join)
    except TooManyIslands:
        return set(), -1
    return set(islands.boxes), islands.join


def measure(sheets: Iterator[tuple[Path, list[Box]]], verbose: bool) -> str:
    """Return one line about the sheets of a source."""
    frames = exact = free = free_exact = best = files = 0
    for path, boxes in sheets:
        with Image.open(path) as picture:
            drawn = np.asarray(picture.convert("RGBA"))[..., 3] >= 128
        if drawn.all() or drawn.size > 1 << 24:
            continue
        true = {box for box in (tight(drawn, box) for box in boxes) if box}
        if len(true) < 2:
            continue
        alone = apart(drawn, sorted(true))
        found, join = found_with(drawn, None)
        most, at = max((len(true & found_with(drawn, distance)[0]), -distance) for distance in JOINS)
        files, frames, exact, best = files + 1, frames + len(true), exact + len(true & found), best + most
        free, free_exact = free + len(alone), free_exact + len(alone & found)
        if verbose:
            print(f"  {path.name:40} {len(true & found):4} of {len(true):4}, {len(found):4} found; join {join}, best {most} at {-at}")
    alone = f"{free_exact / free:.1%} of {free} that touch nothing"
    return f"{files} sheets, {frames} frames: {exact / frames:.1%} exact ({alone}); best join of each sheet {best / frames:.1%}"


SOURCES = {"pingus": pingus, "freeciv": freeciv, "mrrescue": mrrescue, "caveexpress": caveexpress}

if __name__ == "__main__":
    for name, sheets in SOURCES.items():
        print(name, measure(sheets(Path(sys.argv[1]) / name), "-v" in sys.argv), flush=True)
