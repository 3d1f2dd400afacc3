"""How many steps a change of each module makes run again on the two demos: printed with ``-s``, and bounded.

Common practice, no source: whoever corrects a comment in one place does not want to wait for what has nothing to do with it.
"""

from __future__ import annotations

from collections import defaultdict

import pytest

from pipeline.cache.code import code_digests
from pipeline.graph.plan import plan_project
from pipeline.project.loading.load import load_project
from tests.graph.builds import ROOT

# Groups of the steps that convert art, sound and data.
_CONVERTING = ("prepare", "cut", "sample", "sprite", "pool", "background", "palette", "sound", "font", "data", "screen")


@pytest.fixture(scope="module")
def reach() -> dict[str, set[str]]:
    """Module of the tool -> steps of both demos that depend on its code, questions left out, since they always run."""
    found: dict[str, set[str]] = defaultdict(set)
    for folder in (ROOT / "demo_project", ROOT / "demo_project/veillee"):
        for step in plan_project(load_project(folder)).steps:
            for module in code_digests(*step.calls) if step.call and not step.always else ():
                found[module].add(f"{folder.name} {step.name}")
    return found


def _groups(steps: set[str]) -> set[str]:
    return {step.split(" ")[1].partition(":")[0] for step in steps}


def test_words_convert_nothing(reach):
    """What asks, answers, writes pages or reads reports is not among the code of any step that converts art or sound."""
    rooms = ("project/loading/", "questions/", "graph/", "intake/", "reference/", "report/", "release/", "packet/", "rom/", "reading/")
    wrong = {module: _groups(steps) & set(_CONVERTING) for module, steps in reach.items() if module.startswith(rooms)}
    assert {module: groups for module, groups in wrong.items() if groups} == {}


@pytest.mark.parametrize(
    ("module", "kinds"),
    [
        ("proofs/kinds/font.py", {"font"}),
        ("proofs/kinds/palette.py", {"palette"}),
        ("proofs/kinds/screen.py", {"screen"}),
        ("proofs/kinds/sound.py", {"sound"}),
        ("proofs/kinds/sprite.py", {"sprite", "pool", "notes"}),
        ("proofs/kinds/animation.py", {"sprite", "notes"}),
        ("proofs/kinds/background.py", {"background"}),
        ("proofs/kinds/before.py", {"sprite", "background"}),
        ("proofs/kinds/level.py", {"level"}),
        ("proofs/kinds/notes.py", {"notes"}),
        ("reading/kinds/notes.py", {"notes"}),
        ("proofs/kinds/text.py", {"text"}),
        ("reading/kinds/text.py", {"text"}),
        ("reading/kinds/level.py", {"level"}),
        ("reading/kinds/font.py", {"font", "text"}),
        ("reading/kinds/screen.py", {"screen"}),
        ("reading/kinds/sound.py", {"sound"}),
        ("reading/kinds/sprite.py", {"sprite", "pool", "notes"}),
        ("reading/kinds/background.py", {"background"}),
        ("reading/kinds/palette.py", {"palette", "sprite", "pool", "background", "font", "notes", "text"}),
    ],
)
def test_drawing_of_one_kind_draws_no_other_again(reach, module, kinds):
    """A proof depends on the code that draws its own kind."""
    drawn = {step for step in reach[module] if " proof:" in step}
    kind_of = {}
    for folder in (ROOT / "demo_project", ROOT / "demo_project/veillee"):
        kind_of |= {f"{folder.name} proof:{name}": asset.kind for name, asset in load_project(folder).assets.items()}
    assert drawn
    assert {kind_of[step] for step in drawn} <= kinds


# Room -> the most steps, of the 258 of both demos, that a change of one of its modules runs again; as measured.
MOST = {
    "plain": 283, "joints": 275, "target": 268, "project": 139, "pixels/colours": 123, "assets/sources": 87, "pixels": 66,
    "templates/fonts": 68, "assets": 62, "reading": 120, "proofs": 115, "plain/toml": 65, "cache": 198, "reading/kinds": 87,
    "pixels/scaling": 35, "pixels/tiles": 30, "proofs/looks": 22, "proofs/kinds": 20, "assets/backgrounds": 19, "assets/sprites": 19,
    "pixels/pieces": 19, "memory": 18, "sound": 16, "codec": 13, "packet/content": 20, "packet": 7, "packet/sections": 7,
    "packet/typeset": 9, "rom/banks": 7, "assets/fonts": 5, "rom": 5, "notices": 4, "assets/texts": 3, "assets/notices": 2, "graph": 2,
    "graph/freshness": 2, "graph/steps": 2, "project/loading": 2, "questions": 2, "reference": 2, "release": 2, "report": 2, "findings": 23,
    "joints/found": 25, "safety": 25,
}  # fmt: skip


def test_a_change_of_a_module_runs_few_steps(reach):
    """Bounded by room, with what was measured; a module of the tool that no step reaches runs none."""
    total = len({step for steps in reach.values() for step in steps})
    rooms: dict[str, int] = defaultdict(int)
    for module, steps in reach.items():
        room = module.rpartition("/")[0]
        rooms[room] = max(rooms[room], len(steps))
    for module, steps in sorted(reach.items(), key=lambda pair: (-len(pair[1]), pair[0])):
        print(f"{len(steps):4} of {total}  {module}")
    assert {room: count for room, count in rooms.items() if count > MOST.get(room, 0)} == {}
