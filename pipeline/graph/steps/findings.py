"""Steps that look for what may harm a player: each thing measured by itself, so that only what changed is measured again."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.findings.cast import Cast, Drawn
from pipeline.graph.steps.handed import Depends, Found, In, Kept, Out, Trusted
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.project.file import Effect, Scene
from pipeline.project.issues import find_frame
from pipeline.project.model import Asset

_SHOWING = ("sprite", "background")


def findings_steps(site: Site) -> Iterator[Step]:
    """Yield the steps that measure, and the one that makes a list of all they found."""
    for asset in _measured(site):
        yield _asset_step(site, asset)
    for name, effect in site.project.spec.effect.items():
        yield _effect_step(site, name, effect)
    spec, screen = site.project.spec, site.project.target.screen
    yield Step(
        "findings",
        "pipeline.findings.collect:collect",
        {
            "flashes": In(_files(site)),
            "scenes": _casts(site),
            "unused": tuple(sorted(name for name, effect in spec.effect.items() if not effect.used)),
            "cautions": spec.caution,
            "screen": (screen.width, screen.height),
            "out": Out(site.findings),
            "cautions_out": Out(site.cautions),
        },
        doc="one list of what may harm a player",
    )


def flashes_step(site: Site, captured: str, rate: str) -> Step:
    """Return the question what flashes too often.

    Args:
        captured: a path, as it was written; empty: the game's own animations and effects.
        rate: as it was written.
    """
    out = Kept(site.build / "flashes.png")
    doc = "what flashes too often for photosensitive players; of=FOLDER looks at captured play"
    if captured:
        path = Path(os.path.abspath(os.path.expanduser(captured)))
        arguments = {"captured": Found(path), "rate": rate, "refresh": site.project.target.screen.refresh, "out": out}
        return Step("flashes", "pipeline.questions.flashes:show_captured", arguments, always=True, doc=doc)
    moving = [asset for asset in _measured(site) if asset.kind == "sprite"]
    effects = {name: (effect, _drawn(site, effect)) for name, effect in site.project.spec.effect.items()}
    arguments = {
        "findings_file": In(site.findings),
        "flashes": In(_files(site)),
        "image": In(site.image),
        "map_file": In(site.map),
        "facts": In({asset.name: site.facts(asset.name) for asset in moving}),
        "palettes": {asset.name: asset.spec.palette for asset in _measured(site) if asset.spec.palette},
        "effects": effects,
        "decoders": site.decoders(*_SHOWING),
        "target": site.drawn_on(),
        "out": out,
    }
    return Step("flashes", "pipeline.questions.flashes:show_flashes", arguments, always=True, doc=doc)


def _measured(site: Site) -> list[Asset]:
    return [asset for asset in site.project.of_kind(*_SHOWING) if asset.kind == "background" or asset.spec.animations]


def _files(site: Site) -> dict[str, Path]:
    """Return name -> the file of what was measured of it."""
    return {name: site.flashes(name) for name in [*(asset.name for asset in _measured(site)), *site.project.spec.effect]}


def _read(site: Site, names: Iterable[str | None], kinds: Iterable[str]) -> dict[str, Any]:
    """Return arguments of a step that reads assets from the image; it depends on their bytes alone, which verify has compared."""
    return {
        "image": Trusted(site.image),
        "map_file": Trusted(site.map),
        "others": Depends(site.contents_drawn(*names)),
        "decoders": site.decoders(*kinds),
        "target": site.drawn_on(),
    }


def _asset_step(site: Site, asset: Asset) -> Step:
    name, palette = asset.name, asset.spec.palette
    arguments = {"out": Out(site.flashes(name)), "name": name, "palette": palette}
    if asset.kind == "background":
        arguments |= _read(site, (name, palette), ["background"])
        return Step(f"flashing:{name}", "pipeline.findings.backgrounds:measure_background", arguments, doc=f"look for stripes in {name}")
    arguments |= {"facts": In(site.facts(name)), **_read(site, (palette, asset.spec.pool), ["sprite"])}
    doc = f"measure how {name}'s animations flash"
    return Step(f"flashing:{name}", "pipeline.findings.animations:measure_animations", arguments, doc=doc)


def _effect_step(site: Site, name: str, effect: Effect) -> Step:
    drawn = _drawn(site, effect)
    shown = [asset for asset, _, _ in drawn.frames.values()]
    worn = [step.palette for step in effect.steps]
    palettes = [palette for _, _, palette in drawn.frames.values()]
    pools = [site.project.assets[one].spec.pool for one in shown if site.project.assets[one].kind == "sprite"]
    arguments = {
        "out": Out(site.flashes(name)),
        "name": name,
        "effect": msgspec.structs.replace(effect, used=True),
        "drawn": drawn,
        **_read(site, (drawn.over or None, drawn.palette, *worn, *shown, *palettes, *pools), _SHOWING),
    }
    return Step(f"flashing:{name}", "pipeline.findings.effects:measure_effect", arguments, doc=f"measure how the effect {name} flashes")


def _drawn(site: Site, effect: Effect) -> Drawn:
    assets, frames = site.project.assets, {}
    for rank, step in enumerate(effect.steps):
        if step.frame is not None:
            name, number = find_frame(step.frame, site.project)
            frames[rank] = (name, number, assets[name].spec.palette)
    over = effect.over if effect.over in assets else ""
    return Drawn(over, assets[over].spec.palette if over else None, frames)


def _casts(site: Site) -> dict[str, Cast]:
    """Return name -> sprites of the scenes that show some with animations; a plan that scenes do not change stays the same."""
    moving = {asset.name for asset in _measured(site) if asset.kind == "sprite"}
    casts = {name: _cast(site, scene, moving) for name, scene in site.project.spec.scene.items()}
    return {name: cast for name, cast in casts.items() if cast.always or any(any(members) for _, _, members in cast.choices)}


def _cast(site: Site, scene: Scene, moving: set[str]) -> Cast:
    def sprites(members: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(part for part in site.project.spec.parts(members) if part in moving))

    choices = [(one.count, one.repeat, tuple(sprites([member]) for member in one.of)) for one in scene.choose]
    return Cast(sprites(scene.always), tuple(one for one in choices if any(one[2])))
