"""Dot diffusion of many frames at once against the same decided pixel by pixel in plain Python."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.pixels.colours.dot_diffusion import _ORDER, diffuse
from pipeline.pixels.colours.light import linear_light


def nearest(lit: np.ndarray, entries: np.ndarray) -> np.ndarray:
    """Return the entry nearest in green light, which is enough here."""
    return np.abs(lit[:, None, 1] - entries[None, :, 1]).argmin(axis=1)


def plainly(rgb: np.ndarray, opaque: np.ndarray, entries: np.ndarray, phase: tuple[int, int]) -> list[list[int]]:
    """Return the entries of one frame: pixels in the pattern's order, each error dealt 2 to sides and 1 to corners."""
    height, width = opaque.shape
    light = np.rint(linear_light()[rgb] * 65535).astype(int).tolist()
    rank = {
        (y, x): int(_ORDER[(y - phase[1]) % 8, (x - phase[0]) % 8]) for y in range(height) for x in range(width) if opaque[y, x]
    }
    out = [[0] * width for _ in range(height)]
    for (y, x), own in sorted(rank.items(), key=lambda item: (item[1], item[0])):
        wanted = light[y][x]
        entry = int(nearest(np.clip([wanted], 0, 65535), entries)[0])
        out[y][x] = entry
        around = [(y + dy, x + dx, 1 if dy and dx else 2) for dy in (-1, 0, 1) for dx in (-1, 0, 1) if dy or dx]
        takers = [(b, a, weight) for b, a, weight in around if rank.get((b, a), -1) > own]
        total = sum(weight for *_, weight in takers)
        for axis in range(3):
            error = wanted[axis] - int(entries[entry, axis])
            for b, a, weight in takers:
                light[b][a][axis] += error * weight // total
    return out


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 4), st.integers(1, 19), st.integers(1, 19), st.integers(-9, 9), st.integers(0, 99))
def test_frames_at_once_are_each_as_decided_pixel_by_pixel(count, height, width, shift, seed):
    """Whatever their size, their holes and the pattern's place; a frame without opaque pixels stays 0 among others."""
    random = np.random.default_rng(seed)
    rgb = random.integers(0, 256, (count, height, width, 3), dtype=np.uint8)
    opaque = random.random((count, height, width)) < random.choice([0.3, 0.9, 1], (count, 1, 1))
    opaque[count // 2] &= bool(seed % 3)
    entries = random.integers(0, 65536, (5, 3))
    phase = (shift, 2 * shift + 1)
    found = diffuse(rgb, opaque, entries, lambda lit: nearest(lit, entries), phase)
    assert found.tolist() == [plainly(*frame, entries, phase) for frame in zip(rgb, opaque, strict=True)]
