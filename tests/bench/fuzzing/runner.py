"""Running cases in forked children of a warm parent: bounded in memory and time, with every write looked at."""

from __future__ import annotations

import contextlib
import json
import os
import random
import resource
import select
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.plain.errors import BadAnswer, ProjectError
from tests.bench.fuzzing.formats import Format, Wrong
from tests.bench.fuzzing.judge import faults_of
from tests.bench.fuzzing.parts import MOST_BYTES, Part, rendered, smaller

WALL = 120  # seconds after which a case has hung even on a busy machine
_TOGETHER = 500  # cases one child runs
_REPO = Path(__file__).resolve().parents[3]
_SHRINKING = 400  # smaller documents tried for one failure


class Outside(BaseException):
    """Raised by the audit hook in place of a write elsewhere, which therefore does not happen; no ``except`` of the tool swallows it."""


class Hang(BaseException):
    """Raised by the alarm; no ``except Exception`` of the tool may swallow it."""


@dataclass(frozen=True)
class Result:
    """What became of one case.

    Attributes:
        outcome: accepted, refused, set aside, or failed.
        kinds: what was wrong, in words that are the same for the same mistake; empty unless failed.
        seconds: of processor time. peak: bytes of memory above those before the case.
        details: the refusal's text, or the traceback.
    """

    seed: int
    outcome: str
    kinds: tuple[str, ...] = ()
    seconds: float = 0.0
    peak: int = 0
    details: str = ""


@dataclass
class Tally:
    """The results of a format, added up."""

    name: str
    cases: int = 0
    outcomes: Counter = field(default_factory=Counter)
    failures: dict[str, list[Result]] = field(default_factory=dict)
    slowest: Result | None = None
    largest: Result | None = None
    seconds: float = 0.0

    def add(self, result: Result) -> None:
        """Add one result."""
        self.cases += 1
        self.seconds += result.seconds
        self.outcomes[result.outcome] += 1
        for kind in result.kinds:
            self.failures.setdefault(kind, []).append(result)
        if self.slowest is None or result.seconds > self.slowest.seconds:
            self.slowest = result
        if self.largest is None or result.peak > self.largest.peak:
            self.largest = result

    def report(self) -> str:
        """Return the figures as lines."""
        shares = ", ".join(f"{name} {count} ({count / self.cases:.0%})" for name, count in sorted(self.outcomes.items()))
        lines = [f"{self.name}: {self.cases} cases, {shares}, {self.seconds:.1f} s"]
        if self.slowest and self.largest:
            lines.append(
                f"    slowest {self.slowest.seconds:.2f} s ({self.name}:{self.slowest.seed}), "
                f"most memory {self.largest.peak >> 20} MiB ({self.name}:{self.largest.seed})"
            )
        for kind, found in sorted(self.failures.items(), key=lambda pair: -len(pair[1])):
            lines.append(f"    {len(found)} x {kind}: {', '.join(f'{self.name}:{one.seed}' for one in found[:3])}")
        return "\n".join(lines)


def document(one: Format, seed: int) -> Part:
    """Return the document of a seed."""
    return one.make(random.Random(f"{one.name}:{seed}"))


def run_cases(one: Format, seeds: Iterable[int]) -> Iterator[Result]:
    """Run the documents of some seeds, in order; yield what became of each."""
    waiting = list(seeds)
    with _place(one) as folder:
        while waiting:
            done = 0
            for result in _in_child(one, folder, [(seed, None) for seed in waiting[:_TOGETHER]]):
                done += 1
                yield result
            waiting = waiting[done:]


def run_document(one: Format, top: Part) -> Result:
    """Run one document."""
    with _place(one) as folder:
        return next(iter(_in_child(one, folder, [(0, rendered(top)[:MOST_BYTES])])))


def shrunk(one: Format, top: Part, kind: str) -> Part:
    """Return a smaller document that still fails in the same way."""
    tried = 0
    with _place(one) as folder:
        found = True
        while found and tried < _SHRINKING:
            found = False
            size = len(rendered(top))
            for made in smaller(top):
                tried += 1
                data = rendered(made)
                if len(data) <= size and kind in next(iter(_in_child(one, folder, [(0, data[:MOST_BYTES])]))).kinds:
                    top, found = made, True
                    break
                if tried >= _SHRINKING:
                    break
    return top


