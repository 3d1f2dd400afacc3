"""Steps of sounds, data, levels, programs and boot notices."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Iterator

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.site import INCLUDE_FILES, READERS, UNPACKERS, Site
from pipeline.graph.steps.step import Step
from pipeline.joints.links import with_tester
from pipeline.notices.tile_plan import Console, tile_screen
from pipeline.project.model import Asset, build_date
from pipeline.target.records import picture_rules
from pipeline.target.tiles import tile_rules


def sound_steps(site: Site, asset: Asset) -> Iterator[Step]:
    target = site.project.target
    arguments = {
        "sources": In(site.sources(asset)),
        "spec": site.bare(asset),
        "sample_format": asset.spec.format or target.sound.formats[0],
        "max_rate": target.sound.max_rate,
        "byte_order": target.byte_order,
        "sample_order": target.order_of(target.sound.byte_order),
        "alignment": site.project.alignment(asset),
        "room": site.project.room(),
    }
    yield site.asset_step(asset, "pipeline.assets.sound:convert_sound", arguments)


def data_steps(site: Site, asset: Asset) -> Iterator[Step]:
    arguments = {"sources": In(site.sources(asset)), "spec": site.bare(asset), "room": site.project.room()}
    yield site.asset_step(asset, "pipeline.assets.data:convert_data", arguments)


def level_steps(site: Site, asset: Asset) -> Iterator[Step]:
    arguments = {"sources": In(site.sources(asset)), "spec": site.bare(asset), "room": site.project.room()}
    arguments |= {"byte_order": site.project.target.byte_order, "alignment": site.project.alignment(asset)}
    yield site.asset_step(asset, "pipeline.assets.level:convert_level", arguments)


def program_steps(site: Site, asset: Asset) -> Iterator[Step]:
    arguments = {"sources": In(site.sources(asset)), "spec": site.bare(asset), "room": max(site.project.target.cartridge.sizes)}
    if asset.spec.file:
        yield site.asset_step(asset, "pipeline.assets.program:take_program", arguments)
        return
    date = build_date(site.project)
    epoch = int(datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC).timestamp()) if date else 0
    includes = site.includes(*INCLUDE_FILES, *READERS, *(UNPACKERS if site.packed() else ()))
    arguments |= {
        "includes": In(tuple(includes.values())),
        "layout": In(site.layout),
        "output": Out(site.work / f"{asset.name}.program"),
        "epoch": epoch,
    }
    step = site.asset_step(asset, "pipeline.assets.program:build_program", arguments)
    yield dataclasses.replace(step, command=tuple(asset.spec.command))


def screen_steps(site: Site, asset: Asset) -> Iterator[Step]:
    target = site.project.target
    game, links, screen = site.project.spec.game, site.project.spec.links, target.screen
    rules = picture_rules(target, site.project.pixel_format(asset))
    arguments = {
        "code_file": In(site.code),
        "spec": site.bare(asset),
        "game": {"title": game.title, "version": game.version, "phase": game.phase},
        "links": {"feedback": with_tester(links.feedback), "bugs": with_tester(links.bugs)},
        "pixel_aspect": screen.pixel_aspect,
        "safe": (screen.action_safe, screen.title_safe),
    }
    if site.project.arrangement(asset) == "tiles":
        drawn = tile_screen(target, site.project.pixel_format(asset))
        console = Console(drawn, rules, tile_rules(target, None, None), site.project.alignment(asset))
        yield site.asset_step(asset, "pipeline.assets.notices.tiles:make_tiled_screen", {**arguments, "console": console})
        return
    size = {"size": (screen.width, screen.height), "rules": rules, "alignment": site.project.alignment(asset)}
    yield site.asset_step(asset, "pipeline.assets.notices.bitmap:make_screen", {**arguments, **size})
