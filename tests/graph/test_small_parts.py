"""Small parts of a build by themselves, without doit running: a step performed, marks and digests, reasons, streams, growth, records.

Common practice, no source.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import signal
import sqlite3
import sys
import time
import types
from pathlib import Path
from typing import Any

import msgspec
import pytest
from doit.dependency import JSONCodec
from doit.exceptions import InvalidTask, TaskFailed

from pipeline.graph import database, growth_log, perform, places, stopping, streams
from pipeline.graph.freshness import digest, lock, manifest, marks
from pipeline.graph.freshness.compare import Freshness, _compare
from pipeline.graph.progress import _kits, _near, needed_steps
from pipeline.graph.steps import handed
from pipeline.graph.steps.step import Step
from pipeline.joints.map import MappedImage
from pipeline.joints.places import BlobFiles
from pipeline.joints.views import ContentView, SizeView
from pipeline.plain.errors import refuse
from pipeline.target.calls import Call, calls_in
from tests.makers import as_budget, budget_json, make_project


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def step(monkeypatch):
    """A module whose function ``step`` can be replaced."""
    module = types.ModuleType("a_step")
    monkeypatch.setitem(sys.modules, "a_step", module)
    monkeypatch.setattr(perform, "settled_marks", lambda paths, waited_for: {path: marks.mark_of(path) for path in paths})

    def run(function, **arguments: Any):
        module.step = function
        return perform.perform("a_step:step", arguments)

    return run


def test_a_step_that_is_performed(tmp_path, step):
    """What it says and read; its refusals, the system's, and errors of its own; what it changed or did not write."""
    source, out = tmp_path / "a.png", tmp_path / "a.bin"
    source.write_bytes(b"art")

    def copying(source, out, plain):
        out.write_bytes(source.read_bytes())
        return plain

    found = step(copying, source=handed.In(source), out=handed.Out(out), plain="fine")
    assert found == {"said": "fine", "read": {str(source): sha(b"art")}}

    def refusing():
        raise refuse("a.png", "", "is damaged", "save it again")

    failed = step(refusing)
    assert isinstance(failed, TaskFailed)
    assert (failed.message, failed.report) == ("a.png: is damaged\n    save it again", True)
    for number in range(1, 134):

        def failing(number=number):
            raise OSError(number, os.strerror(number), "b.png")

        if number in (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOENT):
            assert step(failing).message == f"b.png: {os.strerror(number)}\n    correct that and build again"
        else:
            with pytest.raises(OSError, match="b.png"):
                step(failing)
    with pytest.raises(ZeroDivisionError):
        step(lambda: 1 // 0)
    changing = step(lambda source: source.write_bytes(b"other"), source=handed.In(source))
    assert changing.message == "a.png changed while it was being read\n    build again"
    trusted = step(lambda source: str(source.write_bytes(b"again")), source=handed.Trusted(source))
    assert trusted == {"said": "5", "read": {}}
    with pytest.raises(AssertionError, match=r"a_step:step did not write c\.bin"):
        step(lambda out: "", out=handed.Out((out, tmp_path / "c.bin")))


def test_what_a_step_is_handed(tmp_path):
    """Paths by their marks, in tuples, tables and records, each once; views; what the function gets; names of calls."""
    one, two, three = (tmp_path / name for name in "abc")
    arguments = {
        "art": handed.In((one, two, one)), "more": handed.In({"x": two, "y": None, "z": Call("m:f")}),
        "blob": handed.In(BlobFiles(three, one)), "size": handed.In(SizeView(tmp_path / "v")), "seen": handed.Depends(tmp_path / "d"),
        "out": handed.Out(two), "kept": handed.Reached(three), "list": handed.Listing(one), "number": 7, "call": Call("module:function"),
        "calls": {"b": (Call("m:g"),)}, "none": handed.Found(None),
    }  # fmt: skip
    assert handed.paths_of(arguments, handed.In) == (one, two, three, tmp_path / "v", tmp_path / "d")
    assert handed.paths_of(arguments, handed.Out) == (two, one)
    assert handed.paths_of(arguments, handed.Listing) == (one,)
    assert handed.paths_of(arguments, handed.Kept, handed.Found) == (three,)
    assert set(handed.plain_arguments(arguments)) == set(arguments) - {"seen", "kept"}
    assert handed.plain_arguments(arguments)["art"] == (one, two, one)
    assert handed.calls_of_step("a:b", arguments) == ("a:b", "m:f", "module:function", "m:g")
    assert calls_in({"x": [Call("in:list")], "y": (Call("in:tuple"),), "z": 1}) == ("in:tuple",)
    with pytest.raises(TypeError, match="looked for in a int"):
        handed.paths_of({"x": handed.In(7)}, handed.In)
    view, other = SizeView(one), ContentView(one)
    assert handed.views_of({"a": handed.In(view), "b": handed.In(view)}) == {one: view}
    assert handed.views_of({"a": handed.In(view), "b": handed.In(other)}) == {}
    assert handed.views_of({"a": handed.In(view), "b": handed.In(one)}) == {}
    assert handed.views_of({"a": handed.Trusted(view)}) == {}
    made = Step("x:y", "a:b", arguments)
    assert (made.reads, made.writes, made.manifest) == (handed.paths_of(arguments, handed.In), (two, one), one)
    assert (made.trusts, made.keeps, made.calls) == ((), (three,), handed.calls_of_step("a:b", arguments))
    assert Step("x", "builtins:len", {"obj": 1}).manifest is None


def test_when_a_mark_can_be_relied_on():
    """A tick after the change; two seconds where whole seconds are kept; not at all for times to come. DEVELOPERS.md, marks."""
    second, tick = 1_000_000_000, 20_000_000
    for changed, length in ((5 * second + 1, tick), (5 * second, 2 * second)):
        mark = (changed, 0, 0, 0, 0)
        for passed, left in ((0, length), (1, length - 1), (length - 1, 1), (length, 0), (length + 1, -1), (-1, 0)):
            assert marks.unsettled_for(mark, changed + passed) == left
            assert marks.is_settled(mark, changed + passed) == (left <= 0)


def test_marks_are_waited_for(tmp_path, monkeypatch):
    """As long as one is young, and not without end; others are only looked at."""
    young, old = tmp_path / "young", tmp_path / "old"
    young.touch()
    old.touch()
    slept: list[float] = []
    monkeypatch.setattr(marks.time, "sleep", slept.append)
    monkeypatch.setattr(marks.time, "time_ns", lambda: marks.mark_of(young)[0] + (len(slept) >= 3) * (1 << 40))
    found = marks.settled_marks([young, old, tmp_path / "none"], [young])
    assert found == {young: marks.mark_of(young), old: marks.mark_of(old), tmp_path / "none": None}
    assert len(slept) == 3
    assert all(0 < one <= 2 for one in slept)
    slept.clear()
    monkeypatch.setattr(marks.time, "time_ns", lambda: marks.mark_of(young)[0])
    marks.settled_marks([young], [young])
    assert len(slept) == 20
    assert marks.mark_of(tmp_path / "a\0b") is None
    known = young.stat()
    assert marks.mark_of(young) == (known.st_ctime_ns, known.st_mtime_ns, known.st_size, known.st_ino, known.st_dev)


def test_digests_are_remembered_by_marks(tmp_path, monkeypatch):
    """Of an old file once; of a young one again; of a view by what is in its file."""
    file = tmp_path / "a"
    file.write_bytes(b"one")
    opened: list[Path] = []
    true = digest.open_regular
    monkeypatch.setattr(digest, "open_regular", lambda path: opened.append(path) or true(path))
    monkeypatch.setattr(digest, "_known", {})
    assert [digest.file_digest(file), digest.file_digest(file)] == [sha(b"one")] * 2
    assert len(opened) == 2  # young: it may change and keep its mark
    later = time.time_ns() + 10_000_000_000
    monkeypatch.setattr(digest.time, "time_ns", lambda: later)
    assert [digest.file_digest(file) for _ in range(3)] == [sha(b"one")] * 3
    assert len(opened) == 3
    learnt = digest.known_digests()
    assert len(learnt) == 1
    monkeypatch.setattr(digest, "_known", {})
    digest.learn_digests(learnt)
    assert digest.file_digest(file) == sha(b"one")
    assert len(opened) == 3
    assert [digest.file_digest(tmp_path / "none"), digest.file_digest(tmp_path)] == [None, None]
    monkeypatch.setattr(digest, "_MOST_KNOWN", 1)
    digest.learn_digests({(1, 1): ((1,) * 5, "x")})
    digest.learn_digests({(2, 2): ((1,) * 5, "y")})
    assert digest.known_digests() == {(2, 2): ((1,) * 5, "y")}
    file.write_text('{"version":1,"kind":"data","bytes":7,"more":1}')
    whole = digest.file_digest(file)
    assert digest.read_digest(file, {}) == whole
    said = digest.read_digest(file, {file: SizeView(file)})
    assert said not in (None, whole)
    file.write_text('{"version":1,"kind":"data","bytes":7,"more":2}')
    assert digest.read_digest(file, {file: SizeView(file)}) == said
    assert digest.read_digest(tmp_path / "none", {tmp_path / "none": SizeView(tmp_path / "none")}) is None


def test_reasons_word_for_word():
    """Added, gone and changed, of each part; a long text by its hash; the order of a table only where nothing else of it differs."""
    before = {"a": "1", "b": "2", "long": "sha256 1", "order of t": "x, y", "t.x": "1", "t.y": "1", "order of u": "p, q"}
    now = {"a": "1", "c": "3", "long": "sha256 2", "order of t": "x, z", "t.x": "1", "t.z": "1", "order of u": "q, p"}
    assert _compare("settings", before, now) == [
        "setting gone: b", "setting added: c", "setting changed: long", "setting changed: order of u from p, q to q, p",
        "setting gone: t.y", "setting added: t.z",
    ]  # fmt: skip
    for part, said in (("reads", "file changed: a"), ("code", "tool changed: a"), ("libraries", "library changed: a from 1 to 2")):
        assert _compare(part, {"a": "1"}, {"a": "2"}) == [said]
    assert _compare("reads", {"a": None}, {"a": None}) == []
    assert _compare("reads", {}, {"a": "1"}) == ["file added: a"]


def test_outputs_of_a_step(tmp_path):
    """Missing, altered, listed and not; as they were left."""
    (tmp_path / "build").mkdir()
    out, listing = tmp_path / "build/a.bin", tmp_path / "build/list.json"
    check = Freshness(Step("x", "builtins:len", {"out": handed.Out(out), "list": handed.Listing(listing)}), tmp_path)
    assert not check.is_as_left()
    out.write_bytes(b"a")
    listing.write_text('{"files": {"b.bin": "", "../c": "", "/d": ""}}')
    (tmp_path / "build/b.bin").write_bytes(b"b")
    left = {f"build/{name}": digest.file_digest(tmp_path / "build" / name) for name in ("a.bin", "b.bin", "list.json")}
    assert check._output_reasons(left) == []
    check._left = left
    assert check.is_as_left()
    assert check._output_reasons(left | {"build/gone": "1"}) == ["output missing: build/gone"]
    out.write_bytes(b"c")
    (tmp_path / "build/b.bin").unlink()
    assert check._output_reasons(left) == ["output altered: build/a.bin", "output missing: build/b.bin"]
    assert not check.is_as_left()
    assert manifest.listed_files(listing) == [tmp_path / "build/b.bin"]
    assert manifest.listed_files(out) is None


def test_lock_of_a_project(tmp_path):
    """Taken once in a process, seen by another; a link or a folder in its place is not followed."""
    path = tmp_path / "lock"
    assert not lock.is_taken(path)
    assert not path.exists()
    assert lock.take_lock(path)
    assert lock.take_lock(path)
    assert not lock.is_taken(path)  # by another build
    child = os.fork()
    if not child:
        os._exit(10 * lock.is_taken(path) + lock.take_lock(path))
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 10
    lock._drop(path)
    lock._drop(path)
    assert not lock.is_taken(path)
    child = os.fork()
    if not child:
        os._exit(10 * lock.is_taken(path) + lock.take_lock(path))
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 1
    (tmp_path / "link").symlink_to(path)
    assert not lock.is_taken(tmp_path / "link")
    assert not lock.is_taken(tmp_path)
    with pytest.raises(Exception, match="cannot be opened"):
        lock.take_lock(tmp_path / "link")


class Raw(io.StringIO):
    """A stream that counts flushes, or fails."""

    def __init__(self, encoding: str = "utf-8", error: OSError | None = None) -> None:
        super().__init__()
        self.flushed, self.error, self.named = 0, error, encoding

    @property
    def encoding(self) -> str:
        return self.named

    def flush(self) -> None:
        self.flushed += 1

    def write(self, text: str) -> int:
        if self.error:
            raise self.error
        return super().write(text)


def test_streams_lose_no_build(monkeypatch):
    """Whole lines are written at once; letters that a terminal lacks; nobody reads; a full disk once, then nothing."""
    raw = Raw("ascii")
    assert streams.write_steadily(raw, "é") == 1
    assert (raw.getvalue(), raw.flushed) == ("?", 0)
    streams.write_steadily(raw, "a\n")
    assert (raw.getvalue(), raw.flushed) == ("?a\n", 1)
    assert streams.write_steadily(None, "abc") == 3
    sent: list[tuple] = []
    monkeypatch.setattr(streams, "_send", lambda stream, where: sent.append((stream, where)))
    monkeypatch.setattr(streams, "_lost", [])
    cut, full = Raw(error=BrokenPipeError(errno.EPIPE, "")), Raw(error=OSError(errno.ENOSPC, "No space left"))
    assert streams.write_steadily(cut, "ab") == 2
    with pytest.raises(streams.OutputLost, match="cannot be written: No space left\n    finished steps are kept"):
        streams.write_steadily(full, "ab")
    assert streams.write_steadily(full, "ab") == 2
    assert sent == [(cut, os.devnull), (full, 2), (full, os.devnull)]
    shown = streams._Shown(Raw(error=OSError(errno.ENOSPC, "No space left")))
    assert shown.write("ab\x1b") == 3
    assert streams._Steady(raw).write("xy") == 2
    assert streams._Steady(raw).flushed == 1


def test_stops_by_hand(monkeypatch):
    """Signals that end a process raise Ctrl-C's error; one that was ignored stays so; other errors are Python's."""
    kept = {number: signal.getsignal(number) for number in stopping.SIGNALS}
    hook, registered = sys.excepthook, []
    monkeypatch.setattr(stopping.atexit, "register", registered.append)
    monkeypatch.setattr(stopping, "_asked", False)
    try:
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        stopping.install()
        assert [signal.getsignal(one) for one in stopping.SIGNALS] == [stopping._stop, stopping._stop, signal.SIG_IGN]
        assert registered == [stopping._ignore]
        stopping.refuse_to_go_on()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGTERM)
        with pytest.raises(KeyboardInterrupt):
            stopping.refuse_to_go_on()
        stopping.ignore_in_worker()
        assert [signal.getsignal(one) for one in stopping.SIGNALS] == [signal.SIG_IGN, signal.SIG_DFL, signal.SIG_DFL]
        stopping._ignore()
        assert [signal.getsignal(one) for one in stopping.SIGNALS] == [signal.SIG_IGN] * 3
    finally:
        sys.excepthook = hook
        for number, handler in kept.items():
            signal.signal(number, handler)


