"""How one thing flashes: ``work/NAME.flashes.json``, of a sprite's animations, an effect or a background."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from pipeline.joints.facts import Count
from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1
Verdict = Literal["pass", "near", "fail"]
VERDICTS: tuple[Verdict, ...] = ("pass", "near", "fail")  # worst last


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a record holds."""


class Limit(_Part, frozen=True, kw_only=True):
    """The worst second by one limit; see ``safety.flashes.Finding``."""

    limit: str
    verdict: Verdict
    transitions: Count
    area: Annotated[float, Meta(ge=0)]
    tick: Count | None = None
    box: tuple[int, int, int, int] | None = None


class Played(_Part, frozen=True, kw_only=True):
    """What was measured of it.

    Attributes:
        name: of an animation; empty for what has but one.
        ground: what was behind it, in words; empty where it is shown to pass on any.
        limits: that do not pass.
        remedy: what would pass; empty where it passes.
        reach: by limit, pixels that change at once, pixels that change too often, and changes in a second, at most; see ``safety.reach``.
    """

    name: str
    ground: str
    limits: list[Limit]
    remedy: str
    reach: dict[str, tuple[Count, Count, Count]]

    @property
    def verdict(self) -> Verdict:
        """The worst of its limits'."""
        found = {one.verdict for one in self.limits}
        return "fail" if "fail" in found else "near" if "near" in found else "pass"


class Flashes(FileRecord, frozen=True, kw_only=True):
    """Of one thing.

    Attributes:
        kind: sprite, effect or background.
        name: of it.
        refresh: ticks in a second.
        played: of a sprite each animation, else one.
    """

    kind: Literal["sprite", "effect", "background"]
    name: str
    refresh: float
    played: list[Played]


_DECODER = msgspec.json.Decoder(Flashes)


def read_flashes(file: Path) -> Flashes:
    """Return what was measured.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _DECODER, FORMAT)


def write_flashes(file: Path, kind: Literal["sprite", "effect", "background"], name: str, refresh: float, played: list[Played]) -> None:
    """Write what was measured."""
    write_record(file, Flashes(version=FORMAT, kind=kind, name=name, refresh=refresh, played=played))
