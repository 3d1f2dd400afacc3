"""Checks of sounds and programs."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.project.model import Asset, LoadedProject


def check_sound(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a sound."""
    path, spec, rules = ("sound", asset.name), asset.spec, project.target.sound
    if spec.format and spec.format not in rules.formats:
        document.say((*path, "format"), f"{project.target.name} does not play {spec.format}", f"use {', '.join(rules.formats)}")
    if spec.rate and spec.rate > rules.max_rate:
        document.say((*path, "rate"), f"{spec.rate} Hz is above the target's {rules.max_rate} Hz", "choose a lower rate")


def check_program(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a program."""
    path, spec = ("program", asset.name), asset.spec
    fixed = spec.address is not None or project.target.cartridge.banks is not None
    if spec.command and fixed and spec.reserve is None:
        remedy = "set reserve to the most it may take"
        document.say((*path, "reserve"), "is missing: the room of a built program with a fixed place or banks", remedy)
    elif asset.name in [one.name for one in project.of_kind("program") if one.spec.command and one.spec.reserve is None][1:]:
        document.say((*path, "reserve"), "is missing: only one built program may be of unknown size", "set reserve to the most it may take")
    if spec.reserve and spec.reserve % project.alignment(asset):
        wrong = f"{spec.reserve} is not a multiple of the alignment {project.alignment(asset)}"
        document.say((*path, "reserve"), wrong, "round it up")
