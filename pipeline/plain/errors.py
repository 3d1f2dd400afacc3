"""How Romwright says no: one refusal is a Problem, and a ProjectError carries all that were found."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

MOST_SHOWN = 100  # problems listed at once; the rest are counted
_LONGEST = 1000  # characters of one part of a message
_LONGEST_NAME = 300


def shown(text: object, most: int = _LONGEST) -> str:
    """Return a text as one line of at most about ``most`` characters, in which everything can be seen.

    Whatever changes how the text around it is shown becomes an escape such as ``\\n``, ``\\x1b`` or ``\\u202e``: control and
    format characters, line separators, lone surrogates, characters without a meaning (Unicode Cc, Cf, Zl, Zp, Cs, Co, Cn).
    Of a longer text the middle is left out, since what is wrong is at either end.
    """
    text = str(text)
    if len(text) > most:
        head, tail = text[: most * 2 // 3], text[len(text) - most // 4 :]
        return f"{shown(head, most)} ... ({len(text) - len(head) - len(tail):,} characters left out) ... {shown(tail, most)}"
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() or unicodedata.category(char) == "Zs" else _escape(char) for char in text)


def shown_lines(text: str, most: int = _LONGEST, lines: int | None = None) -> str:
    """Return a text of several lines with each as ``shown`` returns it, and at most ``lines`` of them."""
    every = text.split("\n")
    kept = [shown(line.rstrip("\r"), most) for line in every[:lines]]
    return "\n".join([*kept, f"... and {len(every) - len(kept):,} more lines"] if len(kept) < len(every) else kept)


def _escape(char: str) -> str:
    return char.encode("unicode_escape").decode("ascii")


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
        where = ", ".join(shown(part, _LONGEST_NAME) for part in (self.file, self.place) if part)
        # What a program printed is set below, each line indented; a newline of the author's own text begins no line.
        wrong = "\n ".join(shown(line) for line in self.wrong.split("\n "))
        return f"{where}: {wrong}\n    {shown(self.remedy)}"


class ProjectError(Exception):
    """Something the author can correct; printed without a traceback.

    Attributes:
        problems: every problem found, in file order; never empty.
    """

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        texts = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        more = len(self.problems) - len(texts)
        super().__init__("\n".join([*texts, f"and {more:,} more"] if more else texts))

    def __reduce__(self):
        # Exceptions are pickled when a worker process hands its failure to the parent.
        return (ProjectError, (self.problems,))


class BadAnswer(ProjectError):
    """The whole answer to a question, if the answer is that something is wrong."""

    def __init__(self, texts: str) -> None:
        Exception.__init__(self, texts)
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
