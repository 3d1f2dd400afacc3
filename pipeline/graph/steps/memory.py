"""Steps about memory: the budget."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from pipeline.graph.steps.assets import makers
from pipeline.graph.steps.handed import Depends, In, Kept, Out, Reached
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.pixel_size import screen_bytes, stored_bytes
from pipeline.memory.budget import Room
from pipeline.plain.sizes import counted, round_up
from pipeline.project.art import SIZES
from pipeline.project.assets import Defaults
from pipeline.project.file import Game, Links, Project, Scene
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.calls import Call
from pipeline.target.fields import directory_place
from pipeline.target.kinds import KINDS, calls_of, kinds_with
from pipeline.target.records import MAIN_AREA, picture_rules


def memory_step(site: Site) -> Step:
    counted = [asset.name for asset in _counted(site)]
    return Step(
        "memory",
        "pipeline.memory.budget:write_budget",
        {"facts": In(site.image_facts(*counted)), "out": Out(site.budget), **budget_settings(site)},
        doc="what each scene needs at worst, and what is left",
    )


def advice_steps(site: Site, wanted: str, made_by: Sequence[Step]) -> Iterator[Step]:
    """Yield what is asked about memory, and what a kit over budget is refused with.

    Args:
        wanted: names of what ``fit`` scales, with commas between them; empty for every sprite.
        made_by: the steps that make the assets, which trials run again with other settings.
    """
    made = [path for step in made_by for path in (*step.reads, *step.writes)]
    made += [site.facts(asset.name) for asset in _counted(site)]  # of programs and boot notices too, which no trial makes
    asked = {
        "project": _tried(site),
        # Trials come to all of this by themselves, and run these functions.
        "made": Depends(tuple(dict.fromkeys(made))),
        "converters": Depends(tuple(Call(name) for name in dict.fromkeys(name for step in made_by for name in step.calls))),
        "trials": Kept(site.trials),
        "caches": Reached(site.caches),
        "steps": makers(late=False),
        "checks": calls_of("check", *(one.kind for one in site.project.assets.values())),
    }
    measured = {**asked, "budget_file": In(site.budget)}
    yield Step(
        "advice",
        "pipeline.questions.savings:write_advice",
        {**measured, "out": Out(site.advice)},
        doc="measure what would help where a scene is over budget",
    )
    questions = {
        "fit": ("pipeline.questions.fit:show_fit", {**asked, "wanted": wanted}, "the largest scale at which all fits; of=NAME"),
        "savings": ("pipeline.questions.savings:show_savings", measured, "what else would make it fit, measured"),
    }
    yield Step(
        "budget",
        "pipeline.memory.budget_text:show_budget",
        {"budget_file": In(site.budget), "advice_file": In(site.advice)},
        always=True,
        doc="what each scene needs at worst; fails where something does not fit",
    )
    for name, (call, arguments, doc) in questions.items():
        yield Step(name, call, arguments, always=True, doc=doc)


def _tried(site: Site) -> LoadedProject:
    """Return the project without what trials do not look at, so that other words for testers do not cause new measurements."""
    project, spec = site.project, site.project.spec
    game = Game(title="", code=spec.game.code, version="", phase=spec.game.phase, target="", cartridge=spec.game.cartridge)
    bare = Project(
        format=1,
        game=game,
        links=Links(feedback="", bugs=""),
        defaults=Defaults(sprite=_sizes(spec.defaults.sprite), background=_sizes(spec.defaults.background)),
        bundle=spec.bundle,
        scene={name: _bare(scene) for name, scene in spec.scene.items()},
        planned=spec.planned,
    )
    target = msgspec.structs.replace(project.target, name="", summary="")
    return LoadedProject(project.folder, bare, target, "", project.assets)


def _sizes(given: dict[str, Any]) -> dict[str, Any]:
    return {key: given[key] for key in sorted(SIZES & given.keys())}


def budget_settings(site: Site) -> dict:
    """Return the settings of ``memory.budget.make_budget``, apart from the facts."""
    spec = site.project.spec
    return {
        "assets": {asset.name: site.project.alignment(asset) for asset in _counted(site)},
        "bundles": spec.bundle,
        "scenes": {name: _bare(scene) for name, scene in spec.scene.items()},
        "planned": spec.planned,
        "needs": {asset.name: (asset.spec.pool,) for asset in site.project.of_kind("sprite") if asset.spec.pool},
        "room": _room(site),
    }


def _bare(scene: Scene) -> Scene:
    """Return a scene without what memory does not look at."""
    return msgspec.structs.replace(scene, layers=[], pan=(0, 0), choose=[msgspec.structs.replace(one, name="") for one in scene.choose])


def _counted(site: Site) -> list[Asset]:
    """Return the assets whose facts the budget reads: not those that need not wait to be made for their size to be known."""
    named = _in_scenes(site)
    return [asset for asset in site.project.assets.values() if not KINDS[asset.kind].late or asset.name in named]


def _in_scenes(site: Site) -> set[str]:
    spec, named = site.project.spec, set()
    for scene in spec.scene.values():
        for member in [*scene.always, *(member for choice in scene.choose for member in choice.of)]:
            named.update(spec.bundle.get(member, [member]))
    return named


def _room(site: Site) -> Room:
    target = site.project.target
    limits = {key: getattr(target.limits, key) for key in target.limits.__struct_fields__}
    return Room(
        memory=target.memory.size,
        granularity=target.memory.granularity,
        held=_held(site),
        cell=site.cell(),
        image=site.project.spec.game.cartridge or target.cartridge.sizes[-1],
        head=_head(site),
        limits={key: int(most) for key, most in limits.items() if most is not None} | target.sprites.hardware(),
        warned=target.sprites.over == "warn",
        tile_unit=target.tiles is not None,
        areas=target.memory.area,
        loaded_to=_loaded_to(site),
    )


def _loaded_to(site: Site) -> dict[str, str]:
    """Return the area that assets and planned assets are loaded to, of those outside main memory."""
    project = site.project
    found = {name: project.area(asset) for name, asset in sorted(project.assets.items())}
    found |= {name: project.area_of(planned.kind) for name, planned in sorted(project.spec.planned.items())}
    return {name: area for name, area in found.items() if area != MAIN_AREA}


def _head(site: Site) -> int:
    """Bytes of the image apart from the counted assets: header, directory, boot notices, programs that are not placed with assets."""
    project, target = site.project, site.project.target
    directory = directory_place(target, len(project.assets))
    whole = max(target.header.offset + target.header.size, directory.stop if directory is not None else 0)
    rules = picture_rules(target, target.screen.pixels)
    counted = {asset.name for asset in _counted(site)}
    for asset in project.of_kind(*kinds_with("late")):
        if asset.name in counted:
            continue
        alignment = project.alignment(asset)
        size = screen_bytes(target.screen.width, target.screen.height, rules, alignment) if asset.kind == "screen" else 0
        whole += round_up(size or getattr(asset.spec, "reserve", None) or 0, alignment)
    return whole


def _held(site: Site) -> dict[str, int]:
    target = site.project.target
    held: dict[str, int] = {}
    for reserved in target.memory.reserved:
        held[reserved.name] = held.get(reserved.name, 0) + reserved.bytes
    if target.screen.buffers:
        width, height = (round_up(side, cell) for side, cell in zip((target.screen.width, target.screen.height), site.cell(), strict=True))
        one = stored_bytes(width, height, picture_rules(target, target.screen.pixels))
        held[counted(target.screen.buffers, "screen buffer")] = one * target.screen.buffers
    return held
