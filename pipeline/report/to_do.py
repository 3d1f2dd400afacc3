"""What to do about a build: all that its records say, sorted by what it costs the author, each with a command or a line."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from pipeline.joints.budget import Budget, Choices
from pipeline.joints.facts import Facts, SpriteFacts
from pipeline.joints.map import MappedImage
from pipeline.memory.usage import show_limit
from pipeline.plain.sizes import show_size
from pipeline.project.file import SEVERITIES, Issue
from pipeline.target.kinds import KINDS

_NEAR = 20  # within a twentieth of what there is, it is nearly used up
# What it costs, the most first: no kit can be made; a build should not be handed out; soon no kit can be made; bytes; what a tester
# meets; what a look may find.
RANKS = ("no kit is made", "not to be handed out", "nearly full", "bytes for nothing", "known to testers", "worth a look")


class ToDo(NamedTuple):
    """One thing to do.

    Attributes:
        cost: rank in ``RANKS``; ``within``: place among those of one rank, the least first.
        about: what it is about; ``why``: a sentence without a full stop.
        how: what to do, empty for what is plain; ``command``: to run, without the name of the tool; empty for none.
        link: id of the part of the page that shows it; empty for none.
    """

    cost: int
    within: int
    about: str
    why: str
    how: str
    command: str
    link: str


def what_to_do(
    budget: Budget,
    choices: Choices,
    image: MappedImage,
    facts: Mapping[str, Facts],
    remarks: Mapping[str, Sequence[str]],
    checks: Sequence[Mapping[str, Any]],
    issues: Sequence[Issue],
) -> list[ToDo]:
    """Return everything there is to do, what costs most first.

    Args:
        facts: of every asset, in the order of the image.
        remarks: of variants, what they make of the art that wears them.
        checks: of ``checks.json``.
        issues: the open ones.
    """
    found = [*_scenes(budget), *_image(image, budget), *_checked(checks), *_assets(facts, remarks, _named(choices)), *_issues(issues)]
    return sorted(found, key=lambda one: (one.cost, one.within))


def _scenes(budget: Budget) -> Iterator[ToDo]:
    for name, scene in budget.scenes.items():
        link = f"scene-{name}"
        if scene.margin < 0:
            why = f"{show_size(-scene.margin)} more than there is, at worst"
            planned = scene.margin_now >= 0
            yield ToDo(2 if planned else 0, scene.margin, f"scene {name}", why, "see what would make it fit", "savings", link)
        elif scene.margin * _NEAR < budget.memory:
            why = f"{show_size(scene.margin)} left of {show_size(budget.memory)}, at worst"
            yield ToDo(2, scene.margin, f"scene {name}", why, "see how it grew", "growth", link)
        for key, limit in scene.limits.items():
            said = f"{limit.used:,} of {limit.most:,} {show_limit(key)}"
            if limit.passed:
                yield ToDo(0 if limit.refused else 2, limit.most - limit.used, f"scene {name}", said, "see what would help", "budget", link)
            elif (limit.most - limit.used) * _NEAR < limit.most:
                yield ToDo(2, limit.most - limit.used, f"scene {name}", said, "see with which members", "budget", link)


def _image(image: MappedImage, budget: Budget) -> Iterator[ToDo]:
    left = budget.image.most - budget.image.bytes - budget.image.planned
    if left * _NEAR < budget.image.most:
        more = " with what is planned" if budget.image.planned else ""
        why = f"{show_size(left)} left{more}" if left >= 0 else f"{show_size(-left)} more than there is{more}"
        yield ToDo(2, left, "image", why, "pack assets, or take a larger cartridge", "savings", "image")


def _checked(checks: Sequence[Mapping[str, Any]]) -> Iterator[ToDo]:
    for rank, one in enumerate(checks):
        if not one["good"]:
            why = " ".join(str(one["finding"]).split())
            yield ToDo(1, rank, f"check of the {one['name']}", why, str(one["remedy"]), "preflight", "checks")


def _named(choices: Choices) -> set[str] | None:
    """Return every asset that some scene names; None without a scene, where nothing is known of that."""
    if not choices.scenes:
        return None
    found: set[str] = set()
    for scene in choices.scenes.values():
        found |= {*scene.always, *(asset for one in scene.choices for some in one.members.values() for asset in some), *scene.direct}
    return found


def _assets(facts: Mapping[str, Facts], remarks: Mapping[str, Sequence[str]], named: Collection[str] | None) -> Iterator[ToDo]:
    for name, one in facts.items():
        link, kind = f"asset-{name}", KINDS[one.kind]
        if named is not None and name not in named and kind.decode and not kind.late:
            how = f"name it in a scene, in direct if the program reads it from the cartridge, or take [{one.kind}.{name}] out"
            yield ToDo(3, -one.bytes, name, f"no scene loads its {show_size(one.bytes)}", how, f"where name={name}", link)
        if one.tried is not None and one.bytes > one.unpacked_bytes:
            yield ToDo(3, one.unpacked_bytes - one.bytes, name, "packing makes it larger", 'set packing = "best"', "", link)
        for remark in (*one.remarks, *remarks.get(name, ())):
            yield ToDo(5, 0, name, remark, "look at it, or listen to it", f"where name={name}", link)
        wanders = one.wander.items() if isinstance(one, SpriteFacts) else ()
        for called, (across, down) in wanders:
            if max(across, down) > 1:
                why = f"in {called} its feet wander over {across} × {down} pixels"
                yield ToDo(5, -max(across, down), name, why, "play it with the onion skin", "", link)


def _issues(issues: Sequence[Issue]) -> Iterator[ToDo]:
    for issue in issues:
        why = f"{issue.severity}: {(issue.title or issue.what).rstrip('.')}"
        yield ToDo(4, SEVERITIES.index(issue.severity), issue.id, why, "", "", "issues")
