"""Checks of sounds, levels and programs."""

from __future__ import annotations

from pathlib import Path

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.model import Asset, LoadedProject

_ENDINGS = (".csv", ".txt", ".png")


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


def check_level(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a level."""
    path, spec = ("level", asset.name), asset.spec
    if (spec.file is None) == (spec.picture is None) and asset.name not in document.broken:
        document.say(path, "has both file and picture" if spec.file else "has neither file nor picture", "give one of them")
    if spec.picture is not None and spec.set is None:
        document.say((*path, "set"), "is missing: the background whose tiles the picture shows", "name it, or give a file of numbers")
    _check_tile_set(document, project, path, spec.set)
    if spec.file is not None and Path(spec.file).suffix.lower() not in _ENDINGS:
        wrong = f"{spec.file!r} has the ending of neither a text nor an indexed picture"
        document.say((*path, "file"), wrong, f"name a file that ends in {', '.join(_ENDINGS[:-1])} or {_ENDINGS[-1]}")
    least, most = spec.limits
    if least > most:
        document.say((*path, "bounds"), f"{least} is above {most}", "write the smallest number first, for example [0, 63]")
    elif most >= 256**spec.cell_bytes:
        document.say((*path, "bounds"), f"{most} does not fit a cell of {spec.cell_bytes} byte", "set cell_bytes = 2, or a smaller bound")


def _check_tile_set(document: Document, project: LoadedProject, path: tuple, name: str | None) -> None:
    if name is None or name in document.broken:
        return
    known = project.spec.background
    if name not in known:
        near = nearest_name(name, known)
        remedy = f"did you mean {near}?" if near else "name a background of tiles"
        document.say((*path, "set"), f"there is no background {name!r}", remedy)
    elif known[name].arrangement != "tiles":
        document.say((*path, "set"), f"{name!r} is a bitmap and has no tiles", 'set arrangement = "tiles" there, or name another')
