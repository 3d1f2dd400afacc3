"""Files that change while a build runs, and are as before afterwards: no step may be taken to have read what it did not."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from doit.exceptions import TaskFailed

from pipeline.graph.freshness import marks
from pipeline.graph.freshness.compare import Freshness
from pipeline.graph.freshness.digest import file_digest
from pipeline.graph.perform import perform
from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.step import Step
from tests.graph.builds import build, make_project, outputs, run

STEP = f"{__name__}:copy_what_is_there_meanwhile"
COPY = f"{__name__}:copy"


def copy(source: Path, out: Path) -> str:
    """Copy a file; represents a step."""
    out.write_bytes(source.read_bytes())
    return "copied"


def copy_what_is_there_meanwhile(source: Path, out: Path) -> str:
    """Copy other bytes than were there before and will be there afterwards; represents a step an author interferes with."""
    with _changed(source):
        return copy(source, out)


class _changed:
    """Other bytes of the same length in a file, in place, for the time of a block; its modification time is put back too."""

    def __init__(self, path: Path) -> None:
        self.path, self.before, self.stat = path, path.read_bytes(), path.stat()

    def __enter__(self) -> None:
        self._put(self.before[::-1])

    def __exit__(self, *_) -> None:
        self._put(self.before)

    def _put(self, data: bytes) -> None:
        with open(self.path, "r+b") as file:
            file.write(data)
        os.utime(self.path, ns=(self.stat.st_atime_ns, self.stat.st_mtime_ns))


@pytest.fixture
def step(tmp_path) -> Step:
    """A step that copies a file which is some time old."""
    source, out = tmp_path / "source.bin", tmp_path / "out.bin"
    source.write_bytes(b"abcdef")
    time.sleep(0.05)
    return Step("copy", COPY, {"source": In(source), "out": Out(out)})


class _CoarseStat:
    """What the system says about a file where its clock for files ticks a hundred times a second."""

    def __init__(self, stat: os.stat_result) -> None:
        self._stat = stat

    def __getattr__(self, name: str):
        value = getattr(self._stat, name)
        return value - value % 10_000_000 + 1 if name == "st_ctime_ns" else value


@pytest.fixture
def coarse_clock(monkeypatch) -> None:
    """Change times as on a kernel of 100 ticks a second, the coarsest there is; this machine's may be finer."""
    stat = Path.stat
    monkeypatch.setattr(Path, "stat", lambda path, **how: _CoarseStat(stat(path, **how)))


def test_change_during_a_step_fails_it_though_all_is_as_before(step):
    """Content, size and modification time are back; the time of the last change is not."""
    done = perform(STEP, step.arguments)
    assert isinstance(done, TaskFailed)
    assert done.get_msg().strip() == "source.bin changed while it was being read\n    build again"


def test_change_within_the_tick_of_the_clock_fails_it_too(step, coarse_clock):
    """The file was saved just before the step began, so its change time alone would not show the next change."""
    for rank in range(20):
        step.reads[0].write_bytes(b"abcde%d" % (rank % 10))
        assert isinstance(perform(STEP, step.arguments), TaskFailed), rank


def test_old_files_are_not_waited_for(step, monkeypatch):
    """Nor are files that the build has made itself, however young."""
    monkeypatch.setattr(marks.time, "sleep", lambda seconds: pytest.fail("waited"))
    assert perform(COPY, step.arguments, step.reads)["said"] == "copied"
    step.reads[0].write_bytes(b"young!")
    assert perform(COPY, step.arguments, ())["said"] == "copied"


def test_file_systems_that_keep_whole_seconds_are_waited_for_longer():
    """A change time without a fraction is from a clock of one or two seconds (FAT keeps two); one in the future is not from our clock."""
    second = 1_000_000_000
    fine, coarse = (5 * second + 1, 0, 0, 0), (5 * second, 0, 0, 0)
    assert not marks.is_settled(fine, 5 * second + 2)
    assert marks.is_settled(fine, 5 * second + 50_000_000)
    assert not marks.is_settled(coarse, 6 * second)
    assert marks.is_settled(coarse, 7 * second)
    assert marks.is_settled(fine, 2 * second)


def _judged(step: Step) -> tuple[Freshness, SimpleNamespace]:
    """Return a step's check after it was asked, and the task it keeps values in."""
    check, task = Freshness(step, step.reads[0].parent), SimpleNamespace(value_savers=[], values={}, result=None)
    assert not check(task, {})
    return check, task


def _fresh(step: Step, task: SimpleNamespace, done: dict) -> bool:
    task.values.update(done)
    saved = json.loads(json.dumps(task.value_savers[0]()))
    assert "read" not in task.values, "kept a second time"
    return Freshness(step, step.reads[0].parent)(SimpleNamespace(value_savers=[]), saved)


def test_change_between_the_decision_and_the_step_is_what_is_recorded(step):
    """The build looks at a file, then it is edited, read by the step, and put back: the output is of the edit and is stale."""
    _, task = _judged(step)
    with _changed(step.reads[0]):
        done = perform(step.call, step.arguments)
    assert step.writes[0].read_bytes() == b"fedcba"
    assert not _fresh(step, task, done)


def test_undisturbed_step_is_fresh_afterwards(step):
    """The same without an edit."""
    _, task = _judged(step)
    assert _fresh(step, task, perform(step.call, step.arguments))


def test_hash_of_a_young_file_is_not_kept(tmp_path, coarse_clock):
    """A file hashed in the tick in which it changes again is hashed again, though its time and size are the same."""
    path = tmp_path / "young.bin"
    for rank in range(20):
        path.write_bytes(b"%06d" % rank)
        before = file_digest(path)
        stat = path.stat()
        path.write_bytes(b"%06d" % (rank + 100))
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
        assert file_digest(path) != before


_MEDDLER = """
import os, sys
source, out = sys.argv[1:]
stat, data = os.stat(source), open(source, 'rb').read()
def put(data):
    with open(source, 'r+b') as file:
        file.write(data)
    os.utime(source, ns=(stat.st_atime_ns, stat.st_mtime_ns))
put(data[::-1])
open(out, 'wb').write(open(source, 'rb').read())
put(data)
"""


def test_build_whose_program_command_edits_a_source_there_and_back_fails(tmp_path):
    """As an author builds it: refused, with the file's name; the same command that leaves its source alone builds."""
    project = make_project(tmp_path / "project")
    path, text = project / "project.toml", (project / "project.toml").read_text()
    (project / "meddler.py").write_text(_MEDDLER)

    def use(script: str) -> None:
        command = json.dumps([sys.executable, f"{{project}}/{script}", "{project}/main.bin", "{output}"])
        path.write_text(text.replace('file = "main.bin"', f'command = {command}\ndepends = ["main.bin", "*.py"]\nreserve = "1 KiB"'))

    use("meddler.py")
    done = run(project, "rom", "commands=yes")
    assert done.returncode != 0
    assert "main.bin changed while it was being read" in done.stdout
    (project / "plain.py").write_text("import shutil, sys\nshutil.copy(*sys.argv[1:])\n")
    use("plain.py")
    build(project, "rom", "commands=yes")
    assert outputs(project)["blobs/main.bin"] == file_digest(project / "main.bin")
