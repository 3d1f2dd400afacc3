"""What the tool itself wrote as JSON or SQLite and reads again: ledger, kept reports, and a build's own records, all damaged.

A ledger and reports are the author's: what is not theirs is refused in words. Records of a build are begun again.
"""

from __future__ import annotations

import contextlib
import copy
import functools
import hashlib
import itertools
import json
import random
import sqlite3
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from doit.dependency import SqliteDB
from doit.exceptions import InvalidDodoFile, InvalidTask
from doit.task import Task, dict_to_task

from pipeline.graph import consent, database, front
from pipeline.graph.freshness.digest import file_digest
from pipeline.graph.growth_log import note_build, read_log
from pipeline.graph.prune import prune
from pipeline.graph.steps.handed import In, Listing, Out
from pipeline.graph.steps.step import Plan, Step
from pipeline.intake.builds import known_builds
from pipeline.intake.store import load_testers, save_testers
from pipeline.intake.take_in import write_triage
from pipeline.plain.rendering import find_template
from pipeline.plain.versions import precedence
from pipeline.project.ledger import find_release, read_ledger, released_before
from pipeline.questions.growth import show_growth
from pipeline.questions.why import show_reasons
from pipeline.release.kit import write_kit
from tests.bench.fuzzing.csvs import GAME, INTAKE
from tests.bench.fuzzing.formats import MIB, Format, Wrong
from tests.bench.fuzzing.parts import Part, damaged
from tests.bench.fuzzing.toml_data import ODD_FLOATS, ODD_NUMBERS, ODD_TEXTS, Deep, nested
from tests.intake.makers import kept_files
from tests.makers import as_budget, as_map, budget_json, map_json

_SMALL = 64 * MIB


def part_of(value: Any) -> Part | bytes:
    """Return a value as JSON."""
    if isinstance(value, Deep):
        return Part([b"[" * value.depth, b"]" * value.depth])
    if isinstance(value, dict):
        return Part([Part([json.dumps(key).encode(), b": ", part_of(one)]) for key, one in value.items()], _object)
    if isinstance(value, list):
        return Part([part_of(one) for one in value], _list)
    if isinstance(value, int) and abs(value) >= 10**4000:
        return b"1" * 6000
    return json.dumps(value).encode()


def _object(pieces: list[bytes]) -> bytes:
    return b"{" + b", ".join(pieces) + b"}"


def _list(pieces: list[bytes]) -> bytes:
    return b"[" + b", ".join(pieces) + b"]"


def changed(chance: random.Random, value: Any, count: int) -> Any:
    """Return a copy of a value with some places inside changed to something else."""
    top = [copy.deepcopy(value)]
    for _ in range(count):
        every = [(top, 0)]
        for owner, key in every:
            inside = owner[key]
            every += [
                (inside, one) for one in (range(len(inside)) if isinstance(inside, list) else inside if isinstance(inside, dict) else ())
            ]
        owner, key = chance.choice(every)
        how = chance.randrange(5)
        if how == 0 and owner is not top:
            del owner[key]
        elif how == 1 and isinstance(owner[key], dict):
            owner[key][chance.choice(ODD_TEXTS)] = _odd(chance)
        elif how == 2 and isinstance(owner[key], list):
            owner[key].append(_odd(chance) if not owner[key] or chance.random() < 0.5 else copy.deepcopy(chance.choice(owner[key])))
        else:
            owner[key] = _odd(chance)
    return top[0]


def _odd(chance: random.Random) -> Any:
    how = chance.randrange(6)
    if how == 0:
        return chance.choice((None, True, False, [], {}, [[]], {"": None}))
    if how == 1:
        return nested(chance, chance.choice((3, 60, 2000, 100_000)))
    if how == 2:
        return chance.choice(ODD_FLOATS)
    if how == 3:
        return chance.choice(ODD_NUMBERS)
    return chance.choice((*ODD_TEXTS, "\ud800", "../../project.toml", "/nowhere/x", "../level.bin", "..", ".", "a/../../level.bin"))


