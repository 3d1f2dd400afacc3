"""What a kit is refused for: scenes that do not fit, and scenes that fetch more than the console carries while the game runs."""

from __future__ import annotations

from pipeline.joints.budget import Budget, Limit, SceneBudget, Streamed
from pipeline.memory.budget_text import show_names
from pipeline.memory.usage import CARRIED, show_limit
from pipeline.plain.errors import Problem
from pipeline.plain.sizes import counted


def too_fast(budget: Budget) -> list[Problem]:
    """Return a problem for each scene whose worst picture fetches too much, at the table of what fetches most of it."""
    found = []
    for name, scene in budget.scenes.items():
        over = {key: scene.limits[key] for key in CARRIED if key in scene.limits and scene.limits[key].refused}
        if over:
            key, limit = max(over.items(), key=lambda item: item[1].used - item[1].most)
            found.append(_problem(name, scene, key, limit))
    return found


def _problem(name: str, scene: SceneBudget, key: str, limit: Limit) -> Problem:
    start = scene.traffic.start if scene.traffic else 0
    streamed = [one for one in scene.streamed if not (one.ahead and key == "blank" and "picture" in scene.limits)]
    parts = sorted(streamed, key=lambda one: -_weight(one, start))
    most = parts[0]
    chosen = f" with {show_names(limit.chosen)}" if any(limit.chosen) else ""
    heaviest = {one.how: one for one in reversed(parts)}.values()  # others may be there in its place
    each = "; ".join(_show(one, start) for one in sorted(heaviest, key=lambda one: -_weight(one, start)))
    wrong = f"its worst picture fetches {limit.used:,} {show_limit(key)}{chosen}, the console carries {limit.most:,}: {each}"
    return Problem("project.toml", f"[scene.{name}.{most.how}]", wrong, _remedy(most, "picture" in scene.limits))


def _weight(one: Streamed, start: int) -> int:
    return one.picture_bytes + start * one.picture_transfers


def _show(one: Streamed, start: int) -> str:
    what = f"{_UNITS[one.unit]} {one.name}"
    counts = f", which count as {_weight(one, start):,}" if start else ""
    return f"{what} brings {one.picture_bytes:,} bytes in {counted(one.picture_transfers, 'transfer')}{counts}"


_UNITS = {"frame": "a frame of", "animation": "an animation of", "window": "the window over"}


def _remedy(one: Streamed, ahead: bool) -> str:
    """Return what makes its largest part smaller."""
    if one.how == "window":
        margin = ", a margin of at least its speed (then it need not come in a blank)" if ahead and not one.ahead else ""
        return f"give the window over {one.name} a lower speed{margin}, store the background as tiles, or hold it whole"
    return (
        f'spread the fetches of {one.name} with within, give it prefer = "transfers" or smaller frames, let fewer be there at once, '
        "or hold it whole"
    )
