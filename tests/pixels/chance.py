"""Pixels and colours by chance, the same with every release of a library: only ``random.Random`` is asked."""

from __future__ import annotations

import random

import numpy as np

from tests.recorded import hash_of


def pixels(seed: int, *shape: int, holes: str = "") -> np.ndarray:
    """Return noise: uint8, of some shape, whose last axis is RGBA if ``holes`` is given.

    Args:
        holes: ``some`` pixels are clear, others opaque; ``soft``: every alpha occurs, 0 and 255 often; ``none``: all are opaque.
    """
    chance = random.Random(f"{seed} {shape}")
    found = np.frombuffer(chance.randbytes(int(np.prod(shape))), dtype=np.uint8).reshape(shape).copy()
    alpha = found[..., -1].astype(int)
    if holes == "some":
        found[..., -1] = np.where(alpha < 90, 0, 255)
    elif holes == "soft":
        found[..., -1] = np.clip(alpha * 2 - 128, 0, 255)
    elif holes == "none":
        found[..., -1] = 255
    return found


def few_colours(seed: int, amount: int, *shape: int) -> np.ndarray:
    """Return pixels of few colours: uint8, of a shape and 3."""
    return pixels(seed, amount, 3)[pixels(seed + 1, *shape) % amount]


def hash_of_values(*values: object) -> str:
    """Return a short hash of arrays, bit for bit and with their kind, and of anything else as it is written."""
    parts = []
    for value in values:
        if isinstance(value, np.ndarray):
            parts += [f"{value.dtype.kind}{value.shape}".encode(), value.astype(value.dtype.newbyteorder("<"), order="C").tobytes()]
        else:
            parts.append(repr(value).encode())
    return hash_of(*parts)
