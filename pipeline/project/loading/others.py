"""Checks of sounds, levels, programs and [burn]: devices there are, forms named once, addresses that are the image's."""

from __future__ import annotations

from pathlib import Path

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import listed, show_size
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.burn_devices import device_sizes
from pipeline.target.fields import program_fields

_ENDINGS = (".csv", ".txt", ".png")


def check_sound(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a sound."""
    path, spec, rules = ("sound", asset.name), asset.spec, project.target.sound
    if spec.format and spec.format not in rules.formats:
        document.say((*path, "format"), f"{project.target.name} does not play {spec.format}", f"use {', '.join(rules.formats)}")
    if spec.rate and spec.rate > rules.max_rate:
        document.say((*path, "rate"), f"{spec.rate} Hz is above the target's {rules.max_rate} Hz", "choose a lower rate")
    if spec.dither != "none" and (spec.format or rules.formats[0]) in ("ulaw", "alaw", "adpcm"):
        wrong = f"{spec.dither!r} has no effect on {spec.format or rules.formats[0]}, whose steps are not even"
        document.say((*path, "dither"), wrong, "leave it out")
    if spec.mix is not None and spec.mix not in project.spec.mix and spec.mix not in document.broken:
        near = nearest_name(spec.mix, project.spec.mix)
        remedy = f"did you mean {near}?" if near else "add a [mix.NAME] table and name it here"
        document.say((*path, "mix"), f"there is no mix {spec.mix!r}", remedy)


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
    check_bank(document, project, asset)
    _check_reached(document, project, asset)


def check_bank(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with the bank that an asset names."""
    banks, bank, path = project.target.cartridge.banks, asset.spec.bank, (asset.kind, asset.name, "bank")
    if bank is None:
        return
    if banks is None:
        document.say(path, f"{bank!r}, but the cartridge of {project.target.name} has no banks", "leave it out")
        return
    largest = project.spec.game.cartridge or project.target.cartridge.sizes[-1]
    if isinstance(bank, int) and bank >= largest // banks.size:
        wrong = f"{bank} is not one of the {largest // banks.size} banks of a cartridge of {show_size(largest)}"
        document.say(path, wrong, f"use 0 to {largest // banks.size - 1}")


def _check_reached(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Refuse the program that the console starts in a bank that is not there then, unless the header says which to switch in."""
    banks, bank, about = project.target.cartridge.banks, asset.spec.bank, program_fields(project.target)
    said = any(one.value == "program.bank" for one in project.target.header.fields)
    if banks is None or bank is None or not about or said or asset.name != project.header_program():
        return
    if bank == "any" or bank >= banks.fixed:
        seen = "bank 0 is" if banks.fixed == 1 else f"banks 0 to {banks.fixed - 1} are"
        wrong = f"{bank!r}: the header's {listed(about)} start this program, and only {seen} there when the console is switched on"
        remedy = 'leave bank out, or add a header field with value = "program.bank" to the target for what switches the bank in'
        document.say((asset.kind, asset.name, "bank"), wrong, remedy)


def check_data(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with data."""
    check_bank(document, project, asset)


def check_level(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a level."""
    path, spec = ("level", asset.name), asset.spec
    if (spec.file is None) == (spec.picture is None) and asset.name not in document.broken:
        document.say(path, "has both file and picture" if spec.file else "has neither file nor picture", "give one of them")
    if spec.picture is not None and spec.set is None:
        wrong = "is missing: the background or sprite whose tiles or frames the picture shows"
        document.say((*path, "set"), wrong, "name it, or give a file of numbers")
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
    if name in project.spec.sprite:
        return
    if name not in known:
        near = nearest_name(name, [*known, *project.spec.sprite])
        remedy = f"did you mean {near}?" if near else "name a background of tiles, or a sprite whose frames are the tiles"
        document.say((*path, "set"), f"there is no background or sprite {name!r}", remedy)
    elif known[name].arrangement != "tiles":
        document.say((*path, "set"), f"{name!r} is a bitmap and has no tiles", 'set arrangement = "tiles" there, or name another')


def check_burn(document: Document, project: LoadedProject) -> None:
    """Note every problem of the table for burning, beside the target."""
    burn = project.spec.burn
    if burn is None:
        return
    if not burn.forms:
        document.say(("burn", "forms"), "is empty", "name at least one form, or remove [burn]")
    for form in sorted({form for form in burn.forms if burn.forms.count(form) > 1}):
        document.say(("burn", "forms"), f"{form} is there twice", "name each form once")
    for form in dict.fromkeys(burn.forms):
        sizes = device_sizes(form)
        if burn.device is not None and burn.device not in sizes:
            known = ", ".join(show_size(size) for size in sizes)
            document.say(("burn", "device"), f"no device of {show_size(burn.device)} is known for {form}", f"the sizes are {known}")
    if burn.addresses != "from 0" and project.target.cartridge.banks:
        wrong = f"{project.target.name} sees its cartridge through a window, so that addresses of banks are alike"
        document.say(("burn", "addresses"), wrong, 'set addresses = "from 0", or leave it out')
