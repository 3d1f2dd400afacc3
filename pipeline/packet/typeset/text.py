"""The packet's fixed wording: a message file, looked through for what only the packet can know, filled in with plain values."""

from __future__ import annotations

from typing import Any
from xml.sax.saxutils import escape

from pipeline.packet.content.content import clean
from pipeline.packet.content.filled import Wording
from pipeline.packet.typeset.letters import say_letter, texts_of, unknown_letter
from pipeline.plain.checked import Document
from pipeline.plain.errors import ProjectError
from pipeline.plain.rendering import render_text
from pipeline.project.wording import MODEL, Messages, names_in


def mark(text: str) -> str:
    """Return a text as paragraph markup that shows just that text."""
    return escape(clean(text)).replace("\n", "<br/>")


def load_wording(messages: Messages, values: dict[str, Any]) -> Wording:
    """Return the wording of a packet.

    Args:
        values: what the texts may name; ``phase`` is replaced by its word in the packet's language.

    Raises:
        ProjectError: characters the fonts lack, or texts that cannot be filled in; all are named.
    """
    document = messages.document
    for path, text in texts_of(document.data):
        _check_text(document, path, text, values)
    document.finish()
    return Wording(messages, values)


def _check_text(document: Document, path: tuple, text: str, values: dict[str, Any]) -> None:
    letter = unknown_letter(text)
    if letter:
        say_letter(document, path, text, letter)
    try:
        # All at once and here: raised while a page is drawn, an error would lose its words in the library.
        # Values that only some texts are given are not known yet; a placeholder replaces them.
        render_text(text, document.shown, {**dict.fromkeys(names_in(text), 1), **values})
    except ProjectError as error:
        document.say(path, error.problems[0].wrong, f"correct the text, or copy it from the shipped {MODEL}")