def test_database_of_records(tmp_path):
    """Records of steps that are gone go too; another table is begun again; one that is locked is not."""
    path = tmp_path / "steps"
    store = database.StepDatabase(str(path), JSONCodec())
    for name in ("one", "two", "three"):
        store.set(name, "deps:", ["x"])
    store.dump()
    database.StepDatabase.known = frozenset({"one", "four"})
    try:
        store = database.StepDatabase(str(path), JSONCodec())
        assert store.get("two", "deps:") == ["x"]
        store.dump()
        store = database.StepDatabase(str(path), JSONCodec())
        assert [store.get(name, "deps:") for name in ("one", "two", "three")] == [["x"], None, None]
        store.remove("one")
        assert store.get("one", "deps:") is None
    finally:
        database.StepDatabase.known = frozenset()
    store._conn.close()
    with pytest.raises(InvalidTask, match="cannot be written"):
        store._give_up(sqlite3.OperationalError("disk full"))
    assert path.exists()
    store._give_up(sqlite3.DatabaseError("malformed"))
    assert not path.exists()
    store = database.StepDatabase(str(path), JSONCodec())
    store.set("one", "deps:", ["x"])
    store.dump()
    with sqlite3.connect(path, isolation_level=None) as other:
        other.execute("begin exclusive")
        with pytest.raises(InvalidTask, match="locked"):
            database._has_our_table(sqlite3.connect(path, timeout=0))
        other.execute("rollback")
    records = database.StepRecords.__new__(database.StepRecords)
    assert not records.status_is_ignore(None)
    with pytest.raises(InvalidTask, match="rom cannot be ignored"):
        records.ignore(types.SimpleNamespace(name="rom"))


