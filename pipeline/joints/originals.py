"""A background as its art would show it at full detail, for the proof that compares: whole, and around each of its parts.

``work/NAME.originals.png`` holds the pictures one below another, each from the left edge, RGB. ``work/NAME.originals.json`` holds an
``Originals``. Numbers with a point are in pixels of the background's own file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta

from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1
_Side = Annotated[int, Meta(ge=1)]
Place = tuple[float, float]


class Region(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One picture.

    Attributes:
        size: its width and height in its own pixels.
        at: where its top left corner is on the background.
        times: its pixels for one of the background's file, in each direction.
    """

    size: tuple[_Side, _Side]
    at: Place
    times: Annotated[float, Meta(gt=0)]


class PartShown(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One part.

    Attributes:
        name: what the author calls it; empty where it has no name.
        file: its picture.
        taken: width and height of what is taken of it, in its own pixels.
        size: width and height it takes on the background.
        places: top left corner of every copy.
        around: what is around its first copy.
    """

    name: str
    file: str
    taken: tuple[_Side, _Side]
    size: Place
    places: Annotated[list[Place], Meta(min_length=1)]
    around: Region


class Originals(FileRecord, frozen=True, kw_only=True):
    """The pictures of a background in their order: ``whole``, then what is around each part."""

    whole: Region
    parts: Annotated[list[PartShown], Meta(min_length=1)]


_DECODER = msgspec.json.Decoder(Originals)


def write_originals(path: Path, whole: Region, parts: list[PartShown]) -> None:
    """Write the description of a background's originals."""
    write_record(path, Originals(version=FORMAT, whole=whole, parts=parts))


def read_originals(path: Path) -> Originals:
    """Return the description of a background's originals.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(path, _DECODER, FORMAT)
