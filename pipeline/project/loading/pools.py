"""Checks of sprites in pieces and of pools: how pieces are stored, who puts cells into a pool, and whether all of them can share."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.records import pixel_base


def check_pool(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note that no sprite uses a pool."""
    if not project.sprites_in(asset.name) and not document.broken:
        document.say(("pool", asset.name), "no sprite uses it", "name it in a sprite in pieces, or remove it")


def check_pool_user(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note why a sprite cannot have its cells in the pool it names."""
    path, name = ("sprite", asset.name, "pool"), asset.spec.pool
    if not name:
        return
    if asset.spec.arrangement != "pieces":
        remedy = "set arrangement = \"pieces\", or pool = \"\""
        document.say(path, f"arrangement {asset.spec.arrangement!r} has no cells that a pool could hold", remedy)
    if name in document.broken:
        return
    if name not in project.spec.pool:
        near = nearest_name(name, project.spec.pool)
        document.say(path, f"there is no pool {name!r}", f"did you mean {near}?" if near else "add a [pool.NAME] table and name it here")
        return
    first = project.sprites_in(name)[0]
    own, others = _pixels(project, asset), _pixels(project, first)
    if own and others and own != others:
        wrong = f"{name!r} would hold {_format_text(own)} of {asset.name!r} and {_format_text(others)} of {first.name!r}"
        document.say(path, wrong, "give both one pixel format, and palettes that begin at the same pixel value; or use two pools")


def check_draws(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note why a sprite's pieces cannot be stored as it asks."""
    spec, path = asset.spec, ("sprite", asset.name)
    for key, usual in (("prepared", "none"), ("prefer", "bytes")):
        if spec.arrangement != "pieces" and getattr(spec, key) != usual:
            wrong = f"arrangement {spec.arrangement!r} has no pieces"
            document.say((*path, key), wrong, f'set arrangement = "pieces", or leave {key} out')
    if spec.prepared == "commands" and not project.target.sprites.commands:
        wrong = f"{project.target.name} says nothing about commands"
        document.say((*path, "prepared"), wrong, 'use prepared = "cells", or give [sprites] of the target its commands')
    if spec.prefer == "transfers" and spec.pool:
        wrong = f"the cells are in the pool {spec.pool!r}, which stores equal ones once"
        document.say((*path, "prefer"), wrong, "leave out pool, or prefer")


def _pixels(project: LoadedProject, asset: Asset) -> tuple[str, int] | None:
    """Return a sprite's pixel format and what a transparent pixel holds; None where that is wrong in itself."""
    name, palette = project.pixel_format(asset), project.spec.palette.get(asset.spec.palette or "")
    if name not in project.target.pixel_formats or palette is None:
        return None
    bits = project.target.pixel_formats[name].pixel.bits("I")
    return (name, pixel_base(palette.first, bits)) if bits else None


def _format_text(pixels: tuple[str, int]) -> str:
    return f"{pixels[0]} pixels from {pixels[1]}"