def test_growth_is_noted(tmp_path):
    """Each build once, five hundred of them; what grew since the last, and by how much."""
    log = tmp_path / "growth.json"
    image = MappedImage(bytes=4096, used=100, pad=0, crc32="0" * 8, sha256="0" * 64, build_code="AAAAAA")

    def note(play: int, code: str) -> list[str]:
        budget = as_budget(budget_json({"play": {"bytes": play}, code: {"bytes": 9}}))
        return growth_log.note_build(log, msgspec.structs.replace(image, build_code=code), budget, "1.0")

    assert note(500, "AAAAAA") == []
    assert note(500, "AAAAAA") == []
    assert len(growth_log.read_log(log)) == 1
    assert note(502, "BBBBBB") == ["play grew by 2 bytes at worst since build AAAAAA"]
    assert note(502, "CCCCCC") == []
    assert note(300, "DDDDDD") == []
    assert [one["build_code"] for one in growth_log.read_log(log)] == ["AAAAAA", "BBBBBB", "CCCCCC", "DDDDDD"]
    entry = growth_log.read_log(log)[0]
    scenes = {"play": 500, "AAAAAA": 9}
    assert entry == {"build_code": "AAAAAA", "version": "1.0", "used": 100, "most": 4096, "memory": 4096, "scenes": scenes}
    log.write_text(repr([entry | {"used": 1 << 40}, entry | {"used": (1 << 40) + 1}, entry | {"used": -1}, 7]).replace("'", '"'))
    assert [one["used"] for one in growth_log.read_log(log)] == [1 << 40]
    log.write_text(repr([entry] * 500).replace("'", '"'))
    note(1, "EEEEEE")
    assert len(growth_log.read_log(log)) == 500


