"""``doit fit``: the largest scale at which everything fits, found by converting at the scales in question."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.budget import Budget, SceneBudget
from pipeline.joints.facts import Facts, PoolFacts, SpriteFacts, StoredSheet
from pipeline.memory.budget import describe_scene
from pipeline.memory.largest import Look, largest_scale
from pipeline.plain.errors import ProjectError, nearest_name, refuse
from pipeline.plain.sizes import show_size
from pipeline.project.model import Asset, LoadedProject
from pipeline.questions.savings import savings
from pipeline.questions.trial import Trial, Trials
from pipeline.target.calls import Call
from pipeline.target.kinds import kinds_with

_KINDS = kinds_with("scaled")
# Too small to play: a figure lower than a tenth of the screen, or than a quarter at less than half of the size it was drawn at. Art is
# often drawn at several times its size, so that the scale alone says little. Common practice, no source.
_LOW, _LOWEST, _HALF = 10, 4, 50
_SHOWN = 3
_MOST = 100  # hundredths: art is not scaled up


def show_fit(project: LoadedProject, trials: Path, steps: Mapping[str, Call], checks: Mapping[str, Call], wanted: str) -> str:
    """Return the answer as lines for a person.

    Args:
        project: the project; its build is up to date.
        trials: the folder in which they are kept.
        steps: see ``Trials``; ``checks``: see ``savings.savings``.
        wanted: names of sprites, backgrounds and bundles with commas between them; empty for every sprite.

    Raises:
        ProjectError: a name refers to nothing that can be scaled.
    """
    assets = scaled_assets(project, wanted)
    with Trials(project, trials, steps) as tried:
        rows = fit_rows(project, assets, tried)
        ran = list(tried.ran)  # for the scales asked about alone
        small = _too_small(project, rows)
        instead = _instead(tried, checks, small) if small else []
    return _answer(project, assets, rows, wanted, ran, instead)


def scaled_assets(project: LoadedProject, wanted: str) -> list[Asset]:
    """Return the sprites and backgrounds that ``wanted`` names; see ``show_fit``."""
    if not wanted:
        found = project.of_kind("sprite")
    else:
        names = [one.strip() for one in wanted.split(",")]
        known = {asset.name: [asset.name] for asset in project.of_kind(*_KINDS)} | project.spec.bundle
        for name in names:
            if name not in known:
                near = nearest_name(name, known)
                remedy = f"did you mean {near}?" if near else f"name sprites, backgrounds or bundles: {', '.join(known)}"
                raise refuse("of=", "", f"there is no {name!r} to scale", remedy)
        inside = {asset for name in names for asset in known[name]}
        found = [asset for asset in project.of_kind(*_KINDS) if asset.name in inside]
    if not found:
        raise refuse("of=", "", f"{wanted or 'the project'} has no sprite or background", "name one with of=NAME")
    return found


@dataclasses.dataclass(frozen=True)
class Row:
    """One scale looked at.

    Attributes:
        look: what it needs.
        bytes: of the scaled assets together; 0 where they cannot be converted.
        tightest: what is tightest, in words.
        problem: why they cannot be converted, or empty.
        facts: of the scaled assets, by name; empty where they cannot be converted.
    """

    look: Look
    bytes: int
    tightest: str
    problem: str = ""
    facts: dict[str, Facts] = dataclasses.field(default_factory=dict)


def fit_rows(project: LoadedProject, assets: list[Asset], trials: Trials) -> dict[int, Row]:
    """Return every scale looked at, in hundredths; the largest that fits is among them, and the one above it."""
    rows: dict[int, Row] = {}

    def look(hundredths: int) -> Look:
        rows[hundredths] = _row(trials.change(at_scale(asset, hundredths) for asset in assets), assets)
        return rows[hundredths].look

    largest_scale(look, _start(project, assets), most=_MOST)
    return rows


def at_scale(asset: Asset, hundredths: int) -> Asset:
    """Return an asset with another scale; of two factors the larger becomes it, and the other keeps its ratio to that."""
    scale, whole = asset.spec.scale, _one(asset.spec.scale)
    pair = [round(one / whole * hundredths / 100, 4) for one in scale] if isinstance(scale, list) else None
    changes: dict[str, Any] = {"scale": pair or hundredths / 100}
    if getattr(asset.spec, "height", None) is not None:
        changes["height"] = None
    return dataclasses.replace(asset, spec=msgspec.structs.replace(asset.spec, **changes))


def _start(project: LoadedProject, assets: list[Asset]) -> int:
    """Return the scale the assets have, where it is one number of hundredths; else that of nothing scaled."""
    scales = {_one(asset.spec.scale) for asset in assets}
    scale = scales.pop() if len(scales) == 1 else None
    if scale is not None and scale <= 1 and round(scale * 100) / 100 == scale and not _heights(assets):
        return max(round(scale * 100), 5)
    return _MOST


def _one(scale: float | list[float]) -> float:
    return max(scale) if isinstance(scale, list) else scale


def _heights(assets: list[Asset]) -> bool:
    return any(getattr(asset.spec, "height", None) is not None for asset in assets)


def _row(trial: Trial, assets: list[Asset]) -> Row:
    try:
        budget = trial.budget()
    except ProjectError as error:
        return Row(Look(None, 0), 0, "", str(error.problems[0]).splitlines()[0])
    pools = [asset.spec.pool for asset in assets if getattr(asset.spec, "pool", None)]  # their cells are scaled too
    facts = {name: trial.facts(name) for name in [*(asset.name for asset in assets), *pools]}
    limits = [_image_look(budget, facts), *(_scene_look(name, scene, facts) for name, scene in budget.scenes.items())]
    over, scaled, words = max(limits, key=lambda one: one[0])
    total = sum(one.unpacked_bytes for one in facts.values())
    solid = min(sum(map(_solid_bytes, facts.values())), total)
    return Row(Look(over, scaled, scaled * solid // max(total, 1)), total, words, facts=facts)


def _solid_bytes(facts: Facts) -> int:
    """Return the bytes of an asset that grow with the square of its scale: of cells cut to a figure, its opaque pixels."""
    if isinstance(facts, PoolFacts):
        return 0  # its sprites say what their pixels take
    if isinstance(facts, SpriteFacts) and not isinstance(facts.stored, StoredSheet):
        return facts.opaque_bytes
    return facts.unpacked_bytes


def _image_look(budget: Budget, facts: dict[str, Facts]) -> tuple[int, int, str]:
    """Return over and scaled of a ``Look``, and what is tightest in words."""
    image = budget.image
    over = image.bytes + image.planned - image.most
    state = f"{show_size(-over)} free" if over <= 0 else f"{show_size(over)} OVER"
    return over, sum(one.bytes for one in facts.values()), f"the image, {state}"


def _scene_look(name: str, scene: SceneBudget, facts: dict[str, Facts]) -> tuple[int, int, str]:
    """Return over and scaled of a ``Look``, and what is tightest in words."""
    tables = {one.name: one.tables for one in scene.streamed}
    scaled = sum(tables.get(asset, facts[asset].unpacked_bytes) for part in scene.parts for asset in part.assets if asset in facts)
    scaled += sum(part.fetched for part in scene.parts)
    over = -scene.margin
    passed = [limit for limit in scene.limits.values() if limit.passed and not limit.warned]
    if passed and over <= 0:
        over = max(scaled * (limit.used - limit.most) // limit.used for limit in passed) + 1
    return over, scaled, describe_scene(name, scene)


def _too_small(project: LoadedProject, rows: dict[int, Row]) -> list[str]:
    """Return why nobody would play at the largest scale that fits, and what costs most there; empty where that is not so."""
    best = max((at for at, row in rows.items() if row.look.fits), default=None)
    if best is None:
        return []
    facts, lines = rows[best].facts, project.target.screen.height
    figures = [one for one in facts.values() if isinstance(one, SpriteFacts)]
    # What was drawn lower than a tenth of the screen is meant to be small.
    lost = [one for one in figures if one.height * _LOW < lines <= one.source_height * _LOW]
    if not lost and best < _HALF and figures and (tallest := max(figures, key=lambda one: one.height)).height * _LOWEST < lines:
        lost = [tallest]
    if not lost:
        return []
    tall = max(lost, key=lambda one: one.height)
    most = max(facts.values(), key=lambda one: one.unpacked_bytes)
    share = f"{show_size(most.unpacked_bytes)} of {show_size(rows[best].bytes)}"
    return [
        f"That is small: {tall.name} is {tall.height} of the screen's {lines} lines high at scale {_shown(best)}.",
        f"What costs most there is {most.name}: {share}.",
    ]


def _instead(trials: Trials, checks: Mapping[str, Call], small: list[str]) -> list[str]:
    """Return ``small``, and what saves most at the sizes that the project file gives."""
    try:
        best = savings(trials, trials.change([]).budget(), checks, _SHOWN)[0][:_SHOWN]
    except ProjectError:
        best = []  # at these sizes nothing can be converted, or a change of them
    if not best:
        return [*small, "No other change is known to save memory at the sizes of the project file."]
    lines = [f"    {one.words} saves {show_size(one.scene)}" for one in best]
    return [*small, "At the sizes of the project file, measured (all of it: doit savings):", *lines, "Make such a change and ask again."]


def _answer(
    project: LoadedProject, assets: list[Asset], rows: dict[int, Row], wanted: str, ran: list[str], instead: list[str]
) -> str:
    fitting = [at for at, row in rows.items() if row.look.fits]
    names = ", ".join(asset.name for asset in assets)
    pairs = "; of two factors it is the larger" if any(isinstance(asset.spec.scale, list) for asset in assets) else ""
    lines = [f"The largest scale at which everything fits, for {names}{pairs}", ""]
    lines += _table(rows, max(fitting, default=None))
    lines += ["", *_advice(project, assets, max(fitting, default=None), wanted), ""]
    lines += [*instead, ""] if instead else []
    converted = {name for name in ran if name.startswith(("sprite:", "background:"))}
    most = max((ran.count(name) for name in converted), default=0)
    often = "once" if most == 1 else f"{most} times"
    lines.append(f"Converted again: {often} each at most." if most else "Nothing had to be converted again.")
    return "\n".join(lines)


def _table(rows: dict[int, Row], best: int | None) -> list[str]:
    base = max((at for at, row in rows.items() if row.bytes), default=None)
    lines = [f"  {'scale':>5}  {'bytes':>12}  {'by s² from ' + _shown(base) if base else '':>15}  what is tightest"]
    for at in sorted(rows, reverse=True):
        row = rows[at]
        guess = f"{rows[base].bytes * at**2 // base**2:,}" if base else ""
        mark = "  <- the largest that fits" if at == best else ""
        measured = f"{row.bytes:,}" if not row.problem else "–"
        lines.append(f"  {_shown(at):>5}  {measured:>12}  {guess:>15}  {row.problem or row.tightest}{mark}")
    return lines


def _advice(project: LoadedProject, assets: list[Asset], best: int | None, wanted: str) -> list[str]:
    if best is None:
        return ["Nothing fits at any scale. See what else would help: doit savings"]
    if all(at_scale(asset, best).spec == asset.spec for asset in assets):
        return [f"The project file says so: scale = {_factors(assets[0], best)}"]
    whole = [asset.name for asset in project.of_kind("sprite")] == [asset.name for asset in assets]
    own = [asset for asset in assets if _has_own_size(project, asset)]
    tables = [("[defaults.sprite]", assets[0])] if whole and not own else [(f"[{asset.kind}.{asset.name}]", asset) for asset in assets]
    changed = [(table, asset) for table, asset in tables if at_scale(asset, best).spec != asset.spec]
    return ["Write into project.toml:", *(line for table, asset in changed for line in (f"    {table}", f"    {_key(asset, best)}"))]


def _key(asset: Asset, best: int) -> str:
    instead = "    # in place of height" if _heights([asset]) else ""
    return f"scale = {_factors(asset, best)}{instead}"


def _factors(asset: Asset, best: int) -> str:
    scale = at_scale(asset, best).spec.scale
    return f"[{scale[0]}, {scale[1]}]" if isinstance(scale, list) else _shown(best)


def _has_own_size(project: LoadedProject, asset: Asset) -> bool:
    defaults = getattr(project.spec.defaults, asset.kind)
    return asset.spec.scale != defaults.get("scale", 1.0) or getattr(asset.spec, "height", None) != defaults.get("height")


def _shown(hundredths: int) -> str:
    return f"{hundredths / 100:.2f}"
