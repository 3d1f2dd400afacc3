"""What must agree in how art is read: grid or boxes of a sheet, key, alignment and anchors; and in a background's parts."""

from __future__ import annotations

import math
from pathlib import Path

import pipeline.project.assets as pa
from pipeline.plain.bounds import PART_COPIES, PARTS
from pipeline.plain.checked import Document
from pipeline.project.boxes import FOUND, boxes_file
from pipeline.project.model import Asset, LoadedProject

_OF_GRIDS = ("columns", "rows", "frame", "margin", "gap", "count")
# What figures are found by: sprites that share a boxes file must agree in it.
_OF_FINDING = ("key", "tolerance", "alpha", "marker")

_FARTHEST = 65535  # pixels from a background's corner


def check_art_read(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what does not agree in how a sprite's art is read."""
    path, spec = ("sprite", asset.name), asset.spec
    if spec.sheet:
        _check_sheet(document, (*path, "sheet"), spec.sheet)
        if spec.sheet.boxes == FOUND:
            _check_shared(document, project, asset)
    check_key(document, path, spec)
    _check_anchors(document, path, spec)


def check_key(document: Document, path: tuple, spec: pa.Sprite | pa.Background | pa.Part | pa.Font) -> None:
    """Note a tolerance without a key."""
    if spec.key is None and spec.tolerance:
        document.say((*path, "tolerance"), "there is no key colour", 'add key = "#ff00ff", or leave tolerance out')


def _check_sheet(document: Document, path: tuple, sheet: pa.Sheet) -> None:
    given = [key for key in _OF_GRIDS if getattr(sheet, key) not in (None, 0)]
    if sheet.boxes is not None:
        if given:
            document.say((*path, "boxes"), f"{' and '.join(given)} given as well", "give boxes, or the grid of the sheet, not both")
        if sheet.join is not None and sheet.boxes != FOUND:
            document.say((*path, "join"), "only figures that are found are joined", "write it into the boxes file, or leave it out")
        return
    if sheet.join is not None:
        document.say((*path, "join"), "the frames of a grid are not joined", 'add boxes = "found", or leave join out')
    for key in ("columns", "rows"):
        if getattr(sheet, key) is None and sheet.frame is None:
            remedy = f'give {key}, or the size of a frame as frame = [32, 48]; for figures without a grid write boxes = "found"'
            document.say(path, f"neither {key} nor frame given", remedy)


def _check_anchors(document: Document, path: tuple, spec: pa.Sprite) -> None:
    point = spec.anchor if isinstance(spec.anchor, tuple) else None
    if point and not all(math.isfinite(value) for value in point):
        document.say((*path, "anchor"), f"{list(point)} is not a point", "write pixels, for example [60, 152]")
    of_frames = spec.anchor == "feet" or spec.marker is not None
    if spec.align != "anchors":
        for key in ("anchor", "marker"):
            if of_frames and (getattr(spec, key) == "feet" or (key == "marker" and spec.marker)):
                document.say((*path, key), "gives each frame its own anchor", 'add align = "anchors", or leave it out')
    elif point:
        document.say((*path, "anchor"), "is one point, but align = \"anchors\" takes one of each frame", "leave one of them out")
    elif not of_frames and not (spec.sheet and spec.sheet.boxes):
        remedy = 'add anchor = "feet" or a marker colour, or use boxes'
        document.say((*path, "align"), "nothing says where the anchors are", remedy)


def _check_shared(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note sprites whose figures would be found in one sheet in different ways, so that the first to be built decided."""
    spec, name = asset.spec, boxes_file(asset.spec.sheet)
    if name is None or (Path(project.folder) / name).is_file():
        return
    for other in project.of_kind("sprite"):
        if other.name == asset.name:
            return
        sheet = other.spec.sheet
        if sheet and sheet.boxes == FOUND and boxes_file(sheet) == name:
            apart = [key for key in _OF_FINDING if getattr(spec, key) != getattr(other.spec, key)]
            apart += [key for key in ("file", "join") if getattr(spec.sheet, key) != getattr(sheet, key)]
            if apart:
                wrong = f"figures are found for {other.name} too, with another {' and '.join(apart)}, and both would write {name}"
                document.say(("sprite", asset.name, "sheet", "boxes"), wrong, "give both the same")


def check_parts(document: Document, asset: Asset) -> None:
    """Note what is wrong with a background's parts."""
    path, parts = ("background", asset.name, "part"), asset.spec.part
    if len(parts) > PARTS:
        document.say((*path, PARTS), f"{len(parts):,} parts, at most {PARTS:,} are taken", "put details together in one picture")
        return
    for rank, part in enumerate(parts):
        _check_part(document, (*path, rank), part)
    copies = sum(part.repeat[0] * part.repeat[1] for part in parts)
    if copies > PART_COPIES:
        wrong = f"its parts are {copies:,} copies in all, at most {PART_COPIES:,} are taken"
        document.say(path[:2], wrong, "draw a row of them as one part, and repeat that")


def _check_part(document: Document, path: tuple, part: pa.Part) -> None:
    check_key(document, path, part)
    if not part.name.isprintable():
        document.say((*path, "name"), f"{part.name!r} has a line break or another control character", "write one plain line")
    if part.box is not None and 0 in part.box[2:]:
        document.say((*path, "box"), f"takes {part.box[2]} x {part.box[3]} pixels of {part.file}", "write left, top, width and height")
    for key in ("at", "every"):
        point = getattr(part, key)
        if point is not None and not all(math.isfinite(value) and abs(value) <= _FARTHEST for value in point):
            document.say((*path, key), f"{list(point)} of {part.file} is not a place in a picture", "write pixels, for example [310, 120]")
    if part.every is None:
        return
    if part.repeat == (1, 1):
        document.say((*path, "every"), f"there is one copy of {part.file}", "add repeat = [6, 1], or leave every out")
    for direction, count, step in zip(("across", "down"), part.repeat, part.every, strict=True):
        if count > 1 and step == 0:
            wrong = f"{list(part.every)} puts {count} copies of {part.file} {direction} in one place"
            document.say((*path, "every"), wrong, "give the pixels from one copy to the next, or leave every out")
