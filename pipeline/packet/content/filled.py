"""The fixed wording of packet and notes, filled in with plain values."""

from __future__ import annotations

from typing import Any

from pipeline.packet.content.content import clean
from pipeline.plain.rendering import render_text
from pipeline.project.wording import Messages


class Wording:
    """The wording of one packet; keys are written ``table.key``.

    Attributes:
        values: what the texts may name; ``phase`` is its word in the language of the wording.
        numbers: how numbers and sizes are written in it.
    """

    def __init__(self, messages: Messages, values: dict[str, Any]) -> None:
        self.messages = messages
        self.values = {**values, "phase": messages.tables["phase"][values["phase"]]}
        self.numbers = messages.numbers

    def text(self, key: str, **more: Any) -> str:
        """Return one text, filled in, as plain text."""
        return self._fill(self._raw(key), more)

    def listed(self, words: list[str]) -> str:
        """Return words as a list in a sentence: ``a, b and c``."""
        last = self.text("thanks.and")
        return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else words[0]

    def texts(self, key: str) -> list[str]:
        """Return a list of texts, filled in; empty ones are left out."""
        return [text for text in (self._fill(raw, {}) for raw in self._raw(key)) if text]

    def pairs(self, key: str) -> list[tuple[str, str]]:
        """Return a list of (name, text), filled in."""
        return [(self._fill(name, {}), self._fill(text, {})) for name, text in self._raw(key)]

    def _raw(self, key: str) -> Any:
        table, _, name = key.partition(".")
        return self.messages.tables[table][name]

    def _fill(self, raw: str, more: dict[str, Any]) -> str:
        return clean(render_text(raw, self.messages.shown, {**self.values, **more}))
