"""What testers read about what was found in the game, in the words of a message file."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.joints.found.findings import Said
from pipeline.packet.content.content import clean
from pipeline.packet.content.filled import Wording


def found_texts(said: Iterable[Said], words: Wording) -> tuple[list[str], list[str]]:
    """Return the texts of the table ``found`` that are not empty, with the names that they give: warnings, and what is good."""
    found: tuple[list[str], list[str]] = [], []
    for one in said:
        text = words.text(f"found.{one.key}", names=words.listed(_shown(one.names)))
        if text:
            found[one.good].append(text)
    return found


def all_cautions(own: Iterable[str], said: Iterable[Said], words: Wording) -> list[tuple[str, str]]:
    """Return (name, text) of every caution: the author's, what was found, the usual ones; last what was measured and is good."""
    first = [(words.text("cautions.own"), text) for text in own]
    bad, good = ([(words.text("found.name"), text) for text in texts] for texts in found_texts(said, words))
    return [*first, *bad, *words.pairs("cautions.points"), *good]


def _shown(names: list[str]) -> list[str]:
    """Return names as a tester reads them: ``ada (blink)`` for an animation."""
    return [clean(f"{name} ({part})" if part else name) for name, _, part in (one.partition("/") for one in names)] or [""]
