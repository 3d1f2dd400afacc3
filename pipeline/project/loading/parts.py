"""What must agree in a background's parts, as far as it shows without looking at their files."""

from __future__ import annotations

import math

import pipeline.project.assets as pa
from pipeline.plain.bounds import PART_COPIES, PARTS
from pipeline.plain.checked import Document
from pipeline.project.loading.sheets import check_key
from pipeline.project.model import Asset

_FARTHEST = 65535  # pixels from a background's corner


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
    if part.box is not None and 0 in part.box[2:]:
        document.say((*path, "box"), f"takes {part.box[2]} x {part.box[3]} pixels of {part.file}", "write left, top, width and height")
    for key in ("at", "every"):
        point = getattr(part, key)
        if point is not None and not all(math.isfinite(value) and abs(value) <= _FARTHEST for value in point):
            document.say((*path, key), f"{list(point)} of {part.file} is not in a picture", "write pixels, for example [310, 120]")
    if part.every is None:
        return
    if part.repeat == (1, 1):
        document.say((*path, "every"), f"there is one copy of {part.file}", "add repeat = [6, 1], or leave every out")
    for direction, count, step in zip(("across", "down"), part.repeat, part.every, strict=True):
        if count > 1 and step == 0:
            wrong = f"{list(part.every)} puts {count} copies of {part.file} {direction} in one place"
            document.say((*path, "every"), wrong, "give the pixels from one copy to the next, or leave every out")
