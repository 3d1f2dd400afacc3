"""Scaled frames between the steps that make them and those that use them: one raw file and its description.

``work/NAME.rgba`` holds the frames one after another, 4 bytes a pixel (R, G, B, alpha 0 or 255), rows from the top.
``work/NAME.frames.json`` holds a ``Frames``.
``work/NAME.numbers``, where the palette keeps a file's own numbers, holds a byte for each pixel of ``NAME.rgba``: its number in the
indexed picture it comes from; 0 where the picture has none, was scaled, or does not reach.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import msgspec
import numpy as np
from msgspec import Meta

from pipeline.joints.places import FrameFiles
from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 2  # 1 had no origin
_Side = Annotated[int, Meta(ge=1)]
_Count = Annotated[int, Meta(ge=0)]


class GlyphTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a font's frames are, each of them one glyph.

    Attributes:
        glyphs: code point and advance in pixels of each, by rising code point.
        left: column of the frames that the pen is at before the glyph is drawn, in pixels.
        baseline: row of the baseline, in pixels from the top of the frames.
        line_height: pixels from one line's baseline to the next.
    """

    glyphs: Annotated[list[tuple[_Count, _Count]], Meta(min_length=1)]
    left: int
    baseline: int
    line_height: int


class Placed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How places in the art get to places in scaled frames, exactly: a place times ``factors`` plus ``starts``.

    Attributes:
        factors: across and down, as the text of a fraction such as ``77/100``.
        starts: where the top left corner of the art, or of the canvas it is put on, is in a scaled frame; texts too.
        frames: of each frame, in pixels of the art: where its own picture is on the canvas (0, 0 without one), its width and height, and
            where it is in the file it comes from.
    """

    factors: tuple[str, str]
    starts: tuple[str, str]
    frames: list[tuple[int, int, _Side, _Side, _Count, _Count]]


class Frames(FileRecord, frozen=True, kw_only=True, omit_defaults=True):
    """The description of a sprite's, a background's or a font's scaled frames.

    Attributes:
        count: frames, at least 1; a background is one.
        width, height: of every frame, in pixels.
        source: width and height of every frame before scaling, in pixels.
        scale: factors across and down, above 0; 1 and 1 for a font.
        origin: where the source's top left corner is in a frame, in pixels from its top left, to 2**-20 pixels.
        anchor: the point of a sprite that stays in place, in pixels from a frame's top left, in 16 bits, signed; else 0, 0.
        ms: how long each frame of an animated source is shown, in milliseconds; empty for other sources.
        table: of a font; None for other kinds.
        feet: of each frame of a sprite with align, the middle of its lowest row and that row's lower edge; empty for others.
        placed: of a sprite with notes; None for others.
    """

    count: _Side
    width: _Side
    height: _Side
    source: tuple[_Side, _Side]
    scale: tuple[Annotated[float, Meta(gt=0)], Annotated[float, Meta(gt=0)]]
    origin: tuple[float, float]
    anchor: tuple[Annotated[int, Meta(ge=-0x8000, le=0x7FFF)], Annotated[int, Meta(ge=-0x8000, le=0x7FFF)]]
    ms: list[float]
    table: GlyphTable | None
    feet: list[tuple[int, int]] = []
    placed: Placed | None = None


_DECODER = msgspec.json.Decoder(Frames)


def read_frames(file: Path) -> Frames:
    """Return the description of an asset's frames.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _DECODER, FORMAT)


def write_frames(
    file: Path,
    count: int,
    size: tuple[int, int],
    source: tuple[int, int],
    scale: tuple[float, float] = (1.0, 1.0),
    anchor: tuple[int, int] = (0, 0),
    origin: tuple[float, float] = (0.0, 0.0),
    ms: list[float] | None = None,
    table: GlyphTable | None = None,
    feet: list[tuple[int, int]] | None = None,
    placed: Placed | None = None,
) -> None:
    """Write the description of an asset's frames; see ``Frames``. ``size``: width and height."""
    width, height = size
    record = Frames(
        version=FORMAT,
        count=count,
        width=width,
        height=height,
        source=source,
        scale=scale,
        origin=origin,
        anchor=anchor,
        ms=ms or [],
        table=table,
        feet=feet or [],
        placed=placed,
    )
    write_record(file, record)


_TOGETHER = 1 << 18  # pixels of the frames handed out together, unless one frame alone has more


class PreparedFrames:
    """The frames of ``work/NAME.rgba``, read one or a few at a time so that memory does not grow with their number."""

    def __init__(self, files: FrameFiles) -> None:
        self.facts = read_frames(files.described)
        self.count, self.width, self.height = self.facts.count, self.facts.width, self.facts.height
        self._path, self._numbers = files.pixels, files.numbers

    def __iter__(self) -> Iterator[np.ndarray]:
        """Yield uint8 arrays of shape (height, width, 4)."""
        size = self.width * self.height * 4
        with open(self._path, "rb") as file:
            for _ in range(self.count):
                yield np.frombuffer(file.read(size), dtype=np.uint8).reshape(self.height, self.width, 4)

    def stacks(self) -> Iterator[np.ndarray]:
        """Yield all frames, a few at a time: uint8 arrays of shape (count, height, width, 4)."""
        for count, values in self._read(self._path, 4):
            yield values.reshape(count, self.height, self.width, 4)

    def number_stacks(self) -> Iterator[np.ndarray | None]:
        """Yield the numbers that belong to each of ``stacks``, uint8, shape (count, height, width); None where there are none."""
        if self._numbers is None:
            yield from itertools.repeat(None)
            return
        for count, values in self._read(self._numbers, 1):
            yield values.reshape(count, self.height, self.width)

    def _read(self, path: Path, depth: int) -> Iterator[tuple[int, np.ndarray]]:
        """Yield a few frames' bytes at a time, and how many frames these are."""
        size = self.width * self.height
        most = max(1, _TOGETHER // size)
        with open(path, "rb") as file:
            for first in range(0, self.count, most):
                count = min(most, self.count - first)
                yield count, np.frombuffer(file.read(size * depth * count), dtype=np.uint8)
