"""Kills at random moments: what a signal in the middle of any command leaves, and that the next run makes it good.

    .venv/bin/python -m tests.bench.kills --cases 300 --seed 1

One case is drawn from its seed alone: a console, a command, an edit before it, a signal, who gets it, and when. Afterwards:

- every published file is wholly the one from before or wholly the one that an undisturbed run leaves; kits hold their checksums,
  ledger and reports are read by the tool's own readers, and have what they had;
- no process of the build runs any more, and the lock is free;
- a signal that asks for the end ended it soon, in words, with a status, and without a traceback;
- the same command run again, or a build after the edit was taken back, leaves what a clean build or an undisturbed run leaves,
  byte for byte.

A case that fails prints its seed; ``--seed N --cases 1`` does it again. ``tests/graph/test_kills.py`` does a few of fixed seeds.
"""

from __future__ import annotations

import argparse
import dataclasses
import fcntl
import hashlib
import io
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from pipeline.intake.store import load_reports, load_testers
from pipeline.plain.errors import ProjectError
from pipeline.project.ledger import read_ledger
from tests.graph.builds import ROOT, draw_frame, for_target, make_project, outputs

TARGETS = ("basalt32", "lattice16", "pebble8")
SIGNALS = {"KILL": signal.SIGKILL, "INT": signal.SIGINT, "TERM": signal.SIGTERM}
VICTIMS = ("group", "main", "worker")
BUILDS = ("full", "edit", "edit -n 2", "command", "command -n 2", "testers", "testers -n 2")
ACTS = ("release", "intake", "erase", "start")
_MARK = "ROMWRIGHT_KILLS"  # in the environment of a run and all it starts, so that none of them hides
_SOON = 20.0  # seconds until a request to end has ended a run; a loaded machine is slow
_GRACE = 3.0  # seconds for what a killed run has started to end
_KEPT = ("ledger.json", "ledger/*", "reports/*")  # what the author keeps

_MORE = """
[pad.three]
name = "Three-button pad"
buttons = ["A"]
[[plan.task]]
text = "Walk over the hill."
cover = ["pads"]
[intake.bugs]
columns = { build = "Build code", what = "What happened", severity = "How bad", tester = "Name" }
severities = { "It stops" = "critical" }
[intake.feedback]
columns = { build = "Build", tester = "Name" }
questions = { fun = "Was it fun?" }
"""
_BUGS = "Build code,What happened,How bad,Name\n7zz9k2,Hangs at the hill,It stops,Ines\n7zz9k2,The hill is green,,Odalric\n"
_BUGS += ",No sound,,Ines\n"
_TESTERS = '[[tester]]\nnumber = 1\nname = "Ines"\n\n[[tester]]\nnumber = 2\nname = "Quill"\n'
_COMMAND = 'command = ["sh", "make.sh", "{output}"]\n'
# Half an output, then a while, then all of it: a kill in between must not leave the half.
_SCRIPT = 'printf half >"$1"\nn=0\nwhile [ $n -lt 200000 ]; do n=$((n + 1)); done\ncat main.bin >"$1"\n'


class Failed(AssertionError):
    """What a kill left is not right."""


@dataclasses.dataclass(frozen=True)
class Case:
    """One case, as drawn from its seed.

    Attributes:
        moment: of the signal, as a share of the processor time that the run takes undisturbed: a loaded machine changes it little.
        edit: what is edited before the run: 0 for nothing.
        back: whether the edit is taken back before the next run.
    """

    seed: int
    target: str
    what: str
    number: str
    victim: str
    moment: float
    edit: int
    back: bool


def draw(seed: int) -> Case:
    """Return the case of a seed."""
    chance = random.Random(seed)
    what = chance.choice(BUILDS + ACTS)
    victims = VICTIMS if "-n 2" in what else VICTIMS[:2]
    number = chance.choice(list(SIGNALS))
    target, victim, moment = chance.choice(TARGETS), chance.choice(victims), chance.random()
    return Case(seed, target, what, number, victim, moment, edit=chance.randrange(1, len(EDITS)), back=chance.random() < 0.3)


def _edit_text(project: Path, old: str, new: str) -> None:
    path = project / "project.toml"
    text = path.read_text(encoding="utf-8")
    if old not in text:
        raise AssertionError(f"the project file has no {old!r} to edit")
    path.write_text(text.replace(old, new), encoding="utf-8")


