"""A program's command ends with its build, leaves nothing running behind it, and its output is taken only when it ended well.

What a signal does to a process and its group, and that a read ends when the last writer is gone: POSIX.1-2017.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from pipeline.assets.program import build_program
from pipeline.joints.places import Sources, blob_files
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Program
from tests.graph.builds import ROOT


def _make(folder, code, *words):
    (folder / "make.py").write_text(code)
    (folder / "build/work").mkdir(parents=True, exist_ok=True)
    (folder / "build/work/layout.json").write_text(json.dumps({"main": {"address": 0, "bank": 0}}))
    spec = Program(command=[sys.executable, "make.py", "{output}", *words])
    build = folder / "build"
    includes, output = (build / "include/assets.h",), build / "work/main.program"
    out = blob_files(build / "blobs", "main")
    return build_program(Sources(folder, ()), includes, build / "work/layout.json", output, out, "main", spec, 1 << 20, 0)


def _alive(process: int) -> bool:
    try:
        with open(f"/proc/{process}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def _gone(process: int) -> bool:
    for _ in range(250):
        if not _alive(process):
            return True
        time.sleep(0.02)
    return False


_HELPER = """
import os, pathlib, subprocess, sys, time
if len(sys.argv) == 3:  # the helper, which the command starts
    pathlib.Path("helper").write_text(str(os.getpid()))
    time.sleep(60)
    raise SystemExit
subprocess.Popen([sys.executable, __file__, sys.argv[1], "helper"])
while not (pathlib.Path("helper").exists() and pathlib.Path("helper").read_text()):
    time.sleep(0.01)
"""


def test_what_a_command_leaves_running_ends_with_it(tmp_path):
    """A process that the command started and did not wait for, with its output still open, is ended and not waited for."""
    started = time.monotonic()
    _make(tmp_path, _HELPER + "pathlib.Path(sys.argv[1]).write_bytes(b'done')")

    assert _gone(int((tmp_path / "helper").read_text()))
    assert time.monotonic() - started < 30
    assert (tmp_path / "build/blobs/main.bin").read_bytes() == b"done"


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_command_ends_with_the_process_that_ran_it(tmp_path, number):
    """Whatever ends the builder, the command and its own helper end too, so that they cannot write into the next build."""
    code = _HELPER + "pathlib.Path('command').write_text(str(os.getpid())); time.sleep(60)"
    call = f"from tests.assets.test_program_command import _make; from pathlib import Path; _make(Path({str(tmp_path)!r}), {code!r})"
    builder = subprocess.Popen([sys.executable, "-c", call], cwd=ROOT)
    for _ in range(1000):
        if (tmp_path / "command").exists() and (tmp_path / "command").read_text():
            break
        time.sleep(0.02)
    os.kill(builder.pid, number)
    builder.wait(timeout=30)

    assert _gone(int((tmp_path / "command").read_text()))
    assert _gone(int((tmp_path / "helper").read_text()))


def test_output_of_a_failed_command_is_not_left(tmp_path):
    """Half an output is taken away, and the blob of the last good run stays."""
    _make(tmp_path, "import sys; open(sys.argv[1], 'w').write('good')")
    with pytest.raises(ProjectError, match="ended with status 7"):
        _make(tmp_path, "import sys; open(sys.argv[1], 'w').write('ha'); raise SystemExit(7)")

    assert not (tmp_path / "build/work/main.program").exists()
    assert (tmp_path / "build/blobs/main.bin").read_bytes() == b"good"


def test_command_that_prints_without_end_takes_no_memory(tmp_path):
    """Of 200 MB that a command prints its last lines are kept; the builder has room for half of that (common practice, no source)."""
    code = "import sys\nfor rank in range(200): sys.stdout.write('x' * 999_999 + '\\\\n')\nprint('the end'); raise SystemExit(1)"
    call = (
        "import resource; from pathlib import Path; from tests.assets.test_program_command import _make\n"
        "now = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "resource.setrlimit(resource.RLIMIT_AS, (now + 100_000_000,) * 2)\n"
        f"_make(Path({str(tmp_path)!r}), '''{code}''')"
    )
    done = subprocess.run([sys.executable, "-c", call], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert "| the end\n" in done.stderr
    assert "MemoryError" not in done.stderr


def test_command_that_stops_itself_is_reported_with_its_signal(tmp_path):
    """A command ended by a signal is refused; subprocess gives it as a negative status (Python's library reference)."""
    with pytest.raises(ProjectError, match=r"ended with status -9"):
        _make(tmp_path, "import os, signal; os.kill(os.getpid(), signal.SIGKILL)")