@contextlib.contextmanager
def _place(one: Format) -> Iterator[Path]:
    # In memory where there is room for it: a database that waits for a disk at every case would be most of the time.
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) and shutil.disk_usage("/dev/shm").free > 1 << 30 else None
    top = Path(tempfile.mkdtemp(prefix="fuzzing-", dir=memory)).resolve()
    try:
        folder = top / "project"
        folder.mkdir()
        one.prepare(folder)
        yield folder
    finally:
        shutil.rmtree(top, ignore_errors=True)


def _in_child(one: Format, folder: Path, cases: list[tuple[int, bytes | None]]) -> Iterator[Result]:
    """Yield results up to the first case that ended or hung the child, that one's among them."""
    reading, writing = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os.close(reading)
        _child(one, folder, cases, writing)
    os.close(writing)
    ended = 0
    try:
        buffer, timed_out = b"", False
        while ended < len(cases):
            ready, _, _ = select.select([reading], [], [], WALL + 30)
            piece = os.read(reading, 1 << 16) if ready else b""
            timed_out = not ready
            if not piece:
                break
            buffer += piece
            *lines, buffer = buffer.split(b"\n")
            for line in lines:
                ended += 1
                yield Result(**{**json.loads(line), "kinds": tuple(json.loads(line)["kinds"])})
    finally:
        os.close(reading)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
        status = os.waitpid(child, 0)[1]
    if ended < len(cases):
        how = "it hung" if timed_out else f"the process ended, status {status}"
        yield Result(cases[ended][0], "failed", (how,), float(WALL if timed_out else 0), 0, how)


def _child(one: Format, folder: Path, cases: list[tuple[int, bytes | None]], out: int) -> None:
    try:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), 1)
            os.dup2(nowhere.fileno(), 2)
        bound = _memory("VmSize") + one.memory
        resource.setrlimit(resource.RLIMIT_AS, (bound, bound))
        signal.signal(signal.SIGPROF, _alarm)
        signal.signal(signal.SIGALRM, _alarm)
        watch = Watch(folder, one.own)
        sys.addaudithook(watch.look)
        for seed, data in cases:
            if data is None:
                try:
                    data = rendered(document(one, seed))[:MOST_BYTES]
                except Exception as error:  # a mistake of the fuzzer's own is reported like any other
                    result = Result(seed, "failed", (f"no document was made: {error!r}",), details=traceback.format_exc())
                    os.write(out, json.dumps(result.__dict__).encode() + b"\n")
                    continue
            result = _one_case(one, folder, seed, data, watch)
            os.write(out, json.dumps(result.__dict__).encode() + b"\n")
    finally:
        os._exit(0)


def _alarm(number, frame) -> None:
    raise Hang


def _one_case(one: Format, folder: Path, seed: int, data: bytes, watch: Watch) -> Result:
    kinds: list[str] = []
    details = ""
    before, start = _fresh_peak(), time.process_time()
    watch.written.clear()
    outcome = "failed"
    (folder / one.file).parent.mkdir(parents=True, exist_ok=True)
    (folder / one.file).write_bytes(data)
    signal.setitimer(signal.ITIMER_PROF, one.seconds)
    signal.setitimer(signal.ITIMER_REAL, WALL)
    try:
        watch.active = True
        outcome = one.run(folder, data)
    except ProjectError as error:
        outcome, details = "refused", str(error)
        kinds += [] if isinstance(error, BadAnswer) else faults_of(error)
    except Outside:
        details = traceback.format_exc(limit=-8)
    except Hang:
        kinds.append(f"over {one.seconds} s of processor time, or {WALL} s")
        details = traceback.format_exc(limit=-8)
    except Wrong as error:
        kinds.append(f"wrong: {str(error).splitlines()[0][:200]}")
        details = str(error)
    except MemoryError as error:
        kinds.append(f"more than {one.memory >> 20} MiB, in {_where(error)}")
    except one.outside as error:
        outcome, details = "refused", str(error)
        kinds += faults_of(error)
    except BaseException as error:  # whatever else the tool raises would be a traceback
        kinds.append(f"{type(error).__name__} in {_where(error)}")
        details = "".join(traceback.format_exception(error, limit=-8))[-3000:]
    finally:
        watch.active = False
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.setitimer(signal.ITIMER_REAL, 0)
    peak = max(0, _memory("VmHWM") - before)
    if peak > one.memory and not any(kind.startswith("more than") for kind in kinds):
        kinds.append(f"more than {one.memory >> 20} MiB")
    kinds += [f"wrote outside the build folder: {what}" for what in dict.fromkeys(watch.written)]
    return Result(seed, "failed" if kinds else outcome, tuple(kinds), time.process_time() - start, peak, details[:20000])