def _json(chance: random.Random, value: Any) -> Part:
    form = chance.random()
    if form < 0.3:
        return Part([part_of(value)])
    if form < 0.75:
        return Part([part_of(changed(chance, value, chance.choice((1, 1, 2, 4))))])
    if form < 0.95:
        return damaged(chance, Part([part_of(value)]), chance.choice((1, 1, 2, 4)))
    return Part(
        [chance.choice((b"", b"null", b"[]", b"{}", b"1", b'"x"', b"\xef\xbb\xbf{}", b"NaN", b"\xff\xfe", b"[" * 100_000, bytes(4096)))]
    )


def _release(version: str, code: str) -> dict[str, Any]:
    asset = {"kind": "sprite", "bytes": 9, "sha256": "0" * 64, "drawn": "1" * 64, "picture": "ab12", "look": "2" * 64, "frame": [20, 24]}
    return {
        "version": version,
        "phase": "alpha",
        "date": "2026-01-01",
        "build_code": code,
        "image": {"bytes": 4, "used": 2, "crc32": "00000000", "sha256": "0" * 64},
        "budget": {"play": 100},
        "kit": {"file": "x.zip", "sha256": "0", "notes": "0"},
        "assets": {"ada": asset, "bell": {"kind": "sound", "bytes": 1, "sha256": "0"}},
        "issues": {"open": ["TF-001"], "fixed": []},
    }


_LEDGER = {"releases": [_release("0.0.1", "0A1B0D"), _release("0.1.0-rc.1", "7ZZ9K2")]}
_REPORTS = {
    "format": 1,
    "next": 4,
    "fields": ["build", "what", "tester"],
    "reports": [
        {"id": "R-0001", "tester": 1, "build": "0A1B0D", "what": "The bell rings twice."},
        {"id": "R-0002", "build": "7zz9k2", "what": "The bell rings two times."},
        {"id": "R-0003", "tester": 2, "what": "It sinks."},
    ],
}
_TESTERS = {"format": 1, "next": 3, "testers": [{"number": 1, "tester": "Ada", "contact": "a@example.org"}, {"number": 2, "tester": "Ben"}]}
_GROWTH = [
    {"build_code": "0A1B0D", "version": "0.0.1", "used": 100, "most": 200, "memory": 4000, "scenes": {"play": 10, "rest": 5}},
    {"build_code": "7ZZ9K2", "version": "0.1.0", "used": 120, "most": 200, "memory": 4000, "scenes": {"play": 12}},
]
_REASONS = {"rom": ["file changed: blobs/ada.bin"], "kit": [], "sprite:ada": ["it has not been built yet"]}
_MAP = map_json()
_BUDGET = budget_json({"play": {"bytes": 20}}, memory=4000)


def _run_ledger(folder: Path, data: bytes) -> str:
    releases = read_ledger(folder)
    known_builds(folder, folder / "build/map.json", "0.2.0", "beta", [])
    released_before(releases, "0.2.0")
    for one in releases:
        find_release(releases, one.version)
    rising = [precedence(one.version) for one in releases]
    if any(after <= before for before, after in itertools.pairwise(rising)):
        raise Wrong("releases of an accepted ledger do not rise")
    return "accepted"


def _run_reports(folder: Path, data: bytes) -> str:
    builds = known_builds(folder, folder / "build/map.json", "0.2.0", "beta", [])
    write_triage(folder, kept_files(folder)[-1], INTAKE, [], GAME, {}, builds)
    return "accepted"


def _run_kept_testers(folder: Path, data: bytes) -> str:
    testers = load_testers(folder / "reports")
    testers.number({"tester": "Cleo"})
    testers.find("T1")
    save_testers(folder / "reports", testers)
    load_testers(folder / "reports")
    return "accepted"


def _run_growth(folder: Path, data: bytes) -> str:
    log = folder / "build/.state/growth.json"
    right = _is(data, lambda value: value == read_log(log))
    show_growth(log, find_template(folder, "growth.svg.j2"), folder / "build/growth.svg")
    note_build(log, as_map(_MAP).image, as_budget(_BUDGET), "0.2.0")
    if read_log(log)[-1]["build_code"] != "110011":
        raise Wrong("a build was not noted")
    show_growth(log, find_template(folder, "growth.svg.j2"), folder / "build/growth.svg")
    return "accepted" if right else "set aside"


