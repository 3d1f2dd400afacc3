"""Steps of art: sources to scaled frames, frames to palettes, both to blobs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.pools import pool_step, pooled_sprite_steps
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.project.model import Asset
from pipeline.target.kinds import kinds_with
from pipeline.target.records import picture_rules, pixel_base
from pipeline.target.tiles import tile_rules


def art_steps(site: Site) -> Iterator[Step]:
    for asset in site.project.of_kind(*kinds_with("art")):
        yield _prepare(site, asset)
    for asset in site.project.of_kind("palette"):
        yield _palette(site, asset)
    for asset in site.project.of_kind("sprite"):
        yield from pooled_sprite_steps(site, asset) if asset.spec.pool else [_sprite(site, asset)]
    for asset in site.project.of_kind("pool"):
        yield pool_step(site, asset)
    for asset in site.project.of_kind("background"):
        yield _background(site, asset)
    for asset in site.project.of_kind("font"):
        yield _font(site, asset)
    for asset in site.project.of_kind(*kinds_with("scaled")):
        yield _sample(site, asset)


_NOT_SCALED = {"palette": None, "pixels": None, "dither": "none", "packing": "stored", "address": None, "alignment": None, "origin": ""}

_NOT_SCALED_BACKGROUND = {
    "arrangement": "bitmap", "tile": None, "map_entry": None, "tiles_at_most": None, "merge": False, "first_tile": 0, "pan": (4, 4),
}  # fmt: skip


def _prepare(site: Site, asset: Asset) -> Step:
    arguments = {"folder": site.folder, "work": site.work, "name": asset.name}
    if asset.kind == "sprite":
        # Only what scaling depends on, so that a new palette or animation does not scale everything again.
        spec = msgspec.structs.replace(asset.spec, animations={}, arrangement="sheet", pool="", **_NOT_SCALED)
        arguments |= {"files": asset.files, "spec": spec, "limits": site.project.target.sprites}
    elif asset.kind == "font":
        spec = msgspec.structs.replace(asset.spec, palette=None, pixels=None, packing="stored", address=None, alignment=None, origin="")
        arguments |= {"files": asset.files, "spec": spec}
    else:
        spec = msgspec.structs.replace(asset.spec, **_NOT_SCALED, **_NOT_SCALED_BACKGROUND)
        arguments |= {"file": asset.files[0], "spec": spec}
    return Step(
        f"prepare:{asset.name}",
        f"pipeline.assets.{'fonts.font' if asset.kind == 'font' else 'sources.prepare'}:prepare_{asset.kind}",
        arguments,
        reads=site.sources(asset),
        writes=site.prepared(asset.name),
        doc=f"{'draw' if asset.kind == 'font' else 'scale'} {asset.kind} {asset.name}",
    )


def _palette(site: Site, asset: Asset) -> Step:
    target, users = site.project.target, site.project.users_of(asset.name)
    formats = [site.project.pixel_format(user) for user in users] or [target.screen.pixels]
    rooms = [_pixel_room(site, asset.spec.first, name) for name in formats]
    most = min([asset.spec.colours or target.palette.entries - asset.spec.first, *rooms])
    arguments = {"blobs": site.blobs, "name": asset.name, "spec": site.bare(asset), "most": most}
    arguments["rules"] = picture_rules(target, formats[0])
    if asset.spec.file and not asset.spec.exact:
        users = []  # whose colours do not matter
    arguments |= {"work": site.work, "users": tuple(user.name for user in users)}
    reads = tuple(path for user in users for path in site.prepared(user.name))
    if asset.spec.file:
        arguments |= {"folder": site.folder}
        return site.asset_step(asset, "pipeline.assets.palette:load_palette", arguments, (*site.sources(asset), *reads))
    if asset.spec.lines:
        size = 1 << target.pixel_formats[formats[0]].pixel.width
        arguments |= {"size": size, "tile": tile_rules(target, users[0].spec.tile, None).tile}
        return site.asset_step(asset, "pipeline.assets.backgrounds.lines:deal_palette", arguments, reads)
    arguments |= {"folder": site.folder}
    return site.asset_step(asset, "pipeline.assets.palette:compute_palette", arguments, (*site.sources(asset), *reads))


def _pixel_room(site: Site, first: int, format_name: str) -> int:
    pattern = site.project.target.pixel_formats[format_name].pixel
    if not pattern.bits("I"):
        return site.project.target.palette.entries
    return (1 << pattern.width) - pixel_base(first, pattern.width)


def _sprite(site: Site, asset: Asset) -> Step:
    arguments = _picture_arguments(site, asset) | {"files": asset.files, "refresh": site.project.target.screen.refresh}
    arguments |= {"flips": site.flips(), "room": site.project.room()}
    return site.asset_step(asset, "pipeline.assets.sprites.sprite:convert_sprite", arguments, _picture_reads(site, asset))


def _background(site: Site, asset: Asset) -> Step:
    target, spec = site.project.target, asset.spec
    arguments = _picture_arguments(site, asset)
    arguments["window"] = (target.screen.width, target.screen.height)
    arguments["room"] = site.project.room()
    arguments["cutting"] = tile_rules(target, spec.tile, spec.map_entry)
    arguments["spec"] = msgspec.structs.replace(arguments["spec"], tile=None, map_entry=None)  # both are in the rules
    call, more = "pipeline.assets.backgrounds.background:convert_background", (site.tile_map(asset.name),)
    return site.asset_step(asset, call, arguments, _picture_reads(site, asset), more)


def _sample(site: Site, asset: Asset) -> Step:
    arguments = {"folder": site.folder, "work": site.work, "name": asset.name}
    reads = (*site.sources(asset), *site.prepared(asset.name))
    if asset.kind == "sprite":
        spec = type(asset.spec)(frames=asset.spec.frames, animated=asset.spec.animated, sheet=asset.spec.sheet)
        arguments |= {"blobs": site.blobs, "files": asset.files, "spec": spec}
        reads = (*reads, site.facts(asset.name))
    else:
        arguments["file"] = asset.files[0]
    return Step(
        f"sample:{asset.name}",
        f"pipeline.assets.sources.sample:sample_{asset.kind}",
        arguments,
        reads=reads,
        writes=(site.before(asset.name),),
        doc=f"keep frames of {asset.name} as drawn and as scaled",
    )


def _font(site: Site, asset: Asset) -> Step:
    arguments = _picture_arguments(site, asset)
    del arguments["spec"]  # the rest of it has gone into the prepared glyphs
    arguments |= {key: getattr(asset.spec, key) for key in ("palette", "spacing", "origin")}
    return site.asset_step(asset, "pipeline.assets.fonts.font:convert_font", arguments, _picture_reads(site, asset))


def _picture_arguments(site: Site, asset: Asset) -> dict[str, Any]:
    return {
        "work": site.work,
        "blobs": site.blobs,
        "name": asset.name,
        "spec": site.bare(asset),
        "rules": picture_rules(site.project.target, site.project.pixel_format(asset)),
        "alignment": site.project.alignment(asset),
    }


def _picture_reads(site: Site, asset: Asset) -> tuple[Path, ...]:
    palette = (site.facts(asset.spec.palette),) if asset.spec.palette else ()
    return (*site.prepared(asset.name), *palette)
