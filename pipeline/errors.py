"""How Romwright says no: one refusal is a Problem, and a ProjectError carries all that were found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One refusal, as an author reads it.

    Attributes:
        file: the file as the author knows it (relative to the project where possible).
        place: where in it: ``line 12, [sprite.ada] scale`` or ``pixel 3,4``; may be empty.
        wrong: what is wrong, with the value seen.
        remedy: what to do about it.
    """

    file: str
    place: str
    wrong: str
    remedy: str

    def __str__(self) -> str:
        where = f"{self.file}, {self.place}" if self.place else self.file
        return f"{where}: {self.wrong}\n    {self.remedy}"


class ProjectError(Exception):
    """Something the author can put right; printed without a traceback.

    Attributes:
        problems: every problem found, in file order; never empty.
    """

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self):
        # Exceptions are pickled when a worker process hands its failure to the parent.
        return (ProjectError, (self.problems,))


class BadAnswer(ProjectError):
    """The answer to a question, told whole, where the answer is that something is not well."""

    def __init__(self, told: str) -> None:
        Exception.__init__(self, told)
        self.problems = []

    def __reduce__(self):
        return (BadAnswer, (str(self),))


def refuse(file: object, place: str, wrong: str, remedy: str) -> ProjectError:
    """Return (not raise) a ProjectError with a single problem, so that callers read ``raise refuse(...)``."""
    return ProjectError(Problem(str(file), place, wrong, remedy))


def nearest_name(seen: str, known: Iterable[str]) -> str | None:
    """Return the known name most like the one seen, or None when nothing is close."""
    import difflib

    matches = difflib.get_close_matches(seen, sorted(known), n=1, cutoff=0.55)
    return matches[0] if matches else None
