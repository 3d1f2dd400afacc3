"""The plan of memory for load lists: an address for everything that a scene loads, so that what stays from scene to scene is not moved.

Whatever a scene always has, and what several members of its choices load, has one place in all scenes that follow each other. Of a
choice every member fits every slot, so that one of them can be exchanged while the others stay; scenes that choose from the same
members share the slots. A contiguous bundle that is loaded whole wherever it is loaded is one block.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.joints.facts import image_facts
from pipeline.joints.lists import FORMAT, Area, BundlePlan, ChoicePlan, Group, Lists, Place, ScenePlan, Slot, write_lists_file
from pipeline.joints.places import FactsFiles
from pipeline.joints.views import write_size
from pipeline.memory.blocks import Block, Gap, place_blocks
from pipeline.memory.members import Members
from pipeline.memory.planned import member_names
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.sizes import counted, round_up, show_size
from pipeline.plain.written import Record
from pipeline.project.file import Planned, Scene

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


@dataclass(frozen=True)
class Sizes:
    """What assets take.

    Attributes:
        unpacked: bytes in memory by name, not rounded up; of assets that there are.
        packed: bytes in the image by name, of those that are packed there.
        alignments: by name.
    """

    unpacked: Mapping[str, int]
    packed: Mapping[str, int]
    alignments: Mapping[str, int]


def write_lists(
    facts: dict[str, FactsFiles],
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
) -> str:
    """Write ``lists.json``; return one line about it.

    Args:
        facts: of every asset of bundles and scenes, by name, but for those in ``fixed``.
        alignments: of every asset, by name.
        runs: names of the contiguous bundles.
        scenes: that get a list.
        needs: asset -> assets that are in memory whenever it is.
        fixed: bytes of programs and boot notices whose size is known before they are made, by name.
        size: the file that says how many bytes the load lists take in the image, as facts say it.

    Raises:
        ProjectError: a scene needs more memory than there is.
    """
    known = {name: image_facts(files) for name, files in facts.items()}
    unpacked = {name: one.unpacked_bytes for name, one in known.items()} | fixed
    packed = {name: one.bytes for name, one in known.items() if one.codec != "stored"}
    lists = make_lists(Sizes(unpacked, packed, alignments), bundles, runs, scenes, planned, needs, memory)
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
) -> Lists:
    """Return the content of ``lists.json``; arguments and errors as ``write_lists``."""
    members = Members(bundles, planned, needs)
    rooms = {member: int(one.bytes) for name, one in planned.items() if one.bytes is not None for member in member_names(name, one)}
    contiguous = {name: bundles[name] for name in runs}
    wanted = {name: _Wanted(name, scene, members, sizes, rooms, memory.granularity, contiguous) for name, scene in scenes.items()}
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
        "read some of it straight from the cartridge (direct), choose fewer, make members smaller, or give scenes after, so that less "
        "has to keep its place"
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


_Key = tuple  # what a block holds: the same key in scenes that follow each other is the same block


@dataclass
class _Unit:
    """What one block holds: assets in a row, from its first byte."""

    key: _Key
    assets: list[str]


@dataclass
class _Row:
    """Assets in a row: where each starts, and what all of them take."""

    starts: dict[str, int] = field(default_factory=dict)
    bytes: int = 0
    alignment: int = 1


class _Wanted:
    """What one scene loads, before anything has a place."""

    def __init__(
        self,
        name: str,
        scene: Scene,
        members: Members,
        sizes: Sizes,
        rooms: Mapping[str, int],
        granularity: int,
        contiguous: Mapping[str, list[str]],
    ) -> None:
        self._name, self._sizes, self._rooms, self._granularity, self._contiguous = name, sizes, rooms, granularity, contiguous
        self._direct, self._packed = members.direct(scene), members.packed(scene)
        always = [asset for member in scene.always for asset in members.in_order(member)]
        self._choices: list[tuple[str, int, dict[str, list[str]]]] = []
        for choice in scene.choose:
            names = list(dict.fromkeys(one for member in choice.of for one in members.names(member)))
            loads = {one: members.in_order(one) for one in names}
            if choice.count >= len(names):
                always += [asset for one in loads.values() for asset in one]
            else:
                self._choices.append((choice.name, choice.count, loads))
        shared = _shared(self._choices)
        always += [asset for _, _, loads in self._choices for one in loads.values() for asset in one if asset in shared]
        self._common = list(dict.fromkeys(always))
        self._units = [_Unit(self._key(asset), [asset]) for asset in self._common if self._resident(asset)]

    def _known(self, asset: str) -> bool:
        return asset in self._sizes.unpacked

    def _resident(self, asset: str) -> bool:
        return asset not in self._direct and (self._known(asset) or asset in self._rooms)

    def _key(self, asset: str) -> _Key:
        return ("asset", asset, self._stays_packed(asset))

    def keeps_together(self, assets: list[str]) -> bool:
        """Return whether the assets of a contiguous bundle are all there unpacked whatever is chosen, or none of them."""
        there = [asset for asset in assets if asset in self._common and asset not in self._direct]
        return not there or (len(there) == len(assets) and not any(self._stays_packed(asset) for asset in assets))

    def join(self, runs: Mapping[str, list[str]]) -> None:
        """Make one block of every contiguous bundle that is there whole."""
        for name, assets in runs.items():
            if assets[0] in self._common and assets[0] not in self._direct:
                rank = min(rank for rank, unit in enumerate(self._units) if unit.assets[0] in assets)
                self._units = [unit for unit in self._units if unit.assets[0] not in assets]
                self._units.insert(rank, _Unit(("run", name), assets))

    def blocks(self) -> dict[_Key, _Row]:
        """Return what needs a place, by what it holds."""
        found = {unit.key: self._row(unit.assets) for unit in self._units}
        for rank in range(len(self._choices)):
            row = self._slot(rank)
            if row.bytes:
                found |= {self._slot_key(rank, slot): row for slot in range(self._choices[rank][1])}
        return found

    def _private(self, assets: list[str]) -> list[str]:
        return [asset for asset in assets if asset not in self._common and self._known(asset) and asset not in self._direct]

    def _slot(self, rank: int) -> _Row:
        rows = [self._row(self._private(assets)) for assets in self._choices[rank][2].values()]
        return _Row({}, max(row.bytes for row in rows), max(row.alignment for row in rows))

    def _slot_key(self, rank: int, slot: int) -> _Key:
        loads = self._choices[rank][2]
        before = sum(list(one[2]) == list(loads) for one in self._choices[:rank])
        held = tuple((name, *(self._key(asset) for asset in self._private(assets))) for name, assets in loads.items())
        return ("slot", before, slot, held)

    def _row(self, assets: Iterable[str]) -> _Row:
        row = _Row()
        for asset in assets:
            step = max(self._sizes.alignments.get(asset, 1), self._granularity)
            row.starts[asset] = round_up(row.bytes, step)
            row.bytes = round_up(row.starts[asset] + self._bytes(asset), self._granularity)
            row.alignment = max(row.alignment, step)
        return row

    def _bytes(self, asset: str) -> int:
        if not self._known(asset):
            return self._rooms[asset]
        return (self._sizes.packed if self._stays_packed(asset) else self._sizes.unpacked)[asset]

    def _stays_packed(self, asset: str) -> bool:
        return asset in self._packed and asset in self._sizes.packed

    def plan(self, place: Callable[[_Key], int]) -> ScenePlan:
        """Return the scene's part of ``lists.json``; ``place``: from the key of a block to its first byte."""
        starts = {asset: place(unit.key) + at for unit in self._units for asset, at in self._row(unit.assets).starts.items()}
        order = [asset for unit in self._units for asset in unit.assets if self._known(asset)]
        direct = [asset for asset in self._common if asset in self._direct and self._known(asset)]
        steps = [step for unit in self._units if self._known(unit.assets[0]) for step in self._steps(unit.assets, unit.key[0] == "run")]
        places = [self._place(asset, starts[asset]) for asset in order]
        common = Group(name=self._name, places=places, direct=direct, steps=steps)
        kept = [asset for unit in self._units for asset in unit.assets if not self._known(asset)]
        rooms = [Area(name=asset, at=starts[asset], bytes=self._rooms[asset], kind="room") for asset in kept]
        choices = [self._choice(rank, place) for rank in range(len(self._choices))]
        ends = [place(key) + row.bytes for key, row in self.blocks().items()]
        return ScenePlan(common=common, choices=choices, rooms=rooms, top=max(ends, default=0))

    def _choice(self, rank: int, place: Callable[[_Key], int]) -> ChoicePlan:
        name, count, loads = self._choices[rank]
        room = self._slot(rank).bytes
        slots = [Slot(at=place(self._slot_key(rank, slot)) if room else 0, bytes=room) for slot in range(count)]
        return ChoicePlan(name=name, slots=slots, members=[self._member(one, assets) for one, assets in loads.items()])

    def _member(self, name: str, assets: list[str]) -> Group:
        private = self._private(assets)
        places = [self._place(asset, at) for asset, at in self._row(private).starts.items()]
        steps = self._steps(private, private == self._contiguous.get(name))
        direct = [asset for asset in assets if asset in self._direct and asset not in self._common and self._known(asset)]
        return Group(name=name, places=places, direct=direct, steps=steps)

    def _steps(self, assets: list[str], together: bool) -> list[list[str]]:
        """Return what each copy brings: assets of a contiguous bundle come at once if all of them are stored as they are used."""
        return [assets] if together and assets and not self._sizes.packed.keys() & set(assets) else [[asset] for asset in assets]

    def _place(self, asset: str, at: int) -> Place:
        return Place(asset=asset, at=at, bytes=self._bytes(asset), packed=self._stays_packed(asset))


def _shared(choices: list[tuple[str, int, dict[str, list[str]]]]) -> set[str]:
    """Return the assets that more than one member of choices loads."""
    seen: dict[str, int] = {}
    for _, _, loads in choices:
        for assets in loads.values():
            for asset in set(assets):
                seen[asset] = seen.get(asset, 0) + 1
    return {asset for asset, times in seen.items() if times > 1}


def _blocks(wanted: dict[str, _Wanted], scenes: dict[str, Scene]) -> tuple[list[Block], dict[tuple[_Key, str], str]]:
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
