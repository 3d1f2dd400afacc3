"""Hanging strands: scarf ends, coat tails, plumes and straps that lag behind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from courier_kit.shapes import Points
from courier_kit.skeleton import Rig

SUBSTEPS = 6
SETTLE_FRAMES = 30
CYCLES = 4


@dataclass(frozen=True)
class Strand:
    """A chain hung on the body.

    hang: gives the root (2,) and the unit rest direction (2,) for a rig;
    length in pixels; stiff pulls it to the rest direction (0..1); weight and
    drift scale gravity and wind.
    """

    name: str
    hang: Callable[[Rig], tuple[Points, Points]]
    length: float
    joints: int = 5
    stiff: float = 0.1
    weight: float = 1.0
    drift: float = 1.0


def swing(strand: Strand, rigs: Sequence[Rig], looped: bool) -> np.ndarray:
    """Simulate a strand over an action; returns (frames, joints + 1, 2) in pixels."""
    frames = len(rigs)
    roots = np.array([strand.hang(r)[0] for r in rigs])
    rests = np.array([strand.hang(r)[1] for r in rigs])
    winds = np.array([r.pose.wind for r in rigs], dtype=float)
    order = [0] * SETTLE_FRAMES + list(range(frames)) * (CYCLES if looped else 1)
    now = roots[0] + np.arange(strand.joints + 1)[:, None] * rests[0] * strand.length / strand.joints
    before, out, last = now.copy(), np.zeros((frames, strand.joints + 1, 2)), 0
    for index in order:
        for step in range(1, SUBSTEPS + 1):
            t = step / SUBSTEPS
            root = roots[last] * (1 - t) + roots[index] * t
            rest = rests[last] * (1 - t) + rests[index] * t
            now, before = _advance(strand, now, before, root, rest, winds[index])
        out[index], last = now, index
    return out


def _advance(
    strand: Strand, now: np.ndarray, before: np.ndarray, root: Points, rest: Points, wind: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Move the chain (N, 2) by one substep; returns the new and the old points."""
    pull = np.array([0.0, 0.10 * strand.weight]) + 0.10 * strand.drift * wind
    ahead = now + (now - before) * 0.86 + pull
    size = strand.length / strand.joints
    aim = root + np.arange(len(now))[:, None] * rest * size
    ahead += (aim - ahead) * strand.stiff * 0.25
    ahead[0] = root
    for i in range(1, len(ahead)):
        gap = ahead[i] - ahead[i - 1]
        ahead[i] = ahead[i - 1] + gap * size / max(float(np.hypot(*gap)), 1e-6)
    return ahead, now