def _is(data: bytes, test) -> bool:
    try:
        return test(json.loads(data))
    except (ValueError, RecursionError, KeyError, TypeError):
        return False


def _run_reasons(folder: Path, data: bytes) -> str:
    reasons = show_reasons(folder / "build/.state/reasons.json")
    return "set aside" if reasons.startswith("Nothing is known") else "accepted"


_COMMANDS = {"program:main": "0" * 64, "program:other": "1" * 64}


def _plan(folder: Path) -> Plan:
    writes = (folder / "build/blobs/ada.bin", folder / "build/map.json")
    manifest = folder / "build/kit/kit.json"
    steps = [
        Step("rom", "pipeline.rom.steps:write_rom", {"a": 1, "out": Out(writes)}),
        Step("kit", "pipeline.release.kit:write_kit", {"files": In(writes), "manifest": Listing(manifest)}),
    ]
    return Plan(folder, steps=steps, default=["kit"], version="0.2.0")


def _lay_out(folder: Path) -> None:
    for name in (
        "build/blobs/ada.bin",
        "build/blobs/old.bin",
        "build/kit/old.zip",
        "build/kit/now.zip",
        "build/map.json",
        "build/work/deep/er/x",
        "build/kept",
    ):
        path = folder / name
        if not path.is_file():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text("x")


def _run_commands(folder: Path, data: bytes) -> str:
    step = Step("program:main", "pipeline.assets.program:build_program", {}, command=("true",))
    refused = False
    try:
        consent.settle_commands([step], _plan(folder), "no", lambda one: True, lambda line: None)
    except InvalidTask:
        refused = True
    if not refused:
        raise Wrong("a command runs without a yes")
    return "accepted" if _is(data, lambda value: isinstance(value, dict)) else "set aside"


def _run_manifest(folder: Path, data: bytes) -> str:
    _lay_out(folder)
    (folder / "build/.state").mkdir(exist_ok=True)
    plan = _plan(folder)
    with_steps = {one.name: one for one in plan.steps}
    check = front.Freshness(with_steps["kit"], folder)
    check._now = check._inputs()
    check._task = SimpleNamespace(values={"read": {str(path): file_digest(path) for path in with_steps["kit"].reads}})
    check._save()
    prune(plan)
    image, notes = folder / "build/blobs/ada.bin", folder / "build/NOTES.txt"
    notes.write_text("Notes.")
    for name, value in (("m.json", _MAP), ("b.json", budget_json({})), ("a.json", {"changes": []})):
        (folder / "build" / name).write_text(json.dumps(value))
    facts = copy.deepcopy(_MAP)
    facts["image"]["sha256"] = hashlib.sha256(image.read_bytes()).hexdigest()
    (folder / "build/m.json").write_text(json.dumps(facts))
    files = [folder / "build" / name for name in ("m.json", "map.json", "map.json", "NOTES.txt", "b.json", "a.json")]
    write_kit(image, *files, folder / "build/kit/kit.json", "TINF", "0.2.0", None)
    if not (folder / "level.bin").is_file():
        raise Wrong("a file of the author's was removed")
    return "accepted" if _is(data, lambda value: isinstance(value["files"], dict)) else "set aside"


def _prepare(folder: Path) -> None:
    (folder / "build/.state").mkdir(parents=True)
    (folder / "reports").mkdir()
    (folder / "level.bin").write_text("x")
    (folder / "build/map.json").write_text(json.dumps(_MAP))


_STEPS = ("rom", "kit", "rom:old")


def _database(chance: random.Random) -> Part:
    inputs = {"settings": {"a": "1"}, "reads": {"build/map.json": "0"}, "code": {}, "libraries": {"python": "3.11"}}
    good = {
        "_values_:": {"inputs": inputs, "outputs": {"build/map.json": "0"}, "reasons": ["x"], "said": "y"},
        "checker:": "TrustingChecker",
        "deps:": [],
        "result:": None,
    }
    rows = []
    for name in _STEPS:
        value = changed(chance, good, chance.choice((0, 0, 1, 1, 2, 3)))
        rows.append(Part([name.encode(), Part([part_of(value)])], _row))
    table = chance.choice(
        (b"create table doit (task_id text not null primary key, task_data json)",) * 12
        + (
            b"create table doit (task_id text)",
            b"create table other (a)",
            b"create view doit as select 1 as task_id, 2 as task_data",
            b"create table doit (task_id blob, task_data blob, more int)",
        )
    )
    top = Part(rows, functools.partial(_sqlite, table))
    return damaged(chance, top, chance.choice((1, 2))) if chance.random() < 0.4 else top


