"""``budget.json``: for every scene its worst cases against the memory the target leaves, and against the target's other limits.

``memory`` writes it; questions, checks, report and the author's packet read it. All sizes are in bytes, and rounded up as the
console allocates them. Beside it ``work/choices.json`` says what cases are made of, so that any of them can be added up: it needs
``held``, each asset of ``always`` and of its members once, and for each time that a member is chosen what ``each`` says of it, of which
only the largest amounts of a role count where ``most`` limits them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 2  # of the file; another one is refused
CHOICES_FORMAT = 1
_Count = Annotated[int, Meta(ge=0)]
_Pairs = list[tuple[str, _Count]]


class Case(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One case of a scene.

    Attributes:
        bytes: it needs in memory, with what is held.
        chosen: names of members, a list for each choice of the scene; one with buffers or windows as often as it is chosen.
    """

    bytes: _Count
    chosen: list[list[str]]


class Limit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One further limit of the target in a scene.

    Attributes:
        used, most: in the limit's own unit, see ``memory.usage.show_limit``.
        chosen: the members with which most is used, as in ``Case``.
        used_now: without what is only planned, where that is less.
        warned: a kit is handed out even if more is used than there is.
    """

    used: _Count
    most: _Count
    chosen: list[list[str]]
    used_now: _Count | None = None
    warned: bool = False

    @property
    def passed(self) -> bool:
        """Whether more is used than there is."""
        return self.used > self.most

    @property
    def refused(self) -> bool:
        """Whether a kit is refused for it: what is only planned is left out."""
        return not self.warned and (self.used if self.used_now is None else self.used_now) > self.most


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a scene's worst case is made of.

    Attributes:
        name: "always", a member, or what holds memory.
        bytes: of its assets; an asset that several members load counts for the first of them.
        assets: their names, sorted; ``estimated``: those of them that are planned.
        fetched: how many of the bytes are buffers and windows, into which it is fetched while the scene goes on.
    """

    name: str
    bytes: _Count
    assets: list[str] = []
    estimated: list[str] = []
    fetched: _Count = 0


class Streamed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An asset that a scene holds in part.

    Attributes:
        name: of the asset; ``how``: ``streamed`` or ``window``.
        unit: what a buffer holds: ``frame``, ``animation``, or ``window``.
        role: whose buffers it uses; empty for its own.
        whole: bytes it would take if it were resident; ``tables``: those that stay in memory, once.
        buffers, buffer: how many for each time it is in memory, and bytes of each that it needs.
        bytes: of all of them, or of the larger ones of its role.
        size: of a window, width and height in pixels; None of a sprite.
        picture_bytes, picture_transfers: what one of its worst pictures fetches; ``pace_bytes``: what a picture does on average.
        ahead: what comes goes where nothing is shown, so that it need not come in a blank.
    """

    name: str
    how: Literal["streamed", "window"]
    unit: Literal["frame", "animation", "window"]
    role: str
    whole: _Count
    tables: _Count
    buffers: Annotated[int, Meta(ge=1)]
    buffer: _Count
    bytes: _Count
    size: tuple[int, int] | None
    picture_bytes: _Count
    picture_transfers: _Count
    pace_bytes: _Count
    ahead: bool


class Traffic(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a scene fetches from the cartridge while it goes on. What the target carries is in ``limits``: ``blank``, ``picture``.

    Attributes:
        bytes, transfers: of the worst picture, in which all that is there needs its next frame, and windows their next strips.
        start: bytes for which each transfer counts in addition to its own, where it is compared with what the target carries.
        chosen: the members with which that is so, as in ``Case``.
        pace: bytes a picture on average, with the members that need most; ``pace_chosen``: those.
    """

    bytes: _Count
    transfers: _Count
    start: _Count
    chosen: list[list[str]]
    pace: _Count
    pace_chosen: list[list[str]]


