"""Every file a step touches is among its arguments, marked with what it does, and all code it runs is among what it depends on.

All steps of a project that has every kind of them are run and watched.
"""

from __future__ import annotations

import fnmatch
import importlib
import json
import shutil
from contextlib import nullcontext
from pathlib import Path
from typing import NamedTuple

import pytest
from PIL import Image, ImageOps

import pipeline
from pipeline.cache.code import code_digests
from pipeline.graph.freshness.settings import flatten, shown_path
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import Found, Handed, In, Trusted, paths_of, plain_arguments
from pipeline.graph.steps.step import Plan, Step
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import TEMPLATES
from pipeline.project.loading.load import load_project
from pipeline.project.model import LoadedProject
from pipeline.proofs import canvas
from pipeline.target.loading import SHIPPED
from tests.conftest import only_long
from tests.graph.everything import EXPORT, make_everything
from tests.graph.trace import Seen, inside, ran_code, traced


class Undeclared(NamedTuple):
    """Files that some steps touch without declaring them, and why that is right.

    Attributes:
        step: pattern for names of steps.
        files: pattern for files, from the project folder; those of the tool begin with ``tool:``.
        why: the reason.
    """

    step: str
    files: str
    why: str


READ: tuple[Undeclared, ...] = ()
LOOKED = (Undeclared("bring", "tool:*", "reads the project file as it is and as it would be, with all that every start looks for"),)
LISTED = (
    Undeclared("bring", "tool:*", "reads the project file as it is and as it would be, with all that every start looks for"),
    Undeclared("kit", "build/kit*", "takes away the kits of other builds, which the manifest does not list"),
    Undeclared("burning", "build/burn", "takes away files of other forms, which the manifest does not list"),
)
WRITTEN: tuple[Undeclared, ...] = ()


PACKAGE = Path(pipeline.__file__).parent


