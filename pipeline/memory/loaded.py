"""What one scene loads, before anything has a place: units that are copied, slots of choices, buffers and windows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from pipeline.joints.lists import Area, Buffers, ChoicePlan, Group, Place, ScenePlan, Slot
from pipeline.memory.members import Members
from pipeline.memory.streaming import Stream
from pipeline.plain.sizes import round_up
from pipeline.project.file import Scene

Key = tuple  # what a block holds: the same key in scenes that follow each other is the same block
_Loads = dict[str, list[str]]  # assets of each member


@dataclass(frozen=True)
class Sizes:
    """What assets take.

    Attributes:
        unpacked: bytes in memory by name, not rounded up; of assets that there are.
        packed: bytes in the image by name, of those that are packed there.
        alignments: by name.
        rooms: bytes of planned assets of known size, by the name of the member.
        granularity: allocations are rounded up to this.
        away: assets that are loaded to another memory than the main one.
    """

    unpacked: Mapping[str, int]
    packed: Mapping[str, int]
    alignments: Mapping[str, int]
    rooms: Mapping[str, int] = field(default_factory=dict)
    granularity: int = 1
    away: Collection[str] = frozenset()

    def step(self, asset: str) -> int:
        """Return the bytes at a multiple of which an asset is."""
        return max(self.alignments.get(asset, 1), self.granularity)


@dataclass(frozen=True)
class Names:
    """What the names in a scene mean: members, what assets need, contiguous bundles."""

    members: Members
    needs: Mapping[str, tuple[str, ...]]
    contiguous: Mapping[str, list[str]]


@dataclass
class Row:
    """What is in a row: where each starts, and what all of it takes."""

    starts: dict[Key, int] = field(default_factory=dict)
    bytes: int = 0
    alignment: int = 1

    def add(self, key: Key, count: int, step: int, granularity: int) -> None:
        """Put something after the rest."""
        self.starts[key] = round_up(self.bytes, step)
        self.bytes = round_up(self.starts[key] + count, granularity)
        self.alignment = max(self.alignment, step)


@dataclass
class _Unit:
    """What one block holds: assets in a row, from its first byte."""

    key: Key
    assets: list[str]


@dataclass(frozen=True)
class _Sets:
    """Buffers of a streamed asset, or of all members of a role that share them."""

    stream: Stream
    sets: int
    set_bytes: int
    shared: str = ""

    @property
    def key(self) -> Key:
        what = ("role", self.shared) if self.shared else ("buffers", self.stream.name)
        return (*what, self.sets, self.set_bytes)

    def placed(self, at: int) -> Buffers:
        one = self.stream
        return Buffers(
            asset=one.name, at=at, sets=self.sets, set_bytes=self.set_bytes, count=one.buffers, bytes=one.buffer, window=one.units
        )


class Loaded:
    """What one scene loads.

    Args:
        streams: what it holds in part.
    """

    def __init__(self, name: str, scene: Scene, names: Names, sizes: Sizes, streams: Sequence[Stream]) -> None:
        members = names.members.without_needs([one.name for one in streams])
        self._name, self._sizes, self._contiguous, self._needs = name, sizes, names.contiguous, names.needs
        self._streams = {one.name: one for one in streams}
        self._sets_of = scene.sets
        self._direct, self._packed = members.direct(scene) | frozenset(sizes.away), members.packed(scene)
        always = [asset for member in scene.always for asset in members.in_order(member)]
        held = [dict.fromkeys(always)]  # each time that what is always there has an asset
        self._choices: list[tuple[str, int, _Loads]] = []
        for choice in scene.choose:
            of = list(dict.fromkeys(one for member in choice.of for one in members.names(member)))
            loads = {one: members.in_order(one) for one in of}
            again = choice.repeat and choice.count > 1 and any(self._in_part(asset) for assets in loads.values() for asset in assets)
            if choice.count >= len(of):
                always += [asset for one in loads.values() for asset in one]
            if choice.count < len(of) or again:
                self._choices.append((choice.name, choice.count, loads))
            else:
                held += [dict.fromkeys(one) for one in loads.values()]
        shared = _shared(self._choices)
        always += [asset for _, _, loads in self._choices for one in loads.values() for asset in one if asset in shared]
        self._common = list(dict.fromkeys(always))
        self._units = [_Unit(self._key(asset), [asset]) for asset in self._common if self._resident(asset)]
        self._buffers = [*self._always_there([asset for one in held for asset in one]), *self._of_roles(held)]

    def _known(self, asset: str) -> bool:
        return asset in self._sizes.unpacked

    def _resident(self, asset: str) -> bool:
        return asset not in self._direct and (self._known(asset) or asset in self._sizes.rooms)

    def _in_part(self, asset: str) -> Stream | None:
        return None if asset in self._direct else self._streams.get(asset)

    def _key(self, asset: str) -> Key:
        stream = self._in_part(asset)
        return ("part", asset, stream.spans) if stream else ("asset", asset, self._stays_packed(asset))

    # ---- Buffers and windows

    def _buffered(self, assets: Iterable[str]) -> list[Stream]:
        """Return what has buffers of its own each time that it is chosen."""
        found = (self._in_part(asset) for asset in dict.fromkeys(assets))
        return [one for one in found if one is not None and one.role not in self._sets_of]

    def _own_sets(self, one: Stream, sets: int = 1) -> _Sets:
        return _Sets(one, sets, self._role_bytes(one.role) if one.role else one.set_bytes)

    def _role_bytes(self, role: str) -> int:
        """Return what a set takes that any member of a role uses."""
        return max((one.set_bytes for one in self._streams.values() if one.role == role and self._in_part(one.name)), default=0)

    def _always_there(self, assets: list[str]) -> list[_Sets]:
        """Return the buffers of what is there whatever is chosen; ``assets``: each as often as it is there."""
        counts = Counter(assets)
        return [self._own_sets(one, counts[one.name]) for one in self._buffered(assets)]

    def _of_roles(self, held: list[dict[str, None]]) -> list[_Sets]:
        """Return the buffers of roles of which there is a fixed number of sets, for each asset that uses them."""
        found = []
        for role, most in self._sets_of.items():
            mine = [one for one in self._streams.values() if one.role == role and self._in_part(one.name)]
            names = {one.name for one in mine}
            there = sum(asset in names for assets in held for asset in assets)
            there += sum(count * max(len(names.intersection(one)) for one in loads.values()) for _, count, loads in self._choices)
            if there:
                found += [_Sets(one, min(most, there), self._role_bytes(role), role) for one in mine]
        return found

    def _placed(self, sets: Iterable[_Sets], place: Callable[[Key], int]) -> list[Buffers]:
        return [one.placed(place(one.key)) for one in sets]

    # ---- Blocks

    def keeps_together(self, assets: list[str]) -> bool:
        """Return whether the assets of a contiguous bundle are all there unpacked whatever is chosen, or none of them."""
        there = [asset for asset in assets if asset in self._common and asset not in self._direct]
        return not there or (len(there) == len(assets) and not any(self._stays_packed(one) or self._in_part(one) for one in assets))

    def join(self, runs: Mapping[str, list[str]]) -> None:
        """Make one block of every contiguous bundle that is there whole."""
        for name, assets in runs.items():
            if assets[0] in self._common and assets[0] not in self._direct:
                rank = min(rank for rank, unit in enumerate(self._units) if unit.assets[0] in assets)
                self._units = [unit for unit in self._units if unit.assets[0] not in assets]
                self._units.insert(rank, _Unit(("run", name), assets))

    def blocks(self) -> dict[Key, Row]:
        """Return what needs a place, by what it holds."""
        found = {unit.key: self._row(unit.assets) for unit in self._units}
        for sets in self._buffers:
            found[sets.key] = Row()
            found[sets.key].add(sets.key, sets.sets * sets.set_bytes, self._step_of(sets), self._sizes.granularity)
        for rank in range(len(self._choices)):
            row = self._slot(rank)
            if row.bytes:
                found |= {self._slot_key(rank, slot): row for slot in range(self._choices[rank][1])}
        return found

    def _step_of(self, sets: _Sets) -> int:
        """Return the bytes at a multiple of which buffers are; those of a role at that of its strictest member."""
        names = [one.name for one in self._streams.values() if one.role == sets.shared] if sets.shared else [sets.stream.name]
        return max(self._sizes.step(name) for name in names)

    def _private(self, assets: list[str]) -> list[str]:
        return [asset for asset in assets if asset not in self._common and self._known(asset) and asset not in self._direct]

    def _slot(self, rank: int) -> Row:
        rows = [self._member_row(assets) for assets in self._choices[rank][2].values()]
        return Row({}, max(row.bytes for row in rows), max(row.alignment for row in rows))

    def _slot_key(self, rank: int, slot: int) -> Key:
        loads = self._choices[rank][2]
        before = sum(list(one[2]) == list(loads) for one in self._choices[:rank])
        held = tuple((name, *self._member_row(assets).starts) for name, assets in loads.items())
        return ("slot", before, slot, held)

    def _row(self, assets: Iterable[str]) -> Row:
        row = Row()
        for asset in assets:
            row.add(self._key(asset), self._bytes(asset), self._sizes.step(asset), self._sizes.granularity)
        return row

    def _member_row(self, assets: list[str]) -> Row:
        """Return what a member has in its slot: assets of its own, room for what is planned of known size, then buffers."""
        planned = [asset for asset in assets if asset in self._sizes.rooms and asset not in self._common and asset not in self._direct]
        row = self._row([*self._private(assets), *planned])
        for sets in map(self._own_sets, self._buffered(assets)):
            row.add(sets.key, sets.set_bytes, self._step_of(sets), self._sizes.granularity)
        return row

    def _bytes(self, asset: str) -> int:
        stream = self._in_part(asset)
        if stream or not self._known(asset):
            return stream.tables if stream else self._sizes.rooms[asset]
        return (self._sizes.packed if self._stays_packed(asset) else self._sizes.unpacked)[asset]

    def _stays_packed(self, asset: str) -> bool:
        return asset in self._packed and asset in self._sizes.packed

    # ---- With places

    def plan(self, place: Callable[[Key], int]) -> ScenePlan:
        """Return the scene's part of ``lists.json``; ``place``: from the key of a block to its first byte."""
        starts = {key: place(unit.key) + at for unit in self._units for key, at in self._row(unit.assets).starts.items()}
        order = [asset for unit in self._units for asset in unit.assets if self._known(asset)]
        steps = [step for unit in self._units if self._known(unit.assets[0]) for step in self._steps(unit.assets, unit.key[0] == "run")]
        places = [self._place(asset, starts[self._key(asset)]) for asset in order]
        direct = self._cartridge(self._common)
        buffers = self._placed(self._buffers, place)
        common = Group(name=self._name, places=places, direct=direct, steps=steps, buffers=buffers)
        kept = [asset for unit in self._units for asset in unit.assets if not self._known(asset)]
        rooms = [Area(name=asset, at=starts[self._key(asset)], bytes=self._sizes.rooms[asset], kind="room") for asset in kept]
        choices = [self._choice(rank, place) for rank in range(len(self._choices))]
        ends = [place(key) + row.bytes for key, row in self.blocks().items()]
        return ScenePlan(common=common, choices=choices, rooms=rooms, top=max(ends, default=0))

    def _choice(self, rank: int, place: Callable[[Key], int]) -> ChoicePlan:
        name, count, loads = self._choices[rank]
        room = self._slot(rank).bytes
        slots = [Slot(at=place(self._slot_key(rank, slot)) if room else 0, bytes=room) for slot in range(count)]
        return ChoicePlan(name=name, slots=slots, members=[self._member(one, assets) for one, assets in loads.items()])

    def _member(self, name: str, assets: list[str]) -> Group:
        private, starts = self._private(assets), self._member_row(assets).starts
        places = [self._place(asset, starts[self._key(asset)]) for asset in private]
        steps = self._steps(private, private == self._contiguous.get(name) and not any(map(self._in_part, private)))
        direct = [asset for asset in self._cartridge(assets) if asset not in self._common]
        buffers = self._placed(map(self._own_sets, self._buffered(assets)), starts.__getitem__)
        return Group(name=name, places=places, direct=direct, steps=steps, buffers=buffers)

    def _cartridge(self, assets: Iterable[str]) -> list[str]:
        """Return what is read from the cartridge: what the scene says, and what assets need that are there in part."""
        found: dict[str, None] = {}
        for asset in assets:
            if asset in self._direct:
                found[asset] = None
            if asset in self._streams:
                found |= dict.fromkeys(self._needs.get(asset, ()))
        resident = {asset for asset in assets if asset not in self._direct}
        return [asset for asset in found if self._known(asset) and asset not in resident]

    def _steps(self, assets: list[str], together: bool) -> list[list[str]]:
        """Return what is copied together: assets of a contiguous bundle if all of them are stored as they are used."""
        return [assets] if together and assets and not self._sizes.packed.keys() & set(assets) else [[asset] for asset in assets]

    def _place(self, asset: str, at: int) -> Place:
        stream = self._in_part(asset)
        spans = list(stream.spans) if stream else []
        return Place(asset=asset, at=at, bytes=self._bytes(asset), packed=self._stays_packed(asset), spans=spans)


def _shared(choices: list[tuple[str, int, _Loads]]) -> set[str]:
    """Return the assets that more than one member of choices loads."""
    seen: dict[str, int] = {}
    for _, _, loads in choices:
        for assets in loads.values():
            for asset in set(assets):
                seen[asset] = seen.get(asset, 0) + 1
    return {asset for asset, times in seen.items() if times > 1}
