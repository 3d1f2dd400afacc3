"""Checks of sprites whose pieces are prepared for drawing, or whose cells are in runs."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.project.model import Asset, LoadedProject


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
