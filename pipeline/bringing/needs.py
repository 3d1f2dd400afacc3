"""What new assets would add to a project's memory and cartridge, as lines for a person."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from pipeline.bringing.fit import Console, Fitted
from pipeline.joints.budget import Budget, SceneBudget, read_budget_file
from pipeline.plain.errors import ProjectError
from pipeline.plain.sizes import counted, show_size
from pipeline.target.records import Target

_SHOWN = 12  # assets, the largest first, and scenes; the rest are counted


def budget_of(file: Path) -> Budget | None:
    """Return the budget of the last build; None where there is none that can be read."""
    if not file.is_file():
        return None
    try:
        return read_budget_file(file)
    except ProjectError:
        return None


def show_needs(fitted: Fitted, target: Target, budget: Budget | None, scenes: list[str]) -> list[str]:
    """Return what new assets need, what scenes have left for it, and the line that loads them.

    Args:
        budget: of the last build, perhaps older than the project file.
        scenes: names of the project's scenes, in its order.
    """
    console = Console(target)
    needs = [(one.name, console.bytes_of(one, Fraction(str(fitted.scale)), fitted.rate), extra) for one, extra in fitted.assets]
    needs.sort(key=lambda one: (-one[1], one[0]))
    left = {} if budget is None else {name: budget.scenes[name] for name in scenes if name in budget.scenes}
    lines = ["new assets are in no scene yet, so no memory is counted for them; estimates, at most:"]
    lines += [f"  {name:<20} {show_size(size):>10}{_too_large(size, left)}" for name, size, _ in needs[:_SHOWN]]
    lines += [f"  and {len(needs) - _SHOWN:,} more"] if len(needs) > _SHOWN else []
    lines += _room(left, scenes, budget)
    if scenes and needs:
        name, _, extra = needs[0]
        loaded = ", ".join(f'"{one}"' for one in (name, extra.get("palette")) if one)
        lines.append(f"to load one in scene {scenes[0]}, add to always of [scene.{scenes[0]}], or to a bundle that it chooses: {loaded}")
    if budget is not None:
        total, image = sum(size for _, size, _ in needs), budget.image
        used = image.bytes + image.planned
        over = f", {show_size(used + total - image.most)} too much" if used + total > image.most else ""
        lines.append(f"cartridge: {show_size(used)} used, {show_size(total)} more, of {show_size(image.most)}{over}")
    return lines


def _too_large(size: int, left: dict[str, SceneBudget]) -> str:
    tight = [name for name, scene in left.items() if size > scene.margin]
    if not tight:
        return ""
    more = f" and {len(tight) - 3} more" if len(tight) > 3 else ""
    return f"  more than {'scene' if len(tight) == 1 else 'scenes'} {', '.join(tight[:3])}{more} can take"


def _room(left: dict[str, SceneBudget], scenes: list[str], budget: Budget | None) -> list[str]:
    if not scenes:
        return ["the project has no scene: add one, so that its memory is checked"]
    if budget is None:
        return ["what scenes have left is not known before the first build"]
    lines = []
    for name, scene in list(left.items())[:_SHOWN]:
        state = f"has {show_size(scene.margin)} left" if scene.margin >= 0 else f"is {show_size(-scene.margin)} over already"
        lines.append(f"  scene {name} {state} in its worst case, by the last build")
    return lines + ([f"  and {counted(len(left) - _SHOWN, 'scene')} more"] if len(left) > _SHOWN else [])
