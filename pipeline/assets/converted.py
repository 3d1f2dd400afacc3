"""A frame as conversion made it, and how it is kept between builds."""

from __future__ import annotations

from typing import NamedTuple

import lz4.block
import msgspec
import numpy as np

from pipeline.pixels.colours.difference import FrameLoss

_SMALLEST = (np.uint8, np.uint16, np.uint32)  # types in which pixels are kept


class ConvertedFrame(NamedTuple):
    """A frame's pixels, uint32, shape (height, width), and what it lost."""

    pixels: np.ndarray
    loss: FrameLoss


def pack_frame(frame: ConvertedFrame) -> bytes:
    """Return a frame as it is kept."""
    kind = next(kind for kind in _SMALLEST if frame.pixels.max(initial=0) <= np.iinfo(kind).max)
    pixels = lz4.block.compress(frame.pixels.astype(kind).tobytes())
    loss = frame.loss
    sums = loss.pixels, loss.total, loss.bins.astype("<u2").tobytes(), loss.counts.astype("<u4").tobytes()
    return msgspec.msgpack.encode((np.dtype(kind).itemsize, frame.pixels.shape, pixels, *sums))


def unpack_frame(data: bytes) -> ConvertedFrame:
    """Return the frame that ``pack_frame`` was given."""
    size, shape, packed, pixels, total, bins, counts = msgspec.msgpack.decode(data)
    held = np.frombuffer(lz4.block.decompress(packed), dtype=f"=u{size}").reshape(shape).astype(np.uint32)
    loss = FrameLoss(pixels, total, np.frombuffer(bins, "<u2").astype(np.int64), np.frombuffer(counts, "<u4").astype(np.int64))
    return ConvertedFrame(held, loss)
