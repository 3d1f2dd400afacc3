"""The boxes file of a sheet without a grid: where each frame is. It is found once, and the author's from then on."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Annotated

from msgspec import Meta, field

from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.written import Record, about
from pipeline.project.assets import Sheet, Sprite

FOUND = "found"
Place = Annotated[int, Meta(ge=0, le=65535)]
Side = Annotated[int, Meta(ge=1, le=65535)]
Coordinate = Annotated[int, Meta(ge=-65536, le=131072)]


class FrameBox(Record):
    """Where one frame is in its sheet, in pixels."""

    box: Annotated[tuple[Place, Place, Side, Side], about("Left, top, width and height.", examples=[[0, 0, 32, 48]])]
    anchor: Annotated[
        tuple[Coordinate, Coordinate] | None, about("The point that stays in place, from the sheet's top left; left out: its feet.")
    ] = None
    name: Annotated[str, about("For the frame patterns of animations.", max_length=80)] = ""


class Boxes(Record):
    """The file."""

    join: Annotated[int, about("Clear pixels that parts of one figure may be apart, where boxes overlap.", ge=0, le=256)] = 0
    frame: Annotated[list[FrameBox], Meta(min_length=1)] = field(default_factory=list)


def boxes_file(sheet: Sheet) -> str | None:
    """Return the boxes file of a sheet, relative to the project folder; None where it has a grid."""
    return str(PurePosixPath(sheet.file).with_suffix(".boxes.toml")) if sheet.boxes == FOUND else sheet.boxes


def read_boxes(path: Path, shown: str, folder: Path) -> tuple[Document, Boxes]:
    """Return a boxes file, and its document to note problems in.

    Raises:
        ProjectError: it cannot be read, or something in it is wrong.
    """
    document = read_document(path, shown, folder)
    made = build(document, (), document.data, Boxes)
    boxes = document.finished(made)
    if not boxes.frame:
        document.say(("frame",), "there is no frame", "write a [[frame]] with a box, or delete the file to find them again")
        document.finish()
    return document, boxes


def named_boxes(folder: Path, spec: Sprite, always: bool = False) -> str | None:
    """Return the boxes file, relative to the project folder, whose names a sprite's animations use, or that is there where they are
    ``always`` wanted; None where it is not there.
    """
    name = boxes_file(spec.sheet) if spec.sheet else None
    used = always or any(isinstance(one.frames, str) for one in spec.animations.values())
    if name is None or not used or not (folder / name).is_file():
        return None
    return name


def boxes_text(sheet: str, join: int, frames: Iterable[FrameBox]) -> str:
    """Return the text of a boxes file."""
    head = (
        f"# The frames found in {PurePosixPath(sheet).name}. This file is yours: it is read from now on and never written again.\n"
        "# box: left, top, width and height in the sheet, in pixels. anchor: the point of a frame that stays in place, from the sheet's\n"
        "# top left. A frame may have a name too: name = \"walk_0\". Delete the file to find the frames again.\n"
        f"join = {join}\n"
    )
    parts = [
        "\n[[frame]]\n"
        f"box = {list(frame.box)}\n" + (f"anchor = {list(frame.anchor)}\n" if frame.anchor else "")
        for frame in frames
    ]
    return head + "".join(parts)
