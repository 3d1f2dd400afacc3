"""``budget.json``: what is written is read, and what is not such a file is refused in words. Common practice, no source."""

from __future__ import annotations

import json

import pytest

from pipeline.joints.budget import Part, read_budget_file, write_budget_file
from pipeline.plain.errors import ProjectError
from tests.makers import as_budget, budget_json

LIMIT = {"used": 9, "most": 8, "chosen": [["ann"]]}


def test_what_is_written_is_read(tmp_path):
    """With its version first; what holds memory is shown as parts."""
    path = tmp_path / "budget.json"
    budget = as_budget(budget_json({"play": {"parts": [{"name": "always", "bytes": 7, "assets": ["a"]}]}}, held={"screen": 100}))
    write_budget_file(path, budget)
    assert next(iter(json.loads(path.read_bytes()))) == "version"
    assert read_budget_file(path) == budget
    assert budget.held_parts() == [Part(name="screen", bytes=100)]


@pytest.mark.parametrize(
    ("scene", "too_much"),
    [({}, False), ({"margin_now": -1}, True), ({"margin": -1}, False), ({"limits": {"cells": LIMIT}}, True),
     ({"limits": {"cells": LIMIT | {"most": 9}}}, False)],
)  # fmt: skip
def test_scene_is_too_much_without_what_is_planned(scene, too_much):
    """Memory or another limit is passed; the last byte, or the last cell, may be used."""
    assert as_budget(budget_json({"play": scene})).scenes["play"].too_much == too_much


@pytest.mark.parametrize(
    ("damaged", "place"),
    [
        (budget_json({}, version=1), ", version: is 1, this version of the tool reads 2"),
        (budget_json({}, memory=0), ", memory: is damaged"),
        (budget_json({}, colour=1), ": is damaged: Object contains unknown field colour"),
        (budget_json({}, image={"bytes": 1, "planned": 0}), ", image: is damaged: Object missing required field most"),
        (budget_json({"play": {"bytes": -1}}), ", scenes[...].bytes: is damaged"),
        (budget_json({"play": {"margin": 0.5}}), ", scenes[...].margin: is damaged"),
    ],
)
def test_damaged_budget_is_refused(tmp_path, damaged, place):
    """Another version, missing and unknown keys, and sizes that no console has."""
    path = tmp_path / "build/budget.json"
    path.parent.mkdir()
    path.write_text(json.dumps(damaged))
    with pytest.raises(ProjectError) as refusal:
        read_budget_file(path)
    assert str(refusal.value).startswith(f"build/budget.json{place}")
    assert "build again" in str(refusal.value)
