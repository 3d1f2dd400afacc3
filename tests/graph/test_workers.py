"""Parallel builds end when a worker dies, two builds of one project exclude each other, and a kill leaves no half file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.conftest import only_long, some
from tests.graph.builds import ROOT, build, make_tiny, outputs, run

_SLOW = '[program.main]\ncommand = ["{python}", "slow.py", "{{output}}"]\n'


@pytest.fixture
def slow_project(tmp_path):
    """A project whose program is made by a command that writes its process number and waits for a file."""
    project = make_tiny(tmp_path / "project")
    (project / "slow.py").write_text(
        "import os, pathlib, sys, time\n"
        "pathlib.Path('running').write_text(str(os.getppid()))\n"
        "while not pathlib.Path('go').exists():\n"
        "    time.sleep(0.02)\n"
        "pathlib.Path(sys.argv[1]).write_bytes(b'program!')\n"
    )
    text = (project / "project.toml").read_text()
    (project / "project.toml").write_text(text.replace('[program.main]\nfile = "main.bin"\n', _SLOW.format(python=sys.executable)))
    return project


def _start(project, *words) -> subprocess.Popen:
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, f"project={project}"]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


def _wait_for(path) -> str:
    for _ in range(3000):
        if path.exists() and path.read_text():
            return path.read_text()
        time.sleep(0.02)
    raise AssertionError(f"{path.name} did not appear")


def test_dying_worker_ends_the_build_with_an_error(slow_project):
    """A worker killed in the middle of a step (as by a full memory) stops the build with status 2 instead of a hang."""
    only_long()
    started = _start(slow_project, "-n", "2", "commands=yes")
    worker = int(_wait_for(slow_project / "running"))
    os.kill(worker, signal.SIGKILL)
    out, _ = started.communicate(timeout=60)
    (slow_project / "go").touch()

    assert started.returncode == 2
    assert "STOPPED  a worker process died (signal 9); the build was stopped, finished steps are kept. Build again" in out
    assert build(slow_project, "-n", "2", "commands=yes")


def test_killed_parent_leaves_no_waiting_workers_and_no_lock(slow_project):
    """After the parent is killed its workers end, and the next build is not kept out."""
    started = _start(slow_project, "-n", "2", "commands=yes")
    worker = int(_wait_for(slow_project / "running"))
    started.kill()
    started.communicate(timeout=60)
    for _ in range(500):
        if not _alive(worker):
            break
        time.sleep(0.02)

    assert not _alive(worker)
    (slow_project / "go").touch()
    assert build(slow_project, "commands=yes")


def _alive(process: int) -> bool:
    try:
        with open(f"/proc/{process}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux", reason="prctl is a call of Linux; elsewhere a worker looks for its parent now and then")
def test_worker_ends_with_its_parent_without_looking(tmp_path):
    """prctl(2), PR_SET_PDEATHSIG: the signal comes with the parent's end, not up to a second later."""
    code = (
        "import os, pathlib, signal, sys, time\n"
        "from pipeline.graph.workers import end_at_once_with_parent\n"
        "if os.fork() == 0:\n"
        "    end_at_once_with_parent()\n"
        "    pathlib.Path(sys.argv[1]).write_text(str(os.getpid()))\n"
        "    time.sleep(60)\n"
        "time.sleep(60)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "worker")], cwd=ROOT)
    worker = int(_wait_for(tmp_path / "worker"))
    parent.kill()
    parent.wait()
    for _ in range(500):
        if not _alive(worker):
            break
        time.sleep(0.02)
    assert not _alive(worker)


def test_stopped_build_does_not_wait_for_work_that_nobody_takes(tmp_path):
    """A queue joins its thread at exit until all is written to the pipe (library reference, multiprocessing.Queue); here it does not."""
    code = (
        "from pipeline.graph.workers import WatchedQueue, WatchedRunner\n"
        "jobs, results = WatchedQueue(), WatchedQueue()\n"
        "WatchedRunner(None, None, num_process=0)._run_start_processes(jobs, results)\n"
        "jobs.put(bytes(10_000_000))\n"
        "raise KeyboardInterrupt\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, timeout=60)
    assert done.returncode != 0


def test_second_build_of_the_same_project_is_refused(slow_project):
    """While one build runs another one ends at once with status 2 and says why."""
    started = _start(slow_project, "commands=yes")
    _wait_for(slow_project / "running")
    second = run(slow_project, "commands=yes")
    (slow_project / "go").touch()
    started.communicate(timeout=60)

    assert second.returncode == 2
    assert "STOPPED  another build of this project is running; wait for it to end, or stop it" in second.stdout
    assert started.returncode == 0


@pytest.mark.parametrize("workers", some([(), ("-n", "2")], 1))
def test_killed_and_repeated_build_equals_a_clean_one(slow_project, tmp_path, workers):
    """Good build, edit, kill in the middle, edit taken back: the next build leaves what the first one left."""
    (slow_project / "go").touch()
    build(slow_project, "commands=yes")
    before = outputs(slow_project)
    script = slow_project / "slow.py"
    text = script.read_text()
    (slow_project / "go").unlink()
    (slow_project / "running").unlink()
    level = (slow_project / "level.bin").read_bytes()
    (slow_project / "level.bin").write_bytes(b"much longer than before" * 99)
    started = _start(slow_project, *workers, "commands=yes")
    _wait_for(slow_project / "running")
    os.kill(started.pid, signal.SIGKILL)
    started.communicate(timeout=60)
    (slow_project / "level.bin").write_bytes(level)
    script.write_text(text)
    (slow_project / "go").touch()
    build(slow_project, "commands=yes")

    assert outputs(slow_project) == before


def test_input_edited_while_it_is_read_is_not_taken_for_good(slow_project):
    """A source that changes during its step fails the step, and the next build uses the new content."""
    text = (slow_project / "project.toml").read_text()
    (slow_project / "project.toml").write_text(text.replace('"{output}"]', '"{output}"]\ndepends = ["slow.py"]'))
    started = _start(slow_project, "commands=yes")
    _wait_for(slow_project / "running")
    script = slow_project / "slow.py"
    script.write_text(script.read_text() + "# changed\n")
    (slow_project / "go").touch()
    out, _ = started.communicate(timeout=60)

    assert started.returncode == 2
    assert "slow.py changed while it was being read\n    build again" in out
    assert "program:main" in build(slow_project, "commands=yes")