class Watched:
    """Steps that were run, what each did, and what none of the exceptions covers."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.ran = folder, []
        self.wrong: list[str] = []
        self.hidden: list[str] = []
        self.used: set[Undeclared] = set()

    def run(self, *names: str, refused: tuple[str, ...] = (), **words: str) -> None:
        """Run some steps, all but the questions when none is named, in an order in which they can be run."""
        plan = plan_project(load_project(self.folder), words)
        wanted = set(names) or {step.name for step in plan.steps if not step.always}
        for step in _in_order(plan):
            if step.call and step.name in wanted:
                self._run(step, step.name in refused)

    def _run(self, step: Step, refused: bool) -> None:
        canvas.letters.cache_clear()  # fonts that a step before has opened
        module, _, function = step.call.partition(":")
        call, arguments = getattr(importlib.import_module(module), function), plain_arguments(step.arguments)
        with traced() as seen, nullcontext(set()) if step.always else ran_code(PACKAGE) as modules:
            if refused:
                with pytest.raises(ProjectError):
                    call(**arguments)
            else:
                call(**arguments)
        self.ran.append(step.name)
        self._check(step, seen)
        self._check_code(step, modules)

    def _check(self, step: Step, seen: Seen) -> None:
        listed = json.loads(step.manifest.read_bytes())["files"] if step.manifest else ()
        writes = {*step.writes, *(step.manifest.parent / name for name in listed)} if step.manifest else set(step.writes)
        temporary = {path for path in seen.written if path.name.endswith(".part")}
        written = {path for path in seen.written if not path.is_dir()} - temporary
        shipped = {TEMPLATES.parent / name for name in code_digests(*step.calls)}
        known = {*paths_of(step.arguments, In, Trusted, Found), *writes, *temporary, *shipped}
        around = {parent for path in known for parent in path.parents}
        self._say(step, "opens", {path for path in seen.read if path.is_file()} - known - written, READ)
        self._say(step, "looks at", seen.looked - known - around - written, LOOKED)
        self._say(step, "lists", seen.listed, LISTED)
        self._say(step, "writes", written - writes, WRITTEN)

    def _check_code(self, step: Step, modules: set[str]) -> None:
        self.hidden += [f"{step.name} runs {module}" for module in sorted(modules - code_digests(*step.calls).keys())]

    def _say(self, step: Step, does: str, paths: set[Path], exceptions: tuple[Undeclared, ...]) -> None:
        for path in sorted(inside(paths, (self.folder, TEMPLATES, SHIPPED)) - inside(paths, step.keeps)):
            if "__pycache__" in path.parts:  # what code was compiled to: of templates it is believed by a sum, of modules as Python does
                continue
            shown = shown_path(path, self.folder)
            covering = [one for one in exceptions if fnmatch.fnmatch(step.name, one.step) and fnmatch.fnmatch(shown, one.files)]
            self.used.update(covering)
            if not covering:
                self.wrong.append(f"{step.name} {does} {shown}")


def _in_order(plan: Plan) -> list[Step]:
    """Return the steps so that none comes before what it needs."""
    steps = {step.name: step for step in plan.steps}
    maker = {path: step.name for step in plan.steps for path in step.writes}
    order: dict[str, Step] = {}

    def visit(name: str) -> None:
        if name not in order:
            for needed in (*steps[name].after, *(maker[path] for path in (*steps[name].reads, *steps[name].trusts) if path in maker)):
                visit(needed)
            order[name] = steps[name]

    for name in steps:
        visit(name)
    return list(order.values())


@pytest.fixture(scope="module")
def watched(tmp_path_factory) -> Watched:
    """Every step of the project, run once at least: built, asked about, released, over budget, with reports from testers."""
    only_long()
    watched = Watched(make_everything(tmp_path_factory.mktemp("reads") / "every").resolve())
    folder = watched.folder
    watched.run()
    watched.run("budget", "fit", "savings", "changes", "preflight", "where", "burn", "loads", "announce", "forms", "flashes")
    watched.run("flashes", of=shutil.copytree(folder / "art/ada", folder.parent / "captured"))
    before = {"build_code": "000000", "version": "0.1.0", "used": 1, "most": 2, "memory": 3, "scenes": {"play": 1}}
    (folder / "build/.state/growth.json").write_text(json.dumps([before]), encoding="utf-8")
    (folder / "build/.state/reasons.json").write_text("{}", encoding="utf-8")
    (folder / "bugs.csv").write_text(EXPORT, encoding="utf-8")
    watched.run("growth", "why")
    watched.run("freeze", of="figures")
    watched.run("bring", **{"from": str(folder / "art"), "link": "yes"})
    watched.run("intake", csv=str(folder / "bugs.csv"))
    watched.run("release")
    _replace(folder / "project.toml", 'version = "0.2.0"', 'version = "0.3.0"')
    with Image.open(folder / "art/quay.png") as picture:
        ImageOps.invert(picture).save(folder / "art/quay.png")
    watched.run("prepare:quay", "palette:quay_colours", "background:quay", "image", "verify")
    watched.run("differences", "checks", "notes", "packet", "author", "tester:T01", "page", "paged:T01", "report", "changes")
    _replace(folder / "console.toml", 'size = "256 KiB"', 'size = "79 KiB"')
    shutil.rmtree(folder / "build/.state/trials")
    watched.run("memory", "advice", "budget", "kit", "fit", "savings", refused=("budget", "kit"))
    watched.run("erase", tester="1")
    return watched


def _replace(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_steps_touch_only_what_they_declare(watched):
    """Opened, looked at, listed, written: all is declared, or is among the exceptions with a reason."""
    assert not watched.wrong, "\n".join(watched.wrong)


def test_steps_run_only_code_they_depend_on(watched):
    """A function called by name that a step was not handed would be a hole in its code digest. Common practice, no source."""
    assert not watched.hidden, "\n".join(watched.hidden)


def test_every_step_was_watched(watched):
    """No step of the plan was left out, and the project has every step the tool knows but the refusal of a missing table."""
    plan = plan_project(load_project(watched.folder))
    assert {step.name for step in plan.steps if step.call} <= set(watched.ran)


def test_no_exception_is_left_over(watched):
    """An exception that covers nothing any more would hide the next undeclared file."""
    assert {*READ, *LOOKED, *LISTED, *WRITTEN} - watched.used == set()


def test_over_budget_something_was_measured(watched):
    """So that the step that measures was watched while it did."""
    assert json.loads((watched.folder / "build/work/advice.json").read_bytes())["changes"]


def test_no_step_is_handed_the_folder_as_text(watched):
    """Text in settings is compared as it is, so the folder's name in it would rebuild a project that was only moved."""
    plan = plan_project(load_project(watched.folder))
    for step in plan.steps:
        for key, text in flatten(step.arguments, watched.folder).items():
            assert str(watched.folder) not in text, (step.name, key)


def test_no_value_holds_a_path(watched):
    """Every path among a step's arguments has a mark that says what is done with it; only a project for trials has its folder's."""

    def paths(value) -> list[Path]:
        if isinstance(value, Handed):
            return []
        if isinstance(value, Path):
            return [value]
        if isinstance(value, dict):
            return [path for one in value.values() for path in paths(one)]
        if isinstance(value, (list, tuple, set, frozenset)):
            return [path for one in value for path in paths(one)]
        fields = getattr(type(value), "__struct_fields__", None) or getattr(type(value), "__dataclass_fields__", ())
        return [path for name in fields for path in paths(getattr(value, name))]

    for step in plan_project(load_project(watched.folder)).steps:
        found = {key: paths(value) for key, value in step.arguments.items() if not isinstance(value, LoadedProject)}
        assert not any(found.values()), (step.name, found)


@pytest.mark.parametrize("value", [["a.png"], {"a.png"}, "a.png", [Path("a.png")]], ids=str)
def test_a_mark_holds_only_what_paths_are_found_in(value):
    """Anything else would be read by a step and known to nobody."""
    with pytest.raises(TypeError, match="no paths can be looked for in a"):
        paths_of({"files": In(value)}, In)