EDITS: tuple[Callable[[Path], None], ...] = (
    lambda project: None,
    lambda project: (project / "level.bin").write_bytes(b"much longer than before" * 99),
    lambda project: draw_frame(project / "art/one/f2.png", (10, 200, 90, 255), 3),
    lambda project: (project / "art/two/f3.png").unlink(),
    lambda project: _edit_text(project, 'version = "0.1.0"', 'version = "0.2.0"'),
    lambda project: _edit_text(project, 'code = "SMALL"', 'code = "LARGE"'),
    lambda project: _edit_text(project, "[data.level]", "[data.other]"),
    lambda project: (project / "main.bin").write_bytes(b"\x60\xfe" * 300),
)


# About the share of a full build that each edit costs; that of taking everything back is nothing but a look.
_OF_FULL = (0.25, 0.7, 0.7, 0.7, 0.7, 0.6, 0.7, 0.7)


class World:
    """Projects to kill builds of, and what undisturbed runs leave of them; one project for a console and a kind of program."""

    def __init__(self, scratch: Path) -> None:
        self.scratch = scratch
        self._clean: dict[tuple, dict[str, str]] = {}
        self._acts: dict[tuple, dict[str, str]] = {}
        self._seconds: dict[tuple, float] = {}

    def project(self, case: Case) -> Path:
        """Return the project of a case as it is before the edit, built."""
        folder = self.scratch / f"{case.target} {'command' if 'command' in case.what else 'file'}" / "project"
        write_sources(folder, case)
        if not (folder / "build").is_dir():
            self.clean(case, 0)
            shutil.copytree(self._copy(case, 0), folder, dirs_exist_ok=True)
        self.good(folder)
        self.compare(folder, self.clean(case, 0), "before the case")
        return folder

    def drop_projects(self) -> None:
        """Begin with new projects: a case that failed may have left anything."""
        for target in TARGETS:
            for kind in ("command", "file"):
                shutil.rmtree(self.scratch / f"{target} {kind}", ignore_errors=True)

    def good(self, folder: Path, *words: str) -> subprocess.CompletedProcess:
        """Run something undisturbed that must end well."""
        done = subprocess.run(_command(folder, *words), cwd=ROOT, capture_output=True, text=True, timeout=180)
        if done.returncode != 0:
            raise Failed(f"a run after it ends with status {done.returncode}: {done.stdout[-1500:]}{done.stderr[-1500:]}")
        return done

    def _copy(self, case: Case, edit: int) -> Path:
        return self.scratch / "clean" / f"{case.target} {'command' in case.what} {edit}"

    def clean(self, case: Case, edit: int) -> dict[str, str]:
        """Return what a clean build of the project after an edit leaves."""
        key = case.target, "command" in case.what, edit
        if key not in self._clean:
            folder = self._copy(case, edit)
            write_sources(folder, case)
            EDITS[edit](folder)
            started = _children_seconds()
            self.good(folder)
            self._seconds.setdefault((case.target, "full"), _children_seconds() - started)
            self._clean[key] = _outputs(folder)
            if edit:
                shutil.rmtree(folder)
        return self._clean[key]

    def compare(self, folder: Path, wanted: dict[str, str], when: str) -> None:
        """Compare a build folder with what is wanted."""
        found = _outputs(folder)
        wrong = sorted(name for name in found.keys() | wanted.keys() if found.get(name) != wanted.get(name))
        if wrong:
            files = [f"{name} ({'gone' if name not in found else 'left over' if name not in wanted else 'other bytes'})" for name in wrong]
            raise Failed(f"{when} these differ from a clean build: {', '.join(files[:8])}")

    def undisturbed(self, case: Case, folder: Path) -> dict[str, str]:
        """Return what an act leaves in the project where nothing kills it; the project is as before afterwards."""
        key = case.target, case.what
        if key not in self._acts:
            started = _children_seconds()
            self.good(folder, *_act_words(case, folder))
            self._seconds[key] = _children_seconds() - started
            self._acts[key] = _author_files(folder)
            self.restore(case, folder)
            if case.what == "erase":
                self.good(folder)  # makes the forgotten tester's packet and kit again
        return self._acts[key]

    def restore(self, case: Case, folder: Path) -> None:
        """Put the author's files of a project back as they were before an act."""
        write_sources(folder, case)
        if case.what == "start":
            return
        if case.what == "erase":
            self.good(folder, "intake", f"csv={folder / 'reports/bugs.csv'}")

    def seconds(self, case: Case) -> float:
        """Return the processor time that the run of a case takes undisturbed, or about that."""
        if case.what in ACTS:
            return self._seconds[case.target, case.what]
        return self._seconds[case.target, "full"] * (1.0 if case.what == "full" else _OF_FULL[case.edit])


