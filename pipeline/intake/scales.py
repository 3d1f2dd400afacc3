"""How bad and how often, as forms put it, in an order. A form's own words are given in the project file."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.project.file import SEVERITIES
from pipeline.project.intake import same_heading

# What forms commonly say, the worst first; common practice, no source.
_SEVERITY = {
    "critical": "critical blocker crash crashes fatal severe 1",
    "major": "major high serious 2",
    "minor": "minor medium moderate low 3",
    "cosmetic": "cosmetic trivial tiny 4",
}
_SAID = {word: severity for severity, words in _SEVERITY.items() for word in words.split()}
_OFTEN = ("always", "every time", "often", "most times", "sometimes", "now and then", "rarely", "seldom", "once", "only once")


def severity_rank(text: str, severities: Mapping[str, str]) -> int:
    """Return 0 for the worst to 3, or 4 for what is not understood; ``severities`` holds the form's own words."""
    plain = same_heading(text)
    own = {same_heading(said): severity for said, severity in severities.items()}
    found = own.get(plain) or _SAID.get(plain)
    return SEVERITIES.index(found) if found else len(SEVERITIES)


def often_rank(text: str, frequencies: list[str]) -> int:
    """Return 0 for what happens most often, and so on; one more than the last for what is not understood."""
    words = [same_heading(one) for one in frequencies or _OFTEN]
    plain = same_heading(text)
    return words.index(plain) if plain in words else len(words)


def most_said(ranks: list[int], unknown: int) -> int:
    """Return the rank said most often among those understood, the worse of two said equally often; else ``unknown``."""
    known = [rank for rank in ranks if rank != unknown]
    return min(set(known), key=lambda rank: (-known.count(rank), rank)) if known else unknown
