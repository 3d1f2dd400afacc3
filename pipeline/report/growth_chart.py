"""The growth chart: image and worst case of every scene against their limits, build by build, as an SVG picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.plain.sizes import show_size

_WIDTH, _PANEL, _TOP, _LEFT, _RIGHT, _GAP = 900, 150, 46, 96, 24, 74  # pixels


def draw_growth(template: Template, entries: list[dict[str, Any]], out: Path) -> None:
    """Write the chart.

    Args:
        entries: at least one build, oldest first; see ``graph.growth_log``.
    """
    names = dict.fromkeys(name for one in entries for name in one["scenes"])
    panels = [_panel("Image", [one["used"] for one in entries], [one["most"] for one in entries], 0)]
    for rank, name in enumerate(names, start=1):
        values = [one["scenes"].get(name) for one in entries]
        panels.append(_panel(f"Memory, {name} at worst", values, [one["memory"] for one in entries], rank))
    size = {"width": _WIDTH, "height": _TOP + len(panels) * (_PANEL + _GAP), "left": _LEFT, "right": _WIDTH - _RIGHT}
    builds = {"first": entries[0]["build_code"], "last": entries[-1]["build_code"]}
    write_bytes(out, render(template, {"panels": panels, "size": size, "builds": builds}, markup=True).encode())


def _panel(title: str, values: list[int | None], limits: list[int], rank: int) -> dict[str, Any]:
    """Return one curve and its limit as points; a scene that a build did not have leaves a gap at its place."""
    top = _TOP + rank * (_PANEL + _GAP)
    known = [(at, value) for at, value in enumerate(values) if value is not None]
    most = max([*limits, *(value for _, value in known)]) * 1.08
    step = (_WIDTH - _LEFT - _RIGHT) / max(len(values) - 1, 1)

    def point(at: float, value: float) -> tuple[float, float]:
        return round(_LEFT + at * step, 1), round(top + _PANEL * (1 - value / most), 1)

    limit = [point(at, value) for at, value in enumerate(limits)]
    if len(limits) == 1:
        limit.append((_WIDTH - _RIGHT, limit[0][1]))
    over = known[-1][1] > limits[-1]
    return {
        "title": f"{title}: {show_size(known[-1][1])} of {show_size(limits[-1])}" + (", over" if over else ""),
        "over": over,
        "top": top,
        "bottom": top + _PANEL,
        "dots": [point(at, value) for at, value in known],
        "ground": [point(known[0][0], 0), *(point(at, value) for at, value in known), point(known[-1][0], 0)],
        "limit": limit,
        "most": show_size(limits[0]),
    }
