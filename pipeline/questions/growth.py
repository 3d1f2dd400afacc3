"""``doit growth``: the builds so far, as a table and a chart."""

from __future__ import annotations

from pathlib import Path

from pipeline.graph.growth_log import read_log
from pipeline.plain.rendering import Template
from pipeline.plain.sizes import counted
from pipeline.report.growth_chart import draw_growth


def show_growth(log: Path, template: Template, out: Path) -> str:
    """Draw the log as ``growth.svg`` and return it as lines for a person."""
    entries = read_log(log)
    if not entries:
        return "Nothing is known yet: build first."
    draw_growth(template, entries, out)
    names = list(dict.fromkeys(name for one in entries for name in one["scenes"]))
    lines = [f"  {'build':<8} {'version':<12} {'image':>12} " + " ".join(f"{name:>14}" for name in names)]
    for one in entries[-20:]:
        scenes = " ".join(f"{one['scenes'][name]:>14,}" if name in one["scenes"] else f"{'-':>14}" for name in names)
        lines.append(f"  {one['build_code']:<8} {one['version']:<12} {one['used']:>12,} {scenes}")
    last = entries[-1]
    limits = " ".join(f"{last['memory']:>14,}" for _ in names)
    lines.append(f"  {'most':<8} {'':<12} {last['most']:>12,} {limits}")
    count = counted(len(entries), "build")
    return "\n".join([*lines, "", f"{count}; as a chart: {out.name} in the build folder"])
