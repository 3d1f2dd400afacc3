"""Steps of art: sources to scaled frames, frames to palettes, both to blobs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Found, Handed, In, Kept, Out
from pipeline.graph.steps.pools import pooled_sprite_steps
from pipeline.graph.steps.site import PLACED, Site
from pipeline.graph.steps.step import Step
from pipeline.joints.places import Sources
from pipeline.joints.views import PaletteView, WorstFrameView
from pipeline.project.assets import Background, Palette, Part
from pipeline.project.boxes import boxes_file
from pipeline.project.model import PROJECT_FILE, Asset
from pipeline.target.calls import Call
from pipeline.target.records import picture_rules, pixel_base
from pipeline.target.tiles import tile_rules


def sprite_steps(site: Site, asset: Asset) -> Iterator[Step]:
    yield _prepare(site, asset)
    yield from pooled_sprite_steps(site, asset) if asset.spec.pool else [_sprite(site, asset)]
    yield _sample(site, asset)


def background_steps(site: Site, asset: Asset) -> Iterator[Step]:
    yield _prepare(site, asset)
    yield _background(site, asset)
    yield _sample(site, asset)
    if asset.spec.part:
        yield _originals(site, asset)


def font_steps(site: Site, asset: Asset) -> Iterator[Step]:
    yield _prepare(site, asset)
    yield _font(site, asset)


_NOT_SCALED = {"palette": None, "pixels": None, "dither": "none", "packing": "stored", "origin": "", **PLACED}

_NOT_SCALED_SPRITE = {"animations": {}, "arrangement": "sheet", "pool": "", "prepared": "none", "prefer": "bytes"}

_NOT_SCALED_BACKGROUND = {
    "arrangement": "bitmap", "tile": None, "map_entry": None, "tiles_at_most": None, "merge": False, "first_tile": 0, "pan": (4, 4),
}  # fmt: skip


_PREPARING = {"sprite": "sources.prepare", "background": "backgrounds.prepare", "font": "fonts.font"}


def _prepare(site: Site, asset: Asset) -> Step:
    arguments = {"sources": In(site.sources(asset)), "out": Out(site.prepared(asset.name)), "name": asset.name}
    if asset.kind == "sprite":
        # Only what scaling depends on, so that a new palette or animation does not scale everything again.
        arguments["spec"] = msgspec.structs.replace(asset.spec, **_NOT_SCALED, **_NOT_SCALED_SPRITE)
        arguments |= {"limits": site.drawn_sizes(), "cache": site.cache(f"{asset.name}-scaled")}
        arguments |= _sheet_arguments(site, asset, Kept)
        if site.project.notes_of(asset.name):
            arguments["noted"] = True
        if asset.spec.sheet:
            arguments["cuts"] = Kept(site.cuts(asset.name))
    elif asset.kind == "font":
        unused = {"palette": None, "pixels": None, "packing": "stored", "origin": "", **PLACED}
        arguments["spec"] = msgspec.structs.replace(asset.spec, **unused)
        files = site.project.said_in(asset)
        if files:
            arguments |= {"said": In(Sources(site.folder, files)), "read": Call("pipeline.assets.texts.read:read_texts")}
    else:
        arguments["spec"] = msgspec.structs.replace(asset.spec, part=_unnamed(asset), **_NOT_SCALED, **_NOT_SCALED_BACKGROUND)
    call = f"pipeline.assets.{_PREPARING[asset.kind]}:prepare_{asset.kind}"
    doc = f"{'draw' if asset.kind == 'font' else 'scale'} {asset.kind} {asset.name}"
    return Step(f"prepare:{asset.name}", call, arguments, doc=doc)


def _unnamed(asset: Asset) -> list[Part]:
    """Return a background's parts without the names that only proofs show."""
    return [msgspec.structs.replace(part, name="") for part in asset.spec.part]


# What says how the frames of a sprite are read.
_READ = ("frames", "animated", "sheet", "key", "tolerance", "alpha", "align", "marker", "anchor")


def _sheet_arguments(site: Site, asset: Asset, missing: type[Handed]) -> dict[str, Any]:
    """Return what is handed to steps that read a sheet with boxes: their file, marked as ``missing`` where it is still to be written."""
    name = boxes_file(asset.spec.sheet) if asset.spec.sheet else None
    if name is None:
        return {}
    file = site.folder / name
    return {"boxes": (In if file.is_file() else missing)(file), "boxed": Call("pipeline.assets.sources.boxes:boxed")}


def palette_steps(site: Site, asset: Asset) -> Iterator[Step]:
    target, users = site.project.target, site.project.users_of(asset.name)
    if asset.spec.variant_of:
        users = site.project.users_of(asset.spec.variant_of)
        rules = picture_rules(target, site.project.pixel_format(users[0]) if users else target.screen.pixels)
        spec = msgspec.structs.replace(site.bare(asset), worn_by=[], colours=None, lines=None)
        base = In(PaletteView(site.facts(asset.spec.variant_of)))
        arguments = {"sources": In(site.sources(asset)), "spec": spec, "base": base, "rules": rules}
        yield site.asset_step(asset, "pipeline.assets.variant:make_variant", arguments)
        return
    formats = [site.project.pixel_format(user) for user in users] or [target.screen.pixels]
    rooms = [_pixel_room(site, asset.spec.first, name) for name in formats]
    most = min([asset.spec.colours or target.palette.entries - asset.spec.first, *rooms])
    arguments = {"spec": site.bare(asset), "most": most, "rules": picture_rules(target, formats[0])}
    if asset.spec.file and not asset.spec.exact:
        users = []  # whose colours do not matter
    arguments["users"] = In(tuple(site.prepared(user.name) for user in users))
    if asset.spec.lines:
        arguments |= {"size": 1 << target.pixel_formats[formats[0]].pixel.width}
        if users:
            arguments["tile"] = tile_rules(target, users[0].spec.tile, None).tile
    if asset.spec.file or not asset.spec.lines:
        arguments["sources"] = In(site.sources(asset))
    maker = _palette_maker(asset.spec)
    if maker == _COMPUTED:
        arguments["cache"] = site.cache(asset.name)
    yield site.asset_step(asset, f"pipeline.assets.{maker}", arguments)


