"""Before and after: a frame as drawn, as scaled and as the image holds it, all as large, and what the palette cost.

The frames before come from ``work/NAME.before.png``; ``assets.sources.sample`` documents its layout.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from PIL import Image, ImageDraw, PngImagePlugin

from pipeline.cache.results import key_of
from pipeline.joints.facts import BackgroundFacts, SpriteFacts
from pipeline.pixels.colours.difference import difference_map
from pipeline.proofs.animated_png import FEW_BYTES
from pipeline.proofs.canvas import ALARM, GAP, LINE, PAPER, SOFT, WIDE, aspect_size, blended, png, write
from pipeline.proofs.subject import Subject

_PANEL_HEIGHT = 420  # screen pixels a panel keeps to
_ROW, _CAPTION, _KEY = 26, 22, 34
_CLASSES = (1, 2, 4, 8)  # CIEDE2000 at which the next shade begins; about 1 is the least a trained eye sees (common practice)
_MISSING = 10_000  # hundredths that count for a pixel which only one side has: as much as black for white
_SHADES = np.array([(246, 246, 243), (253, 224, 150), (245, 166, 80), (214, 90, 48), (128, 16, 40)], dtype=np.uint8)


@dataclass(frozen=True)
class Sample:
    """One frame before and after: uint8, shape (height, width, 4); the image's frame cut to the scaled one's size.

    ``origin`` is where the source's top left corner is in the scaled frame, in pixels.
    """

    number: int
    source: np.ndarray
    scaled: np.ndarray
    image: np.ndarray
    origin: tuple[Fraction, Fraction]

    @functools.cached_property
    def lost(self) -> np.ndarray:
        """CIEDE2000 between scaled and image in hundredths: int64, shape (height, width); -1 where only one is opaque."""
        found = difference_map(self.scaled[..., :3], self.image[..., :3])
        before, after = self.scaled[..., 3] > 0, self.image[..., 3] > 0
        return np.where(before == after, np.where(before, np.rint(found * 100), 0), -1).astype(np.int64)


@dataclass(frozen=True)
class View:
    """What of a frame is shown: the factors of scaling across and down, screen pixels for a source pixel, a box in source pixels.

    ``cut`` is set where the box leaves out something that is drawn.
    """

    factors: tuple[Fraction, Fraction]
    times: int
    box: tuple[int, int, int, int]
    cut: bool = False


def before_after(subject: Subject) -> bytes:
    """Return the panels of every sampled frame, row by row, as a PNG: a saved frame is mostly not among them."""
    samples = read_samples(subject)
    if not subject.results.keeps:
        return _drawn_panels(subject, samples)
    key = key_of("pipeline.proofs.kinds.before:before_after", *_looked_at(subject, samples))
    known = subject.results.get(key)
    if known is None:
        known = _drawn_panels(subject, samples)
        subject.results.put(key, known)
    return known


def _looked_at(subject: Subject, samples: list[Sample]) -> list[bytes]:
    """Return all that the panels depend on."""
    about = [subject.name, _factors(subject), subject.pixel_aspect, len(subject.decoded.pixels) == 1]
    about += [(one.number, one.origin, *(part.shape for part in (one.source, one.scaled, one.image))) for one in samples]
    return [repr(about).encode(), *(part.tobytes() for one in samples for part in (one.source, one.scaled, one.image))]


def _drawn_panels(subject: Subject, samples: list[Sample]) -> bytes:
    columns = _columns(samples)
    view = chosen_view(subject, samples, ((WIDE - GAP) // len(columns) - GAP, _PANEL_HEIGHT))
    box = view.box
    size = aspect_size(box[2] - box[0], box[3] - box[1], view.times, subject.pixel_aspect)
    step, down = max(size[0], 150) + GAP, _ROW + _CAPTION + size[1] + 2 * GAP
    width = max(len(columns) * step + GAP, 640)
    sheet = Image.new("RGB", (width, len(samples) * down + _KEY), PAPER)
    draw = ImageDraw.Draw(sheet)
    for rank, sample in enumerate(samples):
        top = rank * down + GAP // 2
        write(draw, (GAP, top + 4), _heading(subject, sample, samples, view), 13, width - 2 * GAP, bold=True)
        for column, (caption, part) in enumerate(columns):
            place = (GAP + column * step, top + _ROW + _CAPTION)
            write(draw, (place[0], place[1] - _CAPTION + 4), caption, 12, step - GAP, fill=SOFT)
            sheet.paste(Image.fromarray(panel(subject, sample, part, view, size)), place)
    write_key(draw, sheet.height - _KEY + 8)
    return png(sheet, FEW_BYTES)


def read_samples(subject: Subject) -> list[Sample]:
    """Return the sampled frames, with what the image holds of them."""
    rgb, clear = subject.coloured()
    if subject.before is None:
        raise ValueError(f"{subject.name} has no frames to compare with")
    with PngImagePlugin.PngImageFile(subject.before) as file:
        info, pixels = file.text, np.asarray(file.convert("RGBA"))
    (width, height), (across, down) = ([int(number) for number in info[key].split()] for key in ("source", "scaled"))
    samples = []
    left, top = (Fraction(text) for text in info["origin"].split())
    for rank, number in enumerate(int(text) for text in info["frames"].split()):
        row = pixels[rank * max(height, down) :]
        alpha = np.where(clear[number], 0, 255).astype(np.uint8)[..., None]
        image = np.concatenate([rgb[number], alpha], axis=-1)[:down, :across]
        samples.append(Sample(number, row[:height, :width], row[:down, width : width + across], image, (left, top)))
    return samples


def chosen_view(subject: Subject, samples: list[Sample], most: tuple[int, int]) -> View:
    """Return a box about all that is drawn; of a large picture, the window that lost most, twice as large as drawn.

    Args:
        most: width and height a panel keeps to, in screen pixels.
    """
    first, factors = samples[0], _factors(subject)
    least = max(1, *(math.ceil(factor) for factor in factors))  # nothing is shown smaller than the image holds it
    box = _drawn(samples, factors)
    fitting = [times for times in range(least, 7) if _fits(box, times, most, subject.pixel_aspect)]
    if fitting:
        return View(factors, fitting[-1], box)
    times = max(least, 2)
    one = aspect_size(1, 1, times * 64, subject.pixel_aspect)  # 64 source pixels, so that the aspect is not rounded away
    window = tuple(min(side, room * 64 // size) for side, room, size in zip(first.source.shape[1::-1], most, one, strict=True))
    left, top = _worst_place(samples[-1], factors, window)
    return View(factors, times, (left, top, left + window[0], top + window[1]), cut=True)


def _factors(subject: Subject) -> tuple[Fraction, Fraction]:
    if not isinstance(subject.facts, SpriteFacts | BackgroundFacts):
        raise TypeError(f"a {subject.facts.kind} is not scaled")
    across, down = subject.facts.scale
    return Fraction(str(across)), Fraction(str(down))


def _fits(box: tuple[int, int, int, int], times: int, most: tuple[int, int], aspect: tuple[int, int]) -> bool:
    size = aspect_size(box[2] - box[0], box[3] - box[1], times, aspect)
    return size[0] <= most[0] and size[1] <= most[1]


def _drawn(samples: list[Sample], factors: tuple[Fraction, Fraction]) -> tuple[int, int, int, int]:
    """Return the box, in source pixels, of what is opaque before or after, two pixels wider on every side."""
    height, width = samples[0].source.shape[:2]
    inside = np.zeros((height, width), dtype=bool)
    for sample in samples:
        inside |= sample.source[..., 3] > 0
        columns, rows = (
            _pixels_at(np.arange(side) + 0.5, factors[axis], sample.origin[axis]) for axis, side in enumerate((width, height))
        )
        for other in (sample.scaled, sample.image):
            opaque = np.pad(other[..., 3] > 0, 1)  # beyond its edges is nothing
            inside |= opaque[(rows + 1).clip(0, opaque.shape[0] - 1)[:, None], (columns + 1).clip(0, opaque.shape[1] - 1)]
    if not inside.any():
        return 0, 0, width, height
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    return max(int(columns[0]) - 2, 0), max(int(rows[0]) - 2, 0), min(int(columns[-1]) + 3, width), min(int(rows[-1]) + 3, height)


def _worst_place(sample: Sample, factors: tuple[Fraction, Fraction], window: tuple[int, int]) -> tuple[int, int]:
    """Return left and top, in source pixels, of the window with the greatest loss, looked for in steps of 8 pixels."""
    height, width = sample.source.shape[:2]
    weights = np.where(sample.lost < 0, _MISSING, sample.lost)
    sums = np.pad(weights.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    (lefts, x0, x1), (tops, y0, y1) = (
        _spans(side, size, factor, origin, limit - 1)
        for side, size, factor, origin, limit in zip((width, height), window, factors, sample.origin, sums.shape[::-1], strict=True)
    )
    lost = sums[np.ix_(y1, x1)] - sums[np.ix_(y0, x1)] - sums[np.ix_(y1, x0)] + sums[np.ix_(y0, x0)]
    row, column = divmod(int(lost.argmax()), len(lefts))
    return int(lefts[column]), int(tops[row])


def _spans(side: int, size: int, factor: Fraction, origin: Fraction, last: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return where windows start along an axis, in source pixels, and between which borders of scaled pixels they lie, 0..last."""
    starts = np.union1d(np.arange(0, side - size + 1, 8), [side - size])
    begins, ends = (_pixels_at(at, factor, origin).clip(0, last) for at in (starts, starts + size))
    return starts, begins, ends


