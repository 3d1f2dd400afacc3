"""What the comparisons of kinds share: numbers of a record, and sums of pixels and samples."""

from __future__ import annotations

import hashlib
import zlib

import numpy as np

from pipeline.joints.facts import IntentFacts
from pipeline.joints.layouts import NO_PALETTE, VERSION
from pipeline.reading.decoded import Decoded


def wrong_head(decoded: Decoded, wanted: dict[str, int]) -> list[str]:
    """Return what a blob's own record says otherwise than ``wanted``; its version is 1 where nothing is wanted of it."""
    wanted = {"version": VERSION, **wanted}
    seen = {key: decoded.head.get(key) for key in wanted}
    return [f"its {key.replace('_', ' ')} is {seen[key]}, not {value}" for key, value in wanted.items() if seen[key] != value]


def wrong_pixels(decoded: Decoded, intent: IntentFacts) -> list[str]:
    """Return that pixels are not what conversion meant, or nothing."""
    return [] if sum_of(decoded.pixels, "<u4") == intent.sha256 else ["its pixels are not the converted ones"]


def size_of(intent: IntentFacts) -> dict[str, int]:
    """Return width and height of the pictures that conversion meant."""
    _, height, width = intent.shape
    return {"width": width, "height": height}


def sum_of(numbers: np.ndarray, kind: str) -> str:
    """Return the SHA-256 of numbers as numpy's ``kind``, in hex."""
    return hashlib.sha256(numbers.astype(kind).tobytes()).hexdigest()


def name_hash(name: str | None) -> int:
    """Return the number by which records know an asset or animation; of None what says that there is none."""
    return zlib.crc32(name.encode()) if name else NO_PALETTE
