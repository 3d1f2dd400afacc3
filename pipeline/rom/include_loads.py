"""What ``assets.h`` says of load lists: bundles and scenes by name, and the addresses of the plan."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from pipeline.joints.layouts import name_hash
from pipeline.joints.lists import Buffers, ChoicePlan, Lists, ScenePlan


def load_groups(
    lists: Lists, layout: Mapping[str, dict[str, int]], sizes: Callable[[str], int], banks: bool
) -> list[dict[str, Any]]:
    """Return groups of constants as ``include.write_include`` writes them: memory, scenes, bundles.

    Args:
        layout: name of an asset -> offset, address and bank.
        sizes: name of an asset -> its bytes in the image.
        banks: whether the target has banks.
    """
    memory = [
        constant("MEMORY_ADDRESS", lists.base, "first byte of main memory"),
        constant("MEMORY_BYTES", lists.memory, "size of main memory"),
    ]
    buffers = [area for area in lists.areas if area.kind == "buffer"]
    memory += [constant(f"BUFFER_{rank}_ADDRESS", lists.base + area.at, area.name) for rank, area in enumerate(buffers)]
    groups = [{"name": "of the console", "kind": "memory", "constants": memory}]
    groups += [{"name": name, "kind": "scene", "constants": _scene(name, scene, lists.base)} for name, scene in lists.scenes.items()]
    for name, bundle in lists.bundles.items():
        prefix, first = f"BUNDLE_{name.upper()}", layout[bundle.members[0]]
        constants = [constant(f"{prefix}_HASH", name_hash(name), "name by which load lists know it")]
        if bundle.contiguous:
            constants.append(constant(f"{prefix}_ADDRESS", first["address"], "first byte of all its assets, as the console sees it"))
            if banks:
                constants.append(constant(f"{prefix}_BANK", first["bank"], "bank to switch in"))
            last = layout[bundle.members[-1]]["offset"] + sizes(bundle.members[-1])
            constants.append(constant(f"{prefix}_BYTES", last - first["offset"], "from its first byte to its last"))
            for member in bundle.members:
                within = layout[member]["offset"] - first["offset"]
                constants.append(constant(f"{prefix}_{member.upper()}", within, "where it starts in the bundle"))
        groups.append({"name": name, "kind": "bundle", "constants": constants})
    return groups


def _scene(name: str, scene: ScenePlan, base: int) -> list[dict[str, Any]]:
    prefix = f"SCENE_{name.upper()}"
    constants = [constant(f"{prefix}_HASH", name_hash(name), "name by which load lists know it")]
    constants += [
        constant(f"{prefix}_{re.sub('[^A-Z0-9]', '_', one.name.upper())}_ADDRESS", base + one.at, "room kept in memory")
        for one in scene.rooms
    ]
    constants += [
        constant(f"{prefix}_{one.asset.upper()}_ADDRESS", base + one.at, "its tables in memory" if one.spans else "in memory")
        for one in scene.common.places
    ]
    for one in scene.common.buffers:
        name = f"{prefix}_{one.asset.upper()}"
        constants.append(constant(f"{name}_{_where(one)}_ADDRESS", base + one.at, f"first byte of its {_where(one).lower()}"))
        constants += _fetched(name, one)
    rank, within = 0, {}
    for number, choice in enumerate(scene.choices):
        label = _label(choice, number)
        for slot in choice.slots:
            constants.append(constant(f"{prefix}_SLOT_{rank}_ADDRESS", base + slot.at, f"in memory, of {label}"))
            constants.append(constant(f"{prefix}_SLOT_{rank}_BYTES", slot.bytes, f"of {label}"))
            rank += 1
        for group in choice.members:
            for one in group.buffers:
                name = f"{prefix}_{group.name.upper().replace(' ', '_')}_{one.asset.upper()}"
                at = constant(f"{name}_{_where(one)}_AT", one.at, f"in its slot, where its {_where(one).lower()} starts")
                within |= {each["name"]: each for each in (at, *_fetched(name, one))}
    constants += within.values()
    return [*constants, constant(f"{prefix}_SLOTS", rank, "slots")]


def _where(one: Buffers) -> str:
    return "BUFFERS" if one.window is None else "WINDOW"


def _fetched(name: str, one: Buffers) -> list[dict[str, Any]]:
    """Return what says how large buffers or a window are."""
    if one.window is None:
        found = [constant(f"{name}_BUFFER_BYTES", one.bytes, "of each"), constant(f"{name}_BUFFERS", one.count, "how many")]
    else:
        found = [
            constant(f"{name}_WINDOW_BYTES", one.bytes, "bytes of its window"),
            constant(f"{name}_WINDOW_COLUMNS", one.window.columns, f"units of {one.window.width} pixels across"),
            constant(f"{name}_WINDOW_ROWS", one.window.rows, f"units of {one.window.height} pixels down"),
        ]
    more = [constant(f"{name}_SETS", one.sets, "sets of them"), constant(f"{name}_SET_BYTES", one.set_bytes, "from one to the next")]
    return [*found, *(more if one.sets > 1 else [])]


def _label(choice: ChoicePlan, number: int) -> str:
    return re.sub(r"[^A-Za-z0-9 _-]", "_", choice.name) or f"choice {number + 1}"


def constant(name: str, value: int, note: str) -> dict[str, Any]:
    """Return a constant as the templates of include files take it."""
    return {"name": name, "value": value, "note": note}
