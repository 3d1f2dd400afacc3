"""What the fuzzer knows of a format: how documents of it are made, what reads them, and what must then be true."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pipeline.graph.steps.step import Step
from tests.bench.fuzzing.parts import Part

MIB = 1 << 20


class Wrong(AssertionError):
    """An accepted document whose result is not what it should be."""


@dataclass(frozen=True)
class Format:
    """One format.

    Attributes:
        name: as the command line says it.
        make: a document from a source of chance.
        file: where the document is put, relative to the folder.
        prepare: writes what is around the document into a folder, once.
        run: gives the document to the tool's own reader and what comes after it; is handed the folder and the document's bytes;
            returns ``accepted``, or ``set aside`` where a damaged record of the build is to be begun again. Refusals and
            faults are what it raises.
        memory: bytes it may take in addition to what the process had before the case.
        own: files and folders apart from the build folder that may be written, relative to the project's folder.
        seconds: of processor time that one case may take.
        share: how many cases of a mixed run it gets, as a weight.
        outside: exceptions that are refusals in words, apart from ``ProjectError``.
    """

    name: str
    make: Callable[[random.Random], Part]
    file: str
    prepare: Callable[[Path], None]
    run: Callable[[Path, bytes], str]
    memory: int = 1024 * MIB
    own: tuple[str, ...] = ()
    seconds: float = 10
    share: int = 10
    outside: tuple[type[BaseException], ...] = ()


def perform_here(step: Step) -> None:
    """Run a step of a build in this process, with the settings that the plan gives it."""
    step.run()
