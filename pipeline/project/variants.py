"""Variants, other colours at the numbers of a palette: what they have from that palette, and their checks."""

from __future__ import annotations

from typing import Any

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import listed
from pipeline.project.assets import Palette
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.records import pixel_base

_OF_BASE, _NOT_OF_VARIANT = ("transparent", "lines", "colours"), ("locked", "locked_file", "exact", "order")
_PLACES_NAMED = 4  # in a message


def variant_keys(data: dict[str, Any]) -> dict[str, set[str]]:
    """Return the variants among a project file's palettes with the keys that each has itself, before any defaults."""
    palettes = data.get("palette")
    tables = palettes.items() if isinstance(palettes, dict) else ()
    return {name: set(own) for name, own in tables if isinstance(own, dict) and "variant_of" in own}


def complete_variants(data: dict[str, Any], variants: dict[str, set[str]]) -> None:
    """Give variants the keys of their palettes in place of defaults; what a variant has itself remains, to be taken or refused.

    Args:
        data: of the project file, with defaults applied.
        variants: what ``variant_keys`` returned before that.
    """
    for name, own in variants.items():
        palettes = data["palette"]
        base = palettes.get(palettes[name]["variant_of"]) if isinstance(palettes[name]["variant_of"], str) else None
        table = {key: value for key, value in palettes[name].items() if key in own or key not in ("first", *_OF_BASE, *_NOT_OF_VARIANT)}
        given = base if isinstance(base, dict) and "variant_of" not in base else {}
        palettes[name] = {**{key: given[key] for key in ("first", *_OF_BASE) if key in given}, **table}


def check_variant(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a variant: what it varies, where its colours come from, who wears it, where it is loaded."""
    path, spec = ("palette", asset.name), asset.spec
    base = project.spec.palette.get(spec.variant_of)
    if base is None:
        if spec.variant_of not in document.broken:
            near = nearest_name(spec.variant_of, project.spec.palette)
            remedy = f"did you mean {near}?" if near else "name a palette of this project"
            document.say((*path, "variant_of"), f"there is no palette {spec.variant_of!r}", remedy)
        return
    if base.variant_of or spec.variant_of == asset.name:
        itself = spec.variant_of == asset.name
        wrong = "a palette is not a variant of itself" if itself else f"{spec.variant_of!r} is a variant itself"
        remedy = "name a palette that is not a variant" if itself or base.variant_of == asset.name else f"name {base.variant_of}"
        document.say((*path, "variant_of"), wrong, remedy)
        return
    _check_keys(document, path, spec, base)
    users = {user.name: user for user in project.users_of(spec.variant_of)}
    for rank, name in enumerate(spec.worn_by):
        if name not in users and name not in document.broken:
            near = nearest_name(name, users)
            remedy = f"did you mean {near}?" if near else f"name assets whose palette is {spec.variant_of}"
            document.say((*path, "worn_by", rank), f"{name!r} does not have the palette {spec.variant_of!r}", remedy)
    _check_first(document, project, asset, base)


def _check_keys(document: Document, path: tuple, spec: Palette, base: Palette) -> None:
    plain = Palette()
    for key in _OF_BASE:
        if getattr(spec, key) != getattr(base, key):
            document.say((*path, key), "comes from the palette it varies", "leave it out")
    for key in _NOT_OF_VARIANT:
        if getattr(spec, key) != getattr(plain, key):
            document.say((*path, key), "does not go with variant_of", "leave it out")
    made = [key for key in ("replace", "hue", "lightness", "chroma") if getattr(spec, key) != getattr(plain, key)]
    if spec.file and made:
        document.say((*path, made[0]), "the variant's colours are taken from a file", f"put them into the file, or leave {made[0]} out")
    elif not spec.file and not made:
        document.say(path, "changes no colour of its palette", "give it a file, replace, hue, lightness or chroma")


def _check_first(document: Document, project: LoadedProject, asset: Asset, base: Palette) -> None:
    """Note a place in the console's palette from which no pixel of the art would find its colours, or that is outside."""
    path, first = ("palette", asset.name, "first"), asset.spec.first
    if first >= project.target.palette.entries:
        document.say(path, f"entry {first} leaves the console's {project.target.palette.entries}", "start lower")
        return
    formats = project.target.pixel_formats
    names = {project.pixel_format(user) for user in project.users_of(asset.spec.variant_of)} & formats.keys()
    for bits in sorted({formats[name].pixel.bits("I") for name in names} - {0}):
        if pixel_base(first, bits) != pixel_base(base.first, bits):
            step, entries = 1 << bits, project.target.palette.entries
            others = [place for place in range(base.first % step, entries, step) if place != base.first]
            remedy = f"leave it out; no others of {entries} entries have these numbers"
            if others:
                remedy = f"leave it out, or write {_either(others)}"
            wrong = f"pixels of {bits} bits count from entry {base.first} of the console's palette, and do not find colours from {first} on"
            document.say(path, wrong, remedy)
            return


def _either(places: list[int]) -> str:
    """Return some places to choose from: ``0, 32 or 48``; of many, those at the start."""
    some = [str(place) for place in places[:_PLACES_NAMED]]
    return listed(some, "or") if len(places) <= _PLACES_NAMED else listed([*some, "so on"])