def write_sources(folder: Path, case: Case) -> None:
    """Write the sources of a project, and take away what earlier cases have added to it."""
    if case.what == "start":
        shutil.rmtree(folder, ignore_errors=True)
        return
    for name in ("art", "ledger", "reports"):
        shutil.rmtree(folder / name, ignore_errors=True)
    for path in (folder / "ledger.json", *(folder / "build").glob("triage.*")):
        path.unlink(missing_ok=True)
    for_target(make_project(folder), case.target)
    own = 'origin = "Drawn for the tests."\n'
    for table in ("[defaults.sprite]\n", "[background.hill]\n", "[data.level]\n", "[program.main]\n"):
        _edit_text(folder, table, table + own)
    _edit_text(folder, "//example.org/", "//forms.relay.tld/")  # example.org is a cross before a release
    _edit_text(folder, "[screen.boot]\n", "")  # a picture that takes longer than all the rest
    with open(folder / "project.toml", "a", encoding="utf-8") as file:
        file.write(_MORE)
    if "command" in case.what:
        _edit_text(folder, 'file = "main.bin"\n', _COMMAND + 'depends = ["main.bin"]\nreserve = 4096\n')
        (folder / "make.sh").write_text(_SCRIPT)
    (folder / "reports").mkdir(parents=True)
    (folder / "reports/bugs.csv").write_text(_BUGS)
    if "command" not in case.what:
        (folder / "reports/testers.toml").write_text(_TESTERS)


def _act_words(case: Case, folder: Path) -> list[str]:
    return {
        "release": ["release"],
        "intake": ["intake", f"csv={folder / 'reports/bugs.csv'}"],
        "erase": ["erase", "tester=T1"],
        "start": ["start"],
    }[case.what]


def _command(folder: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), *words, "commands=yes", f"project={folder}"]


def _outputs(folder: Path) -> dict[str, str]:
    return {name: digest for name, digest in outputs(folder).items() if not name.startswith("triage.")}


def _author_files(folder: Path) -> dict[str, str]:
    """Return file -> SHA-256 of what the author keeps, and of what is made of it outside the steps of a build."""
    kept = [path for pattern in (*_KEPT, "build/triage.*") for path in folder.glob(pattern)]
    if not (folder / "build").is_dir():
        kept = list(folder.rglob("*"))
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(kept) if path.is_file()}


@dataclasses.dataclass
class Ended:
    """How a run ended that got a signal."""

    status: int
    output: str
    waited: float
    sent: bool
    mark: str


def run_and_kill(command: list[str], case: Case, after: float) -> Ended:
    """Run a command and send the case's signal to its victim after some seconds of processor time."""
    mark = f"{_MARK}={os.getpid()}-{case.seed}-{time.monotonic_ns()}"
    environment = {**os.environ, _MARK: mark.partition("=")[2], "PYTHONFAULTHANDLER": "1"}
    with tempfile.TemporaryFile() as said:
        started = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.STDOUT, start_new_session=True
        )
        while started.poll() is None and _tree_seconds(started.pid) < after:
            time.sleep(0.005)
        sent = started.poll() is None and _send(started, case)
        at = time.monotonic()
        try:
            status = started.wait(_SOON if sent and case.victim != "worker" else 180)
        except subprocess.TimeoutExpired:
            stuck = _stuck(started, said)
            raise Failed(f"it still ran {_SOON:.0f} s after the signal: {stuck}") from None
        waited = time.monotonic() - at
        said.seek(0)
        return Ended(status, said.read().decode(errors="replace"), waited, sent, mark)


def _stuck(started: subprocess.Popen, said) -> str:
    """End a run that does not end; return what it has said, and where Python's fault handler saw each of its processes."""
    for process in (*_workers(started.pid), started.pid):
        os.kill(process, signal.SIGABRT)
        time.sleep(0.5)
    os.killpg(started.pid, signal.SIGKILL)
    started.wait()
    said.seek(0)
    return said.read().decode(errors="replace")[-6000:]


def _send(started: subprocess.Popen, case: Case) -> bool:
    number = SIGNALS[case.number]
    if case.victim == "worker":
        workers = _workers(started.pid)
        if not workers:
            return False
        os.kill(random.Random(case.seed).choice(workers), number)
    elif case.victim == "group":
        os.killpg(started.pid, number)
    else:
        os.kill(started.pid, number)
    return True


def _children_seconds() -> float:
    """Return the processor time of all ended runs."""
    times = os.times()
    return times.children_user + times.children_system


