"""Checks of backgrounds as tiles, of palettes dealt into lines, and of a scene's layers."""

from __future__ import annotations

from pipeline.plain.bits import BitPattern
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.assets import Palette
from pipeline.project.file import Scene
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.tiles import map_entry_problem, tile_rules

_ONLY_TILES = ("tiles_at_most", "merge", "first_tile")


def check_tiles(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a background's arrangement; its pixel format and palette are checked elsewhere."""
    path, spec = ("background", asset.name), asset.spec
    problem = map_entry_problem(spec.map_entry) if spec.map_entry else None
    if problem:
        document.say((*path, "map_entry"), *problem)
        return
    if spec.arrangement != "tiles":
        for key in _ONLY_TILES:
            if getattr(spec, key) not in (None, False, 0):
                document.say((*path, key), "only tiles have it", 'set arrangement = "tiles", or leave it out')
        return
    if spec.map_entry is None and project.target.tiles is None:
        remedy = 'give the map_entry your program reads, for example "HVtttttttttttttt", or use a bitmap'
        document.say((*path, "arrangement"), f"{project.target.name} has no tile unit", remedy)
        return
    rules = tile_rules(project.target, spec.tile, spec.map_entry)
    if spec.first_tile >= rules.most:
        wrong = f"{spec.first_tile} leaves no room: tiles are numbered 0 to {rules.most - 1}"
        document.say((*path, "first_tile"), wrong, "start lower, or use a map entry with more bits t")
    if project.pixel_format(asset) in project.target.pixel_formats:
        _check_palette(document, project, asset, rules.entry)


def _check_palette(document: Document, project: LoadedProject, asset: Asset, entry: BitPattern) -> None:
    path, spec = ("background", asset.name), asset.spec
    pattern = project.target.pixel_formats[project.pixel_format(asset)].pixel
    if not pattern.bits("I"):
        if spec.merge:
            document.say((*path, "merge"), "direct colour cannot be merged", "use an indexed pixel format, or raise tiles_at_most")
        return
    palette = project.spec.palette.get(spec.palette)
    if palette is None or not (entry.bits("c") or palette.lines):
        return
    first, lines = palette.first >> pattern.bits("I"), palette.lines or 1
    if first + lines > 1 << entry.bits("c"):
        wrong = f"{spec.palette!r} takes lines {first} to {first + lines - 1}, map entry {entry.text} can choose of {1 << entry.bits('c')}"
        document.say((*path, "palette"), wrong, "let the palette start lower, or use a map entry with more bits c")


def check_lines(document: Document, project: LoadedProject, asset: Asset) -> None:
    """Note what is wrong with a palette dealt into lines, and with its users."""
    path, spec = ("palette", asset.name), asset.spec
    if spec.lines is None:
        return
    alone = "leave it out; lines are computed from the art alone"
    numbered = 'set order = "file" to give each line\'s entries by their numbers, or leave it out to have the lines computed'
    for key, remedy in (("file", numbered), ("locked", alone), ("locked_file", alone)):
        if getattr(spec, key) and not (spec.file and (key != "file" or spec.order == "file")):
            document.say((*path, key), "does not go with lines", remedy)
    users = project.users_of(asset.name)
    for user in users:
        if getattr(user.spec, "arrangement", "") != "tiles" or user.kind != "background":
            wrong = f"{asset.name!r} has lines, which only a map of tiles can choose"
            document.say((user.kind, user.name, "palette"), wrong, 'set arrangement = "tiles", or give it a palette without lines')
        elif user.spec.dither not in (None, "none"):
            wrong = f"{asset.name!r} has lines, between which no pixel can be dithered"
            document.say(("background", user.name, "dither"), wrong, 'set dither = "none", or give it a palette without lines')
    _check_room(document, project, asset, users)


def _check_room(document: Document, project: LoadedProject, asset: Asset, users: list[Asset]) -> None:
    path, spec, formats = ("palette", asset.name), asset.spec, project.target.pixel_formats
    bits = {formats[name].pixel.bits("I") for name in map(project.pixel_format, users) if name in formats}
    tiles = {tile_rules(project.target, user.spec.tile, None).tile for user in users if user.kind == "background"}
    if len(bits) > 1 or len(tiles) > 1:
        remedy = "give them one size of tile and pixels of one width, or a palette each"
        document.say((*path, "lines"), "its backgrounds have different tiles", remedy)
    elif bits and 0 not in bits:
        _check_places(document, path, spec, spec.lines, min(bits), project.target.palette.entries)


def _check_places(document: Document, path: tuple, spec: Palette, lines: int, bits: int, entries: int) -> None:
    size = 1 << bits
    if spec.first % size:
        document.say((*path, "first"), f"{spec.first} is inside a line of {size} entries", f"use a multiple of {size}")
    if spec.first + lines * size > entries:
        wrong = f"{lines} lines of {size} entries from {spec.first} leave the console's {entries}"
        document.say((*path, "lines"), wrong, "use fewer lines, or start lower")
    if spec.colours is not None and spec.colours > size:
        document.say((*path, "colours"), f"{spec.colours} in each line, a line has {size}", f"use {size} or fewer, or leave it out")


def check_layers(document: Document, project: LoadedProject, name: str, scene: Scene) -> None:
    """Note layers that are not backgrounds of the project, or that the scene does not load."""
    spec = project.spec
    loaded = set(spec.parts(scene.members))
    for rank, layer in enumerate(scene.layers):
        path = ("scene", name, "layers", rank, "background")
        if layer.background in document.broken:
            continue
        if layer.background not in spec.background:
            near = nearest_name(layer.background, spec.background)
            remedy = f"did you mean {near}?" if near else "name a background of this project"
            document.say(path, f"there is no background {layer.background!r}", remedy)
        elif layer.background not in loaded:
            document.say(path, f"the scene does not load {layer.background!r}", "add it to the scene's always, or to a choice")
    _check_layer_palettes(document, project, name, scene)


def _check_layer_palettes(document: Document, project: LoadedProject, name: str, scene: Scene) -> None:
    """Note a layer whose palette would be loaded over that of another: both are seen at once."""
    starts: dict[int, str] = {}
    for rank, layer in enumerate(scene.layers):
        asset = project.assets.get(layer.background)
        palette = project.assets.get(getattr(asset.spec, "palette", None) or "") if asset else None
        if palette and palette.kind == "palette":
            other = starts.setdefault(palette.spec.first, palette.name)
            if other != palette.name:
                wrong = f"its palette {palette.name!r} and {other!r} of another layer both begin at entry {palette.spec.first}"
                remedy = "let one begin after the other (first), or give both one palette"
                document.say(("scene", name, "layers", rank, "background"), wrong, remedy)
