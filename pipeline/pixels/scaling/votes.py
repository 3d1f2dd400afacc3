"""Scaling that invents no colour: each output pixel takes the source's colour that covers most of it."""

from __future__ import annotations

import numpy as np

from pipeline.pixels.scaling.weights import Weights

_AT_ONCE = 1 << 16  # source pixels looked at together, so that memory does not grow with the picture


def dominant_colours(packed: np.ndarray, down: Weights, across: Weights) -> np.ndarray:
    """Return for each output pixel the colour of the greatest weight.

    Of colours that weigh the same, the one with a pixel nearest the output pixel's middle wins; of those, the one met
    first row by row from the top left.

    Args:
        packed: uint32, shape (height, width), one number a colour.
        down, across: what rows and columns of the output take; weights 0 or more.

    Returns:
        uint32, shape (rows, columns).
    """
    rows, columns = len(down.places), len(across.places)
    votes = down.places.shape[1] * across.places.shape[1]
    band = max(1, _AT_ONCE // (columns * votes))
    parts = [_band(packed, down.part(slice(top, top + band)), across) for top in range(0, rows, band)]
    return np.concatenate(parts)


def _band(packed: np.ndarray, down: Weights, across: Weights) -> np.ndarray:
    seen = np.stack([packed.take(row, axis=0).take(column, axis=1) for row in down.places.T for column in across.places.T])
    chosen = seen[0].copy()
    y, x = np.nonzero((seen != seen[0]).any(axis=0))
    if len(y):
        weights = (down.weights[y][:, :, None] * across.weights[x][:, None, :]).reshape(len(y), -1)
        colours = seen[:, y, x].T
        heaviest = np.take_along_axis(colours, weights.argmax(axis=1)[:, None], axis=1)
        open_ = np.flatnonzero(2 * (weights * (colours == heaviest)).sum(axis=1) <= down.total * across.total)
        chosen[y, x] = heaviest[:, 0]  # right where it has more than half
        y, x = y[open_], x[open_]
    if len(y):
        distances = (down.nearness[y][:, :, None] + across.nearness[x][:, None, :]).reshape(len(y), -1)
        chosen[y, x] = _elected(colours[open_], weights[open_], distances)
    return chosen


def _elected(colours: np.ndarray, weights: np.ndarray, distances: np.ndarray) -> np.ndarray:
    """Return the winner of each row of votes; all of shape (rows, votes)."""
    votes = colours.shape[1]
    by_nearness = np.argsort(distances, axis=1, kind="stable")
    colours, weights = (np.take_along_axis(values, by_nearness, axis=1) for values in (colours, weights))
    by_colour = np.argsort(colours, axis=1, kind="stable")
    colours, weights = (np.take_along_axis(values, by_colour, axis=1) for values in (colours, weights))
    fresh = np.ones(colours.shape, dtype=bool)
    fresh[:, 1:] = colours[:, 1:] != colours[:, :-1]
    starts = np.flatnonzero(fresh)  # where a colour's votes begin; its nearest pixel is first
    score = np.add.reduceat(weights.ravel(), starts) * votes + (votes - 1 - by_colour.ravel()[starts])
    row = starts // votes
    best = np.maximum.reduceat(score, np.searchsorted(row, np.arange(len(colours))))
    return colours.ravel()[starts[score == best[row]]]
