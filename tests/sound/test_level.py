"""What is said of a sound's level. Decibels: 20 times the common logarithm of the share of full scale (IEC 60027-3)."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from pipeline.graph.plan import plan_project
from pipeline.joints.facts import SoundFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project
from pipeline.report.data import look_shown
from pipeline.report.page import _asset
from pipeline.sound.convert import encode
from pipeline.sound.level import Level
from tests.makers import make_project, map_entry, run_steps


def remark(samples: list[float], form: str) -> str:
    level = Level(form)
    for block in (samples[:1], samples[1:]):
        numbers, _ = encode(np.array(block), form)
        level.add(np.array(block), numbers)
    return level.remark()


@pytest.mark.parametrize("form", ["u8", "s8", "s16"])
@pytest.mark.parametrize("peak", [0.11, 0.5, 1.0, 1.1, -1.0])
def test_usual_levels(form, peak):
    """From -19 dBFS up to full scale, and what resampling may add, nothing is said."""
    assert remark([0, peak, 0.01], form) == ""


@pytest.mark.parametrize(("form", "steps"), [("u8", "6 of 128"), ("s8", "6 of 128"), ("s16", "1,638 of 32,768")])
def test_quiet(form, steps):
    """A twentieth of full scale is -26.0 dBFS; numbers that are stored are counted, below and above silence."""
    peak = "-26.6" if form != "s16" else "-26.0"
    for sign in (1, -1):
        assert remark([0, 0.05 * sign], form) == f"it is quiet: its peak is {peak} dBFS, {steps} steps; amplify it before you export it"


def test_silent():
    """Nothing recorded, and what is less than half a step of 8 bits: 0.001 is -60 dBFS."""
    assert remark([0, 0], "s8") == "it is silent"
    assert remark([0, 0.001], "u8") == "it is silent: its peak of -60.0 dBFS is less than one step"
    assert "it is quiet: its peak is -59.9 dBFS, 33 of 32,768 steps" in remark([0, 0.001], "s16")


def test_too_loud():
    """A floating-point file may go over full scale: twice that is +6.0 dBFS."""
    assert remark([0, 2.0], "s16") == "it is too loud: its peak is +6.0 dBFS, and what is above 0 dBFS is clipped; export it quieter"


def test_the_build_and_the_report_say_it(tmp_path):
    """A quiet recording in WAV of 16 bits builds; the step's line, the facts and the page have the level."""
    folder = make_project(tmp_path / "quiet")
    soundfile.write(folder / "sound/bell.wav", np.sin(np.arange(4000) / 5) * 0.03, 8000, subtype="PCM_16")
    run_steps(load_project(folder), "sound:bell")
    facts = read_facts(facts_file(folder / "build/blobs", "bell"), SoundFacts)
    assert facts.remarks == ["it is quiet: its peak is -30.1 dBFS, 4 of 128 steps; amplify it before you export it"]
    assert _asset(map_entry("bell"), {"bell": facts}, {}, [], look_shown(None, None))["summary"].endswith(f"; {facts.remarks[0]}")
    (step,) = (one for one in plan_project(load_project(folder)).steps if one.name == "sound:bell")
    assert step.run().endswith(f"; {facts.remarks[0]}")
