"""Whether the codes of a boot notice read from a photo of a television, and how much worse set and photo may be. A model."""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np

from pipeline.joints.codes import read_codes
from pipeline.joints.facts import Margins, TvMargins
from pipeline.pixels.composite import SYSTEMS, System, sent
from pipeline.pixels.tube_photo import photographed

# Percent of the bandwidth that a system's signal has: all, what is asked for, and less. Half is asked for because a set's trap
# for the colour carrier takes about the upper third, and worn sets and modulators take more (common practice, no source).
ALL, PERCENTS = 100, (50, 40, 30)
WIDTHS = (1000, 800, 640, 500, 400, 320, 250)  # of the screen in the photo, in pixels; the first is an ordinary photo


class Television:
    """The codes of a screen, sent to televisions of every system and photographed; each photo is taken once."""

    def __init__(self, rgb: np.ndarray, aspect: tuple[int, int], links: tuple[str, ...], rows: tuple[int, int]) -> None:
        """Aim at the codes and a little above and below them, as a tester does.

        Args:
            rgb: uint8, shape (height, width, 3), the screen.
            aspect: width and height of one of its pixels.
            links: what its codes say; one that occurs twice must read twice.
            rows: first row of the codes, and the first below them.
        """
        room = (rows[1] - rows[0]) // 8
        self.part = rgb[max(0, rows[0] - room) : rows[1] + room]
        self.lines, self.aspect, self.links = rgb.shape[0], aspect, links
        self._shown = functools.cache(functools.partial(sent, self.part))
        self._found = functools.cache(self._read)

    def lost(self) -> dict[str, list[str]]:
        """Return which links do not read in an ordinary photo, at all or half of the bandwidth: link -> names of systems."""
        lost: dict[str, list[str]] = {}
        for system in SYSTEMS:
            for link in dict.fromkeys(self.links):
                if not all(self._reads(link, system, percent, WIDTHS[0]) for percent in (ALL, PERCENTS[0])):
                    lost.setdefault(link, []).append(system.name)
        return lost

    def margin(self) -> TvMargins:
        """Return the least bandwidth and the smallest photo with which all links still read on every system.

        ``lost`` must have found nothing. The bandwidth is that with an ordinary photo, the photo that with all of the
        bandwidth.
        """
        bandwidth = _least(PERCENTS, lambda percent: self._all_read(percent, WIDTHS[0]))
        photo = _least(WIDTHS, lambda width: self._all_read(ALL, width))
        return TvMargins(bandwidth=bandwidth, photo=photo, tried=Margins(bandwidth=PERCENTS[-1], photo=WIDTHS[-1]))

    def _all_read(self, percent: int, width: int) -> bool:
        return all(self._reads(link, system, percent, width) for system in SYSTEMS for link in self.links)

    def _reads(self, link: str, system: System, percent: int, width: int) -> bool:
        return self._found(system, percent, width).count(link) >= self.links.count(link)

    def _read(self, system: System, percent: int, width: int) -> list[str]:
        high, wide = self.part.shape[:2]
        height = max(1, high * width * self.aspect[1] // (wide * self.aspect[0]))
        return [text for text, _ in read_codes(photographed(self._shown(system, percent), self.lines, (width, height)))]


def _least(steps: tuple[int, ...], reads: Callable[[int], bool]) -> int:
    """Return the least step that reads; the next one up must read too, so that one lucky photo does not count.

    The first, largest step is known to read. The least is tried first: it is the quickest, and most notices have room.
    """
    for larger, step in zip(steps[-2::-1], steps[:0:-1], strict=True):
        if reads(step) and (larger == steps[0] or reads(larger)):
            return step
    return steps[0]
