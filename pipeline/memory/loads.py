"""The plan of memory for load lists: an address for everything that a scene loads, so that what stays from scene to scene is not moved.

Whatever a scene always has, and what several members of its choices load, has one place in all scenes that follow each other. Of a
choice every member fits every slot, so that one of them can be exchanged while the others stay; scenes that choose from the same
members share the slots. A contiguous bundle that is loaded whole wherever it is loaded is one block.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from pipeline.joints.facts import image_facts
from pipeline.joints.fetched import read_frames, read_windows
from pipeline.joints.lists import FORMAT, Area, BundlePlan, Lists, ScenePlan, write_lists_file
from pipeline.joints.places import FactsFiles
from pipeline.joints.views import write_size
from pipeline.memory.blocks import Block, Gap, place_blocks
from pipeline.memory.loaded import Key, Loaded, Names, Sizes
from pipeline.memory.members import Members
from pipeline.memory.planned import member_names
from pipeline.memory.streaming import Measured, Stream, scene_streams
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.sizes import counted, round_up, show_size
from pipeline.plain.written import Record
from pipeline.project.file import Planned, Scene
from pipeline.target.records import PixelFormat

_MOST = 0xFFFF  # records of a table


class Memory(Record):
    """What there is of memory.

    Attributes:
        base: address of its first byte; ``bytes``: of all of it.
        granularity: allocations are rounded up to this.
        reserved: name, bytes and place from the first byte, or None, of what the console keeps.
        buffers: bytes of each screen buffer; ``buffer_alignment``: of each.
    """

    base: int
    bytes: int
    granularity: int
    reserved: list[tuple[str, int, int | None]]
    buffers: list[int]
    buffer_alignment: int


def write_lists(
    facts: dict[str, FactsFiles],
    frames: dict[str, Path],
    windows: dict[str, Path],
    out: Path,
    alignments: dict[str, int],
    bundles: dict[str, list[str]],
    runs: tuple[str, ...],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    fixed: dict[str, int],
    size: Path,
    memory: Memory,
    away: tuple[str, ...],
    formats: dict[str, PixelFormat],
    cell: tuple[int, int],
    cell_start: int,
) -> str:
    """Write ``lists.json``; return one line about it.

    Args:
        facts: of every asset of bundles and scenes, by name, but for those in ``fixed``.
        frames, windows: what was measured of those that scenes hold in part; see ``joints.fetched``.
        alignments: of every asset, by name.
        runs: names of the contiguous bundles.
        scenes: that get a list.
        needs: asset -> assets that are in memory whenever it is.
        fixed: bytes of programs and boot notices whose size is known before they are made, by name.
        size: the file that says how many bytes the load lists take in the image, as facts say it.
        away: assets, and names of planned ones, that are loaded to another memory: the plan leaves them in the cartridge.
        formats: pixel formats of the backgrounds that these scenes show through a window.
        cell: width and height of a cell in pixels; ``cell_start``: bytes at multiples of which cells of pictures start.

    Raises:
        ProjectError: a scene needs more memory than there is, or what it holds in part is refused as in ``scene_streams``.
    """
    known = {name: image_facts(files) for name, files in facts.items()}
    unpacked = {name: one.unpacked_bytes for name, one in known.items()} | fixed
    packed = {name: one.bytes for name, one in known.items() if one.codec != "stored"}
    rooms = {name: int(one.bytes) for name, one in planned.items() if one.bytes is not None and name not in away}
    members = {member: count for name, count in rooms.items() for member in member_names(name, planned[name])}
    sizes = Sizes(unpacked, packed, alignments, members, memory.granularity, frozenset(away))
    measured = Measured(
        {name: read_frames(file) for name, file in frames.items()},
        {name: read_windows(file) for name, file in windows.items()},
        formats,
        cell,
        {name: sizes.step(name) for name in known},
        cell_start,
    )
    streams = {name: scene_streams(name, scene, bundles, known, measured) for name, scene in scenes.items()}
    lists = make_lists(sizes, bundles, runs, scenes, planned, needs, memory, streams)
    _check_counts(lists)
    write_lists_file(out, lists)
    write_size(size, lists.image_bytes())
    return "; ".join(f"{name} up to {lists.base + scene.top:#x}" for name, scene in lists.scenes.items())


def make_lists(
    sizes: Sizes,
    bundles: dict[str, list[str]],
    runs: tuple[str, ...],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    memory: Memory,
    streams: Mapping[str, Sequence[Stream]],
) -> Lists:
    """Return the content of ``lists.json``; arguments and errors as ``write_lists``. ``streams``: what each scene holds in part."""
    contiguous = {name: bundles[name] for name in runs}
    names = Names(Members(bundles, planned, needs), needs, contiguous)
    wanted = {name: Loaded(name, scene, names, sizes, streams[name]) for name, scene in scenes.items()}
    areas, gaps = _areas(memory)
    whole = {name: assets for name, assets in contiguous.items() if all(one.keeps_together(assets) for one in wanted.values())}
    for one in wanted.values():
        one.join(whole)
    blocks, parts = _blocks(wanted, scenes)
    places = place_blocks(blocks, gaps) if blocks else {}
    found = {name: one.plan(lambda key, name=name: places[parts[key, name]]) for name, one in wanted.items()}
    _check_room(found, gaps, memory)
    made = {name: [asset for asset in assets if asset in sizes.unpacked] for name, assets in bundles.items()}
    shown = {name: BundlePlan(members=assets, contiguous=name in runs) for name, assets in made.items() if assets}
    return Lists(version=FORMAT, base=memory.base, memory=memory.bytes, areas=areas, scenes=found, bundles=shown)


def _check_counts(lists: Lists) -> None:
    over = {name: count for name, count in lists.counts().items() if count > _MOST}
    if over:
        name, count = next(iter(over.items()))
        noun = name.removeprefix("LIST_").lower()
        remedy = "name fewer scenes, or fewer members in their choices, in scenes of the [lists.NAME] table"
        raise ProjectError([Problem("project.toml", "[lists]", f"{count:,} {noun}s, at most {_MOST:,} can be numbered", remedy)])


def _check_room(found: dict[str, ScenePlan], gaps: list[Gap], memory: Memory) -> None:
    end = gaps[-1][1]
    remedy = (
        "read some of it straight from the cartridge (direct), hold some in part (streamed, window), choose fewer, make members smaller, "
        "or give scenes after, so that less has to keep its place"
    )
    problems = [
        Problem(
            "project.toml",
            f"[scene.{name}]",
            f"its load list ends at {memory.base + scene.top:#x}, {show_size(scene.top - end)} after the last free byte of memory",
            remedy,
        )
        for name, scene in found.items()
        if scene.top > end
    ]
    if problems:
        raise ProjectError(problems)


def _areas(memory: Memory) -> tuple[list[Area], list[Gap]]:
    """Return what is kept for console and screen, and the gaps around it.

    Reserved areas without an address are at the end of memory, the first of them last; screen buffers are at the first places that
    are free.

    Raises:
        ProjectError: they overlap, or leave nothing.
    """
    areas = [Area(name=name, at=at, bytes=count, kind="reserved") for name, count, at in memory.reserved if at is not None]
    areas.sort(key=lambda area: area.at)
    for low, high in zip(areas, areas[1:], strict=False):
        if low.at + low.bytes > high.at:
            wrong = f"{low.name!r} and {high.name!r} overlap at {memory.base + high.at:#x}"
            raise ProjectError([Problem("the target file", "[memory] reserved", wrong, "correct address or bytes of one of them")])
    gaps = _free(areas, memory.bytes)
    for name, count, at in memory.reserved:
        if at is None and count:
            start, end = _last_gap(gaps, count, name)
            areas.append(Area(name=name, at=(end - count) // memory.granularity * memory.granularity, bytes=count, kind="reserved"))
            gaps = _free(areas, memory.bytes)
    step = max(memory.granularity, memory.buffer_alignment)
    for rank, count in enumerate(memory.buffers, 1):
        start = next((round_up(low, step) for low, high in gaps if round_up(low, step) + count <= high), None)
        if start is None:
            raise _no_room(f"screen buffer {rank}", count)
        areas.append(Area(name=f"screen buffer {rank}", at=start, bytes=count, kind="buffer"))
        gaps = _free(areas, memory.bytes)
    if not gaps:
        raise _no_room("assets", 1)
    return sorted(areas, key=lambda area: area.at), gaps


def _last_gap(gaps: list[Gap], count: int, name: str) -> Gap:
    for start, end in reversed(gaps):
        if start + count <= end:
            return start, end
    raise _no_room(name, count)


def _no_room(name: str, count: int) -> ProjectError:
    wrong = f"there is no free place of {counted(count, 'byte')} for {name}"
    return ProjectError([Problem("the target file", "[memory] reserved", wrong, "reserve less, or set addresses that leave room")])


def _free(areas: Iterable[Area], memory: int) -> list[Gap]:
    gaps, start = [], 0
    for area in sorted(areas, key=lambda one: one.at):
        if start < area.at:
            gaps.append((start, area.at))
        start = max(start, area.at + area.bytes)
    return [*gaps, (start, memory)] if start < memory else gaps


def _blocks(wanted: dict[str, Loaded], scenes: dict[str, Scene]) -> tuple[list[Block], dict[tuple[Key, str], str]]:
    """Return the blocks of all scenes, and (key, scene) -> name of its block: one for all scenes that follow each other with it."""
    rows = {name: one.blocks() for name, one in wanted.items()}
    blocks, parts = [], {}
    for key in dict.fromkeys(key for found in rows.values() for key in found):
        for together in _connected([name for name, found in rows.items() if key in found], scenes):
            name = f"{len(blocks):04}"
            row = rows[together[0]][key]
            blocks.append(Block(name, max(row.bytes, 1), row.alignment, frozenset(together)))
            parts |= {(key, scene): name for scene in together}
    return blocks, parts


def _connected(names: list[str], scenes: dict[str, Scene]) -> list[list[str]]:
    """Return some scenes in groups that are linked by following each other directly."""
    groups: list[list[str]] = []
    for name in names:
        near = [group for group in groups if any(_follows(scenes, name, other) or _follows(scenes, other, name) for other in group)]
        groups = [group for group in groups if group not in near] + [[*(one for group in near for one in group), name]]
    return [sorted(group, key=names.index) for group in groups]


def _follows(scenes: dict[str, Scene], name: str, before: str) -> bool:
    after = scenes[name].after
    return after is None or before in after
