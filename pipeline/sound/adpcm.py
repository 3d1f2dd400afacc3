"""Four bits a sample: the published IMA ADPCM, as one stream or in blocks that can be played from.

Source: Interactive Multimedia Association, Recommended Practices for Enhancing Digital Audio Compatibility, revision 3.00 (1992),
section 6; tables from memory, checked in the tests against two decoders.
"""

from __future__ import annotations

import struct

import numpy as np

_INDEX = (-1, -1, -1, -1, 2, 4, 6, 8) * 2
STEPS = (
    *(7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 19, 21, 23, 25, 28, 31, 34, 37, 41, 45, 50, 55, 60, 66, 73, 80, 88, 97, 107, 118, 130, 143, 157),
    *(173, 190, 209, 230, 253, 279, 307, 337, 371, 408, 449, 494, 544, 598, 658, 724, 796, 876, 963, 1060, 1166, 1282, 1411, 1552, 1707),
    *(1878, 2066, 2272, 2499, 2749, 3024, 3327, 3660, 4026, 4428, 4871, 5358, 5894, 6484, 7132, 7845, 8630, 9493, 10442, 11487, 12635),
    *(13899, 15289, 16818, 18500, 20350, 22385, 24623, 27086, 29794, 32767),
)
HEAD = 4  # bytes before a block's codes: the first sample, the place in the table of steps, and 0


def encode_adpcm(samples: np.ndarray, block: int | None, high_first: bool, big: bool) -> tuple[bytes, np.ndarray]:
    """Return a sound as ADPCM, and the levels that it decodes to.

    Args:
        samples: levels of 16 bits, int32, shape (n,), at least one.
        block: bytes of a block, each of which begins with a level and a place in the table of steps; None: one stream that begins at
            level 0 and the first step.
        high_first: the first of two samples is in the upper half of a byte.
        big: byte order of the level at a block's beginning.

    Returns:
        The bytes, the last byte or block filled up; and int32, shape (n,).
    """
    written, out, index = bytearray(), np.empty(len(samples), np.int32), 0
    numbers = samples.tolist()
    if block is None:
        codes, decoded, _ = _coded(numbers, 0, 0)
        return _packed(codes, high_first), np.array(decoded, np.int32)
    per_block = 1 + 2 * (block - HEAD)
    for start in range(0, len(numbers), per_block):
        part = numbers[start : start + per_block]
        written += struct.pack(">hBx" if big else "<hBx", part[0], index)
        codes, decoded, index = _coded(part[1:], part[0], index)
        out[start : start + len(part)] = [part[0], *decoded]
        written += _packed(codes, high_first).ljust(block - HEAD, b"\0")
    return bytes(written), out


def _coded(samples: list[int], level: int, index: int) -> tuple[list[int], list[int], int]:
    """Return the codes of samples after a level, the levels that they decode to, and the place in the table of steps after them."""
    codes, decoded = [], []
    for sample in samples:
        step, change = STEPS[index], sample - level
        code, size = (8, -change) if change < 0 else (0, change)
        moved = step >> 3
        for bit, part in ((4, step), (2, step >> 1), (1, step >> 2)):
            if size >= part:
                code |= bit
                size -= part
                moved += part
        level = max(-32768, min(32767, level - moved if code & 8 else level + moved))
        index = max(0, min(88, index + _INDEX[code]))
        codes.append(code)
        decoded.append(level)
    return codes, decoded, index


def _packed(codes: list[int], high_first: bool) -> bytes:
    pairs = np.array([*codes, 0] if len(codes) % 2 else codes, np.uint8).reshape(-1, 2)
    first, second = (pairs[:, 0], pairs[:, 1]) if high_first else (pairs[:, 1], pairs[:, 0])
    return (first << 4 | second).tobytes()
