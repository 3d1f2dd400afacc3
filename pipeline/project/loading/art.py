"""Checks of art: sprites, backgrounds, fonts as far as they are pictures, and palettes."""

from __future__ import annotations

import pipeline.project.assets as pa
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import counted
from pipeline.project.art import NOT_WITH_FILE, animation_frames
from pipeline.project.loading.defaults import check_sizes
from pipeline.project.loading.pools import check_draws, check_pool_user
from pipeline.project.loading.sheets import check_art_read, check_key, check_parts
from pipeline.project.loading.sources import IDENTIFIER
from pipeline.project.loading.tiles import check_lines, check_tiles
from pipeline.project.model import Asset, LoadedProject
from pipeline.project.variants import check_variant
from pipeline.target.records import pixel_base


def check_art(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with size, pixel format and palette of a sprite, background or font."""
    path, spec, target = (asset.kind, asset.name), asset.spec, project.target
    check_sizes(document, path, document.data[asset.kind][asset.name])
    name = project.pixel_format(asset)
    if name not in target.pixel_formats:
        known = ", ".join(target.pixel_formats)
        document.say((*path, "pixels"), f"unknown pixel format {name!r}", f"the formats of {target.name} are {known}")
        return
    pattern = target.pixel_formats[name].pixel
    if not pattern.bits("I"):
        if getattr(spec, "arrangement", "sheet") == "pieces":
            remedy = "use an indexed format, or arrangement = \"frames\""
            document.say((*path, "arrangement"), f"{name} is direct colour, pieces need a palette", remedy)
        if asset.kind in ("sprite", "font") and not pattern.bits("A"):
            remedy = "use a format with an A bit, or an indexed one with a palette that has transparent = true"
            document.say((*path, "pixels"), f"{name} has no bit for transparent pixels", remedy)
        if spec.palette:
            document.say((*path, "palette"), f"{name} is direct colour and takes no palette", "leave palette out")
        return
    if spec.palette in document.broken:
        return
    if spec.palette not in project.spec.palette:
        near = nearest_name(spec.palette or "", project.spec.palette)
        wrong = f"there is no palette {spec.palette!r}" if spec.palette else f"{name} needs a palette"
        remedy = f"did you mean {near}?" if near else "add a [palette.NAME] table and name it here"
        document.say((*path, "palette"), wrong, remedy)
        return
    palette = project.spec.palette[spec.palette]
    if palette.variant_of:
        wrong = f"{spec.palette!r} is a variant of {palette.variant_of!r}"
        document.say((*path, "palette"), wrong, f"name {palette.variant_of}; the program loads the variant in its place")
        return
    if asset.kind in ("sprite", "font") and not palette.transparent:
        remedy = "set transparent = true in that palette"
        document.say((*path, "palette"), f"{spec.palette!r} keeps no entry for transparent pixels", remedy)
    room = (1 << pattern.bits("I")) - pixel_base(palette.first, pattern.bits("I"))
    if not palette.lines and palette.colours is not None and palette.colours > room:
        wrong = f"{palette.colours} colours from entry {palette.first} do not fit pixels of {pattern.bits('I')} bits"
        document.say((*path, "palette"), wrong, f"use at most {room} colours, or wider pixels")


def check_sprite(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a sprite."""
    check_art(document, project, asset)
    most = project.target.sprites.max_height
    if asset.spec.height is not None and asset.spec.height > most:
        wrong = f"{asset.spec.height} pixels, the target draws at most {most}"
        document.say(("sprite", asset.name, "height"), wrong, "set a smaller height, or split the figure")
    check_pool_user(document, project, asset)
    check_draws(document, project, asset)
    check_art_read(document, project, asset)
    names = project.frame_names(asset)
    for name, animation in asset.spec.animations.items():
        path = ("sprite", asset.name, "animations", name)
        if not IDENTIFIER.fullmatch(name):
            document.say(path, f"{name!r} is not a valid name", "use small letters, digits and underscores")
        durations = animation.ms if isinstance(animation.ms, list) else [animation.ms]
        longest = 65535 * 1000 / project.target.screen.refresh  # a step counts its pictures in 16 bits
        if not durations or not all(one > 0 for one in durations):
            document.say((*path, "ms"), "a duration must be above 0", "write milliseconds, for example 80")
        elif max(durations) > longest:
            document.say((*path, "ms"), f"a step takes at most {longest:.0f} ms", "write milliseconds, for example 80")
        if isinstance(animation.frames, str) and asset.spec.frames is None:
            if names == asset.files:
                remedy = "give frame numbers; only frames from single files, or with names in a boxes file, have names"
                document.say((*path, "frames"), f"{animation.frames!r} is a pattern over names of frames", remedy)
            else:
                _check_steps(document, path, animation, names)
        elif asset.files and asset.spec.frames is not None:
            _check_steps(document, path, animation, asset.files)


def check_background(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a background."""
    check_art(document, project, asset)
    check_key(document, ("background", asset.name), asset.spec)
    check_parts(document, asset)
    check_tiles(document, project, asset)


def _check_steps(document: Document, path: tuple, animation: pa.Animation, files: tuple[str, ...]) -> None:
    steps = animation_frames(animation, files)
    if not steps:
        document.say((*path, "frames"), f"no frame matches {animation.frames!r}", "check the pattern against the file names")
    for number in steps:
        if not 0 <= number < len(files):
            document.say((*path, "frames"), f"there is no frame {number}", f"frames are numbered 0 to {len(files) - 1}")
    if isinstance(animation.ms, list) and len(animation.ms) != len(steps):
        wrong = f"{counted(len(animation.ms), 'duration')} for {counted(len(steps), 'frame')}"
        document.say((*path, "ms"), wrong, "give one for each, or one number")


def check_palette(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a palette."""
    path, spec, entries = ("palette", asset.name), asset.spec, project.target.palette.entries
    if spec.variant_of is not None:
        check_variant(document, project, asset)
        return
    for key, plain in (("worn_by", []), ("replace", []), ("hue", 0.0), ("lightness", 1.0), ("chroma", 1.0)):
        if getattr(spec, key) != plain:
            document.say((*path, key), "the palette is not a variant", "name the palette it varies as variant_of, or leave it out")
    if spec.first >= entries or spec.first + (spec.colours or 0) > entries:
        wrong = f"entries {spec.first} to {spec.first + (spec.colours or 1) - 1} leave the console's {entries}"
        document.say((*path, "first"), wrong, "start lower, or use fewer colours")
    if not spec.file and not project.users_of(asset.name) and not document.broken:
        document.say(path, "no sprite, background or font uses it, and it has no file", "name it in an asset, or remove it")
    for key in NOT_WITH_FILE:
        if spec.file and getattr(spec, key):
            document.say((*path, key), "the palette is taken from a file", f"put the colours into the file, or leave {key} out")
    if spec.order == "file":
        _check_numbered(document, path, spec)
    check_lines(document, project, asset)


def _check_numbered(document: Document, path: tuple, spec: pa.Palette) -> None:
    if not spec.file:
        document.say((*path, "order"), "'file', and the palette is computed", "name an indexed PNG or a text palette as file")
    elif not spec.file.lower().endswith((".png", ".gpl", ".pal")):
        wrong = f"'file', and {spec.file!r} is not a kind of file whose numbers are read"
        document.say((*path, "order"), wrong, "save it as an indexed PNG or a text palette (.gpl, .pal), or leave order out")
