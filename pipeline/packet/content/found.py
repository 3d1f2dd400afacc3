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


def _shown(names: list[str]) -> list[str]:
    """Return names as a tester reads them: ``ada (blink)`` for an animation."""
    return [clean(f"{name} ({part})" if part else name) for name, _, part in (one.partition("/") for one in names)] or [""]
