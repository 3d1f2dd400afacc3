"""The budget: for every scene its worst cases against the memory the target leaves, and against the target's other limits."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec
from msgspec import field

from pipeline.joints.budget import (
    FORMAT,
    Budget,
    Case,
    Choice,
    ImageNeed,
    Limit,
    Part,
    PlannedNeed,
    SceneBudget,
    SceneChoices,
    Streamed,
    Traffic,
    write_budget_file,
    write_choices,
)
from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.fetched import Frames, Windows, read_frames, read_windows
from pipeline.joints.places import FactsFiles
from pipeline.memory.members import Members
from pipeline.memory.overlaps import overlapping, overlapping_tiles
from pipeline.memory.planned import Estimate, estimate, member_names
from pipeline.memory.scenes import Group, Sets, Worst, worst_cases
from pipeline.memory.streaming import Counted, Measured, Stream, scene_streams
from pipeline.memory.usage import CARRIED, HARDWARE, area_limit, places, show_limit, usage
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.sizes import round_up, show_size
from pipeline.plain.written import Record
from pipeline.project.file import Planned, Scene
from pipeline.target.records import Area, PixelFormat, Transfer

_NEXT = 3  # further cases shown


class Room(Record):
    """What there is for assets.

    Attributes:
        memory: bytes of main memory.
        granularity: allocations are rounded up to this.
        held: bytes no asset can use, by what holds them (screen buffers, reserved areas).
        limits: the most of each further limit of the target, by its key.
        cell: width and height of a cell in pixels.
        image: bytes of the largest cartridge, or of the one wanted.
        head: bytes of the image apart from the counted assets: header, directory, boot notice.
        warned: the limits of hardware sprites refuse no kit.
        areas: further memories, each with a budget of its own, by name.
        loaded_to: the area that an asset, or a planned one's members, are loaded to, by name; those of main memory are left out.
        tile_unit: the console has a tile memory, which map entries number.
        transfer: what it carries from the cartridge while the game runs.
        cell_start: bytes at multiples of which each cell of a picture starts that is stored cell after cell.
    """

    memory: int
    granularity: int
    held: dict[str, int]
    cell: tuple[int, int]
    image: int
    head: int
    limits: dict[str, int]
    tile_unit: bool = False
    transfer: Transfer = Transfer()
    warned: bool = False
    areas: dict[str, Area] = field(default_factory=dict)
    loaded_to: dict[str, str] = field(default_factory=dict)
    cell_start: int = 1

    def rounded(self, name: str, count: int, alignment: int = 1) -> int:
        """Return the bytes that are allocated for an asset, wherever it is loaded to."""
        area = self.areas.get(self.loaded_to.get(name, ""))
        return round_up(count, max(area.granularity if area else self.granularity, alignment))


@dataclass(frozen=True)
class Fetching:
    """What was measured of assets that scenes hold in part, by name: sprites frame by frame, and windows of tiled backgrounds."""

    frames: Mapping[str, Frames]
    windows: Mapping[str, Windows]


def write_budget(
    facts: dict[str, FactsFiles],
    frames: dict[str, Path],
    windows: dict[str, Path],
    out: Path,
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
    formats: dict[str, PixelFormat],
    choices: Path | None = None,
) -> str:
    """Write ``budget.json``, and what its cases are made of; return one line about it.

    Args:
        facts: of every counted asset, by name.
        frames, windows: what was measured of those that scenes hold in part; see ``joints.fetched``.
        assets: name -> alignment in bytes, of every asset with facts.
        needs: asset -> assets that are in memory whenever it is.
        formats: pixel formats of the backgrounds that scenes show through a window.
        choices: file, see ``joints.budget``; None leaves it out.

    Raises:
        ProjectError: a scene has no possible case or too many, or a planned asset has no size.
    """
    known = {name: image_facts(facts[name]) for name in assets}
    fetching = Fetching(
        {name: read_frames(file) for name, file in frames.items()}, {name: read_windows(file) for name, file in windows.items()}
    )
    budget, made_of = count_scenes(known, fetching, assets, bundles, scenes, planned, needs, room, formats)
    write_budget_file(out, budget)
    if choices:
        write_choices(choices, sum(room.held.values()), made_of)
    return "; ".join(describe_scene(name, scene) for name, scene in budget.scenes.items()) or "the project names no scene"


def count_scenes(
    facts: dict[str, Facts],
    fetching: Fetching,
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
    formats: dict[str, PixelFormat],
) -> tuple[Budget, dict[str, SceneChoices]]:
    """Return the content of ``budget.json``, and what the cases of each scene are made of, see ``joints.budget``.

    Arguments and errors are those of ``write_budget``, with the facts themselves.
    """
    guesses = _estimates(planned, facts, room)
    each = {member: guesses[name].bytes for name, one in planned.items() for member in member_names(name, one)}
    room = _with_planned(room, planned)
    steps = {name: room.rounded(name, 1, align) for name, align in assets.items()}
    sizes = {name: round_up(facts[name].unpacked_bytes, step) for name, step in steps.items()}
    sizes |= {name: room.rounded(name, count) for name, count in each.items()}
    packed = {name: round_up(facts[name].bytes, step) for name, step in steps.items()}
    known = Measured(fetching.frames, fetching.windows, formats, room.cell, steps, room.cell_start)
    counter = _Counter(facts, sizes, packed, frozenset(each), bundles, Members(bundles, planned, needs), known, room)
    report = {name: counter.scene(name, scene) for name, scene in scenes.items()}
    image = room.head + sum(round_up(facts[name].bytes, align) for name, align in assets.items())
    budget = Budget(
        version=FORMAT,
        memory=room.memory,
        held=room.held,
        scenes=report,
        image=ImageNeed(bytes=image, planned=sum(each.values()), most=room.image),
        planned={name: _planned(planned[name].count, guess) for name, guess in guesses.items()},
        loaded=sorted({asset for scene in scenes.values() for asset in counter.loaded(scene)} & facts.keys()),
        over=sorted(name for name, scene in report.items() if scene.too_much),
        over_planned=sorted(name for name, scene in report.items() if scene.margin < 0 <= scene.margin_now),
    )
    return budget, {name: counter.choices(name, scene) for name, scene in scenes.items()}


def _with_planned(room: Room, planned: dict[str, Planned]) -> Room:
    """Return what there is, with the areas that the members of planned assets are loaded to."""
    away = {name: one for name, one in planned.items() if name in room.loaded_to}
    members = {member: room.loaded_to[name] for name, one in away.items() for member in member_names(name, one)}
    return msgspec.structs.replace(room, loaded_to=room.loaded_to | members)


def _planned(count: int, guess: Estimate) -> PlannedNeed:
    return PlannedNeed(count=count, bytes=guess.bytes, from_assets=list(guess.from_assets), error=guess.error)


def describe_scene(name: str, scene: SceneBudget, leave_out: Collection[str] = ()) -> str:
    """Return one line about a scene; ``leave_out``: limits that are not mentioned."""
    state = f"{show_size(scene.margin)} free" if scene.margin >= 0 else f"{show_size(-scene.margin)} OVER"
    text = f"{name} needs {show_size(scene.bytes)} at worst, {state}"
    if scene.estimated:
        text += f" ({show_size(scene.estimated)} of it estimated)"
    for key, limit in scene.limits.items():
        if limit.passed and key not in leave_out:
            text += f", {limit.used - limit.most:,} {show_limit(key)} OVER"
    return text


def over_budget(budget: Budget) -> str | None:
    """Return what a kit is refused for, or None when every scene fits."""
    return "; ".join(describe_scene(name, budget.scenes[name]) for name in budget.over) or None


def over_memory(budget: Budget) -> str | None:
    """Return what a kit is refused for apart from what is fetched while the game runs; None when every scene fits."""
    over = [
        name
        for name in budget.over
        if budget.scenes[name].margin_now < 0 or any(one.refused for key, one in budget.scenes[name].limits.items() if key not in CARRIED)
    ]
    return "; ".join(describe_scene(name, budget.scenes[name], CARRIED) for name in over) or None


def _estimates(planned: dict[str, Planned], facts: dict[str, Facts], room: Room) -> dict[str, Estimate]:
    found, problems = {}, []
    for name, one in planned.items():
        try:
            found[name] = estimate(name, one, facts, room.cell)
        except ProjectError as error:
            problems += error.problems
    if problems:
        raise ProjectError(problems)
    return found


@dataclass(frozen=True)
class _Seen:
    """A scene as it is counted: its name, its table, what its names mean, and what it holds in part."""

    name: str
    scene: Scene
    members: Members
    streams: list[Stream]
    counted: Counted

    @property
    def tables(self) -> dict[str, int]:
        """Bytes that stay in memory of each asset held in part."""
        return {one.name: one.tables for one in self.streams}


class _Counter:
    """Counts scenes of one project."""

    def __init__(
        self,
        facts: dict[str, Facts],
        sizes: dict[str, int],
        packed: dict[str, int],
        estimated: frozenset[str],
        bundles: dict[str, list[str]],
        members: Members,
        known: Measured,
        room: Room,
    ) -> None:
        self._facts, self._sizes, self._packed = facts, sizes, packed
        self._estimated, self._bundles, self._members = estimated, bundles, members
        self._known, self._room = known, room

    def scene(self, name: str, scene: Scene) -> SceneBudget:
        """Return what ``budget.json`` says of a scene."""
        seen, held = self._seen(name, scene), sum(self._room.held.values())
        everywhere, sizes, sets = self._weighed(seen)
        worst, *others = self._cases(seen, sizes, 1 + _NEXT, sets)
        total, estimated = worst.bytes + held, sum(sizes[asset] for asset in worst.assets & self._estimated)
        now = self._cases(seen, sizes | dict.fromkeys(self._estimated, 0), 1, sets)[0].bytes + held
        met = (seen.members.always(scene), seen.members.groups(scene), seen.members.never(scene), self._facts)
        return SceneBudget(
            bytes=total,
            margin=self._room.memory - total,
            margin_now=self._room.memory - now,
            chosen=_lists(worst),
            parts=self._parts(seen, worst, sizes, sets),
            next=[Case(bytes=one.bytes + held, chosen=_lists(one)) for one in others],
            limits={key: self._limit(seen, key, most) for key, most in self._room.limits.items()}
            | {area_limit(area): self._area(seen, area, everywhere) for area in self._room.areas}
            | self._carried(seen),
            estimated=estimated,
            overlaps=overlapping(*met),
            tile_overlaps=overlapping_tiles(*met) if self._room.tile_unit else [],
            streamed=[self._streamed(one, seen.counted.size_of(one, self._beside(one))) for one in seen.streams],
            traffic=self._traffic(seen) if seen.streams else None,
        )

    def _weighed(self, seen: _Seen) -> tuple[dict[str, int], dict[str, int], Sets]:
        """Return what every asset takes in a scene wherever it is loaded to, what it takes of main memory, and sets there."""
        everywhere = self._sizes | {asset: self._packed[asset] for asset in seen.members.packed(seen.scene) & self._packed.keys()}
        everywhere |= {asset: round_up(count, self._known.steps[asset]) for asset, count in seen.tables.items()}
        everywhere |= dict.fromkeys(seen.members.direct(seen.scene), 0)
        sizes = {asset: 0 if asset in self._room.loaded_to else count for asset, count in everywhere.items()}
        return everywhere, sizes, seen.counted.sets(_buffers, alike=True, among=lambda one: one.name not in self._room.loaded_to)

    def choices(self, name: str, scene: Scene) -> SceneChoices:
        """Return what the cases of a scene are made of."""
        seen = self._seen(name, scene)
        _, sizes, sets = self._weighed(seen)
        groups, always = seen.members.groups(scene), seen.members.always(scene)
        named = always.union(*(assets for group in groups for assets in group.members.values()))
        return SceneChoices(
            always=sorted(always),
            direct=sorted(seen.members.direct(scene)),
            choices=[
                Choice(count=one.count, repeat=one.repeat, members={key: sorted(some) for key, some in one.members.items()})
                for one in groups
            ],
            never=[sorted(names) for names in seen.members.never(scene)],
            sizes={asset: sizes[asset] for asset in sorted(named) if sizes[asset]},
            each=sets.each,
            each_always=sets.always,
            most=sets.most,
        )

    def loaded(self, scene: Scene) -> frozenset[str]:
        """Return every asset that a scene may have in memory."""
        members = (assets for group in self._members.groups(scene) for assets in group.members.values())
        return self._members.always(scene).union(*members) - self._members.direct(scene)

    def _seen(self, name: str, scene: Scene) -> _Seen:
        streams = scene_streams(name, scene, self._bundles, self._facts, self._known)
        members = self._members.without_needs([one.name for one in streams])
        return _Seen(name, scene, members, streams, Counted(members, scene, streams))

    def _cases(
        self, seen: _Seen, sizes: dict[str, int], most: int, sets: Sets | None = None, shared: Mapping[str, str] | None = None
    ) -> list[Worst]:
        """Return the worst cases; assets with the same value in ``shared`` count once, as the largest of them."""
        room: dict[str, int] = {}
        places = {asset: (shared or {}).get(asset, asset) for asset in sizes}
        for asset, place in places.items():
            room[place] = max(room.get(place, 0), sizes[asset])
        always = frozenset(places[asset] for asset in seen.members.always(seen.scene))
        groups = [_placed(group, places) for group in seen.members.groups(seen.scene)]
        try:
            cases = worst_cases(always, groups, room, seen.members.never(seen.scene), most, sets)
        except ValueError as error:
            raise refuse("project.toml", f"[scene.{seen.name}]", str(error), "split the scene, or choose fewer members") from None
        if not cases:
            wrong = "what is never together leaves no choice"
            raise refuse("project.toml", f"[scene.{seen.name}] never", wrong, "take one out, choose fewer, or allow repeat")
        return cases

    def _limit(self, seen: _Seen, key: str, most: int) -> Limit:
        uses = {asset: usage(key, self._facts[asset]) if asset in self._facts else 0 for asset in self._sizes}
        if key in _IN_PART:
            uses |= {one.name: _IN_PART[key][0](one) for one in seen.streams}
        sets = seen.counted.sets(_IN_PART[key][1], alike=True) if key in _IN_PART else None
        worst = self._cases(seen, uses, 1, sets, places(key, self._facts))[0]
        return Limit(used=worst.bytes, most=most, chosen=_lists(worst), warned=key in HARDWARE and self._room.warned)

    def _carried(self, seen: _Seen) -> dict[str, Limit]:
        """Return what the worst picture fetches against what the target carries; each transfer counts for what starting it costs."""
        transfer, found = self._room.transfer, {}
        if seen.streams:
            for key, most in (("blank", transfer.blank), ("picture", transfer.picture)):
                if most is not None:
                    case = self._fetched(seen, lambda one: one.worst(transfer.start).weight(transfer.start), self._judged(key))
                    found[key] = Limit(used=case.bytes, most=most, chosen=_lists(case))
        return found

    def _judged(self, key: str) -> Callable[[Stream], bool]:
        """Return which streams count against a blank, or against a picture: all, but where the target states both, some need no blank."""
        both = self._room.transfer.blank is not None and self._room.transfer.picture is not None
        return (lambda one: not one.ahead) if both and key == "blank" else lambda one: True

    def _fetched(self, seen: _Seen, amount: Callable[[Stream], int], counts: Callable[[Stream], bool] = lambda one: True) -> Worst:
        """Return the case of which streams fetch most."""
        return self._cases(seen, dict.fromkeys(self._sizes, 0), 1, seen.counted.sets(lambda one: amount(one) if counts(one) else 0))[0]

    def _traffic(self, seen: _Seen) -> Traffic:
        start = self._room.transfer.start
        worst = self._fetched(seen, lambda one: one.worst(start).weight(start))
        load = seen.counted.worst_load([name for names in worst.chosen for name in names], start)
        pace = self._fetched(seen, lambda one: one.pace)
        return Traffic(
            bytes=load.bytes,
            transfers=load.transfers,
            start=start,
            chosen=_lists(worst),
            pace=pace.bytes,
            pace_chosen=_lists(pace),
        )

    def _beside(self, one: Stream) -> Callable[[Stream], int]:
        """Return what buffers take of streams in the same memory as this one: a role has sets in each memory that its members are in."""
        where = self._room.loaded_to
        return lambda other: _buffers(other) if where.get(other.name) == where.get(one.name) else 0

    def _streamed(self, one: Stream, taken: int) -> Streamed:
        load = one.worst(self._room.transfer.start)
        return Streamed(
            name=one.name,
            how=one.how,
            unit=one.unit,
            role=one.role,
            whole=self._sizes[one.name],
            tables=round_up(one.tables, self._known.steps[one.name]),
            buffers=one.buffers,
            buffer=one.buffer,
            bytes=taken,
            size=one.size,
            picture_bytes=load.bytes,
            picture_transfers=load.transfers,
            pace_bytes=one.pace,
            ahead=one.ahead,
        )

    def _area(self, seen: _Seen, area: str, sizes: dict[str, int]) -> Limit:
        """Return what a scene needs of an area of memory, with what is planned."""
        uses = {asset: count if self._room.loaded_to.get(asset) == area else 0 for asset, count in sizes.items()}
        sets = seen.counted.sets(_buffers, alike=True, among=lambda one: self._room.loaded_to.get(one.name) == area)
        room, worst = self._room.areas[area], self._cases(seen, uses, 1, sets)[0]
        now = self._cases(seen, uses | dict.fromkeys(self._estimated, 0), 1, sets)[0].bytes
        held = sum(part.bytes for part in room.reserved)
        planned = now + held if now != worst.bytes else None
        return Limit(used=worst.bytes + held, most=room.size, chosen=_lists(worst), used_now=planned)

    def _parts(self, seen: _Seen, worst: Worst, sizes: dict[str, int], sets: Sets) -> list[Part]:
        """What a case is made of; an asset that several members load counts for the first of them."""
        parts: list[Part] = []
        counted: set[str] = set()
        chosen = [name for names in worst.chosen for name in names]
        fetched = _fetched_parts(chosen, sets)
        loads = [("", seen.members.always(seen.scene)), *((name, seen.members.loads(name)) for name in dict.fromkeys(chosen))]
        for label, assets in loads:
            fresh = sorted(assets - counted)
            counted.update(fresh)
            estimated = sorted(self._estimated & set(fresh))
            buffers = fetched.pop(label, 0)
            count = sum(sizes[asset] for asset in fresh) + buffers
            parts.append(Part(name=label or "always", bytes=count, assets=fresh, estimated=estimated, fetched=buffers))
        return [part for part in parts if part.assets or part.fetched]


def _buffers(one: Stream) -> int:
    return one.set_bytes


# Limit -> what of a stream stays loaded, and what its buffers use.
_IN_PART: dict[str, tuple[Callable[[Stream], int], Callable[[Stream], int]]] = {
    "cells": (lambda one: one.tables_cells, lambda one: one.cells),
    "video": (lambda one: one.tables_video, lambda one: one.video),
}


def _fetched_parts(chosen: list[str], sets: Sets) -> dict[str, int]:
    """Return the bytes of buffers and windows by member, under an empty name of what is always there.

    Where a role has fewer sets, the first members get them.
    """
    left = dict(sets.most)
    found = dict.fromkeys(("", *chosen), 0)
    for name, pairs in [("", sets.always), *((name, sets.each.get(name, [])) for name in chosen)]:
        for role, amount in pairs:
            if left.get(role) != 0:
                found[name] += amount
                if role in left:
                    left[role] -= 1
    return found


def _placed(group: Group, places: Mapping[str, str]) -> Group:
    members = {name: frozenset(places[asset] for asset in assets) for name, assets in group.members.items()}
    return Group(group.count, members, group.repeat)


def _lists(case: Worst) -> list[list[str]]:
    return [list(names) for names in case.chosen]
