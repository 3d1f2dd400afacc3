"""Scaling. A picture is scaled from its top left corner, or outwards from a point of it, which lies on a pixel's corner then.

Which source pixels an output pixel takes, and how much of each, is reckoned in whole numbers, so that every machine
makes the same picture. The weights are in ``weights``, the vote of ``dominant`` in ``votes``.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
from PIL import Image

from pipeline.pixels.colours.light import linear_light
from pipeline.pixels.scaling.votes import dominant_colours
from pipeline.pixels.scaling.weights import Axis, Weights, covered, lanczos, middles, reaching, weighted_sums

_AT_ONCE = 1 << 21  # source pixels whose means are taken together, so that memory does not grow with the picture

Factor = float | Fraction | tuple[float | Fraction, float | Fraction] | list[float]


def exact_factors(factor: Factor) -> tuple[Fraction, Fraction]:
    """Return the factors across and down; 0.77 is read as 77/100, not as its binary nearest."""
    across, down = factor if isinstance(factor, tuple | list) else (factor, factor)
    return _exact(across), _exact(down)


@functools.lru_cache(maxsize=256)
def _exact(factor: float | Fraction) -> Fraction:
    return factor if isinstance(factor, Fraction) else Fraction(str(factor))


def scaled_size(width: int, height: int, factor: Factor) -> tuple[int, int]:
    """Return the size in pixels that holds a scaled picture whole."""
    across, down = exact_factors(factor)
    return max(1, math.ceil(width * across)), max(1, math.ceil(height * down))


def least_seen(resample: str, alpha: int) -> Fraction:
    """Return how much of its last column a picture must cover for a pixel there to be at least ``alpha`` opaque, 0 to 1."""
    if resample == "lanczos":  # whose lobes can lift any part
        return Fraction(0)
    return Fraction(2 * alpha - 1, 510) if resample == "area" else Fraction(1, 2)


def scaled_about(
    size: tuple[int, int], factor: Factor, point: tuple[Fraction, Fraction], least: Fraction = Fraction(0)
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the size in pixels that holds a picture scaled about a point, and where the point is in it; see ``scale_about``."""
    sides = [_sides(length, one, at, least) for length, one, at in zip(size, exact_factors(factor), point, strict=True)]
    (width, left), (height, top) = ((before.count + after.count, place) for before, after, place in sides)
    return (width, height), (left, top)


def origin_about(
    size: tuple[int, int], factor: Factor, point: tuple[Fraction, Fraction], least: Fraction = Fraction(0)
) -> tuple[Fraction, Fraction]:
    """Return where a picture's top left corner is in the picture scaled about a point, in pixels, exactly; see ``scale_about``.

    What is at x in the picture is at the first number + x times the factor across in the scaled one.
    """
    factors, (_, places) = exact_factors(factor), scaled_about(size, factor, point, least)
    left, top = (place - _scaled_from(at, one) * one for place, at, one in zip(places, point, factors, strict=True))
    return left, top


def scale_rgba(picture: Image.Image, factor: Factor, resample: str, solid: bool = False, light: str = "as stored") -> np.ndarray:
    """Scale one picture by exactly ``factor``: one for both directions, or (across, down).

    Args:
        picture: mode RGBA.
        factor: above 0; what sticks out of whole pixels at the right and bottom is transparent.
        resample: ``nearest``, ``area`` (mean over the exact area covered), ``lanczos``, or ``dominant`` (the source's
            colour that covers most of the area; transparent is one of them).
        light: what ``area`` and ``lanczos`` take means of: the numbers ``as stored``, or the ``linear`` light they represent.
        solid: the picture is opaque everywhere and stays so: what its last column and row cover in part is theirs.

    Returns:
        uint8, shape (height, width, 4), not premultiplied; colours are mixed premultiplied, so no fringe.
    """
    across, down = exact_factors(factor)
    size = scaled_size(picture.width, picture.height, (across, down))
    if across == down == 1:
        return np.asarray(picture)
    return _scaled(picture, Axis(picture.width, size[0], across), Axis(picture.height, size[1], down), resample, solid, light)


def scale_about(
    picture: Image.Image,
    factor: Factor,
    point: tuple[Fraction, Fraction],
    resample: str,
    light: str = "as stored",
    least: Fraction = Fraction(0),
) -> np.ndarray:
    """Scale one picture outwards from a point, which becomes a corner of four pixels: what rests on it stays on it, and a mirror
    image about it is scaled to the mirror image. A direction with factor 1 is left as it is, and the point rounded down there.

    Args:
        picture, factor, resample, light: as in ``scale_rgba``.
        point: in source pixels from the top left, inside the picture or outside.
        least: part of an outermost column or row that the picture must cover for it to be there, 0 to 1; see ``least_seen``.

    Returns:
        uint8, shape (height, width, 4), of the size that ``scaled_about`` returns.
    """
    (before_x, after_x, _), (before_y, after_y, _) = (
        _sides(length, one, at, least) for length, one, at in zip(picture.size, exact_factors(factor), point, strict=True)
    )
    rows = []
    for y, up in ((before_y, True), (after_y, False)):
        flipped = picture.transpose(Image.Transpose.FLIP_TOP_BOTTOM) if up and y.count else picture
        row = [_side(flipped, x, y, back, resample, light) for x, back in ((before_x, True), (after_x, False)) if x.count and y.count]
        rows += [np.concatenate(row, axis=1)[:: -1 if up else 1]] if row else []
    return np.concatenate(rows)


