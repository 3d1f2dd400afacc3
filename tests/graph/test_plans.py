"""What there is to do for a project, as data: every step with its settings, files, order and text; and what words of a command line mean.

No outside source: other tests run the steps and look at what they make. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from pipeline.graph.freshness.settings import flatten
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import Found, In, Trusted, paths_of
from pipeline.graph.steps.step import Plan
from pipeline.graph.words import asks_to_watch, in_order, wrong_words
from pipeline.project.loading.load import load_project
from tests.graph.builds import ROOT, for_target, make_project
from tests.graph.everything import make_everything
from tests.makers import TARGETS
from tests.recorded import differing, hash_of

WORDS = {
    "of": "ada,quay", "name": "ada", "csv": "a.csv", "form": "bugs", "tester": "1", "from": "art", "link": "yes", "write": "yes",
}  # fmt: skip


def said(plan: Plan) -> dict[str, str]:
    """Return step -> a short hash of all that is said of it; and the order of the steps, and which are run when none is named."""
    found = {"in order": hash_of(repr([step.name for step in plan.steps]).encode()), "default": hash_of(repr(plan.default).encode())}
    for step in plan.steps:
        paths = [[str(path).removeprefix(str(plan.folder)).removeprefix(str(ROOT)) for path in some] for some in (step.writes, step.keeps)]
        settings = flatten(step.arguments, plan.folder)
        found[step.name] = hash_of(repr((step.call, sorted(settings.items()), step.after, step.always, step.doc, paths)).encode())
    return found


def recorded(name: str, folder: Path, words: dict[str, str] | None = None) -> set[str]:
    return differing(f"plan of {name}", said(plan_project(load_project(folder), words)))


@pytest.mark.parametrize("target", TARGETS)
def test_plans_of_a_small_project(tmp_path, target):
    """On each shipped console."""
    assert recorded(f"a small project, {target}", for_target(make_project(tmp_path / "p"), target)) == set()


def test_plan_of_the_second_demo():
    """As it is in the repository: tiles, parts, a pool, variants and levels."""
    assert recorded("veillee", ROOT / "demo_project/veillee") == set()


def test_plan_of_every_kind(tmp_path):
    """With testers, devices, a program that is built, and words for each question; the same without words but for those questions."""
    folder = make_everything(tmp_path / "p")
    text = (folder / "project.toml").read_text(encoding="utf-8")
    (folder / "project.toml").write_text(text.replace(json.dumps(sys.executable), '"python"'), encoding="utf-8")
    assert recorded("every kind", folder, WORDS) == set()
    plain, asked = (said(plan_project(load_project(folder), words)) for words in (None, WORDS))
    assert {name for name in plain if plain[name] != asked[name]} == {"fit", "freeze", "flashes", "where", "intake", "erase", "bring"}


def test_what_a_step_reads_counts_for_some_step(tmp_path):
    """Trusted files have a maker among the steps, and what is only found in a build is of the author, to name lines of a mistake.

    The exception is the list of testers: its names must not be among the settings, and each step compares its own mark.
    """
    folder = make_everything(tmp_path / "p")
    plan = plan_project(load_project(folder))
    made = {path for step in plan.steps for path in step.writes}
    unmade = {path for step in plan.steps for path in paths_of(step.arguments, Trusted) if path not in made}
    assert unmade == {folder / "reports/testers.toml"}
    built = [step for step in plan.steps if not step.always]
    found = {path for step in built for path in paths_of(step.arguments, Found) if path not in {*made, *paths_of(step.arguments, In)}}
    assert found == {folder / "project.toml", folder / "issues.toml"}


LINES = (
    "rom", "-n 2 rom", "rom -n 2", "rom project=a", "run rom", "list", "list rom", "rom list", "watch", "watch rom",
    "list watch", "-n 2 watch", "watch -n 2", "project=watch rom", "run watch", "help watch", "name=ada where", "where name=ada",
    "name=ada", "nam=ada where", "of=a", "of=a fit", "of=a freeze", "of=a rom", "tester=1 erase", "tester=1 forget",
    "csv=a form=b intake", "form=b", "from=x start", "link=yes bring", "link=yes", "target=x", "target=x start", "port=1 watch",
    "port=1", "since=1 changes", "since=1", "write=yes", "write=yes bring", "csv=x", "--db-file=x", "--db", "--backend=json",
    "--reporter", "-r x", "--rep=x", "--codec x", "--check_file_uptodate=md5", "-d x", "--dir=x", "xyz=1", "why=yes",
    "commands=yes", "commands=maybe", "-", "--", "-- rom", "rom -- -n 2", "-v 2 rom -c", "clean rom", "clean -n rom",
    "rom clean", "info rom", "-f x rom", "rom -f x", "forget", "rom --frob", "-n", "", "a=b=c",
)  # fmt: skip


def test_words_of_command_lines():
    """What is refused, in which order the rest is handed on, and whether it asks to watch."""
    found = {}
    for line in LINES:
        words = line.split()
        found[line] = f"{wrong_words(words) or 'taken'} | {' '.join(in_order(words))} | {'watches' if asks_to_watch(words) else ''}"
    assert differing("command lines", found) == set()
