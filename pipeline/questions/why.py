"""Showing why each step of the last build ran."""

from __future__ import annotations

from pathlib import Path

from pipeline.graph.freshness.state_folder import read_record


def show_reasons(record: Path) -> str:
    """Return the reasons of the last build that ran a step, as lines for a person, from its record."""
    reasons = read_record(record, dict[str, list[str]])
    if reasons is None:
        return "Nothing is known yet: build first."
    lines = []
    for name, given in reasons.items():
        lines.append(f"{name.replace(':', ' ')}")
        lines += [f"    {reason}" for reason in given] or ["    asked for"]
    return "\n".join(lines)
