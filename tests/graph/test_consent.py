"""A project's command runs only with the author's yes. Keys and signals of a terminal: POSIX.1-2017, General Terminal Interface."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.conftest import some
from tests.graph.builds import ROOT, build, make_project, make_tiny, run, warm
from tests.graph.terminal import start_at

_COMMAND = """[program.main]\ncommand = ["sh", "make.sh", "{output}"]\n"""
_NO_NOTICE = "[screen.boot]\n"


@pytest.fixture
def project(tmp_path):
    """A project whose program is made by a script of its own, which leaves a line in a file each time."""
    return _with_command(make_tiny(tmp_path / "project"))


@pytest.fixture
def drawn(tmp_path):
    """The same with art and no notice."""
    project = make_project(tmp_path / "project")
    _change(project, _NO_NOTICE, "")
    return _with_command(project)


def _with_command(project):
    _change(project, '[program.main]\nfile = "main.bin"\n', _COMMAND)
    (project / "make.sh").write_text('echo ran >>runs\nprintf program >"$1"\n')
    return project


def _change(project, old, new):
    path = project / "project.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def _runs(project) -> int:
    path = project / "runs"
    return len(path.read_text().splitlines()) if path.exists() else 0


def _kept(project) -> dict:
    path = project / "build/.state/commands.json"
    return json.loads(path.read_text()) if path.exists() else {}


def _at_terminal(project, keys: str | None, *words: str, real: bool = False) -> tuple[int, str]:
    """Build at a terminal of its own and press keys when asked (None: never asked); return exit status and what was shown.

    Args:
        real: in a process of its own; else in a fork of one that has read the tool.
    """
    words = ("-f", str(ROOT / "dodo.py"), *words, f"project={project}")
    terminal, other = pty.openpty()
    shown, answered = b"", False
    with ThreadPoolExecutor(1) as pool:
        ended = pool.submit(start_at if real else _fork_at, os.ttyname(other), *words)
        while not ended.done() or select.select([terminal], [], [], 0)[0]:
            if not select.select([terminal], [], [], 0.02)[0]:
                continue
            shown += os.read(terminal, 4096)
            if not answered and b"[y/N] " in shown:
                answered = True
                time.sleep(0.1)  # the program throws away what was typed before it asked
                os.write(terminal, (keys or "n\n").encode())  # an answer that is not expected ends it
        status = ended.result()
    os.close(terminal)
    os.close(other)
    assert not (answered and keys is None), shown.decode()
    return status, shown.decode().replace("\r\n", "\n")


def _fork_at(terminal: str, *words: str) -> int:
    return warm().call("tests.graph.terminal:doit_at", [terminal, *words], dict(os.environ), seconds=60).status


@pytest.mark.parametrize("workers", some([(), ("-n", "2")], 1))
def test_yes_at_a_terminal_runs_the_command_and_is_remembered(project, workers):
    """Asked once, before any step; afterwards the command runs without a question, even when its script has changed."""
    status, shown = _at_terminal(project, "y\n", *workers, "rom", real=True)
    assert status == 0, shown
    assert "  [program.main] command = ['sh', 'make.sh', '{output}']\n      runs or reads the project's own 'make.sh'\n" in shown
    assert shown.index("[y/N] ") < shown.index("/")  # no step has reported anything yet
    assert _runs(project) == 1

    (project / "make.sh").write_text((project / "make.sh").read_text() + "# again\n")
    status, shown = _at_terminal(project, None, *workers, "rom")
    assert status == 0, shown
    assert _runs(project) == 2
    assert run(project, *workers, "rom").returncode == 0


@pytest.mark.parametrize(
    "keys", some(["\n", "n\n", "no\n", "yep\n", "\x04", "Y es\n"], 3), ids=some(["enter", "n", "no", "yep", "end", "other"], 3)
)
def test_anything_but_yes_builds_nothing(project, keys):
    """Enter, n, the end of input and words that are not yes: no step runs, nothing is remembered, and the status says so."""
    status, shown = _at_terminal(project, keys, "rom")
    assert status == 2
    assert "STOPPED  you did not say yes to the command, so nothing was built" in shown
    assert "Traceback" not in shown
    assert _runs(project) == 0
    assert _kept(project) == {}
    assert not (project / "build/blobs").exists()


def test_interrupt_at_the_question_stops(project):
    """Ctrl-C is not an answer: the build stops in words, and the next one asks again."""
    status, shown = _at_terminal(project, "\x03", "rom", real=True)
    assert status != 0
    assert "Stopped." in shown
    assert "Traceback" not in shown
    assert _runs(project) == 0
    assert _at_terminal(project, "yes\n", "rom")[0] == 0


def test_without_a_terminal_it_is_refused_with_the_words_to_give(project):
    """A pipe, a closed input and a terminal only to read from are nobody to ask; the refusal names file, line and word."""
    done = run(project, "rom")
    assert done.returncode == 2
    assert done.stdout == (
        "\nSTOPPED  project.toml, line 16, [program.main] command: runs only with your yes: 'sh', 'make.sh', '{output}'\n"
        "    read it; then add commands=yes to allow it for one run, or build at a terminal, which asks and remembers\n"
    )
    assert _runs(project) == 0
    command = f'"{sys.executable}" -m doit -f dodo.py rom "project={project}"'
    closed = subprocess.run(["sh", "-c", command + " <&-"], cwd=ROOT, capture_output=True, text=True)
    assert (closed.returncode, closed.stdout) == (2, done.stdout)
    status, shown = _at_shell_with_terminal(f"{command} 2>/dev/null")
    assert status == 2
    assert "runs only with your yes" in shown


def _at_shell_with_terminal(command: str) -> tuple[int, str]:
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(ROOT)
        os.execv("/bin/sh", ["sh", "-c", command])
    shown = b""
    try:
        while part := os.read(terminal, 4096):
            shown += part
    except OSError:
        pass
    os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]), shown.decode()


def test_word_allows_one_run_and_shows_what_runs(project):
    """commands=yes runs it, shows it, and keeps nothing: the next run without the word is refused where it has something to do."""
    done = run(project, "rom", "commands=yes")
    assert done.returncode == 0, done.stdout
    assert done.stdout.startswith("Runs, since commands=yes allows it: [program.main] command = ['sh', 'make.sh', '{output}']\n")
    assert _runs(project) == 1
    assert _kept(project) == {}
    assert run(project, "rom").returncode == 0  # all is fresh: nothing runs, nothing is asked
    (project / "make.sh").write_text((project / "make.sh").read_text() + "# again\n")
    assert run(project, "rom").returncode == 2
    assert _runs(project) == 1


@pytest.mark.parametrize("word", ["maybe", "YES", "1"])
def test_other_values_of_the_word_are_refused(project, word):
    """A value that is neither yes nor no does not count as yes."""
    done = run(project, "rom", f"commands={word}")
    assert done.returncode == 3
    assert f"commands={word} is not known\n    write commands=yes or commands=no, or leave it out to be asked" in done.stderr + done.stdout
    assert _runs(project) == 0


def test_no_on_the_command_line_is_not_asked_about(project):
    """commands=no refuses at a terminal too."""
    status, shown = _at_terminal(project, None, "rom", "commands=no")
    assert status == 2
    assert "runs only with your yes" in shown


def test_changed_words_are_asked_about_again(project):
    """Another word, another order, and another program of the same words: each needs its own yes. Going back needs one too."""
    assert _at_terminal(project, "y\n", "rom")[0] == 0
    _change(project, '"{output}"]', '"{output}", "more"]')
    status, shown = _at_terminal(project, "n\n", "rom")
    assert (status, _runs(project)) == (2, 1)
    assert "['sh', 'make.sh', '{output}', 'more']  (changed since your last yes)" in shown
    assert _at_terminal(project, "y\n", "rom")[0] == 0
    assert _runs(project) == 2
    _change(project, '"{output}", "more"]', '"{output}"]')
    assert run(project, "rom").returncode == 2
    _change(project, "[program.main]", "[program.other]")
    assert run(project, "rom").returncode == 2


def test_all_commands_are_asked_about_at_once(project):
    """Two programs, one question; a no runs neither."""
    with open(project / "project.toml", "a") as file:
        file.write('[program.second]\ncommand = ["sh", "make.sh", "{output}", "two\\u001b[2J\\u202e"]\nreserve = 64\n')
    status, shown = _at_terminal(project, "n\n", "rom")
    assert status == 2
    assert "This project runs 2 commands on your computer:" in shown
    assert shown.count("[y/N]") == 1
    assert r"'two\x1b[2J\u202e'" in shown  # made visible, not sent to the terminal
    assert "\x1b" not in shown
    assert _at_terminal(project, "y\n", "rom")[0] == 0
    assert sorted(_kept(project)) == ["program:main", "program:second"]


def test_only_steps_that_run_are_asked_about(drawn):
    """What needs no program asks nothing, nor does a build with nothing to do, even when the state forgot the yes."""
    project = drawn
    assert run(project, "palette:figures").returncode == 0
    for words in (("list",), ("why",), ("growth",), ("schema",)):
        assert run(project, *words).returncode == 0, words
    assert _at_terminal(project, "y\n", "rom")[0] == 0
    (project / "build/.state/commands.json").unlink()
    assert run(project, "rom").returncode == 0
    (project / "level.bin").write_bytes(b"longer than before" * 20)  # the program will be elsewhere, perhaps
    assert run(project, "rom").returncode == 2
    assert run(project, "-a", "palette:figures").returncode == 0
    assert run(project, "-a", "rom").returncode == 2


@pytest.mark.parametrize("question", ["budget", "fit", "savings", "where", "verify", "preflight", "release"])
def test_questions_that_build_run_nothing_without_a_yes(drawn, question):
    """What has to build first is refused as the build is."""
    project = drawn
    done = run(project, question)
    assert done.returncode == 2
    assert "runs only with your yes" in done.stdout
    assert _runs(project) == 0


def test_trials_run_no_command(drawn):
    """Other scales are tried by converting art; the program's command does not run for them."""
    project = drawn
    build(project, "commands=yes")
    for question in ("fit", "savings"):
        assert run(project, question).returncode == 0
    assert _runs(project) == 1


