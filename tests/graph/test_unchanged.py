"""A build with nothing to do answers from one look at all files, and every change that a build must notice ends that.

What distinguishes files: POSIX.1-2017, sys/stat.h (change time, inode, device). It gives programs no way to set a change time.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline.graph.freshness import unchanged
from pipeline.graph.freshness.compare import Freshness
from pipeline.graph.freshness.state_folder import claim
from pipeline.graph.freshness.unchanged import RECORD, Watch
from pipeline.graph.steps.handed import Out
from pipeline.graph.steps.step import Step
from tests.conftest import some
from tests.graph.builds import ROOT, build, copy_built, make_tiny, run

SAID = "Nothing to do."


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A folder with what a look looks at, and an answer kept; the tool is a folder of its own."""
    folder, tool = tmp_path / "project", tmp_path / "tool"
    for file in ("project.toml", "art/one.png", "build/out.bin", "build/work/one.json"):
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(file)
    for file in ("dodo.py", "pipeline/a.py", "pipeline/__pycache__/a.pyc", "templates/t.j2"):
        (tool / file).parent.mkdir(parents=True, exist_ok=True)
        (tool / file).write_text(file)
    monkeypatch.setattr(unchanged, "_TOOL", tool)
    monkeypatch.setattr(unchanged, "TEMPLATES", tool / "templates")
    monkeypatch.setattr(sys, "path", [str(tmp_path / "libraries")])
    (tmp_path / "libraries").mkdir()
    monkeypatch.chdir(tool)
    claim(folder / "build/.state")
    (folder / "build/.state/steps.sqlite3").write_text("records")
    (folder / "build/.state/lock").touch()
    keep(folder)
    return folder


def keep(folder: Path, *words: str) -> None:
    """Keep an answer as a build does that changed nothing in the last tick."""
    time.sleep(0.03)
    watch = Watch([f"project={folder}", *words])
    look = watch.look_again()
    assert look is not None
    watch.keep(look, SAID)


def answer(folder: Path, *words: str) -> str | None:
    return Watch([f"project={folder}", *words]).answer()


def same_size(path: Path) -> None:
    """Change a byte and set the modification time back."""
    known = path.stat()
    path.write_bytes(path.read_bytes().swapcase())
    os.utime(path, ns=(known.st_atime_ns, known.st_mtime_ns))


def swap(path: Path) -> None:
    """Put another file of the same size and modification time in a file's place."""
    other = path.with_name("other")
    other.write_bytes(path.read_bytes().swapcase())
    os.utime(other, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns))
    other.rename(path)


def test_nothing_changed_gives_the_answer_again(project):
    assert answer(project) == SAID
    assert answer(project) == SAID
    (project / "build/.state/trials").mkdir()  # a build does not read what trials keep
    (project.parent / "tool/pipeline/__pycache__/a.pyc").write_text("as Python does")
    (project / ".git").mkdir()  # no file of it is read, or ``covers`` says so
    (project / ".git/index").write_text("")
    assert answer(project) == SAID


@pytest.mark.parametrize(
    "file",
    some([
        *("project.toml", "art/one.png", "build/out.bin", "build/work/one.json", "build/.state/steps.sqlite3", "build/.state/owner.json"),
        *("../tool/dodo.py", "../tool/pipeline/a.py", "../tool/templates/t.j2"),
    ], 5),
)
@pytest.mark.parametrize("change", [same_size, swap, Path.unlink, Path.touch, lambda path: path.chmod(0o600)])
def test_change_of_any_file_is_noticed(project, file, change):
    change(project / file)
    assert answer(project) is None


@pytest.mark.parametrize(
    "file", ["art/two.png", "art/new/two.png", "build/rest.part", "build/.state/odd", "../tool/pipeline/b.py", "../tool/doit.cfg"]
)
def test_new_file_is_noticed(project, file):
    (project / file).parent.mkdir(exist_ok=True)
    (project / file).write_text("")
    assert answer(project) is None


def test_new_folder_and_renamed_file_are_noticed(project):
    (project / "art/one.png").rename(project / "art/uno.png")
    assert answer(project) is None
    (project / "art/uno.png").rename(project / "art/one.png")  # changes its change time: POSIX leaves that open, Linux does so
    keep(project)
    (project / "build/empty").mkdir()
    assert answer(project) is None


def test_library_that_comes_is_noticed(project):
    (project.parent / "libraries/lib-2.dist-info").mkdir()
    assert answer(project) is None


def test_other_words_surroundings_and_places_get_no_answer(project, monkeypatch):
    assert answer(project, "rom") is None
    keep(project, "rom")
    assert answer(project, "rom") == SAID
    assert answer(project) is None
    keep(project)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert answer(project) is None
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    assert answer(project) == SAID
    monkeypatch.chdir(project.parent)
    assert answer(project) is None


@pytest.mark.parametrize("words", [["-a"], ["--always"], ["of=one"], ["--", "rom"], ["-n2", "-s"], ["A"]])
def test_words_whose_answer_may_change_by_itself_are_left_to_the_full_check(project, words):
    watch = Watch([f"project={project}", *words])
    assert watch.look_again() is None


def test_copy_of_a_built_project_is_not_believed(project, tmp_path):
    shutil.copytree(project, tmp_path / "copy")
    assert answer(tmp_path / "copy") is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"key": 1}', "[" * 100_000, "null"])
def test_damaged_record_is_not_believed(project, text):
    (project / "build/.state" / RECORD).write_text(text)
    assert answer(project) is None


