"""The budget: for every scene its worst cases against the memory the target leaves, and against the target's other limits.

``budget.json``:
- ``memory``, ``held``: bytes of main memory, and those no asset can use by what holds them;
- ``scenes``: for each ``bytes`` and ``margin`` of the worst case, ``margin_now`` of the one without planned assets,
  ``chosen`` (members, a list for each choice), ``parts`` (name, bytes, assets, and ``estimated`` where they are planned),
  ``next`` (bytes and chosen of the next three), ``limits`` (for each limit of the target ``used``, ``most`` and
  ``chosen``), ``estimated`` (bytes of planned assets in the worst case), ``overlaps`` (pairs of palettes that may be loaded
  together into the same entries), ``tile_overlaps`` (pairs of backgrounds that may be loaded together and number the same
  tiles; none on a console without a tile unit);
- ``image``: bytes of header, directory and assets, each rounded up to its alignment, ``planned`` ones too, and ``most``;
- ``planned``: for each its estimate; ``loaded``: assets that some scene may load;
- ``over``: names of the scenes that do not fit, ``over_planned``: of those that fit only without what is planned.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from pipeline.joints.facts import Facts, image_facts
from pipeline.memory.members import Members
from pipeline.memory.overlaps import overlapping, overlapping_tiles
from pipeline.memory.planned import Estimate, estimate, member_names
from pipeline.memory.scenes import Worst, worst_cases
from pipeline.memory.usage import LIMITS, usage
from pipeline.plain.checked import Record
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import write_json
from pipeline.plain.sizes import round_up, show_size
from pipeline.project.file import Planned, Scene

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


def write_budget(
    blobs: Path,
    out: Path,
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
    packed: tuple[str, ...],
) -> str:
    """Write ``budget.json``; return one line about it.

    Args:
        packed: names of packed assets; see ``joints.packed``.
        assets: name -> alignment in bytes, of every asset with facts.
        needs: asset -> assets that are in memory whenever it is.

    Raises:
        ProjectError: a scene has no possible case or too many, or a planned asset has no size.
    """
    facts = {name: image_facts(blobs, name, name in packed) for name in assets}
    budget = make_budget(facts, assets, bundles, scenes, planned, needs, room)
    write_json(out, budget)
    return "; ".join(describe_scene(name, scene) for name, scene in budget["scenes"].items()) or "the project names no scene"


def make_budget(
    facts: dict[str, Facts],
    assets: dict[str, int],
    bundles: dict[str, list[str]],
    scenes: dict[str, Scene],
    planned: dict[str, Planned],
    needs: dict[str, tuple[str, ...]],
    room: Room,
) -> dict[str, Any]:
    """Return the content of ``budget.json``; arguments and errors as ``write_budget``, with the facts themselves."""
    guesses = _estimates(planned, facts, room)
    each = {member: guesses[name].bytes for name, one in planned.items() for member in member_names(name, one)}
    sizes = {name: round_up(facts[name].unpacked_bytes, max(room.granularity, align)) for name, align in assets.items()}
    sizes |= {name: round_up(count, room.granularity) for name, count in each.items()}
    packed = {name: round_up(facts[name].bytes, max(room.granularity, align)) for name, align in assets.items()}
    counter = _Counter(facts, sizes, packed, frozenset(each), Members(bundles, planned, needs), room)
    report = {name: counter.scene(name, scene) for name, scene in scenes.items()}
    image = room.head + sum(round_up(facts[name].bytes, align) for name, align in assets.items())
    return {
        "memory": room.memory,
        "held": room.held,
        "scenes": report,
        "image": {"bytes": image, "planned": sum(each.values()), "most": room.image},
        "planned": {name: {"count": planned[name].count, **dataclasses.asdict(guess)} for name, guess in guesses.items()},
        "loaded": sorted({asset for scene in scenes.values() for asset in counter.loaded(scene)} & facts.keys()),
        "over": sorted(name for name, scene in report.items() if too_much(scene)),
        "over_planned": sorted(name for name, scene in report.items() if scene["margin"] < 0 <= scene["margin_now"]),
    }


def too_much(scene: dict[str, Any]) -> bool:
    """Return whether a scene of ``budget.json`` needs more than there is of anything, what is only planned left out."""
    return scene["margin_now"] < 0 or any(limit["used"] > limit["most"] for limit in scene["limits"].values())


def describe_scene(name: str, scene: dict[str, Any]) -> str:
    """Return one line about a scene of ``budget.json``."""
    state = f"{show_size(scene['margin'])} free" if scene["margin"] >= 0 else f"{show_size(-scene['margin'])} OVER"
    text = f"{name} needs {show_size(scene['bytes'])} at worst, {state}"
    if scene["estimated"]:
        text += f" ({show_size(scene['estimated'])} of it estimated)"
    for key, limit in scene["limits"].items():
        if limit["used"] > limit["most"]:
            text += f", {limit['used'] - limit['most']:,} {LIMITS[key]} OVER"
    return text


def over_budget(budget: dict[str, Any]) -> str | None:
    """Return what a kit is refused for, or None when every scene fits."""
    return "; ".join(describe_scene(name, budget["scenes"][name]) for name in budget["over"]) or None


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

    def scene(self, name: str, scene: Scene) -> dict[str, Any]:
        """Return what ``budget.json`` says of a scene."""
        direct, held = self._members.direct(scene), sum(self._room.held.values())
        sizes = self._sizes | {asset: self._packed[asset] for asset in self._members.packed(scene) & self._packed.keys()}
        sizes |= dict.fromkeys(direct, 0)
        worst, *others = self._cases(name, scene, sizes, 1 + _NEXT)
        total, estimated = worst.bytes + held, sum(sizes[asset] for asset in worst.assets & self._estimated)
        now = self._cases(name, scene, sizes | dict.fromkeys(self._estimated, 0), 1)[0].bytes + held
        met = (self._members.always(scene), self._members.groups(scene), self._members.never(scene), self._facts)
        return {
            "bytes": total,
            "margin": self._room.memory - total,
            "margin_now": self._room.memory - now,
            "chosen": [list(names) for names in worst.chosen],
            "parts": self._parts(scene, worst, sizes),
            "next": [{"bytes": one.bytes + held, "chosen": [list(names) for names in one.chosen]} for one in others],
            "limits": {key: self._limit(name, scene, key, most) for key, most in self._room.limits.items()},
            "estimated": estimated,
            "overlaps": overlapping(*met),
            "tile_overlaps": overlapping_tiles(*met) if self._room.tile_unit else [],
        }

    def loaded(self, scene: Scene) -> frozenset[str]:
        """Return every asset that a scene may have in memory."""
        members = (assets for group in self._members.groups(scene) for assets in group.members.values())
        return self._members.always(scene).union(*members) - self._members.direct(scene)

    def _cases(self, name: str, scene: Scene, sizes: dict[str, int], most: int) -> list[Worst]:
        try:
            cases = worst_cases(self._members.always(scene), self._members.groups(scene), sizes, self._members.never(scene), most)
        except ValueError as error:
            raise refuse("project.toml", f"[scene.{name}]", str(error), "split the scene, or choose fewer members") from None
        if not cases:
            wrong = "what is never together leaves no choice"
            raise refuse("project.toml", f"[scene.{name}] never", wrong, "take one out, choose fewer, or allow repeat")
        return cases

    def _limit(self, name: str, scene: Scene, key: str, most: int) -> dict[str, Any]:
        uses = {asset: usage(key, self._facts[asset]) if asset in self._facts else 0 for asset in self._sizes}
        worst = self._cases(name, scene, uses, 1)[0]
        return {"used": worst.bytes, "most": most, "chosen": [list(names) for names in worst.chosen]}

    def _parts(self, scene: Scene, worst: Worst, sizes: dict[str, int]) -> list[dict[str, Any]]:
        """What a case is made of; an asset that several members load counts for the first of them."""
        parts, counted = [], set()
        chosen = [(name, self._members.loads(name)) for names in worst.chosen for name in names]
        for label, assets in [("always", self._members.always(scene)), *chosen]:
            fresh = sorted(assets - counted)
            counted.update(fresh)
            part = {"name": label, "bytes": sum(sizes[asset] for asset in fresh), "assets": fresh}
            if self._estimated & set(fresh):
                part["estimated"] = sorted(self._estimated & set(fresh))
            parts.append(part)
        return [part for part in parts if part["assets"]]
