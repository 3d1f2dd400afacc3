"""Telling why each step of the last build ran."""

from __future__ import annotations

import json
from pathlib import Path


def tell_reasons(state: Path) -> str:
    """Return the reasons of the last build that ran a step, as lines for a person."""
    try:
        reasons = json.loads((state / "reasons.json").read_bytes())
    except (OSError, ValueError):
        return "Nothing is known yet: build first."
    lines = []
    for name, given in reasons.items():
        lines.append(f"{name.replace(':', ' ')}")
        lines += [f"    {reason}" for reason in given] or ["    asked for"]
    return "\n".join(lines)
