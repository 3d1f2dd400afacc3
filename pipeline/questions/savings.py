"""``doit savings``: what else would make it fit, each change measured by making it.

The saving of a change is what the worst case of the tightest scene, computed again, needs less. It is at most what the changed assets
take in that case; changes are measured in the order of that, until no other can save more than those that are wanted.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from pipeline.joints.budget import Budget, SceneBudget, read_budget_file
from pipeline.joints.facts import BackgroundFacts, Facts, FontFacts, SpriteFacts
from pipeline.memory.usage import CARRIED
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_json
from pipeline.plain.sizes import show_size
from pipeline.project.loading.across import allowed
from pipeline.project.model import Asset, LoadedProject
from pipeline.questions.reductions import Change, changes
from pipeline.questions.streams import MOST_WITHIN, Offer, offers
from pipeline.questions.trial import Trial, Trials
from pipeline.target.calls import Call

_SHOWN_AT_MOST, _ADVISED, _NAMED = 12, 3, 6
_SMALLEST = 50  # times less than the largest saving is not worth showing


@dataclasses.dataclass(frozen=True)
class Saving:
    """One change and what it saves.

    Attributes:
        words: what to do, with the assets it concerns.
        scene: bytes saved in the worst case of the tightest scene.
        image: bytes saved in the image.
        colours: mean CIEDE2000 of the changed pictures before and after; None where nothing is drawn.
        lost: what else is lost, as text.
        lines: what to write into the project file, where the words do not say it.
    """

    words: str
    scene: int
    image: int
    colours: tuple[float, float] | None
    lost: str
    lines: tuple[str, ...] = ()


def show_savings(
    project: LoadedProject, trials: Path, steps: dict[str, Call], budget_file: Path, checks: dict[str, Call]
) -> str:
    """Return the changes that would help most as lines for a person; see ``fit.show_fit`` and ``savings``."""
    budget = read_budget_file(budget_file)
    name = tightest(budget)
    if name is None:
        return "The project names no scene, so nothing is known about memory. Add a [scene.NAME] table."
    with Trials(project, trials, steps) as tried:
        found, left = savings(tried, budget, checks, _SHOWN_AT_MOST)
    if not found:
        return f"No change known would make the worst case of {name} smaller."
    lines = [f"What would make the worst case of {name} smaller, measured by doing it", ""]
    lines.append(f"  {'scene':>11} {'image':>11}  {'colours':<12} what to do")
    lines += [_line(one) for one in found[:_SHOWN_AT_MOST]]
    if len(found) > _SHOWN_AT_MOST or left:
        lines.append("  and others that save less" if left else f"  and {len(found) - _SHOWN_AT_MOST} that save less")
    written = [one for one in found[:_SHOWN_AT_MOST] if one.lines]
    for one in written:
        lines += ["", f"To {one.words.partition(' (')[0]}, write into project.toml:", *(f"    {line}" for line in one.lines)]
    note = "Bytes saved; colours: mean CIEDE2000 from the art, now and then. Changes do not add up: ask again after each."
    return "\n".join([*lines, "", note])


def write_advice(
    project: LoadedProject,
    trials: Path,
    steps: dict[str, Call],
    budget_file: Path,
    checks: dict[str, Call],
    out: Path,
) -> str:
    """Write the three changes that would help most where the build is over budget, none where it fits; return a line.

    See ``fit.show_fit`` and ``savings``. Savings are bytes of memory: where only limits are passed (palette entries, cells, video
    memory) none of them is advice.
    """
    budget = read_budget_file(budget_file)
    over = budget.over + budget.over_planned
    short = min((scene.margin for scene in budget.scenes.values()), default=0) < 0
    best = []
    if over and short:
        with Trials(project, trials, steps) as tried:
            best = savings(tried, budget, checks, _ADVISED)[0][:_ADVISED]
    write_json(out, {"changes": [f"{one.words} saves {show_size(one.scene)}" for one in best]})
    return f"{len(best)} changes measured" if over else "everything fits"


def tightest(budget: Budget) -> str | None:
    """Return the scene of ``budget.json`` with the least room left; None when there is no scene."""
    return min(budget.scenes, key=lambda name: budget.scenes[name].margin, default=None)


class _Candidate(NamedTuple):
    """A change for some assets, and the bytes that it may save at most."""

    most: int
    change: Change
    assets: tuple[Asset, ...]


def savings(trials: Trials, budget: Budget, checks: Mapping[str, Call], wanted: int) -> tuple[list[Saving], bool]:
    """Return the changes that make the tightest scene smaller, the largest saving first, the very small ones left out.

    Args:
        checks: kind -> what decides whether the project file may say so; see ``target.kinds``.
        wanted: how many are asked for; there may be more or fewer.

    Returns:
        The changes; and whether there are others that were not measured, because they save less than those wanted.
    """
    name = tightest(budget)
    if name is None:
        return [], False
    before, left = trials.change([]), False
    found = _in_part(trials, before, budget, name)
    for one in sorted(_candidates(trials.project, before, budget, name), key=lambda one: -one.most):
        best = sorted((saving.scene for saving in found), reverse=True)
        least = best[0] // _SMALLEST if best else 0
        if one.most <= least or len(best) >= wanted and one.most <= best[wanted - 1]:
            left = one.most > least
            break
        if not allowed(trials.project, one.assets, checks):
            continue  # do not advise what the project file may not say
        try:
            found.append(_saving(trials, before, one, budget, name))
        except ProjectError:
            continue  # do not advise what cannot be converted
    least = max((one.scene for one in found), default=0) // _SMALLEST
    return sorted((one for one in found if one.scene > least), key=lambda one: (-one.scene, one.words)), left


def _candidates(project: LoadedProject, before: Trial, budget: Budget, scene: str) -> Iterator[_Candidate]:
    """Yield each change for all its assets and, where they may be changed apart, for each of them alone.

    What the worst case of the scene does not hold saves nothing in it.
    """
    held = {asset for part in budget.scenes[scene].parts for asset in part.assets}
    sizes = {asset: before.facts(asset).unpacked_bytes for asset in held & {*budget.loaded}}
    for change in changes(project, set(budget.loaded)):
        parts = [change.assets]
        if change.apart and len(change.assets) > 1:
            parts += [(asset,) for asset in change.assets]
        for assets in parts:
            touched = {asset.name for asset in assets} | {getattr(asset.spec, "pool", "") for asset in assets}
            most = math.ceil(sum(sizes.get(one, 0) for one in touched) * change.share)
            if most:
                yield _Candidate(most, change, assets)


def _saving(trials: Trials, before: Trial, one: _Candidate, budget: Budget, scene: str) -> Saving:
    trial = trials.change(one.assets)
    after = trial.budget([asset.name for asset in one.assets] if one.change.packed else [])
    names = [asset.name for asset in one.assets if asset.kind != "palette"]
    return Saving(
        f"{one.change.words} for {_listed(names)}",
        budget.scenes[scene].bytes - after.scenes[scene].bytes,
        budget.image.bytes - after.image.bytes,
        _colours([before.facts(name) for name in names], [trial.facts(name) for name in names]),
        one.change.lost,
    )


def _in_part(trials: Trials, before: Trial, budget: Budget, scene: str) -> list[Saving]:
    """Return what holding assets of a scene in part would save, as far as the console carries what is fetched then."""
    facts = {name: before.facts(name) for name in budget.loaded}
    found = (_streamed(trials, offer, budget, facts) for offer in offers(trials.project, scene, facts))
    return [one for one in found if one is not None]


def _streamed(trials: Trials, offer: Offer, budget: Budget, facts: dict[str, Facts]) -> Saving | None:
    """Return what one offer saves with each fetch spread over as few pictures as the target asks for; None where it carries too little."""
    now = budget.scenes[offer.scene]
    for within in range(1, MOST_WITHIN + 1 if offer.streamed else 2):
        scene = offer.changed(trials.project.spec.scene[offer.scene], within)
        try:
            after = trials.change([], {offer.scene: scene}).budget().scenes[offer.scene]
        except ProjectError:
            return None  # frames are shown too shortly for that
        if not any(after.limits[key].passed for key in CARRIED if key in after.limits):
            said = [f"{show_size(now.bytes - after.bytes)} less"]
            if fewer := offer.fewer((asset for part in now.parts for asset in part.assets), facts):
                said = [f"{fewer} frames of {said[0]}"]
            words = f"{offer.words(_listed(list(offer.names)))} ({', '.join([*said, *_carried(after)])})"
            return Saving(words, now.bytes - after.bytes, 0, None, "", offer.lines(within, trials.project.spec.scene[offer.scene]))
    return None


def _carried(scene: SceneBudget) -> list[str]:
    """Return how much a scene fetches of what the target carries, or what it fetches where the target says nothing."""
    used = [f"{_of(limit.used, limit.most)} of a {key} used" for key, limit in scene.limits.items() if key in CARRIED]
    traffic = scene.traffic
    return used or ([f"{show_size(traffic.bytes)} fetched in the worst picture"] if traffic else [])


def _of(used: int, most: int) -> str:
    """Return two sizes as one text, in one unit where they have the same."""
    (count, unit), whole = show_size(used).split(), show_size(most)
    return f"{count} of {whole}" if whole.endswith(f" {unit}") else f"{count} {unit} of {whole}"


def _listed(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= _NAMED else f"{', '.join(names[: _NAMED - 2])} and {len(names) - _NAMED + 2} more"


def _colours(before: list[Facts], after: list[Facts]) -> tuple[float, float] | None:
    means = []
    for facts in (before, after):
        known = [one.colour_error.mean for one in facts if isinstance(one, SpriteFacts | BackgroundFacts | FontFacts)]
        found = [mean for mean in known if mean is not None]
        if not found or len(found) < len(known):
            return None
        means.append(sum(found) / len(found))
    return means[0], means[1]


def _line(one: Saving) -> str:
    colours = f"{one.colours[0]:.2f} -> {one.colours[1]:.2f}" if one.colours else ""
    lost = f"; lost: {one.lost}" if one.lost else ""
    return f"  {one.scene:>11,} {one.image:>11,}  {colours:<12} {one.words}{lost}"
