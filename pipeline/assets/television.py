"""Whether the codes of a boot notice read from a photo of a television, and how much worse set and photo may be. A model."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import numpy as np

from pipeline.codes import read_codes
from pipeline.pixels.composite import SYSTEMS, System, sent
from pipeline.pixels.tube_photo import photographed

PERCENTS = (100, 80, 60, 50, 40, 30)  # of the bandwidth that a system's signal has
WIDTHS = (1000, 800, 640, 500, 400, 320, 250)  # of the screen in the photo, in pixels; the first is an ordinary photo


def lost_links(rgb: np.ndarray, aspect: tuple[int, int], links: tuple[str, ...], rows: tuple[int, int]) -> dict[str, list[str]]:
    """Return which links do not read at all of a system's bandwidth and in an ordinary photo: link -> names of systems.

    Args:
        rgb: uint8, shape (height, width, 3), the screen.
        aspect: width and height of one of its pixels.
        links: what its codes say; one that stands twice must read twice.
        rows: first row of the codes, and the first below them.
    """
    lost: dict[str, list[str]] = {}
    for system in SYSTEMS:
        found = _read(rgb, aspect, rows, system, PERCENTS[0], WIDTHS[0])
        for link in dict.fromkeys(links):
            if found.count(link) < links.count(link):
                lost.setdefault(link, []).append(system.name)
    return lost


def margin(rgb: np.ndarray, aspect: tuple[int, int], links: tuple[str, ...], rows: tuple[int, int]) -> dict[str, Any]:
    """Return the least bandwidth and the smallest photo with which all links still read on every system.

    Arguments as for ``lost_links``, which must have found nothing lost.

    Returns:
        ``bandwidth``: percent of the usual one, with an ordinary photo; ``photo``: the screen's width in the photo, in
        pixels, with all of the bandwidth; ``tried``: the least of both that is tried at all.
    """

    def reads(percent: int, width: int) -> bool:
        found = (_read(rgb, aspect, rows, system, percent, width) for system in SYSTEMS)
        return all(texts.count(link) >= links.count(link) for texts in found for link in links)

    bandwidth = _least(PERCENTS, lambda percent: reads(percent, WIDTHS[0]))
    photo = _least(WIDTHS, lambda width: reads(PERCENTS[0], width))
    return {"bandwidth": bandwidth, "photo": photo, "tried": {"bandwidth": PERCENTS[-1], "photo": WIDTHS[-1]}}


def _least(steps: tuple[int, ...], reads: Callable[[int], bool]) -> int:
    """Return the least step that reads; the next one up must read too, so that one lucky photo does not count.

    The first, largest step is known to read. The least is tried first: it is the quickest, and most notices have room.
    """
    reads = functools.cache(reads)
    for larger, step in zip(steps[-2::-1], steps[:0:-1], strict=True):
        if reads(step) and (larger == steps[0] or reads(larger)):
            return step
    return steps[0]


def _read(rgb: np.ndarray, aspect: tuple[int, int], rows: tuple[int, int], system: System, percent: int, width: int) -> list[str]:
    """Return what reads in a photo that takes in the codes and a little above and below them, as a tester aims."""
    first, end = rows
    room = (end - first) // 8
    part = rgb[max(0, first - room) : end + room]
    height = max(1, part.shape[0] * width * aspect[1] // (rgb.shape[1] * aspect[0]))
    photo = photographed(sent(part, system, percent), rgb.shape[0], (width, height))
    return [text for text, _ in read_codes(photo)]