def test_lines_of_refusals(tmp_path):
    """Of tables, keys, and tables in a row; left as they are where they are not in the file, or there is none."""
    folder = make_project(tmp_path / "p", target="basalt32")
    lines = (folder / "project.toml").read_text().splitlines()
    ada = lines.index("[sprite.ada]") + 1
    for text, placed in {
        "project.toml, [sprite.ada]: x": f"project.toml, line {ada}, [sprite.ada]: x",
        "project.toml, [sprite.ada] palette: x": f"project.toml, line {ada + 2}, [sprite.ada] palette: x",
        "  project.toml, [sprite.ada] palette: x": f"  project.toml, line {ada + 2}, [sprite.ada] palette: x",
        "a\nproject.toml, [sprite.ada]: x": f"a\nproject.toml, line {ada}, [sprite.ada]: x",
        "project.toml, [none.at_all]: x": "project.toml, [none.at_all]: x",
        "said of project.toml, [sprite.ada]": "said of project.toml, [sprite.ada]", "nothing": "nothing",
    }.items():  # fmt: skip
        assert places.with_lines(text, folder) == placed
        assert places.with_lines(text, tmp_path) == text
    rows = "\n".join(["[[a.b]]", "x = 1", "[[a.b]]", "x = 2"])
    (tmp_path / "project.toml").write_text(rows)
    assert places.with_lines("project.toml, [[a.b]] number 2 x: y", tmp_path) == "project.toml, line 4, [[a.b]] number 2 x: y"
    assert places.with_lines("project.toml, [[a.b]] number 1: y", tmp_path) == "project.toml, line 1, [[a.b]] number 1: y"


def test_words_of_the_summary(tmp_path, monkeypatch):
    """Kits of testers as one folder; files from the current folder; steps with all that they need."""
    assert _kits(["a.zip", "testers/b.zip", "testers/c.zip"]) == ["a.zip", "testers  2 with a packet of their own"]
    monkeypatch.chdir(tmp_path)
    assert [_near(tmp_path / "x/y"), _near(Path("/nowhere/y"))] == ["x/y", "/nowhere/y"]
    tasks = {name: types.SimpleNamespace(task_dep=deps, setup_tasks=setup) for name, deps, setup in (
        ("a", ["b"], ["c"]), ("b", ["d", "gone"], []), ("c", [], []), ("d", ["a"], []), ("e", [], [])
    )}  # fmt: skip
    assert needed_steps(tasks, ["a"]) == {"a", "b", "c", "d"}
    assert needed_steps(tasks, ["e", "none"]) == {"e"}