_COMPUTED = "palette:compute_palette"


def _palette_maker(spec: Palette) -> str:
    if spec.lines:
        return "numbered:load_lines" if spec.file else "backgrounds.lines:deal_palette"
    if spec.file:
        return "numbered:load_numbered" if spec.order == "file" else "palette:load_palette"
    return _COMPUTED


_FROZEN = "palettes"  # folder of the project


def freeze_step(site: Site, wanted: str) -> Step:
    """Return ``freeze``, which writes a computed palette as a file of the project.

    Args:
        wanted: ``of`` of the command line; empty where not given.
    """
    palettes = {one.name: one.spec for one in site.project.of_kind("palette")}
    computed = tuple(sorted(name for name, spec in palettes.items() if not (spec.file or spec.variant_of)))
    asset = wanted in computed
    arguments = {
        "folder": Kept(site.folder if asset else None),
        "out": Kept(site.folder / _FROZEN / f"{wanted}.png" if asset else None),
        "facts": In(site.facts(wanted) if asset else None),
        "wanted": wanted,
        "computed": computed,
        "base": (palettes[wanted].variant_of or "") if wanted in palettes else "",
        "written": In(site.folder / PROJECT_FILE if asset else None),
    }
    doc = "write the computed palette of=NAME as a file, so that it stays as it is"
    return Step("freeze", "pipeline.questions.freeze:show_freeze", arguments, always=True, doc=doc)


def _pixel_room(site: Site, first: int, format_name: str) -> int:
    pattern = site.project.target.pixel_formats[format_name].pixel
    if not pattern.bits("I"):
        return site.project.target.palette.entries
    return (1 << pattern.width) - pixel_base(first, pattern.width)


def _sprite(site: Site, asset: Asset) -> Step:
    arguments = _picture_arguments(site, asset) | {"files": site.project.frame_names(asset), "refresh": site.project.target.screen.refresh}
    arguments |= {"spec": site.bare(asset), "flips": site.flips(), "room": site.project.room(), "cache": site.cache(asset.name)}
    arguments |= {"hardware": site.hardware(), **site.draws(asset)}
    return site.asset_step(asset, "pipeline.assets.sprites.sprite:convert_sprite", arguments)


def _background(site: Site, asset: Asset) -> Step:
    target, spec = site.project.target, asset.spec
    arguments = _picture_arguments(site, asset)
    arguments["window"] = (target.screen.width, target.screen.height)
    arguments["room"] = site.project.room()
    arguments["cutting"] = tile_rules(target, spec.tile, spec.map_entry)
    arguments["spec"] = msgspec.structs.replace(site.bare(asset), tile=None, map_entry=None, part=[])  # in the rules, and in the art
    arguments["map_out"] = Out(site.tile_map(asset.name))
    return site.asset_step(asset, "pipeline.assets.backgrounds.background:convert_background", arguments)


def _sample(site: Site, asset: Asset) -> Step:
    arguments = {"sources": In(site.sources(asset)), "frames": In(site.prepared(asset.name)), "out": Out(site.before(asset.name))}
    if asset.kind == "sprite":
        arguments["spec"] = type(asset.spec)(**{key: getattr(asset.spec, key) for key in _READ})
        arguments["worst"] = In(WorstFrameView(site.facts(asset.name)))
        arguments |= _sheet_arguments(site, asset, Found)
    else:
        arguments |= {"name": asset.name, "spec": _as_drawn(asset)}
    module = "backgrounds.prepare" if asset.kind == "background" else "sources.sample"
    call, doc = f"pipeline.assets.{module}:sample_{asset.kind}", f"keep frames of {asset.name} as drawn and as scaled"
    return Step(f"sample:{asset.name}", call, arguments, doc=doc)


def _as_drawn(asset: Asset) -> Background:
    """Return what says how a background and its parts are read, and how parts are scaled; all else as it is without saying."""
    read: dict[str, Any] = {"file": "-", "key": asset.spec.key, "tolerance": asset.spec.tolerance}
    if asset.spec.part:
        read |= {"part": _unnamed(asset), "resample": asset.spec.resample, "light": asset.spec.light}
    return Background(**read)


def _originals(site: Site, asset: Asset) -> Step:
    spec = asset.spec
    named = Background(file="-", key=spec.key, tolerance=spec.tolerance, part=spec.part, scale=spec.scale, height=spec.height)
    arguments = {"sources": In(site.sources(asset)), "out": Out(site.originals(asset.name)), "name": asset.name, "spec": named}
    doc = f"keep the parts of {asset.name} as drawn"
    return Step(f"originals:{asset.name}", "pipeline.assets.backgrounds.originals:keep_originals", arguments, doc=doc)


def _font(site: Site, asset: Asset) -> Step:
    # The rest of its record has gone into the prepared glyphs.
    arguments = _picture_arguments(site, asset) | {key: getattr(asset.spec, key) for key in ("spacing", "origin")}
    return site.asset_step(asset, "pipeline.assets.fonts.font:convert_font", arguments)


def _picture_arguments(site: Site, asset: Asset) -> dict[str, Any]:
    return {
        "prepared": In(site.prepared(asset.name)),
        "palette": In(site.palette(asset)),
        "rules": picture_rules(site.project.target, site.project.pixel_format(asset)),
        "alignment": site.project.alignment(asset),
    }
