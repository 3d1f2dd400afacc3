"""Blobs back to pixels, samples and colours: what one holds, how it is refused, how its records are read.

Shares no code with the packers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from pipeline.joints.layouts import Part
from pipeline.plain.bits import BitPattern, ByteOrder
from pipeline.target.calls import Call
from pipeline.target.records import PixelFormat, Target


class BlobFault(ValueError):
    """A blob that cannot be what its kind says; the message says why."""


@dataclass
class Decoded:
    """What a blob holds.

    Attributes:
        head: the blob's own record, by field name.
        pixels: uint32, shape (frames, height, width): palette indices or direct-colour words; the cells of a pool; empty
            for other kinds.
        colours: uint8, shape (entries, 3): of a palette, or of a screen's own palette.
        samples: int32, shape (n,).
        animations: (name hash, loop, [(frame, ticks), ...]).
        pixel_format: the format of ``pixels``.
        lines: a map chose each tile's line of the palette, and pixels are places in the console's whole palette.
        glyphs: (code point, advance) of each frame of a font.
        cells: uint32, shape (height, width): the numbers of a level.
        tables: of load lists: name of a table -> its records, by field name.
        noted: of each frame, what notes say.
        texts: of each language, by key, the units of a text without its end.
    """

    head: dict[str, int]
    pixels: np.ndarray = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.uint32))
    colours: np.ndarray = field(default_factory=lambda: np.zeros((0, 3), dtype=np.uint8))
    samples: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    animations: list[tuple[int, bool, list[tuple[int, int]]]] = field(default_factory=list)
    pixel_format: PixelFormat | None = None
    lines: bool = False
    glyphs: list[tuple[int, int]] = field(default_factory=list)
    cells: np.ndarray = field(default_factory=lambda: np.zeros((0, 0), dtype=np.uint32))
    tables: dict[str, list[dict[str, int]]] = field(default_factory=dict)
    noted: list[NotedFrame] = field(default_factory=list)
    texts: list[list[list[int]]] = field(default_factory=list)

    @property
    def pattern(self) -> BitPattern:
        """The bit pattern of one pixel.

        Raises:
            ValueError: nothing with pixels was decoded.
        """
        if self.pixel_format is None:
            raise ValueError("a blob without pixels has no pixel format")
        return self.pixel_format.pixel


@dataclass(frozen=True)
class NotedFrame:
    """What is noted on a frame of a sprite, in pixels of the frame.

    Attributes:
        boxes: (kind, left, top, width, height).
        points: (kind, x, y).
        numbers: of every kind.
        events: bits.
        ticks: 0 where not said.
    """

    boxes: list[tuple[int, int, int, int, int]]
    points: list[tuple[int, int, int]]
    numbers: list[int]
    events: int
    ticks: int


# From the name hash of a pool to the pool, decoded; None when no pool has that name.
FindPool = Callable[[int], Decoded | None]


def decode_blob(kind: str, blob: bytes, target: Target, decoders: Mapping[str, Call], find_pool: FindPool | None = None) -> Decoded:
    """Decode an asset of a kind from its bytes and the target alone; programs and data have nothing to decode.

    Args:
        decoders: kind -> what decodes it; see ``target.kinds``.
        find_pool: how to come by the pool of a sprite that names one.

    Raises:
        BlobFault: a table or the pixels leave the blob, or a number names nothing.
    """
    decoder = decoders.get(kind)
    return decoder(blob, target, find_pool) if decoder else Decoded({})


def read_record(record: tuple[Part, ...], blob: bytes, at: int, byte_order: ByteOrder) -> dict[str, int]:
    """Return a record's numbers by name.

    Raises:
        BlobFault: it does not lie inside the blob.
    """
    values = {}
    for part in record:
        if at < 0 or at + part.bytes > len(blob):
            raise BlobFault(f"{part.name} lies at {at}, outside the blob's {len(blob)} bytes")
        values[part.name] = int.from_bytes(blob[at : at + part.bytes], byte_order, signed=part.signed)
        at += part.bytes
    return values