def _tree_seconds(process: int) -> float:
    """Return the processor time of a process and all below it; proc(5) gives it in ticks, fields 14 to 17 of ``stat``."""
    try:
        with open(f"/proc/{process}/stat") as file:
            ticks = sum(map(int, file.read().rpartition(")")[2].split()[11:15]))
    except OSError:
        return 0.0
    return ticks / os.sysconf("SC_CLK_TCK") + sum(map(_tree_seconds, _workers(process)))


def _workers(process: int) -> list[int]:
    try:
        with open(f"/proc/{process}/task/{process}/children") as file:
            return sorted(map(int, file.read().split()))
    except OSError:
        return []


def _still_running(mark: str) -> list[str]:
    """Return the processes that have a mark in their environment."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() in (folder / "environ").read_bytes().split(b"\0"):
                found.append(f"{folder.name} {(folder / 'cmdline').read_bytes().replace(bytes(1), b' ').decode(errors='replace')}")
        except OSError:
            continue
    return found


def check_end(ended: Ended, case: Case) -> None:
    """Check how a run ended."""
    end = time.monotonic() + _GRACE
    while (left := _still_running(ended.mark)) and time.monotonic() < end:
        time.sleep(0.02)
    if left:
        for line in left:
            os.kill(int(line.split()[0]), signal.SIGKILL)
        raise Failed(f"these still ran {_GRACE:.0f} s later: {'; '.join(left)}")
    if not ended.sent or ended.status == 0:
        return
    if case.number == "KILL" and case.victim != "worker":
        return
    if "Traceback" in ended.output and ("/pipeline/" in ended.output or "dodo.py" in ended.output):
        raise Failed(f"it ended with a traceback: {ended.output[-3000:]}")
    words = "a worker process died" if case.victim == "worker" else "Stopped. Build again to go on"
    early = "Traceback" in ended.output or not ended.output and ended.status == -SIGNALS[case.number]  # before the tool was loaded
    if words not in ended.output and not early:
        raise Failed(f"it ended with status {ended.status} and said: {ended.output[-3000:]}")


def check_left(folder: Path, before: dict[str, str], after: dict[str, str], when: str) -> None:
    """Check that every file others look at is wholly one or the other."""
    for name, digest in before.items():
        if after.get(name) == digest and not (folder / name).is_file():
            raise Failed(f"{when} {name} is gone, which no run takes away")
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = path.relative_to(folder).as_posix()
        if ".state" in path.parts or name.startswith(("build/work/", "work/")) or path.name.endswith(".part"):
            continue
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        if (name in before or name in after) and digest not in (before.get(name), after.get(name)):
            raise Failed(f"{when} {name} is neither what it was nor what it becomes")
        if path.suffix == ".zip":
            _check_kit(path)


def _check_kit(path: Path) -> None:
    """Check the sums that a kit brings along; the layout is that of ``sha256sum`` (GNU coreutils)."""
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        names = {name.rpartition("/")[2]: name for name in archive.namelist()}
        for line in archive.read(names["SHA256SUMS"]).decode().splitlines():
            digest, _, name = line.partition("  ")
            if hashlib.sha256(archive.read(names[name])).hexdigest() != digest:
                raise Failed(f"{name} in the kit {path.name} does not have its sum")


def check_kept(folder: Path) -> None:
    """Check that the tool can read what the author keeps."""
    try:
        read_ledger(folder)
        load_testers(folder / "reports")
        for form in ("bugs", "feedback"):
            load_reports(folder / "reports", form)
    except ProjectError as error:
        raise Failed(f"what the author keeps cannot be read: {error}") from None


def check_lock(folder: Path) -> None:
    """Check that the lock of a project is free."""
    path = folder / "build/.state/lock"
    if path.exists():
        with open(path, "r+b") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise Failed("the lock is still held") from None


def do_case(world: World, case: Case) -> Ended:
    """Do a case.

    Raises:
        Failed: something is not as it should be.
    """
    if case.what == "start":
        return _start_case(world, case)
    folder = world.project(case)
    return _act_case(world, case, folder) if case.what in ACTS else _build_case(world, case, folder)


def _build_case(world: World, case: Case, folder: Path) -> Ended:
    before, after = world.clean(case, 0), world.clean(case, case.edit)
    if case.what == "full":
        shutil.rmtree(folder / "build")
    EDITS[case.edit](folder)
    words = ["-n", "2"] if "-n 2" in case.what else []
    ended = run_and_kill(_command(folder, *words), case, case.moment * world.seconds(case))
    check_end(ended, case)
    check_lock(folder)
    # A clean build begins with nothing, so what it takes away again is nothing that a run in between must keep.
    check_left(folder / "build", {} if case.what == "full" else before, after, "after the signal")
    if case.back:
        write_sources(folder, case)
    world.good(folder)
    world.compare(folder, before if case.back else after, "after the next build")
    return ended


def _act_case(world: World, case: Case, folder: Path) -> Ended:
    world.restore(case, folder)
    wanted, before = world.undisturbed(case, folder), _author_files(folder)
    ended = run_and_kill(_command(folder, *_act_words(case, folder)), case, case.moment * world.seconds(case))
    check_end(ended, case)
    check_lock(folder)
    check_kept(folder)
    check_left(folder, before, wanted, "after the signal")
    # Forgetting what is forgotten already is refused in words.
    done = subprocess.run(_command(folder, *_act_words(case, folder)), cwd=ROOT, capture_output=True, text=True, timeout=180)
    if done.returncode != 0 and not (case.what == "erase" and "nothing of" in done.stdout):
        raise Failed(f"the same again ends with status {done.returncode}: {done.stdout[-1500:]}{done.stderr[-1500:]}")
    found = _author_files(folder)
    wrong = sorted(name for name in found.keys() | wanted.keys() if found.get(name) != wanted.get(name))
    if wrong:
        raise Failed(f"after the same again these are not as an undisturbed run leaves them: {', '.join(wrong)}; it said {done.stdout}")
    return ended


def _start_case(world: World, case: Case) -> Ended:
    folder = world.scratch / "started" / "project"
    write_sources(folder, case)
    wanted = world.undisturbed(case, folder)
    ended = run_and_kill(_command(folder, "start"), case, case.moment * world.seconds(case))
    check_end(ended, case)
    check_left(folder, {}, wanted, "after the signal")
    if not (folder / "project.toml").exists():
        world.good(folder, "start")
    left = {name for name, digest in _author_files(folder).items() if wanted.get(name) != digest and not name.endswith(".part")}
    gone = wanted.keys() - _author_files(folder).keys()
    if left or gone:
        raise Failed(f"a start that was cut short leaves {sorted(left)} and lacks {sorted(gone)}")
    return ended


def main() -> int:
    """Do the cases asked for and print a table; the status says whether all held."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1, help="of the first case; the next has the next number")
    parser.add_argument("--minutes", type=float, default=1e9, help="begin no further case after these")
    asked = parser.parse_args()
    count, sent, failed, slowest = Counter(), Counter(), Counter(), {}
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        world = World(Path(scratch))
        for seed in range(asked.seed, asked.seed + asked.cases):
            if time.monotonic() - started > asked.minutes * 60:
                print(f"out of time before seed {seed}")
                break
            case = draw(seed)
            key = case.what, case.number, case.victim, min(int(case.moment * 3), 2)
            count[key] += 1
            try:
                ended = do_case(world, case)
                sent[key] += ended.sent
                if ended.sent and case.number != "KILL" and case.victim != "worker":
                    slowest[case.number] = max(slowest.get(case.number, 0.0), ended.waited)
            except (Failed, subprocess.TimeoutExpired, ProjectError) as error:
                failed[key] += 1
                print(f"FAILED {case}\n  {error}\n  again: python -m tests.bench.kills --cases 1 --seed {seed}", flush=True)
                world.drop_projects()
            if count.total() % 10 == 0:
                print(f"{count.total()} cases, {sent.total()} with the signal sent in time, {failed.total()} failed", flush=True)
    _print_table(count, sent, failed)
    for number, seconds in slowest.items():
        print(f"slowest end after SIG{number}: {seconds:.2f} s")
    print(f"{count.total()} cases from seed {asked.seed}, {sent.total()} with the signal sent in time, {failed.total()} failed")
    return 1 if failed else 0


def _print_table(count: Counter, sent: Counter, failed: Counter) -> None:
    print(f"{'command':<14} {'signal':<7} {'victim':<7}  cases (sent in time, failed) in the first, middle and last third of the run")
    for what, number, victim in sorted({key[:3] for key in count}):
        cells = [f"{count[key]:>4} ({sent[key]}, {failed[key]})" for key in [(what, number, victim, third) for third in range(3)]]
        print(f"{what:<14} {number:<7} {victim:<7} " + " ".join(f"{cell:<14}" for cell in cells))


if __name__ == "__main__":
    sys.exit(main())
