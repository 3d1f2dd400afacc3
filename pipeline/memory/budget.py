"""The budget: for every scene its worst cases against the memory the target leaves, and against the target's other limits."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import msgspec
from msgspec import field

from pipeline.joints.budget import FORMAT, Budget, Case, ImageNeed, Limit, Part, PlannedNeed, SceneBudget, write_budget_file
from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.places import FactsFiles
from pipeline.memory.members import Members
from pipeline.memory.overlaps import overlapping, overlapping_tiles
from pipeline.memory.planned import Estimate, estimate, member_names
from pipeline.memory.scenes import Group, Worst, worst_cases
from pipeline.memory.usage import HARDWARE, area_limit, places, show_limit, usage
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.sizes import round_up, show_size
from pipeline.plain.written import Record
from pipeline.project.file import Planned, Scene
from pipeline.target.records import Area

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
    """

    memory: int
    granularity: int
    held: dict[str, int]
    cell: tuple[int, int]
    image: int
    head: int
    limits: dict[str, int]
    tile_unit: bool = False
    warned: bool = False
    areas: dict[str, Area] = field(default_factory=dict)
    loaded_to: dict[str, str] = field(default_factory=dict)

    def rounded(self, name: str, count: int, alignment: int = 1) -> int:
        """Return the bytes that are allocated for an asset, wherever it is loaded to."""
        area = self.areas.get(self.loaded_to.get(name, ""))
        return round_up(count, max(area.granularity if area else self.granularity, alignment))


def write_budget(
    facts: dict[str, FactsFiles],
    out: Path,
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
) -> str:
    """Write ``budget.json``; return one line about it.

    Args:
        facts: of every counted asset, by name.
        assets: name -> alignment in bytes, of every asset with facts.
        needs: asset -> assets that are in memory whenever it is.

    Raises:
        ProjectError: a scene has no possible case or too many, or a planned asset has no size.
    """
    known = {name: image_facts(facts[name]) for name in assets}
    budget = make_budget(known, assets, bundles, scenes, planned, needs, room)
    write_budget_file(out, budget)
    return "; ".join(describe_scene(name, scene) for name, scene in budget.scenes.items()) or "the project names no scene"


