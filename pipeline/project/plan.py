"""The records of ``[plan]``: what testers are asked to go through, and the grids of cells that come of it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Annotated, Any

from msgspec import Meta, field

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.written import Record, about

PADS = "pads"  # means the pads in a task's cover
MOST_CELLS = 600  # of one task; more is a list nobody walks through
_Count = Annotated[int, Meta(ge=1, le=999)]
_Name = Annotated[str, Meta(min_length=1, max_length=40)]


class Task(Record):
    """Something testers do; with ``cover`` or ``scene`` once for every cell of a grid."""

    text: Annotated[str, about("What to do.", examples=["Race through each harbour with each courier."], min_length=1)]
    scene: Annotated[str, about("The scene whose named choices are covered.", examples=["race"])] = ""
    cover: Annotated[
        list[str] | None,
        about(
            "What the grid is made of: names of the scene's choices, and pads. Left out: every named choice of the scene.",
            examples=[["courier", "harbour", "pads"]],
        ),
    ] = None
    together: Annotated[
        list[str],
        about("Choices whose cells are what is chosen at once, such as pairs, instead of single members.", examples=[["courier"]]),
    ] = field(default_factory=list)
    times: Annotated[_Count | None, about("Testers who are to do each cell; left out: 1, or with most as many as that allows.")] = None
    most: Annotated[_Count | None, about("Cells of this task one tester gets at most.")] = None


class Plan(Record):
    """What testers are asked to go through; shared out among those of ``reports/testers.toml``. See test-plan.md."""

    task: Annotated[list[Task], about("The tasks, in the order of the packet.")] = field(default_factory=list)
    names: Annotated[
        dict[str, _Name],
        about(
            "What testers call what scenes choose from; a member left out is shown without _pack and underscores.",
            examples=[{"pell_pack": "Pell"}],
        ),
    ] = field(default_factory=dict)


@dataclass(frozen=True)
class Grid:
    """The cells of one task.

    Attributes:
        text: the task.
        heads: name of each dimension, as testers see it; none for a task that is one cell.
        values: for each dimension what it goes through, as testers see it.
        cells: one index into ``values`` for each dimension.
        pads: for each cell the pad it needs; empty where any will do.
        times, most: see ``Task``.
    """

    text: str
    heads: tuple[str, ...]
    values: tuple[tuple[str, ...], ...]
    cells: tuple[tuple[int, ...], ...]
    pads: tuple[str, ...]
    times: int | None
    most: int | None


@dataclass(frozen=True)
class _Dimension:
    head: str
    values: tuple[str, ...]
    members: tuple[frozenset[str], ...]  # what each value loads; empty for pads
    pads: tuple[str, ...] = ()


def plan_grids(spec: Any) -> tuple[Grid, ...]:
    """Return the grid of every task of a checked project.

    Args:
        spec: the records of the project file. Members that are only planned are left out; so are cells that the scene's
            ``never`` rules out.
    """
    return tuple(_grid(spec, task) for task in spec.plan.task)


def _grid(spec: Any, task: Task) -> Grid:
    sides = [_dimension(spec, task, name) for name in _covered(spec, task)]
    never = [frozenset(names) for names in spec.scene[task.scene].never] if task.scene else []
    cells, pads = [], []
    for cell in itertools.product(*(range(len(side.values)) for side in sides)):
        chosen = frozenset().union(*(side.members[at] for side, at in zip(sides, cell, strict=True) if side.members))
        if not any(names <= chosen for names in never):
            cells.append(cell)
            pads.append(next((side.pads[at] for side, at in zip(sides, cell, strict=True) if side.pads), ""))
    heads, values = tuple(side.head for side in sides), tuple(side.values for side in sides)
    return Grid(task.text, heads, values, tuple(cells), tuple(pads), task.times, task.most)


def _covered(spec: Any, task: Task) -> list[str]:
    if task.cover is not None:
        return task.cover
    return [choice.name for choice in spec.scene[task.scene].choose if choice.name] if task.scene else []


def _dimension(spec: Any, task: Task, name: str) -> _Dimension:
    if name == PADS:
        return _Dimension(PADS, tuple(pad.name for pad in spec.pad.values()), (), tuple(spec.pad))
    choice = _choice(spec, task, name)
    members = [member for member in dict.fromkeys(choice.of) if _is_there(spec, member)]
    count = choice.count if name in task.together else 1
    pick = itertools.combinations_with_replacement if choice.repeat else itertools.combinations
    picked = list(itertools.islice(pick(members, count), MOST_CELLS + 1))  # the check refuses this many
    values = tuple(" + ".join(_shown(spec, member) for member in one) for one in picked)
    return _Dimension(name, values, tuple(frozenset(one) for one in picked))


def _choice(spec: Any, task: Task, name: str) -> Any:
    return next((choice for choice in spec.scene[task.scene].choose if choice.name == name), None)


def _is_there(spec: Any, member: str) -> bool:
    """Say whether a member can be tested: neither it nor a part of it is only planned."""
    return not any(one in spec.planned for one in (member, *spec.bundle.get(member, ())))


def _shown(spec: Any, member: str) -> str:
    plain = member.removesuffix("_pack").replace("_", " ").strip()
    return spec.plan.names.get(member) or (plain[:1].upper() + plain[1:])


def check_plan(document: Document, spec: Any) -> None:
    """Note names of choices used twice, and what a plan names that is not there, or comes to nothing."""
    for scene_name, scene in spec.scene.items():
        _check_choice_names(document, scene_name, scene)
    for rank, task in enumerate(spec.plan.task):
        path = ("plan", "task", rank)
        if task.scene in document.broken:
            continue  # its choices may have been left out with what is wrong, which is reported already
        before = len(document.problems)
        _check_task(document, path, spec, task)
        if len(document.problems) == before:
            _check_size(document, path, spec, task)
    members = {member for scene in spec.scene.values() for choice in scene.choose for member in choice.of}
    for name in spec.plan.names:
        if name not in members and not document.broken:
            near = nearest_name(name, members)
            remedy = f"did you mean {near}?" if near else "name a member that a scene chooses from, or remove it"
            document.say(("plan", "names", name), f"no scene chooses {name!r}", remedy)


def _check_choice_names(document: Document, scene_name: str, scene: Any) -> None:
    seen: set[str] = set()
    for rank, choice in enumerate(scene.choose):
        path = ("scene", scene_name, "choose", rank, "name")
        if choice.name == PADS:
            document.say(path, f"{PADS!r} means the pads in a plan", "give the choice another name")
        elif choice.name and choice.name in seen:
            document.say(path, f"the name {choice.name!r} is used twice in this scene", "give each choice its own name")
        seen.add(choice.name)


def _check_task(document: Document, path: tuple, spec: Any, task: Task) -> None:
    scene = spec.scene.get(task.scene)
    if task.scene and scene is None:
        near = nearest_name(task.scene, spec.scene)
        remedy = f"did you mean {near}?" if near else "name a [scene.NAME] of this project, or leave scene out"
        document.say((*path, "scene"), f"there is no scene {task.scene!r}", remedy)
        return
    named = [choice.name for choice in scene.choose if choice.name] if scene else []
    if scene and task.cover is None and not named:
        document.say((*path, "scene"), f"no choice of scene {task.scene!r} has a name", _NAME_IT)
    for rank, name in enumerate(task.cover or ()):
        _check_covered(document, (*path, "cover", rank), spec, task, name, named)
    if task.cover and len(set(task.cover)) < len(task.cover):
        document.say((*path, "cover"), "names something twice", "name each once")
    for rank, name in enumerate(task.together):
        if name not in (named if task.cover is None else task.cover) or name == PADS:
            document.say((*path, "together", rank), f"{name!r} is not a choice that this task covers", "name one of its choices in cover")
    if task.most is not None and not _covered(spec, task):
        document.say((*path, "most"), "the task has no grid", "leave most out, or name what it covers")


_NAME_IT = 'write name = "courier", or what else testers call it, into its [[scene.NAME.choose]]'


def _check_covered(document: Document, path: tuple, spec: Any, task: Task, name: str, named: list[str]) -> None:
    if name == PADS:
        if not spec.pad:
            document.say(path, "the project has no pads", "add a [pad.NAME] table, or leave pads out")
    elif not task.scene:
        document.say(path, f"{name!r} is a choice of no scene, as the task names none", "add scene")
    elif name not in named:
        near = nearest_name(name, [*named, PADS])
        remedy = f"did you mean {near}?" if near else (f"it has {', '.join(named)}" if named else _NAME_IT)
        document.say(path, f"scene {task.scene!r} has no choice named {name!r}", remedy)


def _check_size(document: Document, path: tuple, spec: Any, task: Task) -> None:
    for name in _covered(spec, task):
        if name != PADS and not _dimension(spec, task, name).values:
            document.say((*path, "cover"), f"nothing of {name!r} is in the build yet", "leave it out until it is no longer planned")
            return
    # Counted before it is made: pairs of pairs grow fast.
    count = 1
    for name in _covered(spec, task):
        count *= len(_dimension(spec, task, name).values)
    if count > MOST_CELLS:
        document.say(path, f"more than the {MOST_CELLS} cells a task may have", "cover less at once, in several tasks")
    elif not _grid(spec, task).cells:
        document.say(path, "the scene's never leaves no cell", "cover something else")
