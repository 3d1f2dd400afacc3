"""Findings in words: what was measured, where, and what would pass."""

from __future__ import annotations

from pipeline.safety.areas import central_field
from pipeline.safety.flashes import MOST, NEAR_AREA, Finding

METHOD = (
    "Flashing light by WCAG 2.2 (general, red: at most three flashes in any second over a quarter of 10 degrees of view)\n"
    "and ITU-R BT.1702 (broadcast, broadcast red: over a quarter of the screen). This helps you find flashing early. It is not a medical\n"
    "certificate: people differ, and so do screens and distances. Where rules apply to your release, ask a qualified tester."
)


def sentence(finding: Finding, refresh: float) -> str:
    """Return one finding as a sentence without its end, such as ``general: 4.5 flashes in a second, ...``."""
    rate = f"{finding.limit}: {finding.transitions / 2:g} flashes in one second"
    if finding.transitions <= MOST:
        rate = f"{finding.limit}: more than three flashes in one second"
    if finding.area:
        rate += f" over {finding.area:.0%} of the allowed area" if finding.area < 1 else f" over {finding.area:.1f} times the allowed area"
    if finding.tick is None or finding.box is None:
        return rate
    left, top, width, height = finding.box
    return f"{rate}; at {finding.tick / refresh:.2f} s, columns {left} to {left + width - 1}, rows {top} to {top + height - 1}"


def remedy(times: int | None, screen: tuple[int, int]) -> str:
    """Return what would pass.

    Args:
        times: the factor of all times that was tried and passes; None where none of those tried does, or none was tried.
        screen: its width and height in pixels.
    """
    small = int(NEAR_AREA * central_field(*screen).most)
    others = f"keep changes of brightness under a tenth of white's, without saturated red, or let at most {small:,} pixels flash"
    return f"each frame {times} times as long passes; or {others}" if times else others
