"""Steps of art: sources to scaled frames, frames to palettes, both to blobs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import msgspec

from pipeline.graph.site import Site
from pipeline.graph.step import Step
from pipeline.project import Asset
from pipeline.target import picture_rules, pixel_base


def art_steps(site: Site) -> Iterator[Step]:
    for asset in site.project.of_kind("sprite", "background"):
        yield _prepare(site, asset)
    for asset in site.project.of_kind("palette"):
        yield _palette(site, asset)
    for asset in site.project.of_kind("sprite"):
        yield _sprite(site, asset)
    for asset in site.project.of_kind("background"):
        yield _background(site, asset)


_NOT_SCALED = {"palette": None, "pixels": None, "dither": "none", "packing": "stored", "address": None, "alignment": None, "origin": ""}


def _prepare(site: Site, asset: Asset) -> Step:
    arguments = {"folder": site.folder, "work": site.work, "name": asset.name}
    if asset.kind == "sprite":
        # Only what scaling depends on, so that a new palette or animation does not scale everything again.
        spec = msgspec.structs.replace(asset.spec, animations={}, arrangement="sheet", **_NOT_SCALED)
        arguments |= {"files": asset.files, "spec": spec, "limits": site.project.target.sprites}
    else:
        spec = msgspec.structs.replace(asset.spec, **_NOT_SCALED)
        arguments |= {"file": asset.files[0], "spec": spec}
    return Step(
        f"prepare:{asset.name}",
        f"pipeline.assets.prepare:prepare_{asset.kind}",
        arguments,
        reads=site.sources(asset),
        writes=site.prepared(asset.name),
        doc=f"scale {asset.kind} {asset.name}",
    )


def _palette(site: Site, asset: Asset) -> Step:
    target, users = site.project.target, site.project.users_of(asset.name)
    formats = [site.project.pixel_format(user) for user in users] or [target.screen.pixels]
    rooms = [_pixel_room(site, asset.spec.first, name) for name in formats]
    most = min([asset.spec.colours or target.palette.entries - asset.spec.first, *rooms])
    arguments = {"blobs": site.blobs, "name": asset.name, "spec": site.bare(asset), "most": most}
    arguments["rules"] = picture_rules(target, formats[0])
    if asset.spec.file:
        arguments |= {"folder": site.folder}
        return site.asset_step(asset, "pipeline.assets.palette:load_palette", arguments, site.sources(asset))
    arguments |= {"work": site.work, "users": tuple(user.name for user in users)}
    reads = tuple(path for user in users for path in site.prepared(user.name))
    return site.asset_step(asset, "pipeline.assets.palette:compute_palette", arguments, reads)


def _pixel_room(site: Site, first: int, format_name: str) -> int:
    pattern = site.project.target.pixel_formats[format_name].pixel
    if not pattern.bits("I"):
        return site.project.target.palette.entries
    return (1 << pattern.width) - pixel_base(first, pattern.width)


def _sprite(site: Site, asset: Asset) -> Step:
    target = site.project.target
    arguments = _picture_arguments(site, asset) | {"files": asset.files, "refresh": target.screen.refresh}
    arguments["flips"] = (target.sprites.flip_x, target.sprites.flip_y)
    return site.asset_step(asset, "pipeline.assets.sprite:convert_sprite", arguments, _picture_reads(site, asset))


def _background(site: Site, asset: Asset) -> Step:
    arguments = _picture_arguments(site, asset)
    return site.asset_step(asset, "pipeline.assets.background:convert_background", arguments, _picture_reads(site, asset))


def _picture_arguments(site: Site, asset: Asset) -> dict:
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