def _row(pieces: list[bytes]) -> bytes:
    return b"\x1e".join(pieces)


def _sqlite(table: bytes, pieces: list[bytes]) -> bytes:
    """Return a database of some rows, as far as it takes them."""
    with contextlib.closing(sqlite3.connect(":memory:")) as connection:
        connection.execute(table.decode())
        for piece in pieces:
            name, _, data = piece.partition(b"\x1e")
            with contextlib.suppress(sqlite3.Error):
                kind = data if len(data) % 7 == 3 else data.decode("utf-8", "replace")
                connection.execute(
                    "insert or replace into doit (task_id, task_data) values (?, ?)", (name.decode("utf-8", "replace"), kind)
                )
        connection.commit()
        return connection.serialize()


def _task(step: Step, plan: Plan) -> Task:
    made = front._task(step, plan, set())
    return dict_to_task({"name": made.pop("basename"), **made, "file_dep": []})


def _values(records: database.StepRecords, task: Task) -> bool:
    """Say whether a step's record holds something that it may be compared with."""
    values = records.get_values(task.name)
    return isinstance(values, dict) and bool(values.get("inputs"))


def _run_database(folder: Path, data: bytes) -> str:
    path = folder / "build/.state/steps.sqlite3"
    _lay_out(folder)
    plan = _plan(folder)
    steps = {step.name: step for step in plan.steps}
    database.StepDatabase.known = frozenset(("rom", "kit"))
    fresh, tasks = 0, {step.name: _task(step, plan) for step in plan.steps}
    known = False
    # A file that is damaged inside may cost the records of one build in addition to its own.
    for turn in range(3):
        records = database.StepRecords(SqliteDB, str(path), checker_cls=front.TrustingChecker)
        try:
            known |= turn == 0 and any(_values(records, task) for task in tasks.values())
            for task in tasks.values():
                fresh += records.get_status(task, tasks).status == "up-to-date"
                task.values = {"said": "ok", "read": {str(path): file_digest(path) for path in steps[task.name].reads}}
                task.save_extra_values()
                records.save_success(task)
            records.close()
        finally:
            records.backend._conn.close()  # or the next case waits for its lock
    if fresh == 0:
        raise Wrong("a step that was just recorded is not fresh")
    return "accepted" if known else "set aside"


FORMATS = (
    Format("ledger", lambda chance: _json(chance, _LEDGER), "ledger.json", _prepare, _run_ledger, _SMALL),
    Format("reports", lambda chance: _json(chance, _REPORTS), "reports/bugs.json", _prepare, _run_reports, 256 * MIB),
    Format(
        "kept-testers",
        lambda chance: _json(chance, _TESTERS),
        "reports/testers.json",
        _prepare,
        _run_kept_testers,
        _SMALL,
        own=("reports",),
    ),
    Format("growth", lambda chance: _json(chance, _GROWTH), "build/.state/growth.json", _prepare, _run_growth, _SMALL),
    Format("reasons", lambda chance: _json(chance, _REASONS), "build/.state/reasons.json", _prepare, _run_reasons, _SMALL),
    Format("commands", lambda chance: _json(chance, _COMMANDS), "build/.state/commands.json", _prepare, _run_commands, _SMALL),
    Format(
        "manifest",
        lambda chance: _json(
            chance, {"files": {"old.zip": "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", "now.zip": "0"}}
        ),
        "build/kit/kit.json",
        _prepare,
        _run_manifest,
        _SMALL,
    ),
    Format("steps", _database, "build/.state/steps.sqlite3", _prepare, _run_database, _SMALL, outside=(InvalidTask, InvalidDodoFile)),
)
