"""Findings in words: what was measured, where, and what would pass."""

from __future__ import annotations

from collections.abc import Collection
from typing import Protocol

from pipeline.safety.areas import central_field
from pipeline.safety.flashes import MOST, NEAR_AREA, STRIPES
from pipeline.safety.stripes import CHANGING

METHOD = (
    "Flashing light by WCAG 2.2 (general, red: at most three flashes in any second over a quarter of 10 degrees of view)\n"
    "and ITU-R BT.1702 (broadcast, broadcast red: over a quarter of the screen; stripes). This helps you find flashing early. It is not\n"
    "a medical certificate: people differ, and so do screens and distances. Where rules apply to your release, ask a qualified tester."
)


class Worst(Protocol):
    """The worst second by one limit, measured just now or as it is kept; see ``flashes.Finding``."""

    @property
    def limit(self) -> str: ...
    @property
    def transitions(self) -> int: ...
    @property
    def area(self) -> float: ...
    @property
    def tick(self) -> int | None: ...
    @property
    def box(self) -> tuple[int, int, int, int] | None: ...


def sentence(worst: Worst, refresh: float) -> str:
    """Return a finding as a sentence without its end, such as ``general: 4.5 flashes in a second, ...``; ``refresh``: ticks in one."""
    said = _rate(worst.limit, worst.transitions, worst.area)
    if worst.tick is None or worst.box is None:
        return said
    left, top, width, height = worst.box
    return f"{said}; at {worst.tick / refresh:.2f} s, columns {left} to {left + width - 1}, rows {top} to {top + height - 1}"


def _rate(limit: str, transitions: int, area: float) -> str:
    allowed = f"{area:.0%} of the allowed area" if area < 1 else f"{area:.1f} times the allowed area"
    if limit == STRIPES:
        return f"{limit}: more than five pairs of light and dark stripes over {allowed}"
    rate = f"{limit}: {f'{transitions / 2:g}' if transitions > MOST else 'more than three'} flashes in one second"
    return f"{rate} over {allowed}" if area else rate


def remedy(times: int | None, screen: tuple[int, int], limits: Collection[str] = ()) -> str:
    """Return what would pass.

    Args:
        times: the factor of all times that was tried and passes; None where none of those tried does, or none was tried.
        screen: its width and height in pixels.
        limits: that do not pass.
    """
    if STRIPES in limits:
        others = f"let stripes cover less than {NEAR_AREA * CHANGING:.0%} of the screen, be uneven, or differ by less than a tenth of white"
        return others if [*limits] == [STRIPES] else f"{others}; then measure the flashing again"
    small = int(NEAR_AREA * central_field(*screen).most)
    others = f"keep changes of brightness under a tenth of white's, without saturated red, or let at most {small:,} pixels flash"
    return f"each frame {times} times as long passes; or {others}" if times else others
