"""One step of a build, described without doit: which function, with which settings, reading and writing which files."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.target.calls import calls_in


@dataclass(frozen=True)
class Step:
    """A step.

    Attributes:
        name: doit's name for it; ``kind:asset`` for one of many.
        call: ``module:function``; imported only when the step runs. The function returns one line for a person.
        arguments: its keyword arguments: paths, numbers, text and frozen records. All it may depend on apart from files.
        reads: files whose content it depends on.
        writes: files it makes.
        leaves: further files of the build folder that a question may write; a build leaves them alone.
        after: steps that must have ended before, without their files being read for freshness.
        manifest: a written JSON file that lists further written files: ``{"files": {name: sha256}}``, beside it.
        always: runs every time (a question, not a product).
        command: the words of a command of the project's that it runs, as declared; see ``consent``.
        doc: one line for ``doit list``.
    """

    name: str
    call: str
    arguments: dict[str, Any]
    reads: tuple[Path, ...] = ()
    writes: tuple[Path, ...] = ()
    leaves: tuple[Path, ...] = ()
    after: tuple[str, ...] = ()
    manifest: Path | None = None
    always: bool = False
    command: tuple[str, ...] = ()
    doc: str = ""

    @property
    def calls(self) -> tuple[str, ...]:
        """The names of all functions that it calls by name: its code is theirs and what they import."""
        return (self.call, *calls_in(self.arguments))


@dataclass
class Plan:
    """All steps of a project, and what the front door must know about them."""

    folder: Path
    makes_builds: bool = True  # False: the plan of a new project, which has no build to look after
    steps: list[Step] = field(default_factory=list)
    default: list[str] = field(default_factory=list)
    version: str = ""  # of the game

    @property
    def build(self) -> Path:
        """The build folder."""
        return self.folder / "build"

    @property
    def state(self) -> Path:
        """The folder of the build's own records: database, lock, reasons."""
        return self.build / ".state"
