"""Checks across the parts of a project: title, palettes, links."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

import msgspec

import pipeline.project.assets as pa
from pipeline.joints.links import BUILD_DIGITS, LONGEST_TESTER, code_version, link_problem, report_link, with_tester
from pipeline.joints.notice import CHARACTER, code_problem
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import counted, show_size
from pipeline.project.art import animation_frames
from pipeline.project.boxes import frame_names
from pipeline.project.intake import check_intake
from pipeline.project.loading.burn import check_burn
from pipeline.project.loading.defaults import check_sizes
from pipeline.project.loading.fonts import check_font
from pipeline.project.loading.pads import check_pads
from pipeline.project.loading.pools import check_pool, check_pool_user
from pipeline.project.loading.scenes import check_scenes
from pipeline.project.loading.sheets import check_art_read, check_key
from pipeline.project.loading.sizes import check_sizes_of_files
from pipeline.project.loading.sources import IDENTIFIER
from pipeline.project.loading.tiles import check_lines, check_tiles
from pipeline.project.model import Asset, LoadedProject
from pipeline.project.plan import check_plan
from pipeline.project.wording import check_wording
from pipeline.target.fields import directory_place
from pipeline.target.kinds import KINDS
from pipeline.target.records import pixel_base


def check_project(document: Document, project: LoadedProject) -> None:
    """Note every problem that shows only when the parts of a project are seen together, or beside its target."""
    _check_game(document, project)
    _check_title(document, project)
    _check_links(document, project)
    for asset in project.assets.values():
        if asset.name not in document.broken:
            _check_asset(document, project, asset)
    check_sizes_of_files(document, project)
    check_pads(document, project.spec)
    check_scenes(document, project)
    check_burn(document, project)
    check_intake(document, project.spec.intake)
    check_plan(document, project.spec)
    check_wording(document, project.folder, project.spec.game.language)


def allowed(project: LoadedProject, assets: Iterable[Asset]) -> bool:
    """Return whether these assets might take the place of a checked project's of the same names.

    What a file says beside the records (both ``scale`` and ``height``) is not looked at, and nothing is converted.
    """
    changed = {asset.name: asset for asset in assets}
    whole = dataclasses.replace(project, assets=project.assets | changed)
    # A trial's project has its assets, and may have left out the tables they were read from.
    tables = {kind: {asset.name: asset.spec for asset in whole.of_kind(kind)} for kind in KINDS}
    whole = dataclasses.replace(whole, spec=msgspec.structs.replace(project.spec, **tables))
    document = Document("", {kind: dict.fromkeys(whole.assets, {}) for kind in KINDS}, {})
    for asset in changed.values():
        _check_asset(document, whole, asset)
    return not document.problems


def _check_asset(document: Document, project: LoadedProject, asset: Asset) -> None:
    _CHECKS.get(asset.kind, lambda *_: None)(document, project, asset)
    _check_place(document, project, asset)
    _check_packing(document, project, asset)


def _check_game(document: Document, project: LoadedProject) -> None:
    count = len(project.assets)
    place = directory_place(project.target, count)
    if place is not None and place.start < project.target.header.offset < place.stop:
        wrong = f"the directory of {count} assets runs into the header of {project.target.name}"
        document.say(("game", "target"), wrong, "move the directory in the target file, or give it no offset")
    wanted, sizes = project.spec.game.cartridge, project.target.cartridge.sizes
    if wanted is not None and wanted not in sizes:
        known = ", ".join(show_size(size) for size in sizes)
        document.say(("game", "cartridge"), f"{show_size(wanted)} is not a cartridge size of this target", f"the sizes are {known}")


def _check_title(document: Document, project: LoadedProject) -> None:
    game, fields = project.spec.game, {field.value for field in project.target.header.fields}
    shown, path = (game.plain_title, "plain_title") if game.plain_title else (game.title, "title")
    if "project.title" in fields and not shown.isascii():
        wrong = f"{shown!r} has letters outside ASCII, which the cartridge header of {project.target.name} does not take"
        document.say(("game", path), wrong, "keep it, and add plain_title with only ASCII letters")
    width = project.target.screen.width
    for name, screen in project.spec.screen.items():
        texts = {"warning": screen.warning, "feedback_label": screen.feedback_label, "bugs_label": screen.bugs_label}
        for key, words in texts.items():
            if not words.isprintable():
                document.say(("screen", name, key), f"{words!r} has a line break or another control character", "write one plain line")
    if not game.title.isprintable():
        document.say(("game", "title"), f"{game.title!r} has a line break or another control character", "write one plain line")
    for name, screen in project.spec.screen.items():
        for path, words in ((("game", "title"), game.title), (("screen", name, "warning"), screen.warning)):
            if words.isascii() and len(words) * CHARACTER > width:
                wrong = f"{len(words)} characters are {len(words) * CHARACTER} pixels wide, the screen {width}"
                document.say(path, wrong, f"shorten it to {width // CHARACTER} characters")


def _check_links(document: Document, project: LoadedProject) -> None:
    links = project.spec.links
    named = {("links", "feedback"): links.feedback, ("links", "bugs"): links.bugs}
    more = {("links", "more", key): link for key, link in links.more.items()}
    download = {("links", "download"): links.download} if links.download else {}
    for path, link in {**named, **download, **more}.items():
        problem = link_problem(link)
        if problem:
            document.say(path, *problem)
        elif path in named:
            _check_code(document, project, path, link)
    if with_tester(links.feedback) == with_tester(links.bugs):
        document.say(("links", "bugs"), "is the same link as feedback", "give each form its own link")


def _check_code(document: Document, project: LoadedProject, path: tuple, link: str) -> None:
    length = len(report_link(link, "0" * BUILD_DIGITS, LONGEST_TESTER).encode())
    if code_version(length) is None:
        document.say(path, f"{length} bytes with the build code are too long for any code", "shorten the link")
        return
    if not project.of_kind("screen"):
        return
    problem = code_problem(link, project.target.screen.width, project.target.screen.height)
    if problem:
        document.say(path, *problem)


def _check_place(document: Document, project: LoadedProject, asset: Asset) -> None:
    path, spec, alignment = (asset.kind, asset.name), asset.spec, project.alignment(asset)
    if alignment & (alignment - 1):
        document.say((*path, "alignment"), f"{alignment} is not a power of two", "use 1, 2, 4, 8, ...")
    elif alignment < project.target.align(asset.kind):
        least = project.target.align(asset.kind)
        document.say((*path, "alignment"), f"{alignment} is less than the target demands", f"use {least} or more, or leave it out")
    elif spec.address is not None and spec.address % alignment:
        remedy = f"use a multiple of {alignment}, or give the asset a smaller alignment"
        document.say((*path, "address"), f"{spec.address:#x} is not a multiple of the alignment {alignment}", remedy)


def _check_art(document: Document, project: LoadedProject, asset: Asset) -> None:
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
    if asset.kind in ("sprite", "font") and not palette.transparent:
        remedy = "set transparent = true in that palette"
        document.say((*path, "palette"), f"{spec.palette!r} keeps no entry for transparent pixels", remedy)
    room = (1 << pattern.bits("I")) - pixel_base(palette.first, pattern.bits("I"))
    if not palette.lines and palette.colours is not None and palette.colours > room:
        wrong = f"{palette.colours} colours from entry {palette.first} do not fit pixels of {pattern.bits('I')} bits"
        document.say((*path, "palette"), wrong, f"use at most {room} colours, or wider pixels")


def _check_font(document: Document, project: LoadedProject, asset: Asset) -> None:
    _check_art(document, project, asset)
    check_key(document, ("font", asset.name), asset.spec)
    check_font(document, ("font", asset.name), asset.spec, project.target, project.pixel_format(asset))


def _check_sprite(document: Document, project: LoadedProject, asset: Asset) -> None:
    _check_art(document, project, asset)
    most = project.target.sprites.max_height
    if asset.spec.height is not None and asset.spec.height > most:
        wrong = f"{asset.spec.height} pixels, the target draws at most {most}"
        document.say(("sprite", asset.name, "height"), wrong, "set a smaller height, or split the figure")
    check_pool_user(document, project, asset)
    check_art_read(document, project, asset)
    names = frame_names(project.folder, asset.spec, asset.files)
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


def _check_background(document: Document, project: LoadedProject, asset: Asset) -> None:
    _check_art(document, project, asset)
    check_key(document, ("background", asset.name), asset.spec)
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


def _check_palette(document: Document, project: LoadedProject, asset: Asset) -> None:
    path, spec, entries = ("palette", asset.name), asset.spec, project.target.palette.entries
    if spec.first >= entries or spec.first + (spec.colours or 0) > entries:
        wrong = f"entries {spec.first} to {spec.first + (spec.colours or 1) - 1} leave the console's {entries}"
        document.say((*path, "first"), wrong, "start lower, or use fewer colours")
    if not spec.file and not project.users_of(asset.name) and not document.broken:
        document.say(path, "no sprite, background or font uses it, and it has no file", "name it in an asset, or remove it")
    for key in ("locked", "locked_file"):
        if spec.file and getattr(spec, key):
            document.say((*path, key), "the palette is taken from a file", f"put the colours into the file, or leave {key} out")
    check_lines(document, project, asset)


def _check_sound(document: Document, project: LoadedProject, asset: Asset) -> None:
    path, spec, rules = ("sound", asset.name), asset.spec, project.target.sound
    if spec.format and spec.format not in rules.formats:
        document.say((*path, "format"), f"{project.target.name} does not play {spec.format}", f"use {', '.join(rules.formats)}")
    if spec.rate and spec.rate > rules.max_rate:
        document.say((*path, "rate"), f"{spec.rate} Hz is above the target's {rules.max_rate} Hz", "choose a lower rate")


def _check_program(document: Document, project: LoadedProject, asset: Asset) -> None:
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


_CHECKS = {
    "sprite": _check_sprite,
    "pool": check_pool,
    "background": _check_background,
    "font": _check_font,
    "palette": _check_palette,
    "sound": _check_sound,
    "program": _check_program,
}


def _check_packing(document: Document, project: LoadedProject, asset: Asset) -> None:
    packing, known = getattr(asset.spec, "packing", "stored"), project.target.codecs
    if packing not in ("stored", "best", *known):
        wrong = f"programs for {project.target.name} do not unpack {packing}"
        remedy = f"use {', '.join(['stored', *known])} or best; or add it to codecs of the target file"
        document.say((asset.kind, asset.name, "packing"), wrong, remedy)
