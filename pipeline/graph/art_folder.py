"""The step that brings a folder of art into a project, and what the words of the command line say about it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from pipeline.graph.steps.handed import Found, Kept
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step


class ArtWords(NamedTuple):
    """What a command line says: the folder of art, as it was written too, and whether art is read where it is."""

    source: Path | None
    written: str
    link: bool


def art_words(words: dict[str, str]) -> ArtWords:
    """Return what ``from`` and ``link`` say; empty where not given."""
    named = words.get("from", "")
    source = Path(os.path.abspath(os.path.expanduser(named))) if named else None  # neither fails, whatever was written
    return ArtWords(source, named, words.get("link", "") not in ("", "no"))


def bring_step(site: Site, words: dict[str, str]) -> Step:
    """Return ``bring``, which reads the whole project: what it has already is known by content.

    Args:
        words: of the command line: ``from``, ``link``, ``write``; empty where not given.
    """
    asked = art_words(words)
    arguments = {
        "folder": Kept(site.folder),
        "picture": Kept(site.build / "found.png"),
        "budget": Found(site.budget),
        "source": Found(asked.source),
        "source_written": asked.written,
        "link": asked.link,
        "add": words.get("write", "") not in ("", "no"),
    }
    doc = "show what the art in from=FOLDER would add to the project; write=yes adds it"
    return Step("bring", "pipeline.bringing.bring:show_found", arguments, always=True, doc=doc)
