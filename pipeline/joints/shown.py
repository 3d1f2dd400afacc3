"""What the report's script draws, plays and sets with: ``work/NAME.shown.json``, and beside it a picture or a recording.

``NAME.shown.png`` holds the frames of a sprite, the picture of a background or the glyphs of a font, each once, as decoded from the
image: frames in reading order, ``columns`` in a row, one pixel of the file for one of the console's. Its palette has as many
entries as the pixels have values, so that a page can show another variant by exchanging the palette. ``NAME.shown.wav`` holds the
samples of a sound. ``work/NAME.worn.json`` says what a variant makes of the art that wears it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from pipeline.joints.places import ShownFiles
from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1
WORN_FORMAT = 1
_Count = Annotated[int, Meta(ge=0)]
_Side = Annotated[int, Meta(ge=1)]
_Table = Annotated[str, Meta(pattern="^([0-9a-f]{6})+$(?!\\n)")]


class Shown(FileRecord, frozen=True, kw_only=True, tag_field="shown"):
    """What every record says: ``words``, one line about the picture or recording for a reader who has no script."""

    words: str


class Frames(Shown, frozen=True, kw_only=True):
    """A picture of frames.

    Attributes:
        frame: width and height of one, in pixels of the console.
        count: how many; ``columns``: in a row of the file.
        aspect: width and height of a pixel of the console on its screen.
        cell: width and height of a cell, or of a background's tile.
        colours: name of the palette that the picture is drawn in; empty for direct colour.
        variants: name of each other palette -> the same entries in its colours, as hexadecimal RGB.
    """

    frame: tuple[_Side, _Side]
    count: _Side
    columns: _Side
    aspect: tuple[_Side, _Side]
    cell: tuple[_Side, _Side]
    colours: str
    variants: dict[str, _Table]


class Played(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An animation: steps are a frame, and the screen pictures for which it is shown."""

    name: str
    loop: bool
    steps: Annotated[list[tuple[_Count, _Side]], Meta(min_length=1)]


class ShownSprite(Frames, frozen=True, kw_only=True, tag="sprite"):
    """Frames of a sprite; ``tick``: seconds of a screen picture, as a fraction; ``anchor``: from a frame's top left."""

    anchor: tuple[int, int] | None
    tick: tuple[_Side, _Side]
    animations: list[Played]


class ShownBackground(Frames, frozen=True, kw_only=True, tag="background"):
    """A background; ``window``: what the screen shows of it; ``pan``: pixels that it moves from one screen picture to the next."""

    tick: tuple[_Side, _Side]
    window: tuple[_Side, _Side]
    pan: tuple[int, int]


class ShownFont(Frames, frozen=True, kw_only=True, tag="font"):
    """Glyphs of a font.

    Attributes:
        glyphs: code point and advance of each frame.
        ground: on which they are seen: ``dark`` for light letters.
        left, baseline, line_height: see ``joints.layouts.FONT``.
    """

    ground: Literal["light", "dark"]
    glyphs: list[tuple[_Count, _Count]]
    left: int
    baseline: int
    line_height: int


class Mark(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a kind of box or point is drawn: its word, RGB as hexadecimal, lengths of line and gap by turns, a second line inside."""

    word: str
    colour: Annotated[str, Meta(pattern="^#[0-9a-f]{6}$(?!\\n)")]
    dashes: list[_Count]
    double: bool


class NotedOn(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is noted on a frame: boxes as kind, left, top, width, height; points as kind, x, y; ``said``: events and numbers, in words."""

    boxes: list[tuple[int, int, int, int, int]]
    points: list[tuple[int, int, int]]
    said: str


class ShownNotes(Shown, frozen=True, kw_only=True, tag="notes"):
    """Notes on the frames of the sprite ``of``."""

    of: str
    boxes: list[Mark]
    points: list[Mark]
    frames: list[NotedOn]


class ShownSound(Shown, frozen=True, kw_only=True, tag="sound"):
    """A sound; ``seconds``: its length."""

    seconds: Annotated[float, Meta(ge=0)]


_DECODER = msgspec.json.Decoder(ShownSprite | ShownBackground | ShownFont | ShownNotes | ShownSound)


def read_shown(files: ShownFiles) -> Shown:
    """Return what a script shows of an asset.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(files.described, _DECODER, FORMAT)


def write_shown(path: Path, shown: Shown) -> None:
    """Write what a script shows of an asset."""
    write_record(path, shown)


class Worn(FileRecord, frozen=True, kw_only=True):
    """What the author should know of art in a variant's colours, as a look at the image shows it.

    Attributes:
        remarks: a sentence without a full stop each.
    """

    remarks: list[str]


_WORN_DECODER = msgspec.json.Decoder(Worn)


def read_worn(file: Path) -> Worn:
    """Return what was found.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _WORN_DECODER, WORN_FORMAT)


def write_worn(file: Path, remarks: list[str]) -> None:
    """Write what was found."""
    write_record(file, Worn(version=WORN_FORMAT, remarks=remarks))
