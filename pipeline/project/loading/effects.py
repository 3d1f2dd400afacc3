"""Checks of effects and cautions: every name means something, and an effect shows one thing at a time."""

from __future__ import annotations

import re

import pipeline.project.file as pf
from pipeline.plain.bounds import EFFECT_TICKS
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.issues import find_frame
from pipeline.project.loading.sources import IDENTIFIER
from pipeline.project.model import Asset, LoadedProject

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
_SHOWN = ("fill", "palette", "frame")


def check_effects(document: Document, project: LoadedProject) -> None:
    """Note every problem of the tables ``[effect.NAME]``."""
    for name, effect in project.spec.effect.items():
        path = ("effect", name)
        if not IDENTIFIER.fullmatch(name):
            document.say(path, f"{name!r} is not a valid name", "use small letters, digits and underscores, a letter first, at most 32")
        elif name in project.assets:
            document.say(path, f"{name!r} is also a {project.assets[name].kind}", "give the effect another name")
        over = _check_over(document, project, path, effect)
        if (effect.cycle is None) == (not effect.steps):
            wrong = "has steps and a cycle" if effect.steps else "has neither steps nor a cycle"
            document.say(path, wrong, "write what the screen shows as steps, or a cycle = { first, last, every }")
        if effect.cycle is not None:
            _check_cycle(document, (*path, "cycle"), effect.cycle, over)
        ticks = sum(step.hold for step in effect.steps) * effect.times
        if ticks > EFFECT_TICKS:
            wrong = f"takes {ticks:,} refreshes, at most {EFFECT_TICKS:,} are measured"
            document.say((*path, "steps"), wrong, "declare what repeats once, with loop = true")
        for rank, step in enumerate(effect.steps):
            _check_step(document, project, (*path, "steps", rank), step, over)


def _check_over(document: Document, project: LoadedProject, path: tuple, effect: pf.Effect) -> Asset | None:
    """Return the background that an effect is over; None for a colour, or where there is none."""
    asset = project.assets.get(effect.over)
    if asset is not None and asset.kind == "background":
        return asset
    if effect.over not in document.broken and not _COLOUR.fullmatch(effect.over):
        near = nearest_name(effect.over, [one.name for one in project.of_kind("background")])
        remedy = f"did you mean {near}?" if near else 'name a background, or a colour such as "#000000"'
        document.say((*path, "over"), f"there is no background {effect.over!r}", remedy)
    return None


def _check_cycle(document: Document, path: tuple, cycle: pf.Cycle, over: Asset | None) -> None:
    if cycle.last <= cycle.first:
        remedy = "name the last of the entries that move"
        document.say((*path, "last"), f"entry {cycle.last} does not come after entry {cycle.first}", remedy)
    if over is None or not over.spec.palette:
        document.say(path, "the effect is not over a background with a palette", 'name one as over = "NAME"')


def _check_step(document: Document, project: LoadedProject, path: tuple, step: pf.EffectStep, over: Asset | None) -> None:
    said = [key for key in _SHOWN if getattr(step, key) is not None]
    if len(said) > 1:
        document.say(path, f"has {' and '.join(said)}", "keep one of them, and write the others as steps of their own")
    for key, needs in (("share", "fill"), ("at", "frame")):
        if getattr(step, key) not in (None, 1.0) and getattr(step, needs) is None:
            document.say((*path, key), f"{key} says nothing without {needs}", f"add {needs}, or leave {key} out")
    if step.palette is not None:
        own = over.spec.palette if over else None
        variants = [one.name for one in project.of_kind("palette") if own and one.spec.variant_of == own]
        if step.palette not in variants and step.palette not in document.broken:
            wrong = f"{step.palette!r} is not a variant of {own!r}" if own else "the effect is not over a background with a palette"
            document.say((*path, "palette"), wrong, f"the variants are {', '.join(variants)}" if variants else "write fill instead")
    if step.frame is not None and step.frame.partition("/")[0] not in document.broken and find_frame(step.frame, project)[1] is None:
        remedy = "write SPRITE/FRAME, such as ada/0, or the name of a background"
        document.say((*path, "frame"), f"there is no frame {step.frame!r}", remedy)


def check_cautions(document: Document, project: LoadedProject) -> None:
    """Note cautions about what is not there, and two about the same."""
    seen: set[tuple[str, str]] = set()
    for rank, caution in enumerate(project.spec.caution):
        path, (name, _, animation) = ("caution", rank, "of"), caution.of.partition("/")
        asset = project.assets.get(name)
        if (caution.of, caution.kind) in seen:
            document.say(path, f"{caution.of!r} has a caution already", "write both as one")
        seen.add((caution.of, caution.kind))
        if caution.of in project.spec.effect and not project.spec.effect[caution.of].used:
            wrong = f"{caution.of!r} has used = false, so no tester meets it"
            document.say(path, wrong, "remove the caution, or remove used = false")
        known = caution.of in project.spec.effect or asset is not None and asset.kind in ("sprite", "background")
        if animation and (asset is None or asset.kind != "sprite" or animation not in asset.spec.animations):
            document.say(path, f"there is no animation {caution.of!r}", "write SPRITE/ANIMATION, or SPRITE for all of its animations")
        elif not known and name not in document.broken:
            near = nearest_name(name, [*project.spec.effect, *(one.name for one in project.of_kind("sprite", "background"))])
            remedy = f"did you mean {near}?" if near else "name an effect, a sprite or a background"
            document.say(path, f"there is no {name!r}", remedy)
