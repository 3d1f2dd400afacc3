"""Checks of fonts: keys of an outline font and of a strip, and what a strip's order may hold; and of texts in their characters."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.art import PICTURES, is_picture, strip_order
from pipeline.project.assets import Font
from pipeline.project.loading.art import check_art
from pipeline.project.loading.sheets import check_key
from pipeline.project.model import Asset, LoadedProject

_LANGUAGE = re.compile(r"[a-z][a-z0-9_]{0,15}")
_OUTLINES = (".ttf", ".otf")
_OF_OUTLINES = ("size", "colour")
_OF_PICTURES = ("key", "cell", "order", "gap", "space", "baseline")


def check_font(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a font."""
    check_art(document, project, asset)
    check_key(document, ("font", asset.name), asset.spec)
    path, spec, target = ("font", asset.name), asset.spec, project.target
    if Path(spec.file).suffix.lower() not in (*_OUTLINES, *PICTURES):
        remedy = f"name a font ({', '.join(_OUTLINES)}) or a picture of letters (.png, .gif, .bmp and others)"
        document.say((*path, "file"), f"{spec.file!r} has the ending of neither a font nor a picture", remedy)
        return
    if is_picture(spec.file):
        _check_strip(document, path, spec)
    else:
        _check_outline(document, path, spec, used=_may_be_used(project, asset.name))
    pixels = target.pixel_formats.get(project.pixel_format(asset))
    if spec.box and pixels and pixels.order != "rows":
        across, down = target.cells.width, target.cells.height
        if spec.box[0] % across or spec.box[1] % down:
            wrong = f"{spec.box[0]} x {spec.box[1]} pixels are not whole cells of {across} x {down}"
            document.say((*path, "box"), wrong, "use a multiple of the cell, or leave it out")


def _may_be_used(project: LoadedProject, font: str) -> bool:
    """Return whether texts name a font, or one that is not there: it may be this one, misspelt, which is said at the text."""
    named = {text.font for text in project.spec.text.values() if text.font is not None}
    return font in named or not named <= project.spec.font.keys()


def check_text(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with the languages and the font of texts."""
    path, spec = ("text", asset.name), asset.spec
    if not spec.languages:
        document.say((*path, "languages"), "is empty", 'name a file for each, for example { en = "text/en.toml" }')
    for language in spec.languages:
        if not _LANGUAGE.fullmatch(language):
            remedy = "small letters, digits and underscores, a letter first, 16 at most; for example en_gb"
            document.say((*path, "languages", language), f"{language!r} is not a valid name", remedy)
    if spec.font is not None and spec.font not in project.spec.font and spec.font not in document.broken:
        near = nearest_name(spec.font, project.spec.font)
        remedy = f"did you mean {near}?" if near else "add a [font.NAME] table and name it here"
        document.say((*path, "font"), f"there is no font {spec.font!r}", remedy)
    if spec.width is not None and spec.font is None:
        remedy = "name a font, whose characters have widths, or leave width out"
        document.say((*path, "width"), "is given, and no font says how wide characters are", remedy)


def _check_outline(document: Document, path: tuple, spec: Font, used: bool) -> None:
    _refuse_others(document, path, spec, _OF_PICTURES, "a strip of letters, this is a font file")
    if spec.size is None:
        document.say((*path, "size"), "is missing: the size to draw the font at", "add it, for example: size = 10")
    if not spec.characters and not spec.texts and not used:
        remedy = "list characters, or the game's text files under texts; or name the font in a [text.NAME]"
        document.say((*path, "characters"), "is missing: which characters the game needs", remedy)


def _check_strip(document: Document, path: tuple, spec: Font) -> None:
    _refuse_others(document, path, spec, _OF_OUTLINES, "a font file, this is a strip of letters")
    if spec.spacing == "fixed":
        _refuse_others(document, path, spec, ("gap", "space"), "proportional spacing, this is fixed")
    if spec.cell is None:
        document.say((*path, "cell"), "is missing: the size of one letter's cell", "add it, for example: cell = [8, 8]")
    elif spec.cell and spec.baseline is not None and spec.baseline > spec.cell[1]:
        document.say((*path, "baseline"), f"{spec.baseline} lies below the cell's {spec.cell[1]} rows", "count from the cell's top")
    order = strip_order(spec)
    if not order:
        document.say((*path, "order"), "is missing: the strip's characters in reading order", "add it, for example: order = \"ABC\"")
    twice = [character for character, count in Counter(order).items() if count > 1]
    if twice:
        remedy = "name each cell's character once; for a cell that is not used take one no text needs"
        document.say((*path, "order"), f"{''.join(twice)!r} occurs twice" if len(twice) == 1 else f"{''.join(twice)!r} occur twice", remedy)


def _refuse_others(document: Document, path: tuple, spec: Font, keys: tuple[str, ...], what: str) -> None:
    for key in keys:
        if getattr(spec, key) not in (None, ""):
            document.say((*path, key), f"is for {what}", "leave it out")
