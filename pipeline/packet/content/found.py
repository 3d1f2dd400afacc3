"""What testers read about what was found in the game, in the words of a message file."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.joints.found.findings import Said
from pipeline.packet.content.content import clean
from pipeline.packet.content.filled import Wording


def found_pairs(said: Iterable[Said], words: Wording) -> list[tuple[str, str]]:
    """Return (name, text) of each text that is not empty: keys of the table ``found``, with the names that they give."""
    texts = [words.text(f"found.{one.key}", names=words.listed(_shown(one.names))) for one in said]
    return [(words.text("found.name"), text) for text in texts if text]


def all_cautions(own: Iterable[str], said: Iterable[Said], words: Wording) -> list[tuple[str, str]]:
    """Return (name, text) of every caution: the author's, what was found, the usual ones; last what was measured and is good."""
    said = [*said]
    first = [(words.text("cautions.own"), text) for text in own]
    bad, good = (found_pairs([one for one in said if one.good == is_good], words) for is_good in (False, True))
    return [*first, *bad, *words.pairs("cautions.points"), *good]


def _shown(names: list[str]) -> list[str]:
    """Return names as a tester reads them: ``ada (blink)`` for an animation."""
    return [clean(f"{name} ({part})" if part else name) for name, _, part in (one.partition("/") for one in names)] or [""]
