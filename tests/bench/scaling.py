"""Time to scale one frame of the demo, beside Pillow's box filter. Run: ``python -m tests.bench.scaling``.

Frames of 120 x 160 are brought to 0.77. Pillow's box takes whole source pixels only and rounds between its two passes;
it is what a frame costs when the exact area is given up. Processor time is taken, the least of some rounds.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.pixels.scaling.scale import cut_alpha, scale_rgba, scaled_size

COURIER = Path(__file__).parents[2] / "demo_project" / "art" / "couriers" / "pell"
_FACTOR, _ROUNDS = 0.77, 9


def main() -> None:
    """Print milliseconds a frame, and how often Pillow's box filter would do it in the same time."""
    drawn = [Image.open(path).convert("RGBA") for path in sorted(COURIER.glob("*.png"))]
    noise = [Image.fromarray(np.random.default_rng(0).integers(0, 256, (160, 120, 4), dtype=np.uint8))] * len(drawn)
    for name, frames in (("drawn", drawn), ("noise", noise)):
        size = scaled_size(*frames[0].size, _FACTOR)
        box = _milliseconds(frames, lambda frame, size=size: np.asarray(frame.resize(size, Image.Resampling.BOX)))
        print(f"{name}: Pillow's box filter {box:.3f} ms a frame")
        for resample in ("nearest", "area", "lanczos", "dominant"):
            ours = _milliseconds(frames, lambda frame, resample=resample: scale_rgba(frame, _FACTOR, resample))
            print(f"  {resample:20}{ours:7.3f} ms, {ours / box:5.2f} times as long")
        linear = _milliseconds(frames, lambda frame: scale_rgba(frame, _FACTOR, "area", light="linear"))
        print(f"  {'area, linear light':20}{linear:7.3f} ms, {linear / box:5.2f} times as long")
        cut = _milliseconds([scale_rgba(frame, _FACTOR, "area") for frame in frames], lambda frame: cut_alpha(frame, 128))
        print(f"  {'cut_alpha':20}{cut:7.3f} ms, {cut / box:5.2f} times as long")


def _milliseconds(frames: list, scale: Callable) -> float:
    rounds = []
    for _ in range(_ROUNDS):
        start = time.process_time()
        for frame in frames:
            scale(frame)
        rounds.append((time.process_time() - start) / len(frames) * 1000)
    return min(rounds)


if __name__ == "__main__":
    main()