def _where(error: BaseException) -> str:
    """Return module and function of the tool in which an error arose, or was let through."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [one for one in frames if f"{_REPO}/pipeline/" in one.filename] or frames[-1:]
    return f"{Path(own[-1].filename).name}:{own[-1].name}" if own else "nowhere"


def _memory(name: str) -> int:
    with open("/proc/self/status", encoding="ascii") as file:
        return next(int(line.split()[1]) << 10 for line in file if line.startswith(f"{name}:"))


def _fresh_peak() -> int:
    """Make the peak of this process that of now, and return it."""
    Path("/proc/self/clear_refs").write_text("5")
    return _memory("VmHWM")


class Watch:
    """An audit hook that notes, and stops, every write that is not below the build folder.

    A reader under test may be one with a mistake, and may run as root: what it would remove must still be there afterwards.

    Attributes:
        active: whether a case runs.
        written: what was written elsewhere, in words.
    """

    _CHANGING = {
        "os.rename": 2,
        "os.link": 2,
        "os.symlink": 2,
        "os.remove": 1,
        "os.mkdir": 1,
        "os.rmdir": 1,
        "os.truncate": 1,
        "os.chmod": 1,
        "os.utime": 1,
        "os.setxattr": 1,
        "shutil.rmtree": 1,
        "shutil.move": 2,
        "shutil.copyfile": 2,
        "shutil.copytree": 2,
        "sqlite3.connect": 1,
    }

    def __init__(self, folder: Path, own: tuple[str, ...]) -> None:
        self.active = False
        self.written: list[str] = []
        self._folder = str(folder)
        self._allowed = tuple(os.path.join(self._folder, name) for name in ("build", *own))

    def look(self, event: str, arguments: tuple) -> None:
        """Note an event; see ``sys.addaudithook``."""
        if not self.active:
            return
        if event == "open":
            path, mode, flags = arguments
            if isinstance(path, int) or not (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC):
                return
            self._note(event, path)
        elif event in self._CHANGING:
            # shutil's and os' first two words are paths; what is copied from is only read.
            first = 1 if event in ("shutil.copyfile", "shutil.copytree", "os.symlink") else 0
            for path in arguments[first : self._CHANGING[event]]:
                # A path may be relative to an open folder, whose number comes last.
                above = arguments[-1] if event in ("os.remove", "os.rmdir", "os.mkdir") and arguments[-1] not in (-1, None) else None
                self._note(event, path if above is None else os.path.join(os.readlink(f"/proc/self/fd/{above}"), os.fsdecode(path)))
        elif event in ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "socket.connect"):
            self._stop(event)

    def _note(self, event: str, path) -> None:
        if isinstance(path, int):
            return
        # The folder's own links count where they lead; the last part may be a link that is itself removed or replaced.
        text = os.path.abspath(os.fsdecode(path))
        full = os.path.join(os.path.realpath(os.path.dirname(text)), os.path.basename(text))
        if event == "open":
            full = os.path.realpath(text)
        if full == os.devnull or "__pycache__" in full.split(os.sep):
            return
        # A temporary name beside a file goes with it.
        if not any(full == one or full.startswith((one + os.sep, one + ".")) for one in self._allowed):
            inside = os.path.relpath(full, self._folder) if full.startswith(self._folder) else full
            self._stop(f"{event} {inside}"[:120])

    def _stop(self, what: str) -> None:
        self.written.append(what)
        raise Outside(what)