class SceneBudget(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a scene needs.

    Attributes:
        bytes: in the worst case; ``margin``: what that leaves of memory, below 0 where it does not fit.
        margin_now: what the worst case leaves without what is only planned.
        chosen: as in ``Case``.
        parts: the assets of the worst case.
        next: the next cases, at most three, the worst first.
        limits: by the limit's key.
        estimated: bytes of planned assets in the worst case.
        overlaps: pairs of palettes that may be loaded together into the same entries.
        tile_overlaps: pairs of backgrounds that may be loaded together and number the same tiles; none without a tile unit.
        streamed: what it holds in part, in the order in which the project file names it.
        traffic: what that fetches; None where nothing is held in part.
    """

    bytes: _Count
    margin: int
    margin_now: int
    chosen: list[list[str]]
    parts: list[Part]
    next: list[Case]
    limits: dict[str, Limit]
    estimated: _Count
    overlaps: list[list[str]]
    tile_overlaps: list[list[str]]
    streamed: list[Streamed] = []
    traffic: Traffic | None = None

    @property
    def too_much(self) -> bool:
        """Whether it needs more than there is of anything, what is only planned left out."""
        return self.margin_now < 0 or any(limit.refused for limit in self.limits.values())


class ImageNeed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the image needs.

    Attributes:
        bytes: of header, directory and assets, each rounded up to its alignment; ``planned``: of planned assets, which these do not hold.
        most: of the largest cartridge, or of the one wanted.
    """

    bytes: _Count
    planned: _Count
    most: _Count


class PlannedNeed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The estimate of a planned asset.

    Attributes:
        count: how many of it there will be, at least 1; ``bytes``: of each.
        from_assets: what it was estimated from; none where the author gave the bytes.
        error: the largest relative error on those, 0.1 for a tenth; None with fewer than two.
    """

    count: Annotated[int, Meta(ge=1)]
    bytes: _Count
    from_assets: list[str]
    error: float | None


class Budget(FileRecord, frozen=True, kw_only=True):
    """The content of the file.

    Attributes:
        memory: bytes of main memory, at least 1; ``held``: those no asset can use, by what holds them.
        scenes, planned: by name, in the order of the project file.
        loaded: names of assets that some scene may load, sorted.
        over: names of the scenes that do not fit, sorted; ``over_planned``: of those that fit only without what is planned.
    """

    memory: Annotated[int, Meta(ge=1)]
    held: dict[str, _Count]
    scenes: dict[str, SceneBudget]
    image: ImageNeed
    planned: dict[str, PlannedNeed]
    loaded: list[str]
    over: list[str]
    over_planned: list[str]

    def held_parts(self) -> list[Part]:
        """Return what holds memory, as parts of every scene."""
        return [Part(name=name, bytes=count) for name, count in self.held.items()]


_DECODER = msgspec.json.Decoder(Budget)


def write_budget_file(path: Path, budget: Budget) -> None:
    """Write a budget."""
    write_record(path, budget)


def read_budget_file(path: Path) -> Budget:
    """Read a budget.

    Raises:
        ProjectError: the file is missing, damaged or of another version.
    """
    return read_record(path, _DECODER, FORMAT)


class Choice(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``count`` of ``members`` are in memory at once, the same one several times with ``repeat``; member -> assets it loads."""

    count: Annotated[int, Meta(ge=1)]
    repeat: bool
    members: dict[str, list[str]]


class SceneChoices(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A scene.

    Attributes:
        always: assets in memory whatever is chosen; ``direct``: those read straight from the cartridge, which take none.
        choices: in the order of the project file.
        never: sets of members that are never all chosen together.
        sizes: asset -> bytes it takes in this scene; one that is not here takes none.
        each, each_always: pairs of a role and an amount, by member and of what is always there; ``most``: role -> how many sets of it.
    """

    always: list[str]
    direct: list[str]
    choices: list[Choice]
    never: list[list[str]]
    sizes: dict[str, _Count]
    each: dict[str, _Pairs]
    each_always: _Pairs
    most: dict[str, int]


class Choices(FileRecord, frozen=True, kw_only=True):
    """The content of ``choices.json``; ``held``: bytes that no asset can use; scenes by name, in the order of the project file."""

    held: _Count
    scenes: dict[str, SceneChoices]


_CHOICES_DECODER = msgspec.json.Decoder(Choices)


def write_choices(path: Path, held: int, scenes: dict[str, SceneChoices]) -> None:
    """Write what scenes can choose."""
    write_record(path, Choices(version=CHOICES_FORMAT, held=held, scenes=scenes))


def read_choices(path: Path) -> Choices:
    """Return what scenes can choose.

    Raises:
        ProjectError: the file is missing, damaged or of another version.
    """
    return read_record(path, _CHOICES_DECODER, CHOICES_FORMAT)
