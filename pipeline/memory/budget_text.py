"""The budget in words and bars, for a terminal."""

from __future__ import annotations

import collections
import textwrap
from pathlib import Path

from pipeline.joints.budget import Budget, ImageNeed, PlannedNeed, SceneBudget, Streamed, Traffic, read_budget_file
from pipeline.memory.budget import describe_scene
from pipeline.memory.usage import CARRIED, show_limit
from pipeline.plain.errors import BadAnswer
from pipeline.plain.files import read_json
from pipeline.plain.sizes import counted, show_size

_BAR = 40  # characters for all of memory
_NAME = 26


def show_budget(budget_file: Path, advice_file: Path) -> str:
    """Return what ``budget.json`` holds as lines for a person.

    Args:
        advice_file: what would help where a scene does not fit: ``{"changes": [text, ...]}``.

    Raises:
        BadAnswer: the same lines and the advice, where a scene does not fit.
    """
    budget = read_budget_file(budget_file)
    lines = _lines(budget)
    if not budget.over + budget.over_planned:
        return lines
    changes = read_json(advice_file)["changes"]
    helps = ["", "What would help most, measured by doing it:", *(f"  {change}" for change in changes)] if changes else []
    if any(scene.limits[key].passed for scene in budget.scenes.values() for key in CARRIED if key in scene.limits):
        helps += ["", "The console carries less than is fetched: stream less, spread fetches (within), or move windows more slowly."]
    fits = [f"Without what is planned {name} fits, so a kit can be made." for name in budget.over_planned]
    raise BadAnswer("\n".join([lines, *helps, "", *fits, "See also: doit fit, doit savings"]))


def _lines(budget: Budget) -> str:
    lines: list[str] = []
    for name, scene in budget.scenes.items():
        lines += [*_scene(name, scene, budget), ""]
    if not budget.scenes:
        lines += ["The project names no scene, so nothing is known about memory. Add a [scene.NAME] table.", ""]
    return "\n".join([*lines, *_planned(budget.planned), _image(budget.image)])


def _scene(name: str, scene: SceneBudget, budget: Budget) -> list[str]:
    mark = "TOO MUCH  " if scene.too_much or scene.margin < 0 else ""
    lines = [f"{mark}{describe_scene(name, scene)}, of {show_size(budget.memory)}"]
    for part in [*budget.held_parts(), *scene.parts]:
        shown = part.name + (" (estimate)" if part.estimated else "")
        lines.append(f"  {shown:<{_NAME}} {_number(part.bytes)}  {_bar(part.bytes, budget.memory)}".rstrip())
    rest = scene.margin
    lines.append(f"  {'free' if rest >= 0 else 'MISSING':<{_NAME}} {_number(abs(rest))}  {_bar(abs(rest), budget.memory, '.')}".rstrip())
    lines += [f"  {show_streamed(one)}" for one in scene.streamed]
    if scene.traffic:
        lines.append(f"  {show_traffic(scene.traffic)}{_with(scene.traffic.chosen)}")
    for key, limit in scene.limits.items():
        state = "" if not limit.passed else f", {limit.used - limit.most:,} TOO MANY"
        lines.append(f"  {show_limit(key)}: {limit.used:,} of {limit.most:,}{state}{_with(limit.chosen)}")
    for one, other in scene.overlaps:
        lines.append(f"  palettes {one} and {other} fill the same entries: load one at a time, or give one of them another first")
    for one, other in scene.tile_overlaps:
        lines.append(f"  backgrounds {one} and {other} number the same tiles: load one at a time, or give one of them another first_tile")
    for rank, one in enumerate(scene.next):
        lines.append(f"  {'next worst' if not rank else '':<{_NAME}} {_number(one.bytes)} {_with(one.chosen)}")
    return lines


def show_streamed(one: Streamed) -> str:
    """Return what a scene holds of an asset in part, and what fetching that brings, as one line."""
    buffer = show_size(one.buffer)
    if one.size:
        held = f"{one.name} through a window of {one.size[0]} × {one.size[1]} pixels: {buffer}"
    else:
        held = f"{one.name} streamed: {counted(one.buffers, 'buffer')} of {buffer}, {_UNITS[one.unit]} each"
    role = f" ({show_size(one.bytes)} for the role {one.role})" if one.role else ""
    pace = f", {one.pace_bytes:,} on average" if one.pace_bytes else ""
    fetched = f"a picture fetches {one.picture_bytes:,} bytes in {counted(one.picture_transfers, 'transfer')} at worst{pace}"
    return f"{held}{role}, and {show_size(one.tables)} resident, instead of {show_size(one.whole)}; {fetched}"


_UNITS = {"frame": "a frame", "animation": "an animation"}


def show_traffic(traffic: Traffic) -> str:
    """Return what a scene's worst picture fetches as one line, without who is there then."""
    start = f", each of which counts as {counted(traffic.start, 'byte')} more" if traffic.start else ""
    pace = f"; {traffic.pace:,} bytes a picture on average" if traffic.pace else ""
    return f"fetched in the worst picture: {traffic.bytes:,} bytes in {counted(traffic.transfers, 'transfer')}{start}{pace}"


def show_names(chosen: list[list[str]]) -> str:
    """Return the members of a case as one text; one that is there several times once, with its number."""
    counts = collections.Counter(name for group in chosen for name in group)
    return ", ".join(f"{count} × {name}" if count > 1 else name for name, count in counts.items())


def _number(count: int) -> str:
    return f"{count:>11,}"


def _bar(count: int, whole: int, mark: str = "#") -> str:
    length = min(-(-count * _BAR // whole), 2 * _BAR) if count else 0
    return mark * length


def _with(chosen: list[list[str]]) -> str:
    names = show_names(chosen)
    return " " + textwrap.shorten(f"with {names}", 100, placeholder=" ...") if names else ""


def _planned(planned: dict[str, PlannedNeed]) -> list[str]:
    lines = []
    for name, one in planned.items():
        count = f"{one.count} of {show_size(one.bytes)} each" if one.count > 1 else show_size(one.bytes)
        source = f"from {', '.join(one.from_assets)}" if one.from_assets else "as given"
        error = f"; off by at most {one.error:.1%} on those" if one.error is not None else ""
        lines.append(f"Planned {name}: {count}, estimated {source}{error}" if one.from_assets else f"Planned {name}: {count}, {source}")
    return [*lines, ""] if lines else []


def _image(image: ImageNeed) -> str:
    more = f", and {show_size(image.planned)} planned" if image.planned else ""
    over = image.bytes + image.planned - image.most
    state = f", {show_size(over)} MORE than the cartridge holds" if over > 0 else ""
    return f"Image: {show_size(image.bytes)}{more}, of {show_size(image.most)}{state}"
