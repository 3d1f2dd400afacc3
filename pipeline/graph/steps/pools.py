"""Steps of sprites that share a pool: each cut by itself, the cells of all put together, then each sprite's tables."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.places import cut_files, index_file
from pipeline.project.model import Asset
from pipeline.target.records import PictureRules, picture_rules


def pooled_sprite_steps(site: Site, asset: Asset) -> Iterator[Step]:
    """Yield the steps that cut a sprite and, when its pool is made, write its tables; see ``assets.sprites.cut``."""
    prepared, cut = site.prepared(asset.name), cut_files(site.work, asset.name)
    yield Step(
        f"cut:{asset.name}",
        "pipeline.assets.sprites.cut:cut_sprite",
        {
            "prepared": In(prepared),
            "palette": In(site.palette(asset)),
            "out": Out(cut),
            "name": asset.name,
            "dither": asset.spec.dither,
            "rules": _rules(site, asset),
            "flips": site.flips(),
            "cache": site.cache(asset.name),
        },
        doc=f"cut sprite {asset.name} into cells",
    )
    arguments = {
        "described": In(prepared.described),
        "pieces": In(cut.pieces),
        "cut": In(cut.described),
        "index": In(index_file(site.work, asset.name)),
        "files": site.project.frame_names(asset),
        "spec": site.bare(asset),
        "rules": _rules(site, asset),
        "refresh": site.project.target.screen.refresh,
        "hardware": site.hardware(),
        **site.draws(asset),
    }
    yield site.asset_step(asset, "pipeline.assets.sprites.sprite:convert_pooled_sprite", arguments)


def pool_steps(site: Site, asset: Asset) -> Iterator[Step]:
    """Yield the step that makes a pool, and the index of each of its sprites."""
    users = site.project.sprites_in(asset.name)
    cuts = {user.name: cut_files(site.work, user.name) for user in users}
    arguments = {
        "cells": In({name: cut.cells for name, cut in cuts.items()}),
        "cuts": In({name: cut.described for name, cut in cuts.items()}),
        "indexes": Out({user.name: index_file(site.work, user.name) for user in users}),
        "spec": site.bare(asset),
        "rules": _rules(site, users[0]),
        "flips": site.flips(),
        "alignment": site.project.alignment(asset),
    }
    yield site.asset_step(asset, "pipeline.assets.sprites.pool:make_pool", arguments)


def _rules(site: Site, asset: Asset) -> PictureRules:
    return picture_rules(site.project.target, site.project.pixel_format(asset))
