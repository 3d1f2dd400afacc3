"""``lists.json``: for every scene where in memory its assets go, what is fetched into buffers, and what is read from the cartridge.

``memory`` writes it from sizes alone; the load lists in the image, the constants for the program and the pages read it. All sizes are in
bytes. A place in memory is counted from the first byte of main memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from pipeline.joints.layouts import LISTS, RECORDS, record_bytes
from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 2  # of the file; another one is refused
_Count = Annotated[int, Meta(ge=0)]


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the file holds."""


class Area(_Part, frozen=True):
    """Memory that no asset is loaded into.

    Attributes:
        name: what it is for; of a ``room`` the planned asset's.
        at, bytes: where it is.
        kind: ``reserved`` and ``buffer`` are the target's, in every scene; ``room`` is kept for a planned asset of known size.
    """

    name: str
    at: _Count
    bytes: _Count
    kind: Literal["reserved", "buffer", "room"]


class Span(_Part, frozen=True):
    """Bytes of an asset that are in memory while others are not.

    Attributes:
        start: the first of them in the asset; ``at``: in memory, counted from where the asset is there.
        bytes: how many.
    """

    start: _Count
    at: _Count
    bytes: Annotated[int, Meta(ge=1)]


class Place(_Part, frozen=True):
    """An asset in memory.

    Attributes:
        asset: its name.
        at: its first byte; in a member of a choice counted from the slot's.
        bytes: that it takes, not rounded up.
        packed: it stays packed there.
        spans: of one that is there in part, its tables: each is copied by itself; empty: all of it is there.
    """

    asset: str
    at: _Count
    bytes: _Count
    packed: bool = False
    spans: list[Span] = []


class Units(_Part, frozen=True):
    """What a window holds: units of adjacent pixels, cells or map entries, in memory that wraps around.

    Attributes:
        columns, rows: units across and down.
        width, height: of a unit in pixels; ``bytes``: of one.
        apart: bytes of a unit are apart in the cartridge.
        tiles: for how many tiles there is room, where tiles are fetched; they are in front of the map.
    """

    columns: _Count
    rows: _Count
    width: _Count
    height: _Count
    bytes: _Count
    apart: bool = False
    tiles: _Count = 0


class Buffers(_Part, frozen=True):
    """Memory into which an asset is fetched while the scene goes on.

    Attributes:
        asset: its name.
        at: first byte of the first set; in a member of a choice counted from the slot's.
        sets: how many there are; ``set_bytes``: from one to the next.
        count: buffers of a set, which follow one another; ``bytes``: of each.
        window: what it holds, of a background; None of a sprite.
    """

    asset: str
    at: _Count
    sets: Annotated[int, Meta(ge=1)]
    set_bytes: _Count
    count: Annotated[int, Meta(ge=1)]
    bytes: _Count
    window: Units | None = None


class Group(_Part, frozen=True):
    """Assets that are loaded together.

    Attributes:
        name: of a member of a choice; of a scene what is there whatever is chosen.
        places: what is in memory, in the order of loading.
        direct: names of assets read straight from the cartridge.
        steps: the assets that are copied together: one, or all of a contiguous bundle.
        buffers: into which the rest of what is there in part is fetched.
    """

    name: str
    places: list[Place]
    direct: list[str]
    steps: list[list[str]]
    buffers: list[Buffers] = []

    @property
    def in_part(self) -> list[str]:
        """Names of assets whose tables are in memory, and the rest in the cartridge."""
        return [one.asset for one in self.places if one.spans]

    @property
    def copies(self) -> int:
        """How many copies load it; one for each span of what is there in part."""
        spans = {one.asset: len(one.spans) for one in self.places if one.spans}
        return sum(spans.get(assets[0], 1) for assets in self.steps)


class Slot(_Part, frozen=True):
    """Memory for one member of a choice at a time: its first byte, and how many there are."""

    at: _Count
    bytes: _Count


class ChoicePlan(_Part, frozen=True):
    """A choice of a scene: any of the members fits any of the slots.

    Attributes:
        name: as testers call it, or empty.
        slots: one for each member that may be there at once.
        members: by the order of the project file.
    """

    name: str
    slots: list[Slot]
    members: list[Group]


class ScenePlan(_Part, frozen=True):
    """A scene's memory.

    Attributes:
        common: what is there whatever is chosen, and what several members load.
        choices: in the order of the project file, but for those whose members are all there at once: these are in ``common``.
        rooms: kept for planned assets.
        top: the byte after the last that the scene uses, apart from areas.
    """

    common: Group
    choices: list[ChoicePlan]
    rooms: list[Area]
    top: _Count

    def groups(self) -> Iterator[Group]:
        """Yield what is always there, and then every member of every choice."""
        yield self.common
        for choice in self.choices:
            yield from choice.members


class BundlePlan(_Part, frozen=True):
    """A bundle: its assets in the order of use, and whether they are one contiguous run."""

    members: list[str]
    contiguous: bool


class Lists(FileRecord, frozen=True, kw_only=True):
    """The content of the file.

    Attributes:
        base: address of the first byte of main memory.
        memory: bytes of main memory, at least 1.
        areas: reserved areas and screen buffers.
        scenes, bundles: by name, in the order of the project file.
    """

    base: _Count
    memory: Annotated[int, Meta(ge=1)]
    areas: list[Area]
    scenes: dict[str, ScenePlan]
    bundles: dict[str, BundlePlan]

    def counts(self) -> dict[str, int]:
        """Return how many records of each kind the load lists in the image have, by the name of their layout."""
        groups = [group for scene in self.scenes.values() for group in scene.groups()]
        return {
            "LIST_SCENE": len(self.scenes),
            "LIST_SLOT": sum(len(choice.slots) for scene in self.scenes.values() for choice in scene.choices),
            "LIST_GROUP": len(groups),
            "LIST_STEP": sum(group.copies for group in groups),
            "LIST_PLACE": sum(len(one.places) + len(one.in_part) + len(one.direct) for one in groups)
            + sum(len(one.members) for one in self.bundles.values()),
            "LIST_BUNDLE": len(self.bundles),
            "LIST_BUFFER": sum(len(one.buffers) for one in groups),
        }

    def image_bytes(self) -> int:
        """Return the bytes of the load lists in the image."""
        return record_bytes(LISTS) + sum(count * record_bytes(RECORDS[name]) for name, count in self.counts().items())


_DECODER = msgspec.json.Decoder(Lists)


def write_lists_file(path: Path, lists: Lists) -> None:
    """Write the plan."""
    write_record(path, lists)


def read_lists_file(path: Path) -> Lists:
    """Read the plan.

    Raises:
        ProjectError: the file is missing, damaged or of another version.
    """
    return read_record(path, _DECODER, FORMAT)
