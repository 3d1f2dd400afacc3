"""The layout of a blob's own tables: field definitions only, shared by what writes blobs and by the image reader.

All offsets are from the start of the blob, all numbers in the target's byte order, all fields naturally aligned when
the blob starts at a multiple of 4. Strings do not occur: names are their CRC-32/ISO-HDLC (``name_hash``).
"""

from __future__ import annotations

from typing import NamedTuple


class Part(NamedTuple):
    """One number of a record: name, width in bytes, and whether it is signed."""

    name: str
    bytes: int
    signed: bool = False


VERSION = 1
NO_PALETTE = 0  # no name has this CRC-32 except by accident, and such a name is refused

SPRITE = (
    Part("version", 1),
    Part("pixel_format", 1),  # rank of the format in the target file, from 0
    Part("frame_count", 2),
    Part("width", 2),  # of a stored frame in pixels, whole cells
    Part("height", 2),
    Part("anchor_x", 2, signed=True),  # in pixels from the stored frame's top left
    Part("anchor_y", 2, signed=True),
    Part("animation_count", 2),
    Part("step_count", 2),
    Part("palette", 4),  # name_hash of the palette asset, or NO_PALETTE
    Part("frame_bytes", 4),
    Part("animations", 4),  # offset of the animation table
    Part("steps", 4),  # offset of the step table
    Part("pixels", 4),  # offset of frame 0; the frames follow each other
)
ANIMATION = (
    Part("name_hash", 4),
    Part("first_step", 2),
    Part("step_count", 2),
    Part("loop", 2),  # 1 starts again, 0 stays on the last step
    Part("spare", 2),
)
STEP = (
    Part("frame", 2),
    Part("ticks", 2),  # pictures of the screen for which the frame is shown, at least 1
)
BACKGROUND = (
    Part("version", 1),
    Part("pixel_format", 1),
    Part("width", 2),
    Part("height", 2),
    Part("spare", 2),
    Part("palette", 4),
    Part("pixels", 4),
)
SCREEN = (
    Part("version", 1),
    Part("pixel_format", 1),
    Part("width", 2),
    Part("height", 2),
    Part("entry_count", 2),  # of its own palette; 0 for direct colour
    Part("entries", 4),  # offset of the palette entries
    Part("pixels", 4),
)
PALETTE = (
    Part("version", 1),
    Part("transparent", 1),  # 1: the first entry is transparent
    Part("first", 2),  # where it is loaded in the console's palette
    Part("entry_count", 2),
    Part("spare", 2),
    Part("entries", 4),
)
SOUND = (
    Part("version", 1),
    Part("format", 1),  # 0 u8, 1 s8, 2 s16
    Part("spare", 2),
    Part("rate", 4),  # samples a second
    Part("sample_count", 4),
    Part("samples", 4),
)
SOUND_FORMATS = ("u8", "s8", "s16")


def record_bytes(record: tuple[Part, ...]) -> int:
    """Return the size of a record."""
    return sum(part.bytes for part in record)
