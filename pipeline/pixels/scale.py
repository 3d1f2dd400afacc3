"""Scaling. All frames of a sprite keep the same sub-pixel phase: output pixel (0, 0) starts at source point (0, 0)."""

from __future__ import annotations

import functools
import math
from fractions import Fraction

import numpy as np
from PIL import Image

_FILTERS = {"nearest": Image.Resampling.NEAREST, "lanczos": Image.Resampling.LANCZOS}


def scaled_size(width: int, height: int, factor: float) -> tuple[int, int]:
    """Return the size in pixels that holds a scaled picture whole; 0.77 is read as 77/100, not as its binary nearest."""
    exact = Fraction(str(factor))
    return max(1, math.ceil(width * exact)), max(1, math.ceil(height * exact))


def scale_rgba(picture: Image.Image, factor: float, resample: str) -> np.ndarray:
    """Scale one picture by exactly ``factor`` in each direction.

    Args:
        picture: mode RGBA.
        factor: above 0; what sticks out of whole pixels at the right and bottom is transparent.
        resample: ``nearest``, ``area`` (mean over the exact area covered) or ``lanczos``.

    Returns:
        uint8, shape (height, width, 4), not premultiplied; colours are mixed premultiplied, so no dark fringe.
    """
    width, height = scaled_size(picture.width, picture.height, factor)
    if factor == 1:
        return np.asarray(picture)
    if resample == "area":
        return _area(np.asarray(picture), width, height, factor)
    # Widening the canvas first makes the source box of the output a whole number of output pixels.
    span_x, span_y = width / factor, height / factor
    canvas = Image.new("RGBA", (math.ceil(span_x), math.ceil(span_y)))
    canvas.paste(picture, (0, 0))
    return np.asarray(canvas.resize((width, height), _FILTERS[resample], box=(0, 0, span_x, span_y)))


def _area(rgba: np.ndarray, width: int, height: int, factor: float) -> np.ndarray:
    alpha = rgba[..., 3:].astype(np.float64)
    premultiplied = np.concatenate([rgba[..., :3] * alpha, alpha], axis=-1)
    mean = _mean_along(_mean_along(premultiplied, height, factor), width, factor, axis=1)
    alpha = mean[..., 3:]
    colour = np.divide(mean[..., :3], alpha, out=np.zeros_like(mean[..., :3]), where=alpha > 0)
    return np.clip(np.rint(np.concatenate([colour, alpha], axis=-1)), 0, 255).astype(np.uint8)


def _mean_along(values: np.ndarray, count: int, factor: float, axis: int = 0) -> np.ndarray:
    """Mean over consecutive spans of 1/factor source pixels, each part of a pixel weighted by how much of it is covered.

    A mean is made of the pixels of its own span only, always in the same order, so that what stands still stays the same
    whatever moves elsewhere in the frame.
    """
    values = np.moveaxis(values, axis, 0)
    places, weights = _coverage(len(values), count, factor)
    shape = (-1, *[1] * (values.ndim - 1))
    total = np.zeros((count, *values.shape[1:]))
    for rank in range(places.shape[1]):
        total += values[places[:, rank]] * weights[:, rank].reshape(shape)
    return np.moveaxis(total, 0, axis)


@functools.lru_cache(maxsize=64)
def _coverage(length: int, count: int, factor: float) -> tuple[np.ndarray, np.ndarray]:
    """Return for each output pixel the source pixels of its span and their weights, both of shape (count, most of them)."""
    step = 1 / Fraction(str(factor))
    most = math.ceil(step) + 1
    places, weights = np.zeros((count, most), dtype=np.int64), np.zeros((count, most))
    for out in range(count):
        start, end = out * step, (out + 1) * step
        for rank in range(most):
            pixel = math.floor(start) + rank
            covered = min(end, pixel + 1) - max(start, pixel)
            if covered > 0 and pixel < length:
                places[out, rank], weights[out, rank] = pixel, float(covered / step)
    return places, weights


def cut_alpha(rgba: np.ndarray, threshold: int) -> np.ndarray:
    """Return a copy whose pixels are either opaque (alpha 255) or 0 in all four channels.

    Args:
        rgba: uint8, shape (..., 4).
        threshold: 1..255; pixels at least this opaque stay.
    """
    opaque = rgba[..., 3:] >= threshold
    return np.where(opaque, np.concatenate([rgba[..., :3], np.full_like(rgba[..., 3:], 255)], axis=-1), 0).astype(np.uint8)
