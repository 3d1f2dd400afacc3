"""What to do: each finding by its cost, and nothing where all is well. Common practice, no source: the order is a choice."""

from __future__ import annotations

from typing import Any

from pipeline.joints.budget import Choice, Choices, SceneChoices
from pipeline.joints.facts import DataFacts, SoundFacts, SpriteFacts
from pipeline.project.file import Issue
from pipeline.report.to_do import RANKS, ToDo, what_to_do
from tests.made_facts import made_facts
from tests.makers import as_budget, as_map, budget_json, map_json

WELL = {"name": "version", "good": True, "finding": "", "remedy": ""}
FACTS = {
    "ada": made_facts(SpriteFacts, "ada"),
    "bell": made_facts(SoundFacts, "bell"),
    "level": made_facts(DataFacts, "level"),
}


def found(scene: dict[str, Any] | None = None, **given: Any) -> list[ToDo]:
    """Return what there is to do about a build of 1,000 bytes of memory in which all is well but for what is given."""
    choice = Choice(count=1, repeat=True, members={"ada": ["ada"]})
    parts = {"sizes": {"ada": 9}, "each": {}, "each_always": [], "most": {}, "never": []}
    made = SceneChoices(always=given.pop("always", ["bell"]), direct=given.pop("direct", []), choices=[choice], **parts)
    usual = {
        "budget": as_budget(budget_json({"play": {"bytes": 500, "margin": 500, "margin_now": 500} | (scene or {})}, memory=1000)),
        "choices": Choices(version=1, held=0, scenes={"play": made}),
        "image": as_map(map_json()).image,
        "facts": FACTS,
        "remarks": {},
        "checks": [WELL],
        "issues": [],
    }
    return what_to_do(**usual | given)


def test_nothing_to_do_where_all_is_well():
    """Half of the memory is left, every check is a tick, a scene names each asset that is loaded; data is for the program to know."""
    assert found() == []


def test_what_costs_most_comes_first():
    """One of each, whatever order they are found in: what refuses a kit, then checks, what is nearly full, bytes, issues, looks."""
    cross = WELL | {"name": "date", "good": False, "finding": "none\n  at all", "remedy": "set it"}
    limits = {"cells": {"used": 99, "most": 100, "chosen": []}}
    issue = Issue(id="A-1", severity="major", where="Quay", what="It rings.")
    scene = {"margin": -5, "margin_now": -5, "limits": limits}
    everything = found(scene, always=[], checks=[WELL, cross], issues=[issue], remarks={"ada": ["two are one"]})
    assert [RANKS[one.cost] for one in everything] == list(RANKS)
    assert [one.about for one in everything] == ["scene play", "check of the date", "scene play", "bell", "A-1", "ada"]
    assert (everything[0].why, everything[0].command) == ("5 bytes more than there is, at worst", "savings")
    assert everything[1].why == "none at all"
    assert everything[2].why == "99 of 100 cells and tiles"


def test_nearly_full_begins_within_a_twentieth():
    """50 of 1,000 bytes left are enough, 49 are not; what is only planned refuses no kit."""
    assert found({"margin": 50, "margin_now": 50}) == []
    assert [one.command for one in found({"margin": 49, "margin_now": 49})] == ["growth"]
    assert [RANKS[one.cost] for one in found({"margin": -1, "margin_now": 0})] == ["nearly full"]


def test_asset_that_is_read_from_the_cartridge_is_not_unused():
    """A scene that names it in ``direct`` knows of it."""
    assert [one.about for one in found(always=[])] == ["bell"]
    assert found(always=[], direct=["bell"]) == []


def test_worst_issues_come_first():
    """By severity, in the order of the project file's own words."""
    issues = [Issue(id=f"A-{rank}", severity=word, where="", what="x") for rank, word in enumerate(("minor", "critical", "cosmetic"))]
    assert [one.about for one in found(issues=issues)] == ["A-1", "A-0", "A-2"]
