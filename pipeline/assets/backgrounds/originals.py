"""A background with parts as its art would show it at full detail: whole, and around each part at that part's own resolution."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import msgspec
import numpy as np
from PIL import Image

from pipeline.assets.backgrounds.parts import Laid, Parts, pair
from pipeline.assets.backgrounds.prepare import open_base
from pipeline.assets.sources.prepare import chosen_factors
from pipeline.joints.originals import PartShown, Region, write_originals
from pipeline.joints.places import OriginalFiles, Sources
from pipeline.pixels.scaling.placed import Pair, Placing
from pipeline.pixels.scaling.scale import exact_factors
from pipeline.plain.files import replacing
from pipeline.plain.sizes import counted
from pipeline.project.assets import Background

_COMFORTABLE = (380, 300)  # pixels that a picture keeps to, so that three fit side by side; but no smaller than in the image
_MOST = (1200, 900)  # pixels that no picture exceeds
_NOTHING = (Fraction(0), Fraction(0))


def keep_originals(sources: Sources, out: OriginalFiles, name: str, spec: Background) -> str:
    """Write the pictures and their description; return one line about them.

    Args:
        sources: the background's own picture, then that of each part.
        spec: of which only what says how art is read, and its scale, is looked at.

    Raises:
        ProjectError: as of ``prepare_background``.
    """
    base = open_base(sources, spec)
    spec = msgspec.structs.replace(spec, resample="area")
    parts = Parts(sources, name, spec, base.size)
    factor = max(chosen_factors("background", name, spec, base.height))
    whole = _part_of(base.size, _NOTHING, pair(map(Fraction, base.size)), Fraction(1), factor)
    around = [_around(base.size, laid, factor) for laid in parts]
    regions = [whole, *around]
    grounds = [region.drawn(base) for region in regions]
    shown = []
    for laid, region in zip(parts, around, strict=True):
        for ground, other in zip(grounds, regions, strict=True):
            other.lay(ground, laid, spec)
        shown.append(_shown(laid, region))
    _write_pictures(out, grounds)
    write_originals(out.described, whole.record(), shown)
    return f"{counted(len(shown), 'part')} as drawn"


@dataclass(frozen=True)
class _Window:
    """What is shown of a background; see ``joints.originals.Region``."""

    size: tuple[int, int]
    at: Pair
    times: Fraction

    def drawn(self, base: Image.Image) -> np.ndarray:
        """Return what it shows of the background's own picture: uint8, shape (height, width, 3)."""
        ground = np.zeros((self.size[1], self.size[0], 3), dtype=np.uint8)
        place = pair(-at * self.times for at in self.at)
        Placing((self.times, self.times), _NOTHING, "area", "linear").put(ground, base, place, pair(map(Fraction, self.size)))
        return ground

    def lay(self, ground: np.ndarray, laid: Laid, spec: Background) -> None:
        """Lay a part over what it shows, in place."""
        places = tuple(pair(place - at for place, at in zip(one, self.at, strict=True)) for one in laid.places)
        laid.lay(ground, places, (self.times, self.times), spec, pair(map(Fraction, self.size)))

    def record(self) -> Region:
        """Return its description."""
        return Region(size=self.size, at=_floats(self.at), times=float(self.times))


def _around(base: tuple[int, int], laid: Laid, factor: Fraction) -> _Window:
    """Return what is around a part's first copy: at the part's own resolution and on its own pixels, where that is not too large."""
    across, down = exact_factors(laid.spec.scale)
    rim = max(max(laid.size) / 8, Fraction(2))
    start = pair(at - rim for at in laid.places[0])
    end = pair(at + length + rim for at, length in zip(laid.places[0], laid.size, strict=True))
    return _part_of(base, start, end, max(1 / across, 1 / down), factor, laid.places[0])


def _part_of(base: tuple[int, int], start: Pair, end: Pair, times: Fraction, factor: Fraction, on: Pair = _NOTHING) -> _Window:
    """Return a part of the background that keeps to the pixels there are.

    Args:
        base: width and height of the background's file.
        start, end: corners of what is wanted, in its pixels; may be outside.
        times: pixels wanted for one of its pixels.
        factor: pixels of the image for one of its pixels, which are not gone below where that is possible.
        on: a point, inside or outside, that is on a pixel's corner.
    """
    start = pair(max(at, Fraction(0)) for at in start)
    end = pair(min(at, Fraction(side)) for at, side in zip(end, base, strict=True))
    size = pair(last - first for first, last in zip(start, end, strict=True))
    comfortable, most = (min(limit / side for limit, side in zip(limits, size, strict=True)) for limits in (_COMFORTABLE, _MOST))
    times = min(times, max(comfortable, factor), most)
    start = pair(at + math.ceil((first - at) * times) / times for at, first in zip(on, start, strict=True))
    width, height = (max(1, math.floor((last - first) * times)) for first, last in zip(start, end, strict=True))
    return _Window((width, height), start, times)


def _shown(laid: Laid, around: _Window) -> PartShown:
    return PartShown(
        name=laid.spec.name,
        file=laid.file,
        taken=laid.picture.size,
        size=_floats(laid.size),
        places=[_floats(place) for place in laid.places],
        around=around.record(),
    )


def _floats(point: Pair) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _write_pictures(out: OriginalFiles, grounds: list[np.ndarray]) -> None:
    sheet = np.zeros((sum(len(one) for one in grounds), max(one.shape[1] for one in grounds), 3), dtype=np.uint8)
    top = 0
    for one in grounds:
        sheet[top : top + len(one), : one.shape[1]] = one
        top += len(one)
    with replacing(out.pixels) as file:
        Image.fromarray(sheet).save(file, "PNG", compress_level=1)  # read once and not handed out: quick rather than small