def make_budget(
    facts: dict[str, Facts],
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
) -> Budget:
    """Return the content of ``budget.json``; arguments and errors as ``write_budget``, with the facts themselves."""
    guesses = _estimates(planned, facts, room)
    each = {member: guesses[name].bytes for name, one in planned.items() for member in member_names(name, one)}
    room = _with_planned(room, planned)
    sizes = {name: room.rounded(name, facts[name].unpacked_bytes, align) for name, align in assets.items()}
    sizes |= {name: room.rounded(name, count) for name, count in each.items()}
    packed = {name: room.rounded(name, facts[name].bytes, align) for name, align in assets.items()}
    counter = _Counter(facts, sizes, packed, frozenset(each), Members(bundles, planned, needs), room)
    report = {name: counter.scene(name, scene) for name, scene in scenes.items()}
    image = room.head + sum(round_up(facts[name].bytes, align) for name, align in assets.items())
    return Budget(
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


def _with_planned(room: Room, planned: dict[str, Planned]) -> Room:
    """Return what there is, with the areas that the members of planned assets are loaded to."""
    away = {name: one for name, one in planned.items() if name in room.loaded_to}
    members = {member: room.loaded_to[name] for name, one in away.items() for member in member_names(name, one)}
    return msgspec.structs.replace(room, loaded_to=room.loaded_to | members)


def _planned(count: int, guess: Estimate) -> PlannedNeed:
    return PlannedNeed(count=count, bytes=guess.bytes, from_assets=list(guess.from_assets), error=guess.error)


def describe_scene(name: str, scene: SceneBudget) -> str:
    """Return one line about a scene."""
    state = f"{show_size(scene.margin)} free" if scene.margin >= 0 else f"{show_size(-scene.margin)} OVER"
    text = f"{name} needs {show_size(scene.bytes)} at worst, {state}"
    if scene.estimated:
        text += f" ({show_size(scene.estimated)} of it estimated)"
    for key, limit in scene.limits.items():
        if limit.passed:
            text += f", {limit.used - limit.most:,} {show_limit(key)} OVER"
    return text


def over_budget(budget: Budget) -> str | None:
    """Return what a kit is refused for, or None when every scene fits."""
    return "; ".join(describe_scene(name, budget.scenes[name]) for name in budget.over) or None


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


class _Counter:
    """Counts scenes of one project."""

    def __init__(
        self,
        facts: dict[str, Facts],
        sizes: dict[str, int],
        packed: dict[str, int],
        estimated: frozenset[str],
        members: Members,
        room: Room,
    ) -> None:
        self._facts, self._sizes, self._packed = facts, sizes, packed
        self._estimated, self._members, self._room = estimated, members, room

    def scene(self, name: str, scene: Scene) -> SceneBudget:
        """Return what ``budget.json`` says of a scene."""
        direct, held = self._members.direct(scene), sum(self._room.held.values())
        sizes = self._sizes | {asset: self._packed[asset] for asset in self._members.packed(scene) & self._packed.keys()}
        sizes |= dict.fromkeys(direct, 0)
        everywhere = sizes
        sizes = {asset: 0 if asset in self._room.loaded_to else count for asset, count in sizes.items()}
        worst, *others = self._cases(name, scene, sizes, 1 + _NEXT)
        total, estimated = worst.bytes + held, sum(sizes[asset] for asset in worst.assets & self._estimated)
        now = self._cases(name, scene, sizes | dict.fromkeys(self._estimated, 0), 1)[0].bytes + held
        met = (self._members.always(scene), self._members.groups(scene), self._members.never(scene), self._facts)
        return SceneBudget(
            bytes=total,
            margin=self._room.memory - total,
            margin_now=self._room.memory - now,
            chosen=_lists(worst),
            parts=self._parts(scene, worst, sizes),
            next=[Case(bytes=one.bytes + held, chosen=_lists(one)) for one in others],
            limits={key: self._limit(name, scene, key, most) for key, most in self._room.limits.items()}
            | {area_limit(area): self._area(name, scene, area, everywhere) for area in self._room.areas},
            estimated=estimated,
            overlaps=overlapping(*met),
            tile_overlaps=overlapping_tiles(*met) if self._room.tile_unit else [],
        )

    def loaded(self, scene: Scene) -> frozenset[str]:
        """Return every asset that a scene may have in memory."""
        members = (assets for group in self._members.groups(scene) for assets in group.members.values())
        return self._members.always(scene).union(*members) - self._members.direct(scene)

    def _cases(self, name: str, scene: Scene, sizes: dict[str, int], most: int, shared: Mapping[str, str] | None = None) -> list[Worst]:
        """Return the worst cases; assets with the same value in ``shared`` count once, as the largest of them."""
        room: dict[str, int] = {}
        places = {asset: (shared or {}).get(asset, asset) for asset in sizes}
        for asset, place in places.items():
            room[place] = max(room.get(place, 0), sizes[asset])
        always = frozenset(places[asset] for asset in self._members.always(scene))
        groups = [_placed(group, places) for group in self._members.groups(scene)]
        try:
            cases = worst_cases(always, groups, room, self._members.never(scene), most)
        except ValueError as error:
            raise refuse("project.toml", f"[scene.{name}]", str(error), "split the scene, or choose fewer members") from None
        if not cases:
            wrong = "what is never together leaves no choice"
            raise refuse("project.toml", f"[scene.{name}] never", wrong, "take one out, choose fewer, or allow repeat")
        return cases

    def _limit(self, name: str, scene: Scene, key: str, most: int) -> Limit:
        uses = {asset: usage(key, self._facts[asset]) if asset in self._facts else 0 for asset in self._sizes}
        worst = self._cases(name, scene, uses, 1, places(key, self._facts))[0]
        return Limit(used=worst.bytes, most=most, chosen=_lists(worst), warned=key in HARDWARE and self._room.warned)

    def _area(self, name: str, scene: Scene, area: str, sizes: dict[str, int]) -> Limit:
        """Return what a scene needs of an area of memory, with what is planned."""
        uses = {asset: count if self._room.loaded_to.get(asset) == area else 0 for asset, count in sizes.items()}
        room, worst = self._room.areas[area], self._cases(name, scene, uses, 1)[0]
        now = self._cases(name, scene, uses | dict.fromkeys(self._estimated, 0), 1)[0].bytes
        held = sum(part.bytes for part in room.reserved)
        planned = now + held if now != worst.bytes else None
        return Limit(used=worst.bytes + held, most=room.size, chosen=_lists(worst), used_now=planned)

    def _parts(self, scene: Scene, worst: Worst, sizes: dict[str, int]) -> list[Part]:
        """What a case is made of; an asset that several members load counts for the first of them."""
        parts: list[Part] = []
        counted: set[str] = set()
        chosen = [(name, self._members.loads(name)) for names in worst.chosen for name in names]
        for label, assets in [("always", self._members.always(scene)), *chosen]:
            fresh = sorted(assets - counted)
            counted.update(fresh)
            estimated = sorted(self._estimated & set(fresh))
            parts.append(Part(name=label, bytes=sum(sizes[asset] for asset in fresh), assets=fresh, estimated=estimated))
        return [part for part in parts if part.assets]


def _placed(group: Group, places: Mapping[str, str]) -> Group:
    members = {name: frozenset(places[asset] for asset in assets) for name, assets in group.members.items()}
    return Group(group.count, members, group.repeat)


def _lists(case: Worst) -> list[list[str]]:
    return [list(names) for names in case.chosen]
