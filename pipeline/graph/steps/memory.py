"""Steps about memory: what scenes hold in part, the budget, the plan of load lists, and what is asked about it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import msgspec

from pipeline.graph.steps.assets import makers
from pipeline.graph.steps.handed import Depends, In, Kept, Out, Reached
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.pixel_size import stored_bytes
from pipeline.joints.places import blob_files
from pipeline.memory.budget import Room
from pipeline.memory.loads import Memory
from pipeline.memory.streaming import named_in
from pipeline.notices.sizes import notice_bytes
from pipeline.plain.sizes import counted, round_up
from pipeline.project.art import SIZES
from pipeline.project.assets import Defaults, Pan
from pipeline.project.file import Game, Links, Project, Scene
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.alignment import align
from pipeline.target.calls import Call
from pipeline.target.fields import directory_place
from pipeline.target.kinds import KINDS, calls_of, kinds_with
from pipeline.target.records import MAIN_AREA, PixelFormat, picture_rules, starts_of

# What measures assets that scenes hold in part; trials come to these too, where savings tries to stream.
_FRAMES, _WINDOWS = "pipeline.reading.kinds.fetched:write_frames", "pipeline.assets.backgrounds.windows:write_windows"


class InPart(NamedTuple):
    """What the scenes of a project hold in part, by name; sorted.

    Attributes:
        frames: sprites that are streamed.
        seen: backgrounds through a window.
        windows: those of them whose tiles are streamed: margin and speed of each of their windows, None for the background's pan.
    """

    frames: tuple[str, ...]
    seen: tuple[str, ...]
    windows: dict[str, tuple[tuple[int, Pan | None], ...]]


def in_part(project: LoadedProject, scenes: Mapping[str, Scene] | None = None) -> InPart:
    """Return what the scenes of a project hold in part; ``scenes``: some of them."""
    spec, bundles = project.spec, project.spec.bundle
    sprites, backgrounds = ([asset.name for asset in project.of_kind(kind)] for kind in ("sprite", "background"))
    tiled = {asset.name for asset in project.of_kind("background") if asset.spec.arrangement == "tiles"}
    frames: set[str] = set()
    windows: dict[str, set] = {}
    seen: set[str] = set()
    for scene in (spec.scene if scenes is None else scenes).values():
        frames.update(named_in(scene.streamed, bundles, sprites))
        for name, window in named_in(scene.window, bundles, backgrounds).items():
            seen.add(name)
            if name in tiled and window.tiles == "streamed":
                windows.setdefault(name, set()).add((window.margin, window.speed))
    return InPart(
        tuple(sorted(frames)), tuple(sorted(seen)), {name: tuple(sorted(windows[name], key=repr)) for name in sorted(windows)}
    )


def streaming_steps(site: Site) -> Iterator[Step]:
    """Yield the steps that measure what scenes hold in part, and nothing where none does."""
    found, target = in_part(site.project), site.project.target
    rules = msgspec.structs.replace(target, header=None, directory=None, name="", summary="", codecs=[])
    for name in found.frames:
        pool = site.project.assets[name].spec.pool
        arguments = {
            "blob": In(blob_files(site.blobs, name).content),
            "pool": In(blob_files(site.blobs, pool).content if pool else None),
            "out": Out(site.fetched(name)),
            "name": name,
            "target": rules,
        }
        doc = f"measure what is fetched of {name}, frame by frame"
        yield Step(f"fetched:{name}", _FRAMES, arguments, doc=doc)
    for name, asked in found.windows.items():
        arguments = {
            "facts": In(site.facts(name)),
            "map_file": In(site.tile_map(name)),
            "out": Out(site.windows(name)),
            "name": name,
            "asked": asked,
        }
        doc = f"measure the tiles of {name} that its windows need"
        yield Step(f"windows:{name}", _WINDOWS, arguments, doc=doc)


def memory_step(site: Site) -> Step:
    counted, found = [asset.name for asset in _counted(site)], in_part(site.project)
    return Step(
        "memory",
        "pipeline.memory.budget:write_budget",
        {
            "facts": In(site.image_facts(*counted)),
            "frames": In({name: site.fetched(name) for name in found.frames}),
            "windows": In({name: site.windows(name) for name in found.windows}),
            "out": Out(site.budget),
            "choices": Out(site.choices),
            **budget_settings(site),
        },
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
    calls = [*(name for step in made_by for name in step.calls), _FRAMES, _WINDOWS]
    asked = {
        "project": _tried(site),
        # Trials come to all of this by themselves, and run these functions.
        "made": Depends(tuple(dict.fromkeys(made))),
        "converters": Depends(tuple(Call(name) for name in dict.fromkeys(calls))),
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
    # How large a notice of tiles is depends on what it says.
    says = any(project.arrangement(asset) == "tiles" for asset in project.of_kind("screen"))
    title, version = (spec.game.title, spec.game.version) if says else ("", "")
    game = Game(title=title, code=spec.game.code, version=version, phase=spec.game.phase, target="", cartridge=spec.game.cartridge)
    bare = Project(
        format=1,
        game=game,
        links=Links(feedback=spec.links.feedback, bugs=spec.links.bugs) if says else Links(feedback="", bugs=""),
        defaults=Defaults(sprite=_sizes(spec.defaults.sprite), background=_sizes(spec.defaults.background)),
        bundles=spec.bundles,
        scene={name: _bare(scene) for name, scene in spec.scene.items()},
        planned=spec.planned,
        note_kinds=spec.note_kinds,
        mix=spec.mix,
    )
    target = msgspec.structs.replace(project.target, name="", summary="")
    return LoadedProject(project.folder, bare, target, "", project.assets)


def _sizes(given: dict[str, Any]) -> dict[str, Any]:
    return {key: given[key] for key in sorted(SIZES & given.keys())}


def budget_settings(site: Site) -> dict:
    """Return the settings of ``memory.budget.count_scenes``, apart from the facts."""
    spec = site.project.spec
    return {
        "assets": {asset.name: site.project.placed_by(asset) for asset in _counted(site)},
        "bundles": spec.bundle,
        "scenes": {name: _bare(scene) for name, scene in spec.scene.items()},
        "planned": spec.planned,
        "needs": _needs(site),
        "room": _room(site),
        "formats": _window_formats(site, in_part(site.project)),
    }


def _needs(site: Site) -> dict[str, tuple[str, ...]]:
    """Return what is in memory whenever a sprite is: its pool, and notes on its frames."""
    needs = {one.name: [one.spec.pool] if one.spec.pool else [] for one in site.project.of_kind("sprite")}
    for note in site.project.of_kind("notes"):
        needs[note.spec.of].append(note.name)
    return {name: tuple(some) for name, some in needs.items() if some}


def _bare(scene: Scene) -> Scene:
    """Return a scene without what memory does not look at."""
    choose = [msgspec.structs.replace(one, name="") for one in scene.choose]
    return msgspec.structs.replace(scene, layers=[], pan=(0, 0), after=None, choose=choose)


def _counted(site: Site) -> list[Asset]:
    """Return the assets whose facts the budget reads: not those that need not wait to be made for their size to be known."""
    named = _in_scenes(site)
    return [asset for asset in site.project.assets.values() if not KINDS[asset.kind].late or asset.name in named]


def _in_scenes(site: Site) -> set[str]:
    spec = site.project.spec
    return set(spec.parts(member for scene in spec.scene.values() for member in scene.members))


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
        transfer=target.transfer,
        areas=target.memory.area,
        loaded_to=_loaded_to(site),
        cell_start=starts_of(target).cell,
    )


def _window_formats(site: Site, found: InPart) -> dict[str, PixelFormat]:
    project = site.project
    return {name: project.target.pixel_formats[project.pixel_format(project.assets[name])] for name in found.seen}


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
    counted = {asset.name for asset in _counted(site)}
    for asset in project.of_kind(*kinds_with("late")):
        if asset.name in counted:
            continue
        alignment = project.alignment(asset)
        size = notice_bytes(project, asset) if asset.kind == "screen" else 0
        whole += round_up(size or getattr(asset.spec, "reserve", None) or 0, alignment)
    return whole


def _held(site: Site) -> dict[str, int]:
    target = site.project.target
    held: dict[str, int] = {}
    for reserved in target.memory.reserved:
        held[reserved.name] = held.get(reserved.name, 0) + reserved.bytes
    if target.screen.buffers:
        held[counted(target.screen.buffers, "screen buffer")] = _buffer_bytes(site) * target.screen.buffers
    return held


def _buffer_bytes(site: Site) -> int:
    target = site.project.target
    width, height = (round_up(side, cell) for side, cell in zip((target.screen.width, target.screen.height), site.cell(), strict=True))
    return stored_bytes(width, height, picture_rules(target, target.screen.pixels))


def addresses_step(site: Site) -> Iterator[Step]:
    """Yield the step that plans memory for load lists, if the project asks for them."""
    if site.lists is None:
        return
    yield Step(
        "addresses",
        "pipeline.memory.loads:write_lists",
        {**lists_settings(site, made=False), "out": Out(site.lists), "size": Out(site.lists_size), **_plan_settings(site)},
        doc="decide where in memory everything goes that a scene loads",
    )


def show_lists_step(site: Site) -> Step:
    """Return the question what is where in memory."""
    arguments = {"lists_file": In(site.lists)}
    return Step("loads", "pipeline.memory.loads_text:show_lists", arguments, always=True, doc="what is where in memory, by scene")


def lists_settings(site: Site, *, made: bool) -> dict[str, Any]:
    """Return what says the sizes of all assets of scenes and bundles: their facts, and bytes known before they are made.

    Args:
        made: whether programs that a command makes are made; before that their reserve counts.
    """
    spec, project = site.project.spec, site.project
    named = {one for members in spec.bundle.values() for one in members}
    named.update(spec.parts(member for scene in _listed_scenes(site).values() for member in scene.members))
    found = {name: project.assets[name] for name in sorted(named) if name in project.assets}
    needs = _needs(site)
    brought = {one for name in found for one in needs.get(name, ())}
    fixed = {}
    for name, asset in found.items():
        if asset.kind == "screen":
            fixed[name] = notice_bytes(project, asset)
        elif asset.kind == "program" and asset.spec.command and not made:
            fixed[name] = asset.spec.reserve
    return {"facts": In(site.image_facts(*sorted({*found, *brought} - fixed.keys()))), "fixed": fixed}


def _listed_scenes(site: Site) -> dict[str, Scene]:
    """Return the scenes that get a list, without what a plan of memory does not look at."""
    (asset,) = site.project.of_kind("lists")
    wanted = asset.spec.scenes
    return {name: _planned(scene) for name, scene in site.project.spec.scene.items() if wanted is None or name in wanted}


def _planned(scene: Scene) -> Scene:
    """Return a scene without what is about what it shows, and about how long fetches take."""
    streamed = {name: msgspec.structs.replace(said, within=1) for name, said in scene.streamed.items()}
    return msgspec.structs.replace(scene, layers=[], pan=(0, 0), never=[], streamed=streamed)


def _plan_settings(site: Site) -> dict[str, Any]:
    project, spec, target = site.project, site.project.spec, site.project.target
    base, scenes = target.memory.base, _listed_scenes(site)
    found = in_part(project, scenes)
    return {
        "frames": In({name: site.fetched(name) for name in found.frames}),
        "windows": In({name: site.windows(name) for name in found.windows}),
        "formats": _window_formats(site, found),
        "cell": site.cell(),
        "cell_start": starts_of(target).cell,
        "away": tuple(_loaded_to(site)),
        "alignments": {name: project.alignment(asset) for name, asset in sorted(project.assets.items())},
        "bundles": spec.bundle,
        "runs": tuple(spec.runs),
        "scenes": scenes,
        "planned": spec.planned,
        "needs": _needs(site),
        "memory": Memory(
            base=base,
            bytes=target.memory.size,
            granularity=target.memory.granularity,
            reserved=[(one.name, one.bytes, None if one.address is None else one.address - base) for one in target.memory.reserved],
            buffers=[_buffer_bytes(site)] * target.screen.buffers,
            buffer_alignment=align(target, "screen"),
        ),
    }
