"""Samples of fewer bits back to levels of 16: G.711 by its segments, ADPCM by its table of steps. Written apart from what stored them.

Sources: ITU-T G.711, tables 1 and 2; IMA, Recommended Practices 3.00 (1992), section 6, from memory.
"""

from __future__ import annotations

import numpy as np

from pipeline.reading.decoded import BlobFault

_BLOCK_HEAD = 4


def expand(raw: bytes, law: str) -> np.ndarray:
    """Return the levels of ``ulaw`` or ``alaw`` codes: int32, one for each byte."""
    table = [_of_ulaw(code) if law == "ulaw" else _of_alaw(code) for code in range(256)]
    return np.array(table, np.int32)[np.frombuffer(raw, np.uint8)]


def _of_ulaw(code: int) -> int:
    kept = ~code & 0xFF
    level = (((kept & 15) << 3) + 132 << (kept >> 4 & 7)) - 132
    return -level if kept & 128 else level


def _of_alaw(code: int) -> int:
    kept = code ^ 0x55
    level, segment = ((kept & 15) << 4) + 8, kept >> 4 & 7
    if segment:
        level = level + 256 << segment - 1
    return level if kept & 128 else -level


def decode_adpcm(raw: bytes, count: int, block: int | None, high_first: bool, big: bool) -> np.ndarray:
    """Return the levels of ADPCM: int32, shape (count,).

    Args:
        raw: the bytes; block, high_first, big: as the target says.

    Raises:
        BlobFault: fewer samples are there, or a block begins outside the table of steps.
    """
    steps, state, found = _steps(), (0, 0), list[int]()
    for start in range(0, len(raw), block or max(1, len(raw))):
        codes = raw[start : start + block] if block else raw
        if block:
            level, place = int.from_bytes(codes[:2], "big" if big else "little", signed=True), codes[2] if len(codes) > 2 else 255
            if place >= len(steps):
                raise BlobFault(f"an ADPCM block begins at step {place} of {len(steps)}")
            state, codes = (level, place), codes[_BLOCK_HEAD:]
            found.append(level)
        for byte in codes:
            for code in (byte >> 4, byte & 15) if high_first else (byte & 15, byte >> 4):
                state = _next(steps, *state, code)
                found.append(state[0])
    if len(found) < count:
        raise BlobFault("the samples leave the blob")
    return np.array(found[:count], np.int32)


def _next(steps: list[int], level: int, place: int, code: int) -> tuple[int, int]:
    step = steps[place]
    change = step // 8 + sum(step // part for bit, part in ((4, 1), (2, 2), (1, 4)) if code & bit)
    level += -change if code & 8 else change
    place += (code % 8 - 3) * 2 if code & 4 else -1
    return min(max(level, -0x8000), 0x7FFF), min(max(place, 0), len(steps) - 1)


def _steps() -> list[int]:
    text = (
        "7 8 9 10 11 12 13 14 16 17 19 21 23 25 28 31 34 37 41 45 50 55 60 66 73 80 88 97 107 118 130 143 157 173 190 209 230 "
        "253 279 307 337 371 408 449 494 544 598 658 724 796 876 963 1060 1166 1282 1411 1552 1707 1878 2066 2272 2499 2749 "
        "3024 3327 3660 4026 4428 4871 5358 5894 6484 7132 7845 8630 9493 10442 11487 12635 13899 15289 16818 18500 20350 22385 "
        "24623 27086 29794 32767"
    )
    return [int(step) for step in text.split()]


def adpcm_bytes(count: int, block: int | None) -> int:
    """Return the bytes that some samples of ADPCM take."""
    if block is None:
        return -(-count // 2)
    return -(-count // (1 + 2 * (block - _BLOCK_HEAD))) * block