def scale_window(picture: Image.Image, across: Axis, down: Axis, resample: str, light: str = "as stored") -> np.ndarray:
    """Scale what some output pixels cover of a picture, at any place of it; beyond its edges it goes on as its outermost pixels.

    Args:
        picture, resample, light: as in ``scale_rgba``.
        across, down: endless axes, whose output pixels are made.

    Returns:
        uint8, shape (down.count, across.count, 4), not premultiplied.
    """
    return _resampled(picture, across, down, resample, light)


def _side(picture: Image.Image, x: Axis, y: Axis, back: bool, resample: str, light: str) -> np.ndarray:
    """Return what lies right of a point and below it; with ``back`` what lies left of it."""
    if back:
        picture = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    return _scaled(picture, x, y, resample, False, light)[:, :: -1 if back else 1]


@functools.lru_cache(maxsize=256)
def _sides(length: int, factor: Fraction, at: Fraction, least: Fraction) -> tuple[Axis, Axis, int]:
    """Return the axes from a point back to a source's start, on the reversed source, and on to its end; and how many output
    pixels the point is from the start of both together.
    """
    at = _scaled_from(at, factor)
    if at < 0:
        after, before, place = _sides(length, factor, length - at, least)
        return before, after, after.count - place
    # From a point outside, whole output pixels that hold nothing are skipped.
    passed = max(0, math.floor((at - length) * factor))
    at -= passed / factor
    before, after = _whole(at * factor, least), _whole(max(length - at, 0) * factor, least)
    if not before + after:  # a picture has a pixel at least
        before, after = (0, 1) if at == 0 else (1, 0)
    before, after = Axis(length, before, factor, length - at), Axis(length, after, factor, at)
    return before, after, before.count + passed


def _scaled_from(at: Fraction, factor: Fraction) -> Fraction:
    """Return the place that a direction is scaled from: the point's, rounded down where nothing is scaled."""
    return Fraction(math.floor(at)) if factor == 1 else at


def _whole(pixels: Fraction, least: Fraction) -> int:
    """Return how many whole pixels hold some pixels, without the last where less than ``least`` of it is covered."""
    part = pixels % 1
    return math.floor(pixels) + (part > 0 and part >= least)


def _scaled(picture: Image.Image, x: Axis, y: Axis, resample: str, solid: bool, light: str) -> np.ndarray:
    picture, x, y = _led(picture, x, y)
    if resample == "area":
        scaled = _mixed(picture, covered(y), covered(x), light)
        return _opaque(scaled) if solid else scaled
    return _resampled(_canvas(picture, x, y, solid), x.on_canvas(), y.on_canvas(), resample, light)


def _resampled(canvas: Image.Image, x: Axis, y: Axis, resample: str, light: str) -> np.ndarray:
    if resample == "area":
        return _mixed(canvas, covered(y), covered(x), light)
    if resample == "lanczos":
        return _lanczos(canvas, x, y, light)
    return _nearest(canvas, x, y) if resample == "nearest" else _dominant(canvas, x, y)


def _led(picture: Image.Image, x: Axis, y: Axis) -> tuple[Image.Image, Axis, Axis]:
    """Widen a picture at its start by nothing, so that no output pixel begins before it."""
    if x.origin >= 0 and y.origin >= 0:
        return picture, x, y
    left, top = (max(0, math.ceil(-one.origin)) for one in (x, y))
    canvas = Image.new("RGBA", (picture.width + left, picture.height + top))
    canvas.paste(picture, (left, top))
    x, y = (replace(one, length=one.length + lead, origin=one.origin + lead) for one, lead in ((x, left), (y, top)))
    return canvas, x, y


def _canvas(picture: Image.Image, x: Axis, y: Axis, solid: bool) -> Image.Image:
    """Widen a picture so that every output pixel lies within it: by its own edge if it is solid, else by nothing."""
    size = x.on_canvas().length, y.on_canvas().length
    if size == picture.size:
        return picture
    if solid:
        beyond = ((0, size[1] - picture.height), (0, size[0] - picture.width), (0, 0))
        return Image.fromarray(np.pad(np.asarray(picture), beyond, mode="edge"))
    canvas = Image.new("RGBA", size)
    canvas.paste(picture, (0, 0))
    return canvas


def _nearest(canvas: Image.Image, x: Axis, y: Axis) -> np.ndarray:
    return _unpacked(_packed(canvas).take(middles(y), axis=0).take(middles(x), axis=1))


