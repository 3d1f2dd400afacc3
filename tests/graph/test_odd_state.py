"""Whatever becomes of the build's own records, a build heals it or says what to do, without a traceback and with the same outputs.

The damages are what disks, copies and people do to files; common practice, no source.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from pipeline.graph.growth_log import note_build, read_log
from pipeline.graph.steps.assets import makers
from pipeline.project.loading.load import load_project
from pipeline.questions.trial import Trials
from tests.conftest import need_tool, some
from tests.graph.builds import ROOT, build, copy_built, draw_frame, make_tiny, outputs, run
from tests.makers import as_budget, as_map, budget_json, map_json

SPRITE = """
[defaults.sprite]
palette = "figures"
[sprite.one]
frames = "art/one/*.png"
[palette.figures]
colours = 16
transparent = true
"""


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A tiny project that has been built."""
    project = make_tiny(tmp_path_factory.mktemp("built") / "project")
    build(project)
    return project


@pytest.fixture
def project(built, tmp_path) -> Path:
    """A copy of it that trusts its state."""
    return copy_built(built, tmp_path / "project")


def _folder(path: Path) -> None:
    path.unlink(missing_ok=True)
    path.mkdir()
    (path / "deep").mkdir()
    (path / "deep/file").write_bytes(b"x")


def _pipe(path: Path) -> None:
    path.unlink(missing_ok=True)
    os.mkfifo(path)


def _large(path: Path) -> None:
    with open(path, "wb") as file:
        file.truncate(1 << 28)  # a hole; nobody should keep it


def _write(text: str):
    return lambda path: path.write_text(text)


SHAPES = {
    "a list": _write("[1, 2, [3]]"),
    "a number": _write("7"),
    "null": _write("null"),
    "texts": _write('{"files": ["a"], "one": "two", "format": "1"}'),
    "numbers": _write('{"files": {"a": 1}, "one": [1], "inode": 1e400}'),
    "files a number": _write('{"files": 5}'),
    "deep": _write("[" * 100_000),
    "deep object": _write('{"files":' * 50_000),
    "not text": lambda path: path.write_bytes(bytes(range(256))),
    "empty": _write(""),
    "huge": _large,
    "a folder": _folder,
    "a pipe": _pipe,
}
@pytest.mark.parametrize("shape", some(SHAPES, 4))
def test_records_of_any_shape(shape, project):
    """In a state that is this folder's own: build and questions end well, the outputs are the same, and nothing is set aside."""
    before = outputs(project)
    for name in ("steps.sqlite3", "lock", "reasons.json", "growth.json"):
        (project / "build/.state" / name).unlink(missing_ok=True)
        SHAPES[shape](project / "build/.state" / name)
    for words in (("why",), ("growth",), ()):
        done = run(project, *words)
        assert done.returncode == 0, done.stdout + done.stderr
        assert "Traceback" not in done.stdout + done.stderr
        assert "set-aside" not in done.stderr
    assert outputs(project).keys() - before.keys() <= {"growth.svg"}
    assert before.items() <= outputs(project).items()


@pytest.mark.parametrize("name", ["owner.json", "mark"])
@pytest.mark.parametrize("shape", some(["a list", "numbers", "deep", "huge", "a folder", "a pipe"], 2))
def test_owner_of_any_shape(shape, name, project):
    """What does not say whose the state is sets it aside."""
    (project / "build/.state" / name).unlink()
    SHAPES[shape](project / "build/.state" / name)
    done = run(project, "list")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "it is now build/.state.set-aside" in done.stderr


@pytest.mark.parametrize("shape", some([one for one in SHAPES if one != "a folder"], 4))
def test_manifest_of_any_shape(shape, project):
    """The kit's list of itself is written again."""
    before = outputs(project)
    (project / "build/kit/kit.json").unlink()
    SHAPES[shape](project / "build/kit/kit.json")
    done = run(project)
    assert done.returncode == 0, done.stdout + done.stderr
    assert outputs(project) == before


def test_folder_in_place_of_an_output_is_reported(project):
    """What the author has put into it is kept."""
    _folder(project / "build/map.json")
    done = run(project)
    assert done.returncode != 0
    assert "map.json: cannot be written: Is a directory" in done.stdout
    assert "Traceback" not in done.stdout + done.stderr
    assert (project / "build/map.json/deep/file").is_file()


@pytest.mark.parametrize("harm", [_folder, _pipe, _write("x")])
def test_anything_in_place_of_the_state(harm, project):
    """It is set aside, and the build starts from nothing."""
    before = outputs(project)
    shutil.rmtree(project / "build/.state")
    harm(project / "build/.state")
    done = run(project)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "it is now build/.state.set-aside, and the build starts from nothing" in done.stderr
    assert outputs(project) == before


