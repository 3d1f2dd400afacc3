"""Steps of sounds, data, levels, programs and boot notices."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Iterator

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.memory import lists_settings
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.links import with_tester
from pipeline.project.model import Asset, build_date
from pipeline.target.records import picture_rules


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
    arguments |= {
        "includes": In(tuple(site.program_files().values())),
        "layout": In(site.layout),
        "output": Out(site.work / f"{asset.name}.program"),
        "epoch": epoch,
    }
    step = site.asset_step(asset, "pipeline.assets.program:build_program", arguments)
    yield dataclasses.replace(step, command=tuple(asset.spec.command))


def lists_steps(site: Site, asset: Asset) -> Iterator[Step]:
    project, banks = site.project, site.project.target.cartridge.banks
    settings = lists_settings(site, made=True)
    arguments = {
        "plan": In(site.lists),
        "layout": In(site.layout),
        "facts": settings["facts"],
        "fixed": settings["fixed"],
        "kinds": {name: one.kind for name, one in sorted(project.assets.items())},
        "origin": asset.spec.origin,
        "byte_order": project.target.byte_order,
        "bank": banks.size if banks else None,
    }
    yield site.asset_step(asset, "pipeline.assets.lists:convert_lists", arguments)


def screen_steps(site: Site, asset: Asset) -> Iterator[Step]:
    game, links, screen = site.project.spec.game, site.project.spec.links, site.project.target.screen
    arguments = {
        "code_file": In(site.code),
        "spec": site.bare(asset),
        "game": {"title": game.title, "version": game.version, "phase": game.phase},
        "links": {"feedback": with_tester(links.feedback), "bugs": with_tester(links.bugs)},
        "size": (screen.width, screen.height),
        "rules": picture_rules(site.project.target, screen.pixels),
        "alignment": site.project.alignment(asset),
        "pixel_aspect": screen.pixel_aspect,
    }
    yield site.asset_step(asset, "pipeline.assets.screen:make_screen", arguments)
