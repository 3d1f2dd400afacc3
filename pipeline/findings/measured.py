"""Measurements as they are kept."""

from __future__ import annotations

from pipeline.joints.found.flashes import Limit, Played
from pipeline.safety.advice import remedy
from pipeline.safety.flashes import Finding
from pipeline.safety.reach import Reach


def kept(
    name: str, ground: str, findings: list[Finding], times: int | None, screen: tuple[int, int], reach: dict[str, Reach] | None = None
) -> Played:
    """Return what was measured of one thing that is shown; what passes leaves its reach alone.

    Args:
        name, ground: see ``joints.found.flashes.Played``.
        findings: one for each limit.
        times: see ``safety.clips.Measured``.
        screen: its width and height in pixels.
    """
    limits = [
        Limit(limit=one.limit, verdict=one.verdict, transitions=one.transitions, area=round(one.area, 6), tick=one.tick, box=one.box)
        for one in findings
        if one.verdict != "pass"
    ]
    said = remedy(times, screen, [one.limit for one in limits]) if limits else ""
    reaches = {limit: (most.at_once, most.often, most.changes) for limit, most in (reach or {}).items()}
    return Played(name=name, ground=ground if limits else "", limits=limits, remedy=said, reach=reaches)
