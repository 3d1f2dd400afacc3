"""Steps of sounds, data, levels, texts, notes, programs and boot notices."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Iterator

import msgspec

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.memory import lists_settings
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.links import with_tester
from pipeline.joints.places import Sources
from pipeline.joints.views import CharactersView
from pipeline.notices.tile_plan import Console, tile_screen
from pipeline.project.assets import Background
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
        "adpcm": target.sound.adpcm,
        "alignment": site.project.alignment(asset),
        "room": site.project.room(),
    }
    mix = asset.spec.mix
    if mix is not None:
        members = [one for one in site.project.of_kind("sound") if one.spec.mix == mix]
        arguments["gains"] = In(site.work / f"{mix}.mix.json")
        if asset is members[0]:
            yield _mix_step(site, mix, members)
    yield site.asset_step(asset, "pipeline.assets.sound:convert_sound", arguments)


def _mix_step(site: Site, name: str, members: list[Asset]) -> Step:
    arguments = {
        "sources": In({one.name: site.sources(one) for one in members}),
        "out": Out(site.work / f"{name}.mix.json"),
        "spec": site.project.spec.mix[name],
        # Only what is there before the gain.
        "specs": {one.name: msgspec.structs.replace(site.bare(one), format=None, dither="none", origin="", mix=None) for one in members},
        "max_rate": site.project.target.sound.max_rate,
    }
    return Step(f"mix:{name}", "pipeline.assets.sound:write_gains", arguments, doc=f"measure the sounds of mix {name}")



def data_steps(site: Site, asset: Asset) -> Iterator[Step]:
    arguments = {"sources": In(site.sources(asset)), "spec": site.bare(asset), "room": site.project.room()}
    yield site.asset_step(asset, "pipeline.assets.data:convert_data", arguments)


def level_steps(site: Site, asset: Asset) -> Iterator[Step]:
    arguments = {"sources": In(site.sources(asset)), "spec": site.bare(asset), "room": site.project.room()}
    arguments |= {"byte_order": site.project.target.byte_order, "alignment": site.project.alignment(asset)}
    tiles = site.project.assets[asset.spec.set] if asset.spec.set else None
    call = "level:convert_level"
    if tiles is not None:
        of_map = tiles.kind == "background"  # its frames are the tiles where it is a sprite
        flips = tile_rules(site.project.target, tiles.spec.tile, tiles.spec.map_entry).flips if of_map else (False, False)
        arguments |= {"tiles": In(site.facts(tiles.name)), "flips": flips}
        if asset.spec.picture:
            key = Background(file="-", key=tiles.spec.key, tolerance=tiles.spec.tolerance)
            arguments |= {"drawn": key, "art": In(site.prepared(tiles.name))}
            arguments |= {"tile_map": In(site.tile_map(tiles.name) if of_map else None), "alpha": None if of_map else tiles.spec.alpha}
            call = "backgrounds.drawn_level:convert_drawn_level"
    yield site.asset_step(asset, f"pipeline.assets.{call}", arguments)


def text_steps(site: Site, asset: Asset) -> Iterator[Step]:
    font = asset.spec.font
    arguments = {
        "sources": In(site.sources(asset)),
        "font": In(CharactersView(site.facts(font)) if font else None),
        "spec": msgspec.structs.replace(site.bare(asset), languages=dict.fromkeys(asset.spec.languages, "-")),
        "byte_order": site.project.target.byte_order,
        "alignment": site.project.alignment(asset),
        "room": site.project.room(),
    }
    yield site.asset_step(asset, "pipeline.assets.texts.convert:convert_text", arguments)


def notes_steps(site: Site, asset: Asset) -> Iterator[Step]:
    sprite = site.project.assets[asset.spec.of]
    written = asset.files[-1:] if asset.spec.file else ()
    arguments = {
        "layer": In(Sources(site.folder, asset.files[: len(asset.files) - len(written)])),
        "written": In(Sources(site.folder, written)),
        "described": In(site.prepared(sprite.name).described),
        "spec": msgspec.structs.replace(site.bare(asset), file=None, layer=None),
        "kinds": site.project.spec.note_kinds,
        "names": site.project.frame_names(sprite, named=True),
        "source": next(key for key in ("frames", "sheet", "animated") if getattr(sprite.spec, key)),
        "byte_order": site.project.target.byte_order,
        "alignment": site.project.alignment(asset),
    }
    step = site.asset_step(asset, "pipeline.assets.notes:convert_notes", arguments)
    yield dataclasses.replace(step, name=f"noted:{asset.name}")  # notes are those that are sent with a kit


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
