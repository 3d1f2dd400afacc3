"""A sheet without a grid cut by its boxes file, which is written first where there is none: every figure found, in reading order."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.sources.canvas import Drawn, anchor_of
from pipeline.assets.sources.islands import Islands, TooManyIslands, find_islands
from pipeline.assets.sources.keyed import likely_key
from pipeline.assets.sources.sheets import Box, check_cuts, corners, drawn_pixels, slices
from pipeline.plain.bounds import DRAWN_PIXELS, FRAMES
from pipeline.plain.checked import Document
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted
from pipeline.project.assets import Sprite
from pipeline.project.boxes import Boxes, FrameBox, boxes_text, read_boxes

_ISLANDS = 4 * FRAMES  # looked at where boxes overlap


def boxed(
    picture: Image.Image, name: str, spec: Sprite, file: Path, folder: Path, cuts: Path | None
) -> tuple[list[Drawn], list[str]]:
    """Return the frames of a sheet, and notes for the author.

    Args:
        picture: the sheet, RGBA, key colours cleared; ``name`` is its file, for messages.
        file: the boxes file; written if it is not there.
        folder: of the project.
        cuts: where a picture of refused cuts is put; None: a cut is not looked for.

    Raises:
        ProjectError: no figure or too many are found; the file is damaged, or has boxes outside the sheet; a box cuts through a figure.
    """
    shown, notes = file.relative_to(folder).as_posix(), []
    if not file.exists():
        found, join = find_boxes(picture, name, spec)
        write_bytes(file, boxes_text(name, join, found).encode())
        notes.append(f"{counted(len(found), 'frame')} found, joined over {join} pixels, written to {shown}")
    document, boxes = read_boxes(file, shown, folder)
    _check_places(document, boxes, picture, name)
    drawn = drawn_pixels(picture, spec.alpha)
    places = [frame.box for frame in boxes.frame]
    foreign, loose = _parted(drawn, places, boxes.join, shown)
    if cuts is not None:
        anyway = spec.sheet is not None and spec.sheet.cut == "anyway"
        check_cuts(picture, name, places, loose, anyway, cuts, lambda: f"correct the boxes in {shown}")
    notes += _unboxed(drawn, places, shown)
    return [_frame(picture, name, rank, frame, foreign) for rank, frame in enumerate(boxes.frame)], notes


def find_boxes(picture: Image.Image, name: str, spec: Sprite) -> tuple[list[FrameBox], int]:
    """Return a box with its anchor for every figure of a sheet, and the join distance used.

    Raises:
        ProjectError: nothing is drawn, everything is, or there are too many islands; markers are missing or not alone.
    """
    drawn = drawn_pixels(picture, spec.alpha)
    if drawn.all() or not drawn.any():
        ground = likely_key(np.asarray(picture), bool(picture.info.get("lossy")))
        remedy = f"write {ground.keys} if that colour means transparent" if ground else "clear the ground, or name its colour as key"
        state = "no transparent pixel, so no figure ends" if drawn.any() else "no opaque pixel, so no figure is found"
        raise refuse(name, "", f"has {state}", remedy if drawn.any() else "check the picture, key and alpha")
    try:
        islands = find_islands(~drawn, spec.sheet.join if spec.sheet else None)
    except TooManyIslands as error:
        wrong = f"has {error.count:,} figures, at most {FRAMES:,} are taken"
        raise refuse(name, "", wrong, "give a larger join, so that parts become one figure, or name the ground's colour as key") from None
    problems: list[Problem] = []
    frames = [_found(picture, name, spec, islands, rank, problems) for rank in range(len(islands.boxes))]
    if problems:
        raise ProjectError(problems)
    return frames, islands.join


def _found(picture: Image.Image, name: str, spec: Sprite, islands: Islands, rank: int, problems: list[Problem]) -> FrameBox:
    box = islands.boxes[rank]
    own = np.asarray(picture.crop(corners(box))).copy()
    own[islands.labels[slices(box)] != rank + 1] = 0
    shown = f"{name} figure at {box[0]}, {box[1]}"
    x, y = anchor_of(Drawn(Image.fromarray(own), shown), spec, spec.alpha, problems)
    return FrameBox(box=box, anchor=(box[0] + x, box[1] + y))


def _check_places(document: Document, boxes: Boxes, picture: Image.Image, name: str) -> None:
    total = 0
    for rank, frame in enumerate(boxes.frame):
        left, top, width, height = frame.box
        total += width * height
        if left + width > picture.width or top + height > picture.height:
            wrong = f"{list(frame.box)} reaches to {left + width}, {top + height}; {name} has {picture.width} x {picture.height} pixels"
            document.say(("frame", rank, "box"), wrong, "correct it, or delete the file to find the frames again")
    document.finish()
    if total > DRAWN_PIXELS:
        wrong = f"{len(boxes.frame):,} boxes have {total:,} pixels in all; at most {DRAWN_PIXELS:,} are taken"
        raise refuse(document.shown, "", wrong, "make the boxes smaller")


def _parted(drawn: np.ndarray, places: list[Box], join: int, shown: str) -> tuple[list[np.ndarray] | None, np.ndarray]:
    """Deal islands to overlapping boxes: one that is wholly in a box belongs to the smallest such box, and is drawn in no other.

    Returns:
        For each box the pixels that belong to others: bool, shape (height, width) of the box; None where no boxes overlap. And the
        pixels of islands that are wholly in no box: bool, shape of the picture.
    """
    covered = np.zeros(drawn.shape, dtype=np.uint16)
    for box in places:
        covered[slices(box)] += 1
    if (covered < 2).all():
        return None, drawn
    try:
        islands = find_islands(~drawn, join, _ISLANDS)
    except TooManyIslands as error:
        wrong = f"boxes overlap, and the picture has {error.count:,} islands; at most {_ISLANDS:,} are dealt to boxes"
        raise refuse(shown, "", wrong, "part the boxes, or write a larger join") from None
    owners = _owners(np.array(islands.boxes).reshape(-1, 4), places)
    of_pixel = np.concatenate([[-1], owners])[islands.labels]
    foreign = [(of_pixel[slices(box)] >= 0) & (of_pixel[slices(box)] != rank) for rank, box in enumerate(places)]
    return foreign, drawn & (of_pixel < 0)


def _owners(islands: np.ndarray, places: list[Box]) -> np.ndarray:
    """Return for each island the place of the smallest box that holds it wholly, the first of those as small; -1 where none does."""
    owners = np.full(len(islands), -1)
    for rank in sorted(range(len(places)), key=lambda rank: (-places[rank][2] * places[rank][3], -rank)):
        left, top, width, height = places[rank]
        inside = (islands[:, 0] >= left) & (islands[:, 1] >= top)
        inside &= (islands[:, 0] + islands[:, 2] <= left + width) & (islands[:, 1] + islands[:, 3] <= top + height)
        owners[inside] = rank  # smaller boxes come later
    return owners


def _unboxed(drawn: np.ndarray, places: list[Box], shown: str) -> list[str]:
    left = drawn.copy()
    for box in places:
        left[slices(box)] = False
    if not left.any():
        return []
    y, x = divmod(int(left.argmax()), left.shape[1])
    return [f"{int(left.sum()):,} opaque pixels are in no box of {shown}, the first at {x}, {y}"]


def _frame(picture: Image.Image, name: str, rank: int, frame: FrameBox, foreign: list[np.ndarray] | None) -> Drawn:
    part = picture.crop(corners(frame.box))
    if foreign is not None and foreign[rank].any():
        pixels = np.array(part)
        pixels[foreign[rank]] = 0
        part = Image.fromarray(pixels)
    anchor = (frame.anchor[0] - frame.box[0], frame.anchor[1] - frame.box[1]) if frame.anchor else None
    return Drawn(part, f"{name} frame {frame.name or rank}", anchor=anchor, place=(frame.box[0], frame.box[1]))
