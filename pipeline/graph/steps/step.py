"""One step of a build, described without doit: which function, with which settings, reading and writing which files."""

from __future__ import annotations

import importlib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from pipeline.graph.steps.handed import In, Kept, Listing, Out, Trusted, calls_of_step, paths_of, plain_arguments, views_of
from pipeline.joints.views import View


@dataclass(frozen=True)
class Step:
    """A step.

    Attributes:
        name: doit's name for it; ``kind:asset`` for one of many.
        call: ``module:function``; imported only when the step runs. The function returns one line for a person.
        arguments: its keyword arguments: numbers, text and frozen records, and paths with a mark of ``handed``. All it may depend on.
        after: steps that must have ended before, although none of their files is among the arguments.
        always: runs every time (a question, not a product).
        command: the words of a command of the project's that it runs, as declared; see ``consent``.
        doc: one line for ``doit list``.
    """

    name: str
    call: str
    arguments: dict[str, Any]
    after: tuple[str, ...] = ()
    always: bool = False
    command: tuple[str, ...] = ()
    doc: str = ""

    @property
    def calls(self) -> tuple[str, ...]:
        """The names of all functions that it calls by name: its code is theirs and what they import."""
        return calls_of_step(self.call, self.arguments)

    def run(self) -> str:
        """Call its function in this process; return the line for a person."""
        module, _, function = self.call.partition(":")
        return getattr(importlib.import_module(module), function)(**plain_arguments(self.arguments))

    @cached_property
    def reads(self) -> tuple[Path, ...]:
        """Files whose content it depends on."""
        return paths_of(self.arguments, In)

    @cached_property
    def views(self) -> dict[Path, View]:
        """Views of files of which only some fields count, by path."""
        return views_of(self.arguments)

    @cached_property
    def trusts(self) -> tuple[Path, ...]:
        """Files that must be there before, without their content being looked at for freshness."""
        return paths_of(self.arguments, Trusted)

    @cached_property
    def writes(self) -> tuple[Path, ...]:
        """Files it makes."""
        return paths_of(self.arguments, Out)

    @cached_property
    def keeps(self) -> tuple[Path, ...]:
        """Files and folders that it looks after itself; a build leaves them alone."""
        return paths_of(self.arguments, Kept)

    @cached_property
    def manifest(self) -> Path | None:
        """The written JSON file that lists further written files, beside it."""
        return next(iter(paths_of(self.arguments, Listing)), None)


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
