"""Words of a command line in any order, and names of ours beside doit's own commands."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest
from doit.cmd_run import Run
from doit.cmdparse import CmdOption, CmdParse
from hypothesis import given
from hypothesis import strategies as st

from pipeline.__main__ import _USAGE
from pipeline.graph.plan import plan_project
from pipeline.graph.words import COMMANDS, VARIABLES, in_order
from pipeline.project.loading.load import load_project
from tests.conftest import some
from tests.graph.builds import ROOT, make_project


@pytest.mark.parametrize(
    ("words", "ordered"),
    [
        ([], []),
        (["rom"], ["rom"]),
        (["-n", "2", "rom", "kit"], ["-n", "2", "rom", "kit"]),
        (["-n2", "rom"], ["-n2", "rom"]),
        (["project=a", "list", "-q"], ["project=a", "list", "-q"]),
        (["-f", "x/dodo.py", "list"], ["-f", "x/dodo.py", "list"]),
        (["rom", "--frob"], ["rom", "--frob"]),
        (["-n"], ["-n"]),
        (["rom", "-n", "2"], ["run", "-n", "2", "rom"]),
        (["rom", "project=a b", "-n", "2", "kit", "why=yes"], ["project=a b", "why=yes", "run", "-n", "2", "rom", "kit"]),
        (["rom", "--always", "kit"], ["run", "--always-execute", "rom", "kit"]),
        (["-n", "2", "run", "rom"], ["run", "-n", "2", "rom"]),
        (["list", "kit", "-q"], ["list", "-q", "kit"]),
        (["rom", "--", "-n", "2"], ["rom", "--", "-n", "2"]),
        (["-n", "2", "list"], ["list", "-n", "2"]),
        (["project=a", "list", "rom", "--frob"], ["project=a", "list", "rom", "--frob"]),
    ],
    ids=" ".join,
)
def test_words_are_put_in_the_order_that_doit_takes(words, ordered):
    """Only what is out of order moves; what doit refuses is left to it. Common practice (POSIX allows no option after an operand)."""
    assert in_order(words) == ordered


OPTIONS = st.sampled_from([["-n", "2"], ["-v", "1"], ["--always"], ["--process", "3"], ["-c"], ["-s"]])
PARTS = st.lists(st.one_of(OPTIONS, st.sampled_from([["rom"], ["kit"], ["project=x"], ["of=a,b"]])), max_size=7)


@given(st.lists(st.sampled_from(["-n", "2", "list", "rom", "--frob", "--", "project=x", "-q", "clean", "-f", "x", "run"]), max_size=6))
def test_order_that_was_made_is_kept(words):
    """doit, started again with the words in order, must not be started once more."""
    assert in_order(in_order(words)) == in_order(words)


@given(PARTS)
def test_options_and_names_are_what_they_were(parts):
    """In any order, doit's own parser then finds every option with its value, every name and no other."""
    words = [word for part in parts for word in part]
    ordered = [word for word in in_order(words) if "=" not in word]
    parser = CmdParse([CmdOption(one) for one in (*Run.base_options, *Run.cmd_options)])
    found, names = parser.parse_only(ordered[1:] if ordered[:1] == ["run"] else ordered)
    assert names == [part[0] for part in parts if part[0] in ("rom", "kit")]
    wanted = CmdParse([CmdOption(one) for one in (*Run.base_options, *Run.cmd_options)])
    assert found == wanted.parse_only([word for part in parts if part[0][0] == "-" for word in part])[0]


def test_no_step_has_the_name_of_a_command_of_doit(tmp_path):
    """Such a step could not be run by its name."""
    steps = plan_project(load_project(make_project(tmp_path / "p"))).steps
    assert {step.name.partition(":")[0] for step in steps}.isdisjoint(command.get_name() for command in COMMANDS)


def test_help_lists_every_step_that_answers_and_every_variable(tmp_path):
    """What an author asks for by name, each in one line under what they want to do."""
    steps = plan_project(load_project(make_project(tmp_path / "p"))).steps
    asked = {step.name for step in steps if step.always and step.call} - {"author", "checks"}
    shown = set(re.findall(r"[a-z]+", "\n".join(line.split("  ")[1] for line in _USAGE.splitlines() if line.startswith("  romwright"))))
    assert {"rom", "kit", "packet", "report", "proofs", "budget", "start", "list"} <= shown
    assert asked <= shown
    assert {f"{name}=" for name in VARIABLES} - {"form="} <= set(re.findall(r"[a-z]+=", _USAGE))
    assert max(map(len, _USAGE.splitlines())) <= 110


@pytest.mark.parametrize("door", some([["-m", "doit"], ["-m", "pipeline"]], 1), ids=" ".join)
def test_options_after_the_steps_count(door, tmp_path):
    """Two workers, asked for at the end; through both front doors, from the repository and from another folder."""
    project = make_project(tmp_path / "p")
    for folder, words in ((ROOT, []), (tmp_path, ["-f", str(ROOT / "dodo.py"), "-d", str(tmp_path)] if "doit" in door else [])):
        command = [sys.executable, *door, *words, "layout", f"project={project.name if folder == tmp_path else project}", "-n", "2"]
        env = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
        done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, timeout=120)
        assert done.returncode == 0, done.stdout + done.stderr
    assert "Nothing to do" in done.stdout


@pytest.mark.parametrize("words", [["-n", "2", "list"], ["list", "rom", "--frob"]], ids=" ".join)
def test_option_of_another_command_is_refused_by_doit(words, tmp_path):
    """Started by doit itself: an error of the command line, once, and no traceback."""
    project = make_project(tmp_path / "p")
    command = [sys.executable, "-m", "doit", *words, f"project={project}"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 3
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("ERROR: ")


def test_option_that_a_command_does_not_have_is_named_in_a_line(tmp_path):
    """doit lists the insides of all options, twenty lines of them."""
    for words in (["-x"], ["list", "-n", "2"], ["-n", "2", "list"]):
        command = [sys.executable, "-m", "pipeline", *words, f"project={tmp_path}"]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
        assert (done.returncode, done.stderr.strip().count("\n")) == (3, 0), done.stderr
        assert "not recognized" in done.stderr


def test_a_project_s_own_python_files_are_not_taken_for_the_library_s(tmp_path):
    """doit changes to the folder it is given; started again there, it must not import what lies there."""
    project = make_project(tmp_path / "p")
    (project / "queue.py").write_text("raise SystemExit('ran')")
    words = ["-f", str(ROOT / "dodo.py"), "-d", str(project), "layout", f"project={project}", "-n", "2"]
    done = subprocess.run([sys.executable, "-P", "-m", "doit", *words], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr


_NOT_NAMED = [["forget", "tester=1"], ["rom", "tester=1"], ["rom", "csv=a.csv"], ["changes", "name=ada"]]


@pytest.mark.parametrize("words", _NOT_NAMED, ids=" ".join)
def test_word_of_a_step_that_is_not_named_is_refused(words, tmp_path):
    """Else ``forget tester=1`` would drop records, remove nobody and look as if it had."""
    project = make_project(tmp_path / "p")
    command = [sys.executable, "-m", "pipeline", *words, f"project={project}"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 3
    assert "which is not named" in done.stderr
