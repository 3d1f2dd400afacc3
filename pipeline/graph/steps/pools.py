"""Steps of sprites that share a pool: each cut by itself, the cells of all put together, then each sprite's tables."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.project.model import Asset
from pipeline.target.records import PictureRules, picture_rules


def pooled_sprite_steps(site: Site, asset: Asset) -> Iterator[Step]:
    """Yield the steps that cut a sprite and, when its pool is made, write its tables; see ``assets.sprites.cut``."""
    rules, cells, pieces, described, index = _rules(site, asset), *_cut_files(site, asset.name)
    palette, prepared = asset.spec.palette, site.prepared(asset.name)
    arguments = {"work": site.work, "blobs": site.blobs, "name": asset.name, "palette": palette, "dither": asset.spec.dither}
    yield Step(
        f"cut:{asset.name}",
        "pipeline.assets.sprites.cut:cut_sprite",
        arguments | {"rules": rules, "flips": site.flips()},
        reads=(*prepared, site.facts(palette)),
        writes=(cells, pieces, described),
        doc=f"cut sprite {asset.name} into cells",
    )
    arguments = {"work": site.work, "blobs": site.blobs, "name": asset.name, "files": asset.files, "spec": site.bare(asset)}
    arguments |= {"rules": rules, "refresh": site.project.target.screen.refresh}
    reads = (prepared[1], pieces, described, index)
    yield site.asset_step(asset, "pipeline.assets.sprites.sprite:convert_pooled_sprite", arguments, reads)


def pool_step(site: Site, asset: Asset) -> Step:
    """Return the step that makes a pool, and the index of each of its sprites."""
    users = site.project.sprites_in(asset.name)
    arguments = {"work": site.work, "blobs": site.blobs, "name": asset.name, "spec": site.bare(asset)}
    arguments |= {"users": tuple(user.name for user in users), "rules": _rules(site, users[0]), "flips": site.flips()}
    arguments["alignment"] = site.project.alignment(asset)
    files = [_cut_files(site, user.name) for user in users]
    reads = tuple(path for cells, _, described, _ in files for path in (cells, described))
    return site.asset_step(asset, "pipeline.assets.sprites.pool:make_pool", arguments, reads, tuple(index for *_, index in files))


def _rules(site: Site, asset: Asset) -> PictureRules:
    return picture_rules(site.project.target, site.project.pixel_format(asset))


def _cut_files(site: Site, name: str) -> tuple[Path, Path, Path, Path]:
    """Return a sprite's cells, pieces, description and index."""
    work = site.work
    return work / f"{name}.cells", work / f"{name}.pieces", work / f"{name}.cut.json", work / f"{name}.index"