def _dominant(canvas: Image.Image, x: Axis, y: Axis) -> np.ndarray:
    packed = _packed(canvas)
    packed = np.where(np.asarray(canvas)[..., 3] > 0, packed, 0).astype(packed.dtype)  # what cannot be seen is one colour
    return _unpacked(dominant_colours(packed, covered(y), covered(x)))


def _lanczos(canvas: Image.Image, x: Axis, y: Axis, light: str) -> np.ndarray:
    from_corner = light == "as stored" and x.origin == y.origin == 0 and not x.endless
    if from_corner and canvas.getchannel("A").getextrema() == (255, 255):  # opaque: Pillow's own sums have nothing to lose
        box = (0, 0, float(x.count / x.factor), float(y.count / y.factor))
        return np.asarray(canvas.resize((x.count, y.count), Image.Resampling.LANCZOS, box=box))
    return _mixed(canvas, lanczos(y), lanczos(x), light)


def _mixed(picture: Image.Image, down: Weights, across: Weights, light: str) -> np.ndarray:
    """Return the weighted means of a picture's premultiplied pixels, brought back to colour and alpha.

    Nothing is rounded or cut to 0..255 before the end: where a filter's lobes lift alpha above 255, the colour is still
    the ratio of both sums, and no rim appears.
    """
    scaled = np.zeros((len(down.places), len(across.places), 4), dtype=np.uint8)
    box = picture.getbbox()  # of what is not transparent
    if box is None:
        return scaled
    (rows, down), (columns, across) = reaching(down, box[1], box[3]), reaching(across, box[0], box[2])
    rgba, part = np.asarray(picture)[box[1] : box[3], box[0] : box[2]], scaled[rows, columns]
    if not part.size:  # a side of a point that nothing reaches
        return scaled
    strip = max(1, _AT_ONCE * len(part) // rgba[..., 0].size)
    if strip >= len(part):
        _mix(rgba, down, across, light, part)
        return scaled
    for top in range(0, len(part), strip):
        some = down.part(slice(top, top + strip))
        first, end = int(some.places.min()), int(some.places.max()) + 1
        _mix(rgba[first:end], some.within(first, end), across, light, part[top : top + strip])
    return scaled


def _mix(rgba: np.ndarray, down: Weights, across: Weights, light: str, part: np.ndarray) -> None:
    """Write the weighted means of premultiplied pixels into ``part``: uint8, shape (rows, columns, 4)."""
    most, values = (65535, _linear_levels()[rgba[..., :3]]) if light == "linear" else (255, rgba)
    alpha = rgba[..., 3].astype(np.uint32)
    coloured = (np.multiply(values[..., channel], alpha, dtype=np.uint32) for channel in range(3))
    sums = weighted_sums(itertools.chain([alpha], coloured), down, across, most * 255)
    # Of whole numbers below 2**53 a quotient is rounded once, and halves are seen exactly.
    opacity = next(sums).astype(np.float64)
    lobes = min(down.weights.min(), across.weights.min()) < 0
    part[..., 3] = _byte(opacity / (down.total * across.total), lobes)
    divisor = np.where(opacity > 0, opacity, np.inf)
    for channel, total in enumerate(sums):
        mean = total / divisor
        part[..., channel] = _code(mean) if light == "linear" else _byte(mean, lobes)


def _byte(values: np.ndarray, lobes: bool) -> np.ndarray:
    """Round in place, halves to even, and cut to 0..255 what only a filter with negative lobes can bring beyond."""
    np.rint(values, out=values)
    return np.clip(values, 0, 255, out=values) if lobes else values


@functools.cache
def _linear_levels() -> np.ndarray:
    return np.rint(linear_light() * 65535).astype(np.uint32)


def _code(values: np.ndarray) -> np.ndarray:
    """Return the sRGB code nearest in light, of two as near the brighter; values in 1/65535, whatever lies beyond is cut."""
    levels = _linear_levels().astype(np.float64)
    return np.searchsorted((levels[:-1] + levels[1:]) / 2, values, side="right")


def _opaque(rgba: np.ndarray) -> np.ndarray:
    rgba[..., 3] = 255
    return rgba


def _packed(picture: Image.Image) -> np.ndarray:
    """Return a picture's pixels as one number each: uint32, shape (height, width), in the machine's byte order."""
    return np.ascontiguousarray(np.asarray(picture)).view(np.uint32)[..., 0]


def _unpacked(packed: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(packed)[..., None].view(np.uint8)


_ALPHA = np.array([0, 0, 0, 255], dtype=np.uint8).view(np.uint32)[0]


def cut_alpha(rgba: np.ndarray, threshold: int) -> np.ndarray:
    """Return a copy whose pixels are either opaque (alpha 255) or 0 in all four channels.

    Args:
        rgba: uint8, shape (..., 4).
        threshold: 1..255; pixels at least this opaque stay.
    """
    packed = np.ascontiguousarray(rgba).view(np.uint32)[..., 0]
    return np.where(rgba[..., 3] >= threshold, packed | _ALPHA, np.uint32(0))[..., None].view(np.uint8)
