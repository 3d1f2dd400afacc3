"""Checks of notes: whose frames they are about, where they are written, and the words they may use."""

from __future__ import annotations

from pathlib import Path

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.art import is_picture
from pipeline.project.model import Asset, LoadedProject

_LISTS = ("boxes", "points", "numbers", "events")


def check_notes(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with notes on a sprite."""
    path, spec, sprites = ("notes", asset.name), asset.spec, project.spec.sprite
    if spec.of not in sprites and spec.of not in document.broken:
        near = nearest_name(spec.of, sprites)
        remedy = f"did you mean {near}?" if near else "name a sprite of the project"
        document.say((*path, "of"), f"there is no sprite {spec.of!r}", remedy)
    if spec.file is None and spec.layer is None:
        document.say(path, "has neither file nor layer", "name a notes file, or the pictures of a layer")
    if spec.file is not None and Path(spec.file).suffix.lower() != ".toml":
        document.say((*path, "file"), f"{spec.file!r} is not a TOML file", "name a file that ends in .toml")
    if spec.layer is not None and not is_picture(spec.layer):
        document.say((*path, "layer"), f"{spec.layer!r} does not name pictures", "write a pattern such as art/ada_notes/*.png")
    if spec.layer is not None and not project.spec.note_kinds.colours:
        remedy = "say which colour marks what, for example colours = { body = \"#00ff00\" }"
        document.say(("note_kinds", "colours"), f"{asset.name!r} has a layer, and no colour marks anything", remedy)


def check_note_kinds(document: Document, project: LoadedProject) -> None:
    """Note words of notes that are not alone, and colours that mark nothing or two things."""
    kinds, seen = project.spec.note_kinds, dict[str, str]()
    for key in _LISTS:
        for rank, word in enumerate(getattr(kinds, key)):
            if word in seen:
                document.say(("note_kinds", key, rank), f"{word!r} is already one of {seen[word]}", "give it another name")
            seen.setdefault(word, key)
    marked: dict[str, str] = {}
    for word, colour in kinds.colours.items():
        path = ("note_kinds", "colours", word)
        if seen.get(word) not in ("boxes", "points"):
            near = nearest_name(word, [*kinds.boxes, *kinds.points])
            remedy = f"did you mean {near}?" if near else "only boxes and points are drawn; numbers and events go into a notes file"
            document.say(path, f"{word!r} is not a box or point", remedy)
        if colour.lower() in marked:
            document.say(path, f"{colour} already marks {marked[colour.lower()]}", "give each its own colour")
        marked.setdefault(colour.lower(), word)
