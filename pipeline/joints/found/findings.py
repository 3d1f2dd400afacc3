"""What was found in a game that could harm a player, each with what to do: ``findings.json``, and ``work/cautions.json`` for testers.

A further thing to measure adds its findings to the same list, and texts for testers under a key of its own in the table ``found`` of
every message file: nothing that reads the list needs to know it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import msgspec

from pipeline.joints.facts import Count
from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1


class Finding(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing that does not pass.

    Attributes:
        about: what was measured, such as ``flashes``.
        of: what it is of, such as ``lightning`` or ``ada/blink``.
        verdict: ``fail``; ``near`` a limit; ``open`` where nothing shows that it passes.
        said: a line for each limit, for the author.
        remedy: what would pass.
        used: whether the game shows it.
        caution: what testers read about it, in the author's words; empty for nothing.
    """

    about: str
    of: str
    verdict: Literal["fail", "near", "open"]
    said: list[str]
    remedy: str
    used: bool = True
    caution: str = ""

    @property
    def sentences(self) -> list[str]:
        """What is said, without the verdict before each line."""
        return [line.partition("  ")[2] for line in self.said]


class Looked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was measured, found or not.

    Attributes:
        about: what for.
        counts: of what how many, such as ``animation`` -> 36.
        method: how, and what it does not say.
    """

    about: str
    counts: dict[str, Count]
    method: str


class Findings(FileRecord, frozen=True, kw_only=True):
    """All of a game; the worst come first."""

    looked: list[Looked]
    findings: list[Finding]


class Said(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A text for testers.

    Attributes:
        key: of the text, in the table ``found`` of a message file.
        names: that it gives.
        good: it says that nothing was found, so it comes after the warnings.
    """

    key: str
    names: list[str]
    good: bool = False


class Cautions(FileRecord, frozen=True, kw_only=True):
    """What testers read about all that was found."""

    said: list[Said]


_FINDINGS, _CAUTIONS = msgspec.json.Decoder(Findings), msgspec.json.Decoder(Cautions)


def read_findings(file: Path) -> Findings:
    """Return the findings.

    Raises:
        ProjectError: they cannot be read, are damaged, or have another format number.
    """
    return read_record(file, _FINDINGS, FORMAT)


def read_cautions(file: Path | None) -> list[Said]:
    """Return what testers read about it; nothing where nothing was measured.

    Raises:
        ProjectError: see ``read_findings``.
    """
    return read_record(file, _CAUTIONS, FORMAT).said if file else []


def write_findings(file: Path, looked: list[Looked], findings: list[Finding]) -> None:
    """Write the findings."""
    write_record(file, Findings(version=FORMAT, looked=looked, findings=findings))


def write_cautions(file: Path, said: list[Said]) -> None:
    """Write what testers read about it."""
    write_record(file, Cautions(version=FORMAT, said=said))