@pytest.mark.parametrize("folder", [".", ".."])
def test_state_that_cannot_be_written_is_reported(folder, project):
    """Without the right to override modes (setpriv of util-linux), in a folder without the right to write."""
    program = need_tool("setpriv")
    place = project / "build/.state" / folder
    shutil.rmtree(project / "build/.state") if folder == ".." else None
    place.resolve().chmod(0o555)
    drop = [program, "--bounding-set=-dac_override", "--inh-caps=-dac_override"]
    command = [*drop, sys.executable, "-m", "doit", "-f", str(ROOT / "dodo.py"), f"project={project}"]
    try:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60)
    finally:
        place.resolve().chmod(0o755)
    assert done.returncode == 3
    assert "build/.state" in done.stderr
    assert "permissions" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_is_left_of_growth_is_kept(tmp_path):
    """One bad entry does not cost the others, and numbers no image has are none."""
    log = tmp_path / "growth.json"
    found = as_map(map_json(build_code="AAAAAA", used=5, bytes=10)).image
    note_build(log, found, as_budget(budget_json({"play": {"bytes": 3}}, memory=9)), "0.1.0")
    (good,) = read_log(log)
    bad = [good | {"most": 0.5}, good | {"used": -1}, good | {"scenes": ["play"]}, good | {"memory": 1 << 90}, [good], None]
    log.write_text(json.dumps([bad[0], good, *bad]))
    assert read_log(log) == [good]


def test_ignored_step_is_run_all_the_same(project):
    """doit's command is refused in words; its mark, made otherwise, hides no stale step."""
    done = run(project, "ignore", "data:level")
    assert done.returncode == 3
    assert "ERROR: data:level cannot be ignored: a build must not depend on a step that did not run\n" in done.stderr
    with closing(sqlite3.connect(project / "build/.state/steps.sqlite3")) as connection:
        for name, data in connection.execute("select task_id, task_data from doit").fetchall():
            marked = json.dumps(json.loads(data) | {"ignore:": "1"})
            connection.execute("update doit set task_data = ? where task_id = ?", (marked, name))
        connection.commit()
    (project / "level.bin").write_bytes(b"other")
    assert {"data:level", "image", "verify", "kit"} <= set(build(project))
    assert (project / "build/blobs/level.bin").read_bytes() == b"other"


@pytest.fixture(scope="module")
def drawn(tmp_path_factory) -> Path:
    """A built project with a sprite."""
    project = make_tiny(tmp_path_factory.mktemp("drawn") / "project")
    draw_frame(project / "art/one/f0.png", (200, 60, 40, 255), 0)
    (project / "project.toml").write_text((project / "project.toml").read_text() + SPRITE)
    build(project)
    return project


def _asked(project: Path) -> tuple[dict, list[str]]:
    """Return the facts a sprite would have with another dither, and the steps that had to run for that."""
    import msgspec

    loaded = load_project(project)
    asset = loaded.assets["one"]
    other = type(asset)(**{**vars(asset), "spec": msgspec.structs.replace(asset.spec, dither="ordered")})
    with Trials(loaded, project / "build/.state/trials", makers(late=False)) as trials:
        return trials.change([other]).facts("one"), list(trials.ran)


@pytest.mark.parametrize("harm", ["flipped", "cut", "emptied", "of another step", "gone", "links", "a file", "stage a link"])
def test_damaged_trials_heal(harm, drawn, tmp_path):
    """A trial that was damaged on the disk is made again with the same answer, once; what a link leads to is not touched."""
    trials, outside = drawn / "build/.state/trials", tmp_path / "outside"
    outside.mkdir()
    (outside / "one.json").write_bytes(b"mine")
    expected, _ = _asked(drawn)
    assert _asked(drawn) == (expected, [])
    kept = sorted(path for path in trials.rglob("*") if path.is_file())
    assert len(kept) >= 2
    content = [path.read_bytes() for path in kept]
    for rank, (path, data) in enumerate(zip(kept, content, strict=True)):
        if harm == "flipped":
            path.write_bytes(data[:-5] + bytes([data[-5] ^ 1]) + data[-4:])
        elif harm == "cut":
            path.write_bytes(data[:-1])
        elif harm == "emptied":
            path.write_bytes(b"")
        elif harm == "of another step":
            path.write_bytes(content[rank - 1])
        elif harm == "gone":
            path.unlink()
    if harm in ("links", "a file"):
        for path in [one for one in trials.iterdir() if one.is_dir()]:
            shutil.rmtree(path)
            path.symlink_to(outside) if harm == "links" else path.write_bytes(b"x")
    if harm == "stage a link":
        shutil.rmtree(trials / f"stage-{os.getpid()}", ignore_errors=True)
        for path in [one for one in trials.iterdir() if one.is_dir()]:
            shutil.rmtree(path)
        (trials / f"stage-{os.getpid()}").symlink_to(outside)

    printed, ran = _asked(drawn)
    assert printed == expected
    assert ran
    assert _asked(drawn) == (expected, [])
    assert [path.name for path in outside.iterdir()] == ["one.json"]
    assert (outside / "one.json").read_bytes() == b"mine"
