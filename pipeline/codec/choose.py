"""Packing one blob: by a codec asked for, or by the one that makes it smallest."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from pipeline.codec import lz4_block, packbits

STORED, BEST = "stored", "best"


class _Codec(NamedTuple):
    encode: Callable[[bytes], bytes]
    decode: Callable[[bytes, int], bytes]


# In the order in which they cost a console time, so that of two equally good ones the cheaper is taken.
_CODECS = {
    STORED: _Codec(bytes, lambda packed, size: packed),
    "packbits": _Codec(packbits.encode, packbits.decode),
    "lz4": _Codec(lz4_block.encode, lz4_block.decode),
}


class Packed(NamedTuple):
    """A packed blob.

    Attributes:
        codec: ``stored``, ``packbits`` or ``lz4``.
        data: the bytes.
        tried: codec -> bytes that it makes, of every codec tried.
    """

    codec: str
    data: bytes
    tried: dict[str, int]


def pack(blob: bytes, packing: str, known: tuple[str, ...]) -> Packed:
    """Return a blob packed.

    Args:
        packing: a codec, or ``best``: the smallest of stored and those in ``known``; of equal ones the first of stored,
            packbits, lz4.
        known: codecs that the game's program on the target unpacks; looked at only for ``best``.

    Raises:
        RuntimeError: what was packed does not unpack to the blob: a mistake of the encoder.
    """
    names = [name for name in _CODECS if name in (STORED, *known)] if packing == BEST else [packing]
    made = {name: _CODECS[name].encode(blob) for name in names}
    codec = min(made, key=lambda name: len(made[name]))
    if _CODECS[codec].decode(made[codec], len(blob)) != blob:
        raise RuntimeError(f"{codec} does not give back what it was given")
    return Packed(codec, made[codec], {name: len(data) for name, data in made.items()})
