"""Scaling. All frames of a sprite keep the same sub-pixel phase: output pixel (0, 0) starts at source point (0, 0)."""

from __future__ import annotations

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
    """Mean over consecutive spans of 1/factor source pixels, from running sums read between pixels."""
    values = np.moveaxis(values, axis, 0)
    sums = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])
    edges = np.minimum(np.arange(count + 1) / factor, len(values))
    whole = np.minimum(edges.astype(np.int64), len(values) - 1)
    part = (edges - whole).reshape(-1, *[1] * (values.ndim - 1))
    at_edges = sums[whole] + part * (sums[whole + 1] - sums[whole])
    return np.moveaxis(np.diff(at_edges, axis=0) * factor, 0, axis)


def cut_alpha(rgba: np.ndarray, threshold: int) -> np.ndarray:
    """Return a copy whose pixels are either opaque (alpha 255) or 0 in all four channels.

    Args:
        rgba: uint8, shape (..., 4).
        threshold: 1..255; pixels at least this opaque stay.
    """
    opaque = rgba[..., 3:] >= threshold
    return np.where(opaque, np.concatenate([rgba[..., :3], np.full_like(rgba[..., 3:], 255)], axis=-1), 0).astype(np.uint8)