def test_yes_goes_with_the_build_folder(project):
    """Deleting build/ asks again; a damaged record does not count as yes."""
    assert _at_terminal(project, "y\n", "rom")[0] == 0
    (project / "build/.state/commands.json").write_text('["program:main"]')
    (project / "make.sh").write_text((project / "make.sh").read_text() + "# again\n")
    assert run(project, "rom").returncode == 2
    subprocess.run(["rm", "-r", str(project / "build")], check=True)
    assert run(project, "rom").returncode == 2


def test_moved_project_is_asked_about_as_a_build_of_it_would_run(project, tmp_path):
    """A copy in another folder builds all again; what its build folder brings along does not let the command run unasked there."""
    build(project, "rom", "commands=yes")
    shutil.copytree(project, tmp_path / "copy")
    done = run(tmp_path / "copy", "rom")
    assert done.returncode == 2
    assert "runs only with your yes" in done.stdout
    assert build(tmp_path / "copy", "rom", "commands=yes")


def test_what_was_typed_ahead_is_no_answer(project):
    """A y that waits in the terminal's line before the question is asked is thrown away; the next line counts."""
    process, terminal = pty.fork()
    if process == 0:
        os.chdir(ROOT)
        os.execv(sys.executable, [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), "rom", f"project={project}"])
    os.write(terminal, b"y\n")
    shown = b""
    try:
        while part := os.read(terminal, 4096):
            shown += part
            if b"[y/N] " in shown and b"STOPPED" not in shown and not shown.endswith(b"n\r\n"):
                time.sleep(0.2)
                os.write(terminal, b"n\n")
    except OSError:
        pass
    os.close(terminal)
    assert os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]) == 2
    assert _runs(project) == 0


