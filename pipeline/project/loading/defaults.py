"""Defaults: what ``[defaults.KIND]`` gives to every asset of a kind that does not say otherwise."""

from __future__ import annotations

from typing import Any

from pipeline.plain.checked import Document, check_part
from pipeline.project.art import NOT_WITH_FILE, SIZES
from pipeline.project.model import ASSET_RECORDS
from pipeline.project.variants import complete_variants, variant_keys


def check_sizes(document: Document, path: tuple, given: dict[str, Any]) -> bool:
    """Note when a raw table gives both keys that say how large art becomes; return whether it does."""
    both = given.keys() >= SIZES
    if both:
        document.say((*path, "height"), "scale is given as well", "give scale or height, not both")
    return both


def apply_defaults(document: Document) -> None:
    """Complete every asset's raw table with the keys of its kind's defaults."""
    variants = variant_keys(document.data)
    defaults = document.data.get("defaults")
    _apply(document, defaults if isinstance(defaults, dict) else {})
    complete_variants(document.data, variants)


def _apply(document: Document, defaults: dict[str, Any]) -> None:
    for kind, given in defaults.items():
        assets = document.data.get(kind)
        assets = assets if isinstance(assets, dict) else {}
        if kind not in ASSET_RECORDS or not isinstance(given, dict):
            continue
        right = check_part(document, ("defaults", kind), given, ASSET_RECORDS[kind])
        if check_sizes(document, ("defaults", kind), right):
            right = {key: value for key, value in right.items() if key not in SIZES}
        for name, own in assets.items():
            if isinstance(own, dict):
                # If an asset sets one key of a pair itself, that replaces the pair.
                taken = set(SIZES) if SIZES & own.keys() else set()
                if kind == "palette" and "file" in own:
                    taken.update(NOT_WITH_FILE)
                assets[name] = {**{key: value for key, value in right.items() if key not in taken}, **own}
