"""The budget: for every scene its worst case against the memory the target leaves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.errors import refuse
from pipeline.files import read_json, write_json
from pipeline.memory.scenes import Group, Worst, worst_case
from pipeline.project_file import Scene
from pipeline.sizes import round_up, show_size

Loads = Callable[[str], frozenset[str]]  # what a member of a scene, an asset or a bundle, brings into memory


def write_budget(
    blobs: Path,
    out: Path,
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    memory: int,
    granularity: int,
    held: dict[str, int],
    pools: dict[str, str],
) -> str:
    """Write ``budget.json``; return one line about it.

    Args:
        assets: name -> alignment in bytes.
        memory: bytes of main memory.
        granularity: allocations are rounded up to this.
        held: bytes no asset can use, by what holds them (screen buffers, reserved areas).
        pools: sprite -> the pool without which it cannot be drawn; whatever loads the sprite loads it too.

    Raises:
        ProjectError: a scene has too many combinations to look at.
    """
    facts = {name: read_json(blobs / f"{name}.json") for name in assets}
    sizes = {name: round_up(facts[name]["unpacked_bytes"], max(granularity, align)) for name, align in assets.items()}

    def loads(member: str) -> frozenset[str]:
        assets = bundles.get(member, [member])
        return frozenset(assets) | {pools[asset] for asset in assets if asset in pools}

    report = {name: _scene(name, scene, loads, sizes, memory, held) for name, scene in scenes.items()}
    whole = {"memory": memory, "held": held, "scenes": report, "over": sorted(n for n, s in report.items() if s["margin"] < 0)}
    write_json(out, whole)
    return "; ".join(describe_scene(name, scene) for name, scene in report.items()) or "the project names no scene"


def describe_scene(name: str, scene: dict[str, Any]) -> str:
    """Return one line about a scene of ``budget.json``."""
    state = f"{show_size(scene['margin'])} free" if scene["margin"] >= 0 else f"{show_size(-scene['margin'])} OVER"
    return f"{name} needs {show_size(scene['bytes'])} at worst, {state}"


def over_budget(budget: dict[str, Any]) -> str | None:
    """Return what a kit is refused for, or None when every scene fits."""
    return "; ".join(describe_scene(name, budget["scenes"][name]) for name in budget["over"]) or None


def _scene(name: str, scene: Scene, loads: Loads, sizes: dict[str, int], memory: int, held: dict[str, int]) -> dict:
    always = frozenset().union(*(loads(member) for member in scene.always))
    groups = [Group(choice.count, {member: loads(member) for member in choice.of}) for choice in scene.choose]
    try:
        worst = worst_case(always, groups, sizes)
    except ValueError as error:
        remedy = "split the scene, or let fewer members share assets"
        raise refuse("project.toml", f"[scene.{name}]", str(error), remedy) from None
    total = worst.bytes + sum(held.values())
    return {
        "bytes": total,
        "margin": memory - total,
        "chosen": [list(names) for names in worst.chosen],
        "parts": _parts(worst, always, loads, sizes),
    }


def _parts(worst: Worst, always: frozenset[str], loads: Loads, sizes: dict[str, int]) -> list[dict[str, Any]]:
    """What the worst case is made of; an asset that several members load counts for the first of them."""
    parts, counted = [], set()
    for label, assets in [("always", always), *((name, loads(name)) for names in worst.chosen for name in names)]:
        fresh = sorted(assets - counted)
        counted.update(fresh)
        parts.append({"name": label, "bytes": sum(sizes[asset] for asset in fresh), "assets": fresh})
    return [part for part in parts if part["assets"]]
