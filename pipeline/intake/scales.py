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
# Most often first; a packet's report page says some of these, in its language.
_OFTEN = (
    ("always", "every time", "immer", "jedes mal"),
    ("often", "most times", "oft", "meistens"),
    ("sometimes", "now and then", "manchmal", "ab und zu"),
    ("rarely", "seldom", "selten"),
    ("once", "only once", "einmal", "nur einmal"),
)


def severity_rank(text: str, severities: Mapping[str, str]) -> int:
    """Return 0 for the worst to 3, or 4 for what is not understood; ``severities`` holds the form's own words."""
    plain = same_heading(text)
    own = {same_heading(said): severity for said, severity in severities.items()}
    found = own.get(plain) or _SAID.get(plain)
    return SEVERITIES.index(found) if found else len(SEVERITIES)


def often_rank(text: str, frequencies: list[str]) -> int:
    """Return 0 for what happens most often, and so on; one more than the last for what is not understood."""
    own, plain = [same_heading(one) for one in frequencies], same_heading(text)
    if plain in own:
        return own.index(plain)
    common = next((rank for rank, words in enumerate(_OFTEN) if plain in words), None)
    if not own:
        return len(_OFTEN) if common is None else common
    return len(own) if common is None else common * (len(own) - 1) // (len(_OFTEN) - 1)


def most_said(ranks: list[int], unknown: int) -> int:
    """Return the rank said most often among those understood, the worse of two said equally often; else ``unknown``."""
    known = [rank for rank in ranks if rank != unknown]
    return min(set(known), key=lambda rank: (-known.count(rank), rank)) if known else unknown