def test_link_to_a_folder_is_left_to_the_full_check(project, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (project / "art/linked").symlink_to(tmp_path / "elsewhere")
    time.sleep(0.03)
    assert Watch([f"project={project}"]).look_again() is None


def test_file_behind_a_link_is_looked_at(project, tmp_path):
    (tmp_path / "real.png").write_text("real")
    (project / "art/linked.png").symlink_to(tmp_path / "real.png")
    keep(project)
    assert answer(project) == SAID
    same_size(tmp_path / "real.png")
    assert answer(project) is None


def test_too_many_files_are_left_to_the_full_check(project, monkeypatch):
    monkeypatch.setattr(unchanged, "_MOST_FILES", 3)
    assert Watch([f"project={project}"]).look_again() is None


def test_source_changed_during_the_build_keeps_no_answer(project):
    watch = Watch([f"project={project}"])
    same_size(project / "art/one.png")
    assert watch.look_again() is None


def test_source_of_the_last_tick_keeps_no_answer(project):
    """A second change within the tick would leave the same marks."""
    (project / "art/one.png").write_text("as the build starts")
    assert Watch([f"project={project}"]).look_again() is None


def test_files_that_a_look_does_not_see_are_known(project):
    watch = Watch([f"project={project}"])
    seen = {"art/one.png": True, "../tool/pipeline/a.py": True, "../tool/templates/t.j2": True, "build/out.bin": True}
    unseen = dict.fromkeys([".git/HEAD", "art/__pycache__/one.png", "../elsewhere/one.png", "../tool/pipeline/__pycache__/a.pyc"], False)
    for file, expected in (seen | unseen).items():
        assert watch.covers(Path(os.path.normpath(project / file))) == expected, file


@pytest.mark.parametrize("change", ["chmod", "copy", "link"])
def test_build_folder_that_changed_hands_is_set_aside_and_built(built, tmp_path, change):
    """A look leaves no lock that would keep the full check out."""
    copy = copy_built(built, tmp_path / "copy")
    time.sleep(0.03)
    assert build(copy) == []
    state = copy / "build/.state"
    if change == "chmod":
        for path in state.iterdir():
            path.chmod(0o664)
    elif change == "copy":
        shutil.copytree(copy / "build", tmp_path / "other")
        shutil.rmtree(copy / "build")
        (tmp_path / "other").rename(copy / "build")
    else:
        state.rename(tmp_path / "state")
        state.symlink_to(tmp_path / "state")
    done = run(copy)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "starts from nothing" in done.stderr


def test_source_that_a_look_does_not_see_is_noticed(tmp_path):
    """A level kept in a folder of version control: its builds are always checked in full."""
    folder = make_tiny(tmp_path / "tiny")
    (folder / ".git").mkdir()
    (folder / "level.bin").rename(folder / ".git/level.bin")
    text = (folder / "project.toml").read_text(encoding="utf-8").replace('"level.bin"', '".git/level.bin"')
    (folder / "project.toml").write_text(text, encoding="utf-8")
    build(folder)
    time.sleep(0.03)
    assert build(folder) == []
    same_size(folder / ".git/level.bin")
    assert build(folder)


def test_odd_letters_of_a_path_are_shown_alike(tmp_path):
    folder = make_tiny(tmp_path / "we\x1b[31mird")
    build(folder)
    time.sleep(0.03)
    full = run(folder)
    assert (folder / "build/.state" / RECORD).exists()
    assert run(folder).stdout == full.stdout
    assert "\x1b" not in full.stdout


def test_removed_current_folder_gets_no_answer(project, tmp_path, monkeypatch):
    (tmp_path / "gone").mkdir()
    monkeypatch.chdir(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    assert answer(project) is None
    assert Watch(["project=project"]).answer() is None


def test_locked_project_gets_no_answer(project):
    """Another build runs: the full check says so."""
    hold = "import fcntl, sys; f = open(sys.argv[1]); fcntl.flock(f, fcntl.LOCK_EX); print(flush=True); sys.stdin.read()"
    command = [sys.executable, "-c", hold, str(project / "build/.state/lock")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other:
        other.stdout.readline()
        assert answer(project) is None
        other.stdin.close()


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A built project, looked at a second time."""
    folder = make_tiny(tmp_path_factory.mktemp("unchanged") / "tiny")
    build(folder)
    return folder


def test_quick_answer_is_that_of_the_full_check_and_loads_no_graph(built):
    time.sleep(0.03)
    full = run(built)
    assert (built / "build/.state" / RECORD).exists()
    command = [sys.executable, "-X", "importtime", "-m", "doit", "-f", str(ROOT / "dodo.py"), f"project={built}"]
    quick = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, timeout=60)
    assert quick.stdout == full.stdout
    loaded = {line.rpartition("|")[2].strip() for line in quick.stderr.splitlines()}
    assert not loaded & {"pipeline.graph.plan", "pipeline.graph.front", "msgspec", "numpy"}
    (built / "build/.state" / RECORD).unlink()
    assert run(built).stdout == full.stdout


def test_changed_output_gets_no_answer(built, tmp_path):
    copy = copy_built(built, tmp_path / "copy")
    time.sleep(0.03)
    assert build(copy) == []
    (copy / "build/map.json").write_text("{}")
    assert build(copy)
    time.sleep(0.03)
    assert build(copy) == []


def test_output_altered_while_the_build_ran_is_not_as_left(tmp_path):
    """The look comes first, then each output is compared with what its step left."""
    out = tmp_path / "out.bin"
    out.write_bytes(b"left")
    check = Freshness(Step("one", "pipeline.plain.sizes:show_size", {"out": Out(out)}), tmp_path)
    assert not check.is_as_left()
    check(SimpleNamespace(value_savers=[]), {"inputs": {}, "outputs": {"out.bin": hashlib.sha256(b"left").hexdigest()}})
    assert check.is_as_left()
    out.write_bytes(b"else")
    assert not check.is_as_left()