def test_build_in_the_background_is_not_stopped_by_the_question(project):
    """Reading from a terminal in the background stops a process (SIGTTIN); the build refuses instead."""
    command = f'set -m; "{sys.executable}" -m doit -f dodo.py rom "project={project}" & wait $!'
    status, shown = _at_shell_with_terminal(command)
    assert status == 2
    assert "runs only with your yes" in re.sub(r"\s+", " ", shown)


@pytest.mark.parametrize("number", some([signal.SIGTERM, signal.SIGHUP, signal.SIGINT], 1))
@pytest.mark.parametrize("workers", some([("-n", "2"), ()], 1))
def test_request_to_end_stops_the_build_in_words(project, number, workers):
    """Each of the signals that ask a program to end does what Ctrl-C does: a line, a status, no traceback, and the command ends."""
    (project / "make.sh").write_text("echo $$ >pid\nsleep 60\n")
    command = [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *workers, "rom", "commands=yes", f"project={project}"]
    started = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    for _ in range(6000):  # a busy machine takes its time
        if (project / "pid").exists() and (project / "pid").read_text().strip():
            break
        time.sleep(0.02)
    os.kill(started.pid, number)
    out, err = started.communicate(timeout=20)

    assert started.returncode != 0
    assert err == "\nStopped. Build again to go on; finished steps are kept.\n"
    assert "Traceback" not in out
    for _ in range(100):
        if not os.path.exists(f"/proc/{(project / 'pid').read_text().strip()}"):
            break
        time.sleep(0.05)
    assert not os.path.exists(f"/proc/{(project / 'pid').read_text().strip()}")
