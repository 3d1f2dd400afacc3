"""The plan of memory in words, for a terminal: what is where in each scene, as a map from the first byte to the last."""

from __future__ import annotations

from pathlib import Path

from pipeline.joints.lists import Buffers, Group, Lists, Place, ScenePlan, read_lists_file
from pipeline.plain.sizes import counted, show_size

_NAME = 34
MENTIONED = 1024  # bytes: what is free and less is what alignment leaves between two things


def show_lists(lists_file: Path | None) -> str:
    """Return what ``lists.json`` holds as lines for a person; without the file, how a project gets one."""
    if lists_file is None:
        return "This project has no load lists. Add a table [lists.load] to project.toml; see pipeline/guide/memory.md."
    lists = read_lists_file(lists_file)
    lines: list[str] = []
    for name, scene in lists.scenes.items():
        lines += [f"{name}, memory from {lists.base:#x} to {lists.base + lists.memory - 1:#x}", *_scene(lists, scene), ""]
    return "\n".join(lines[:-1])


def spans(lists: Lists, scene: ScenePlan) -> list[tuple[int, int, str]]:
    """Return (first byte, bytes, what is there) of a scene, rising, with what is free between."""
    taken = [(area.at, area.bytes, area.name) for area in [*lists.areas, *scene.rooms]]
    taken += [(one.at, one.bytes, _held(one)) for one in scene.common.places]
    taken += _buffers(scene.common)
    for rank, choice in enumerate(scene.choices):
        label = choice.name or f"choice {rank + 1}"
        several = len(choice.slots) > 1
        taken += [
            (slot.at, slot.bytes, f"{label} {number}" if several else label) for number, slot in enumerate(choice.slots, 1) if slot.bytes
        ]
    found, end = [], 0
    for at, count, name in sorted(taken):
        if at > end:
            found.append((end, at - end, ""))
        found.append((at, count, name))
        end = at + count
    return [*found, (end, lists.memory - end, "")] if end < lists.memory else found


def _held(place: Place) -> str:
    return f"{place.asset} ({'packed' if place.packed else 'tables'})" if place.packed or place.spans else place.asset


def _buffers(group: Group) -> list[tuple[int, int, str]]:
    """Return the spans of a group's buffers and windows; those that members of a role share once."""
    names: dict[tuple[int, int, str], list[str]] = {}
    for one in group.buffers:
        what = "buffers" if one.window is None else "window"
        names.setdefault((one.at, one.sets * one.set_bytes, what), []).append(one.asset)
    return [(at, count, f"{what} of {', '.join(some)}") for (at, count, what), some in names.items()]


def _scene(lists: Lists, scene: ScenePlan) -> list[str]:
    shown = spans(lists, scene)
    lines = [_line(lists, *span) for span in shown if span[2] or span[1] >= MENTIONED]
    free = sum(count for _, count, name in shown if not name)
    return [*lines, *(f"  {note}" for note in notes(scene)), f"  {show_size(free)} free"]


def notes(scene: ScenePlan) -> list[str]:
    """Return what the map of a scene does not show: what fits its slots, what stays in the cartridge, the copies to make."""
    found = []
    for rank, choice in enumerate(scene.choices):
        members = ", ".join(group.name for group in choice.members)
        found.append(f"{choice.name or f'choice {rank + 1}'}: {counted(len(choice.slots), 'slot')} for {members}")
    found += _fetched(scene)
    direct = dict.fromkeys(asset for group in scene.groups() for asset in group.direct)
    if direct:
        found.append(f"read straight from the cartridge: {', '.join(direct)}")
    most = sum(sorted((group.copies for choice in scene.choices for group in choice.members), reverse=True)[: _slots(scene)])
    return [*found, f"at most {counted(scene.common.copies + most, 'copy', 'copies')} load it"]


def _fetched(scene: ScenePlan) -> list[str]:
    """Return what assets are fetched into, in one line for all that have the same."""
    names: dict[str, dict[str, None]] = {}
    for group in scene.groups():
        for one in group.buffers:
            names.setdefault(_into(one), {})[one.asset] = None
    return [f"{', '.join(some)} {'is' if len(some) == 1 else 'are'} fetched into {what}" for what, some in names.items()]


def _into(one: Buffers) -> str:
    sets = f"{counted(one.sets, 'set')} of " if one.sets > 1 else ""
    if one.window is None:
        return f"{sets}{counted(one.count, 'buffer')} of {one.bytes:,} bytes"
    across, down = one.window.columns * one.window.width, one.window.rows * one.window.height
    unit = f" in units of {one.window.width} × {one.window.height}" if one.window.width * one.window.height > 1 else ""
    tiles = f" and {counted(one.window.tiles, 'tile')}" if one.window.tiles else ""
    return f"{sets or 'a '}window of {across} × {down} pixels{unit}{tiles}, {one.bytes:,} bytes"


def _slots(scene: ScenePlan) -> int:
    return sum(len(choice.slots) for choice in scene.choices)


def _line(lists: Lists, at: int, count: int, name: str) -> str:
    return f"  {lists.base + at:#010x}  {name or '.......... free':<{_NAME}} {count:>11,}"
