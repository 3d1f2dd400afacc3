"""Blobs of many shapes, and packed bytes that are right or spoilt, for every decoder there is."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import NamedTuple

from pipeline.codec import lz4_block, packbits

ENCODERS: dict[str, Callable[[bytes], bytes]] = {"packbits": packbits.encode, "lz4": lz4_block.encode}
DECODERS: dict[str, Callable[[bytes, int], bytes]] = {"packbits": packbits.decode, "lz4": lz4_block.decode}


class Case(NamedTuple):
    """What a decoder is given: the codec, packed bytes, and how many bytes should come out."""

    codec: str
    packed: bytes
    size: int


def blob(chance: random.Random, most: int = 400) -> bytes:
    """Return bytes with runs, repeats and noise; the longest lengths that one header holds are crossed now and then."""
    made, length = bytearray(), chance.choice((0, 1, 4, 5, 12, 13, 17, most // 2, most))
    while len(made) < length:
        shape = chance.random()
        if shape < 0.3:
            made += bytes([chance.randrange(4)]) * chance.choice((1, 2, 3, 127, 128, 129, 270))
        elif shape < 0.6 and made:
            back = chance.randrange(1, len(made) + 1)
            made += (bytes(made[-back:]) * 300)[: chance.choice((4, 5, 18, 19, 20, 273, 274))]
        else:
            made += chance.randbytes(chance.choice((1, 3, 14, 15, 16, 127, 128, 129)))
    return bytes(made[:length])


def valid_cases(count: int, most: int = 400) -> list[Case]:
    """Return cases that unpack, each codec in turn."""
    chance = random.Random(count)
    return [_packed(codec, blob(chance, most)) for _ in range(count // 2) for codec in ENCODERS]


def spoilt_cases(count: int, most: int = 400) -> list[Case]:
    """Return cases made from valid ones: bits and bytes changed, cut, lengthened, another size asked for; a few stay valid."""
    chance, cases = random.Random(count + 1), []
    for case in valid_cases(count, most):
        packed, size = bytearray(case.packed), case.size
        for _ in range(chance.choice((1, 1, 2, 5))):
            packed, size = _spoil(chance, packed, size)
        cases.append(Case(case.codec, bytes(packed), size))
    return cases


def _packed(codec: str, data: bytes) -> Case:
    return Case(codec, ENCODERS[codec](data), len(data))


def _spoil(chance: random.Random, packed: bytearray, size: int) -> tuple[bytearray, int]:
    way, at = chance.randrange(6), chance.randrange(len(packed)) if packed else 0
    if way == 0 and packed:
        packed[at] ^= 1 << chance.randrange(8)
    elif way == 1 and packed:
        packed[at] = chance.choice((0, 0x0F, 0x7F, 0x80, 0x81, 0xF0, 0xFF))
    elif way == 2:
        packed = packed[:at]
    elif way == 3:
        packed[at:at] = chance.randbytes(chance.choice((1, 2, 40)))
    elif way == 4:
        packed = packed[:at] + packed[at + 1 :]
    else:
        size = max(0, size + chance.choice((-13, -5, -1, 1, 2, 255)))
    return packed, size


def verdict(decoder: Callable[..., bytes], *arguments) -> bytes | None:
    """Return what a decoder makes, or None when it refuses."""
    try:
        return decoder(*arguments)
    except ValueError:
        return None