def _pixels_at(places: np.ndarray, factor: Fraction, origin: Fraction) -> np.ndarray:
    """Return the scaled pixels at places in source pixels, which are whole or halves."""
    (top, below), (start, unit) = factor.as_integer_ratio(), origin.as_integer_ratio()
    halves = (places * 2).astype(np.int64).tolist()
    return np.array([(at * top * unit + 2 * start * below) // (2 * below * unit) for at in halves], dtype=np.int64)


def _columns(samples: list[Sample]) -> list[tuple[str, str]]:
    """Return caption and name of every panel; scaling is left out where it changed nothing."""
    (high, wide), (down, across) = samples[0].source.shape[:2], samples[0].scaled.shape[:2]
    unscaled = all(np.array_equal(sample.source, sample.scaled) for sample in samples)
    scaled = [] if unscaled else [(f"scaled, {across} × {down}", "scaled")]
    return [(f"as drawn, {wide} × {high}", "source"), *scaled, ("in the image", "image"), ("difference in colour", "lost")]


def panel(subject: Subject, sample: Sample, part: str, view: View, size: tuple[int, int]) -> np.ndarray:
    """Return one panel: uint8, shape (height, width, 3), at ``size`` in screen pixels.

    Args:
        part: ``source``, ``scaled``, ``image`` or ``lost``.
    """
    factors, origin = view.factors, sample.origin
    if part == "source":
        factors, origin = (Fraction(1), Fraction(1)), (Fraction(0), Fraction(0))
    pixels = _shaded(sample) if part == "lost" else getattr(sample, part)
    # Whole pixels about the box are stretched, and what sticks out at its left and top is cut off afterwards.
    columns, rows = (_about(view.box[at], view.box[at + 2], factors[at], origin[at]) for at in (0, 1))
    pixels = _part(pixels, rows, columns)
    one = aspect_size(64, 64, view.times, subject.pixel_aspect)  # 64 source pixels, so that the aspect is not rounded away
    across, down = (round(len(span) / factor * side / 64) for span, factor, side in zip((columns, rows), factors, one, strict=True))
    shown = blended(pixels, (across, down))
    left = round((view.box[0] - (columns.start - origin[0]) / factors[0]) * one[0] / 64)
    top = round((view.box[1] - (rows.start - origin[1]) / factors[1]) * one[1] / 64)
    cut = shown[top : top + size[1], left : left + size[0]]
    ground = np.full((size[1], size[0], 3), PAPER, dtype=np.uint8)
    ground[: cut.shape[0], : cut.shape[1]] = cut
    return ground


def _about(start: int, end: int, factor: Fraction, origin: Fraction) -> range:
    """Return the pixels of a scaled frame that lie, even in part, between two edges of source pixels; some may be outside of it."""
    return range(math.floor(start * factor + origin), math.ceil(end * factor + origin))


def _part(pixels: np.ndarray, rows: range, columns: range) -> np.ndarray:
    """Return some rows and columns of a frame, those outside of it transparent."""
    (height, width), (top, left) = pixels.shape[:2], (max(rows.start, 0), max(columns.start, 0))
    inside = pixels[top : max(rows.stop, 0), left : max(columns.stop, 0)]
    beyond = ((top - rows.start, max(rows.stop - height, 0)), (left - columns.start, max(columns.stop - width, 0)), (0, 0))
    return np.pad(inside, beyond)


def _shaded(sample: Sample) -> np.ndarray:
    """Return the difference as a picture with alpha: the darker the worse, and loud where only one of both is opaque."""
    rgb = shades(sample.lost)
    rgb = np.where((sample.lost < 0)[..., None], np.array(ALARM, dtype=np.uint8), rgb)
    seen = (sample.scaled[..., 3:] > 0) | (sample.image[..., 3:] > 0)
    return np.concatenate([rgb, np.where(seen, 255, 0).astype(np.uint8)], axis=-1)


def shades(lost: np.ndarray) -> np.ndarray:
    """Return a difference in hundredths of CIEDE2000 as colours, the darker the worse: uint8, shape (height, width, 3)."""
    return _SHADES[np.searchsorted(np.array(_CLASSES) * 100, lost, side="right")]


def _heading(subject: Subject, sample: Sample, samples: list[Sample], view: View) -> str:
    counted = sample.lost[(sample.scaled[..., 3] > 0) & (sample.image[..., 3] > 0)]
    mean = f"CIEDE2000 {counted.mean() / 100:.1f} on average, {counted.max() / 100:.1f} at most" if len(counted) else "all clear"
    if len(subject.decoded.pixels) == 1:
        which = subject.name
    else:
        which = f"{subject.name}, frame {sample.number}, {'the first' if sample is samples[0] else 'which lost most'}"
    detail = f"; shown: where it lost most, from {view.box[0]}, {view.box[1]}" if view.cut else ""
    return f"{which}: {mean}{detail}"


def write_key(draw: ImageDraw.ImageDraw, top: int, clear: bool = True) -> None:
    """Write what the colours of a difference mean; ``clear``: also that of a pixel which only one side has."""
    left = write(draw, (GAP, top), "CIEDE2000", 12, 200, fill=SOFT) + GAP
    edges = ("below 1", "1 to 2", "2 to 4", "4 to 8", "8 and more", "clear on one side only")
    for text, shade in list(zip(edges, (*_SHADES.tolist(), ALARM), strict=True))[: None if clear else -1]:
        draw.rectangle((left, top - 2, left + 13, top + 11), fill=tuple(shade), outline=LINE)
        left = write(draw, (left + 19, top), text, 12, 200, fill=SOFT) + GAP
