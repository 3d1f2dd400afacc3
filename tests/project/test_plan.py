"""The test plan of a project: the cells of its grids, worked out by hand, and what is refused."""

from __future__ import annotations

import itertools

import pytest

from pipeline.project.loading.load import load_project
from pipeline.project.plan import plan_grids
from tests.makers import make_project, problems, project_text, write_text

CHOOSE = 'choose = [{ count = 1, of = ["crew"] }]'
NAMED = 'choose = [{ name = "who", count = 2, of = ["crew", "quay", "bell"] }, { name = "what", count = 1, of = ["level", "main"] }]'
PADS = '[pad.six]\nname = "Six-button pad"\nbuttons = ["A", "Start"]\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One project's files; each test writes its own project file over the last."""
    return make_project(tmp_path_factory.mktemp("project") / "ferry")


def grid_of(folder, task: str, choose: str = NAMED, more: str = ""):
    write_text(folder, project_text((CHOOSE, choose), more=f'{more}\n[[plan.task]]\ntext = "Go"\n{task}\n'))
    (grid,) = plan_grids(load_project(folder).spec)
    return grid


def test_cells_are_single_members_of_every_choice(folder):
    """A choice of two of three counts its members; names are shown as testers call them, others without _pack."""
    grid = grid_of(folder, 'scene = "play"', more='[plan.names]\ncrew = "Ada"\n')
    assert grid.heads == ("who", "what")
    assert grid.values == (("Ada", "Quay", "Bell"), ("Level", "Main"))
    assert grid.cells == tuple(itertools.product(range(3), range(2)))
    assert grid.pads == ("",) * 6


def test_pairs_where_they_are_asked_for(folder):
    """Pairs of three: six with the same one twice, three without."""
    task = 'scene = "play"\ncover = ["who"]\ntogether = ["who"]'
    assert len(grid_of(folder, task).cells) == 6
    grid = grid_of(folder, task, NAMED.replace("count = 2,", "count = 2, repeat = false,"))
    assert grid.values == (("Crew + Quay", "Crew + Bell", "Quay + Bell"),)


def test_what_is_never_chosen_together_is_no_cell(folder):
    """One pair of six goes; with pads twice that."""
    never = NAMED + '\nnever = [["crew", "level"]]'
    assert len(grid_of(folder, 'scene = "play"', never).cells) == 5
    grid = grid_of(folder, 'scene = "play"\ncover = ["who", "pads", "what"]', never, PADS)
    assert len(grid.cells) == 10
    assert {pad: grid.pads.count(pad) for pad in grid.pads} == {"three": 5, "six": 5}
    assert [grid.values[1][cell[1]].split("-")[0].lower() for cell in grid.cells] == list(grid.pads)


def test_what_is_only_planned_is_left_out(folder):
    """It cannot be tested yet."""
    planned = '[planned.cy]\nkind = "data"\nbytes = 4\n'
    assert grid_of(folder, 'scene = "play"', NAMED.replace('"level"', '"cy", "level"'), planned).values[1] == ("Level", "Main")


def test_a_task_alone_is_one_cell(folder):
    """Without scene and cover nothing is multiplied."""
    grid = grid_of(folder, "")
    assert (grid.heads, grid.cells, grid.pads) == ((), ((),), ("",))


MANY = ", ".join(f'"d{rank}"' for rank in range(40))
MANY_DATA = "".join(f'[data.d{rank}]\nfile = "level.bin"\n' for rank in range(40))
WRONG = [
    ('scene = "ply"', "", "[[plan.task]] number 1 scene: there is no scene 'ply'", "did you mean play?"),
    ('scene = "play"\ncover = ["wo"]', "", "cover[0]: scene 'play' has no choice named 'wo'", "did you mean who?"),
    ('scene = "play"\ncover = ["who", "who"]', "", "cover: names something twice", "name each once"),
    ('cover = ["who"]', "", "cover[0]: 'who' is a choice of no scene", "add scene"),
    ('scene = "play"\ncover = ["what"]\ntogether = ["who"]', "", "together[0]: 'who' is not a choice that this task covers", "in cover"),
    ('cover = ["pads"]\ntogether = ["pads"]', "", "together[0]: 'pads' is not a choice", "name one"),
    ("most = 3", "", "most: the task has no grid", "leave most out"),
    ("times = 0", "", "times: expected a whole number, 1 to 999, saw 0", ""),
    ("", '[plan.names]\ncrw = "Ada"\n', "[plan.names] crw: no scene chooses 'crw'", "did you mean crew?"),
]


@pytest.mark.parametrize(("task", "more", "wrong", "remedy"), WRONG, ids=[one[2][:50] for one in WRONG])
def test_wrong_plan_is_refused(folder, task, more, wrong, remedy):
    """One problem, with its table, key and remedy."""
    write_text(folder, project_text((CHOOSE, NAMED), more=f'{more}[[plan.task]]\ntext = "Go"\n{task}\n'))
    (said,) = problems(folder)
    assert wrong in said
    assert remedy in said


CHOICES = [
    (CHOOSE, 'scene = "play"', "scene: no choice of scene 'play' has a name", 'write name = "courier"'),
    (NAMED.replace('"what"', '"who"'), 'scene = "play"', "[[scene.play.choose]] number 2 name: the name 'who' is used twice", "own name"),
    (NAMED.replace('"what"', '"pads"'), "", "[[scene.play.choose]] number 2 name: 'pads' means the pads", "another name"),
    (NAMED.replace('"level", "main"', '"cy"'), 'scene = "play"', "cover: nothing of 'what' is in the build yet", "no longer planned"),
    (
        NAMED.replace('"level", "main"', '"level"') + '\nnever = [["crew", "level"], ["quay", "level"], ["bell", "level"]]',
        'scene = "play"', "the scene's never leaves no cell", "cover something else",
    ),
    (f'choose = [{{ name = "who", count = 2, of = [{MANY}] }}]', 'scene = "play"\ntogether = ["who"]', "more than the 600 cells", "less"),
]  # fmt: skip


@pytest.mark.parametrize(("choose", "task", "wrong", "remedy"), CHOICES, ids=[one[2][:50] for one in CHOICES])
def test_choices_that_make_no_grid_are_refused(folder, choose, task, wrong, remedy):
    """One problem, with its table, key and remedy."""
    more = (MANY_DATA if "d39" in choose else "") + ('[planned.cy]\nkind = "data"\nbytes = 4\n' if '"cy"' in choose else "")
    write_text(folder, project_text((CHOOSE, choose), more=f'{more}[[plan.task]]\ntext = "Go"\n{task}\n'))
    found = problems(folder)
    assert len(found) == 1
    assert wrong in found[0]
    assert remedy in found[0]


@pytest.mark.parametrize("wrong", ["play = -1", 'play.choose = 3', 'play.always = "crew"'])
def test_task_of_a_scene_that_is_wrong_itself(folder, wrong):
    """Only what is wrong with the scene is reported; the plan that names it is not looked at."""
    text = project_text(more='[[plan.task]]\ntext = "Go"\nscene = "play"\ncover = ["who"]\n')
    scene, plan = text.index("[scene.play]"), text.index("[[plan.task]]")
    after = text.index("\n[", scene + 1)
    write_text(folder, f"{text[:scene]}[scene]\n{wrong}\n{text[after:plan]}\n{text[plan:]}")
    (said,) = problems(folder)
    assert "scene" in said
    assert "plan" not in said
