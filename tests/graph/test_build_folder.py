"""A project from somebody else: nothing outside it is written or removed, and its records are not believed.

What is expected is read from the file system itself (names, bytes, links), before and after.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from pipeline.graph.plan import plan_project
from pipeline.joints.build_names import _COMPILED, WORK, own_folders
from pipeline.project.loading.load import load_project
from tests.conftest import only_long
from tests.graph.builds import build, clean_outputs, copy_built, make_project, make_tiny, outputs, run

FOLDERS = ("", "blobs", "burn", "forms", "include", "kit", "kit/testers", "proofs", "rom", "schema", "work", "work/testers")
# Names that the tool gives to files, so that a build which followed a link would write over them or remove them.
OWN = (
    "level.bin", "old.json", "assets.h", "small.rom", "map.json", "packet.pdf", "project.schema.json", "CHECKSUM.TXT", "hill.png",
    "kit.json", "OLD-0.1.0-AAAAAA.zip", "OLD-0.1.0-AAAAAA-T01.zip", "small.rom.77.part", "verified.json",
)  # fmt: skip


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


@pytest.fixture
def outside(tmp_path) -> Path:
    """A folder that is nobody's business."""
    folder = tmp_path / "outside"
    folder.mkdir()
    for name in OWN:
        (folder / name).write_bytes(f"mine: {name}".encode())
    return folder


def unharmed(outside: Path) -> bool:
    """Return whether the folder of ``outside`` holds what was put there and nothing else."""
    return {path.name: path.read_bytes() for path in outside.iterdir()} == {name: f"mine: {name}".encode() for name in OWN}


def link(path: Path, to: Path) -> None:
    """Put a link in place of whatever is there."""
    if path.is_dir():
        shutil.rmtree(path)
    path.unlink(missing_ok=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.symlink_to(to)


def test_folders_tested_are_those_the_tool_uses():
    """The list above is complete."""
    assert own_folders(Path("build")) == {Path("build") / name for name in FOLDERS}


@pytest.mark.parametrize("name", FOLDERS)
def test_folder_that_is_a_link_is_refused(name, project, outside):
    """Before anything is touched, with the link and where it leads."""
    path = project / "build" / name
    link(path, outside)

    done = run(project)

    shown = f"build/{name}".rstrip("/")
    assert done.returncode == 3
    assert f"{shown}: is a link to {outside}; what is written and removed there would be outside this folder" in done.stderr
    assert "    remove the link (what it leads to stays as it is) and start again" in done.stderr
    assert unharmed(outside)


def test_every_link_is_reported_at_once_and_a_file_in_place_of_a_folder(project, outside):
    """All in one refusal, also where it is ``doit list`` that asks."""
    for name in ("blobs", "rom"):
        link(project / "build" / name, outside)
    shutil.rmtree(project / "build/kit")
    (project / "build/kit").write_bytes(b"")
    done = run(project, "list")
    assert done.returncode == 3
    for line in ("build/blobs: is a link to", "build/kit: is in place of a folder\n    move it away", "build/rom: is a link to"):
        assert line in done.stderr
    assert unharmed(outside)


def test_a_list_of_outputs_deletes_nothing(project, outside):
    """A record of files that a link leads to, as earlier versions kept it, is nothing to a build; an unknown folder is not entered."""
    link(project / "build/sub", outside)
    (project / "build/.state/outputs.json").write_text(json.dumps([f"sub/{name}" for name in OWN]))
    build(project)
    assert unharmed(outside)
    assert (project / "build/sub").is_symlink()


def test_links_in_place_of_files_are_replaced_and_not_followed(project, outside):
    """Outputs, what is left over, and temporary names that a killed build could have used."""
    before = outputs(project)
    for name in ("map.json", "rom/small.rom", "blobs/level.bin", "work/verified.json", "kit/kit.json", "packet.pdf"):
        link(project / "build" / name, outside / name.rpartition("/")[2])
    for name in ("blobs/gone.bin", "blobs/level.bin.77.part", "work/deep", "work/level.rgba", "kit/OLD-0.1.0-AAAAAA.zip"):
        link(project / "build" / name, outside / "small.rom.77.part")
    link(project / "build/work/folder", outside)

    build(project)

    assert unharmed(outside)
    assert outputs(project) == before
    assert not [path for path in (project / "build").rglob("*") if path.is_symlink()]


@pytest.mark.parametrize("name", ["lock", "steps.sqlite3", "steps.sqlite3-journal", "reasons.json", "growth.json", "trials", "cache"])
def test_link_in_the_state_is_removed_and_not_followed(name, project, tmp_path):
    """Neither written to, nor made, nor emptied: a database of somebody else's keeps its rows."""
    other = tmp_path / "other.sqlite3"
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("create table doit (task_id text not null primary key, task_data text)")
        connection.execute("insert into doit values ('theirs', '{}')")
        connection.commit()
    before = other.read_bytes()
    link(project / "build/.state" / name, other)

    done = run(project)

    assert done.returncode == 0, done.stdout + done.stderr
    kind = "folder" if name in ("trials", "cache") else "plain file"
    assert f"build/.state/{name} was not a {kind} and was removed" in done.stderr
    assert other.read_bytes() == before
    assert not (project / "build/.state" / name).is_symlink()


@pytest.mark.parametrize("name", ["trials", "cache"])
def test_file_in_place_of_a_folder_of_the_state_is_removed(name, project):
    """It would keep the tool from keeping anything there, without a word."""
    folder = project / "build/.state" / name
    shutil.rmtree(folder, ignore_errors=True)
    folder.write_bytes(b"")
    (project / "level.bin").write_bytes(b"other")

    done = run(project)

    assert done.returncode == 0, done.stdout + done.stderr
    assert f"build/.state/{name} was not a folder and was removed" in done.stderr
    assert not folder.is_file()


def test_link_to_nothing_makes_nothing(project, tmp_path):
    """A lock that is a link would make the file it leads to."""
    link(project / "build/.state/lock", tmp_path / "not there")
    build(project)
    assert not (tmp_path / "not there").exists()


def test_state_that_came_with_an_archive_is_not_believed(built, tmp_path):
    """Outputs tampered with and a state that says they are fresh: all is built again, and the state is set aside."""
    before = outputs(built)
    copy = shutil.copytree(built, tmp_path / "copy")
    (copy / "build/packet.pdf").write_bytes(b"bad")
    done = run(copy)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (
        "build/.state was not made in this folder (it was copied, unpacked or restored, or its permissions were changed); "
        "it is now build/.state.set-aside, and the build starts from nothing" in done.stderr
    )
    assert "FAILED" not in done.stdout
    assert outputs(copy) == before
    assert (copy / "build/.state.set-aside/steps.sqlite3").is_file()
    assert run(copy).stderr == ""


def test_forged_owner_and_other_format_are_set_aside(project):
    """A guess at the change time is as good as none; a set-aside folder of an earlier time makes room."""
    owner = project / "build/.state/owner.json"
    known = json.loads(owner.read_bytes())
    for forged in (known | {"ctime_ns": known["ctime_ns"] + 1}, known | {"format": 0}, known | {"inode": 1}, [known], 7):
        owner.write_text(json.dumps(forged))
        (project / "build/.state/reasons.json").unlink(missing_ok=True)
        done = run(project, "list")
        assert done.returncode == 0
        assert "; it is now build/.state.set-aside, and the build starts from nothing" in done.stderr
        known = json.loads(owner.read_bytes())
    assert sorted(path.name for path in (project / "build").glob(".state*")) == [".state", ".state.set-aside"]


def test_state_that_is_a_link_is_set_aside_as_a_link(project, built, tmp_path):
    """Even one to a state that is good where it is; what it leads to is not touched, by the next one set aside neither."""
    theirs = tmp_path / "theirs"
    shutil.copytree(built / "build/.state", theirs)
    before = {path: path.read_bytes() for path in theirs.rglob("*") if path.is_file()}
    for _ in range(2):
        link(project / "build/.state", theirs)
        done = run(project)
        assert done.returncode == 0, done.stdout + done.stderr
        assert f"build/.state is a link to {theirs}; it is now build/.state.set-aside" in done.stderr
        assert (project / "build/.state.set-aside").is_symlink()
    assert {path: path.read_bytes() for path in theirs.rglob("*") if path.is_file()} == before


def test_moved_project_keeps_its_state(project):
    """A rename of the project's folder, or of one around it, is not a copy."""
    moved = project.with_name("moved")
    project.rename(moved)
    entries = {path.name for path in (moved / "build/.state").iterdir()}
    done = run(moved, "list")
    assert done.returncode == 0
    assert done.stderr == ""
    assert {path.name for path in (moved / "build/.state").iterdir()} == entries
    assert not (moved / "build/.state.set-aside").exists()


def test_running_build_keeps_its_state(project):
    """While a build holds the lock its state is not taken away, whatever it looks like."""
    import fcntl

    state = project / "build/.state"
    (state / "owner.json").write_text("{}")
    with open(state / "lock", "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = run(project)
    assert done.returncode == 3
    assert "build/.state: is in use\n    another build of this project is running" in done.stderr
    assert not (project / "build/.state.set-aside").exists()


@pytest.mark.parametrize("words", [("intake", "csv=none.csv"), ("erase", "tester=1")])
def test_reports_elsewhere_are_not_written(words, project, outside):
    """Intake and erase refuse a folder of reports that is a link."""
    link(project / "reports", outside)
    (project / "none.csv").write_text("a,b\n1,2\n")
    done = run(project, *words)
    assert done.returncode not in (0, 3)
    assert f"reports: is a link to {outside}; what is written" in done.stdout
    assert unharmed(outside)


def test_output_of_a_command_that_is_a_link_is_refused(project, outside):
    """What it leads to would get into the image."""
    text = (project / "project.toml").read_text()
    script = "import os, sys; os.symlink(sys.argv[1], sys.argv[2])"
    command = f'command = ["{sys.executable}", "-c", "{script}", "{outside}/small.rom", "{{output}}"]'
    (project / "project.toml").write_text(text.replace('file = "main.bin"', command))
    done = run(project, "commands=yes")
    assert done.returncode != 0
    assert "[program.main] command: made no regular file" in done.stdout
    assert unharmed(outside)


ASSET = '[data.second]\nfile = "level.bin"\npacking = "packbits"\n[screen.boot]\n'
BURN = '[burn]\nforms = ["even-odd", "s-record"]\n'
TESTER = "[[tester]]\nnumber = 1\nname = \"Invented\"\n"
MINE = ("notes.txt", "blobs/My.bin", "kit/for-print.zip", "proofs/sketch.jpg", "rom/old/small.rom", "own/level.bin", "burn/README.TXT")


@pytest.fixture(scope="module")
def larger(built, tmp_path_factory) -> Path:
    """The tiny project after a build with another code, a notice, burning and a tester."""
    project = copy_built(built, tmp_path_factory.mktemp("larger") / "project")
    plain = (project / "project.toml").read_text()
    (project / "project.toml").write_text(plain.replace('"SMALL"', '"EARLY"').replace("[scene.play]", ASSET + BURN + "[scene.play]"))
    (project / "reports").mkdir()
    (project / "reports/testers.toml").write_text(TESTER)
    build(project)
    assert {"blobs/second.packed.bin", "proofs/boot.png", "burn/early.even.bin", "burn.json"} <= outputs(project).keys()
    return project


@pytest.fixture(scope="module")
def clean(built, tmp_path_factory) -> dict[str, str]:
    """What a clean build of the tiny project leaves."""
    return clean_outputs(built, tmp_path_factory.mktemp("clean"))


@pytest.mark.parametrize("harm", ["emptied list", "no state", "no manifest", "bad manifest", "other manifest"])
def test_nothing_is_left_of_what_is_made_no_more(harm, built, larger, clean, tmp_path):
    """Assets, burning, testers and code change, with records lost: what stays is a clean build and the author's own files."""
    only_long()
    project = copy_built(larger, tmp_path / "project")
    for name in MINE:
        (project / "build" / name).parent.mkdir(exist_ok=True)
        (project / "build" / name).write_bytes(b"mine")
    (project / "project.toml").write_text((built / "project.toml").read_text())
    (project / "reports/testers.toml").unlink()
    kit = project / "build/kit/kit.json"
    if harm == "emptied list":
        (project / "build/.state/outputs.json").write_text("[]")
    elif harm == "no state":
        shutil.rmtree(project / "build/.state")
    elif harm == "no manifest":
        kit.unlink()
    else:
        kit.write_text("[" * 5000 if harm == "bad manifest" else '{"files": {"../map.json": "", "/etc/hostname": "", "EARLY.zip": ""}}')

    build(project)

    mine = {name: outputs(project).get(name) for name in MINE}
    assert None not in mine.values()
    assert outputs(project) == clean | mine
    assert not [path for path in (project / "build").rglob("*") if path.is_dir() and not any(path.iterdir())]


def test_folders_left_empty_go(project):
    """Also without anything to remove from them."""
    for name in ("burn", "kit/testers"):
        (project / "build" / name).mkdir()
    build(project)
    assert not (project / "build/burn").exists()
    assert not (project / "build/kit/testers").exists()


def test_what_questions_write_survives_a_build(project):
    """The chart of growth and the triage page are not a step's output, and not a build's to remove."""
    run(project, "growth")
    assert (project / "build/growth.svg").is_file()
    for name in ("triage.html", "triage.csv"):
        (project / "build" / name).write_bytes(b"page")
    (project / "level.bin").write_bytes(b"other")
    assert "kit" in build(project)
    for name in ("growth.svg", "triage.html", "triage.csv"):
        assert (project / "build" / name).is_file()


def is_own(name: str) -> bool:
    """Return whether a file of the build folder, named from there with slashes, has a name that the tool gives."""
    folder, _, file = name.rpartition("/")
    form = _COMPILED.get(folder)
    return folder.split("/")[0] == WORK or (form is not None and form.fullmatch(file) is not None)


def test_every_file_a_build_leaves_has_a_name_of_the_tools(tmp_path):
    """The table of forms covers what the steps name: every kind of output, and what the plan of the demo writes."""
    project = make_project(tmp_path / "project")
    text = (project / "project.toml").read_text()
    forms = 'forms = ["whole", "swapped", "even-odd", "four-way", "s-record", "intel-hex"]\n'
    packed = text.replace("[data.level]", '[data.level]\npacking = "packbits"')
    (project / "reports").mkdir()
    (project / "reports/testers.toml").write_text(TESTER)
    for short in ("false", "true"):
        (project / "project.toml").write_text(f"{packed}[burn]\n{forms}device = 262144\nshort_names = {short}\n")
        build(project)
        left = outputs(project)
        assert [name for name in left if not is_own(name)] == []
        assert len([name for name in left if name.startswith("burn/")]) > 10
    plan = plan_project(load_project(Path("demo_project")))
    paths = {path for step in plan.steps for path in (*step.writes, *step.keeps) if path.suffix}
    writes = [path.relative_to(plan.build).as_posix() for path in paths if plan.build in path.parents]
    assert [name for name in writes if not is_own(name) and not name.startswith(".state/")] == []


@pytest.mark.parametrize("name", ["README.md", "blobs/Level.bin", "blobs/level.txt", "kit/SMALL.zip", "rom/small.bin", "own/map.json"])
def test_other_names_are_the_authors(name):
    """Names that no step gives."""
    assert not is_own(name)


def test_a_start_stays_cheap(project):
    """Looking at folders and state asks the file system at most a few dozen times (counted with an audit hook)."""
    from pipeline.graph.freshness.state_folder import claim
    from pipeline.joints.build_names import own_folders
    from pipeline.plain.files import refuse_links

    seen: list[str] = []
    real = os.lstat

    def counted(path, **words):
        seen.append(str(path))
        return real(path, **words)

    os.lstat = counted
    try:
        refuse_links(project, own_folders(project / "build"))
        assert claim(project / "build/.state") is None
    finally:
        os.lstat = real
    assert len(seen) < 30


def test_erasing_a_tester_leaves_no_old_state(project):
    """Records of steps show a person's entry in the list, and a state that was set aside is a copy of them."""
    (project / "reports").mkdir()
    (project / "reports/testers.toml").write_text(TESTER)
    aside = project / "build/.state.set-aside"
    aside.mkdir()
    (aside / "steps.sqlite3").write_bytes(b"old records")
    done = run(project, "erase", "tester=T1")
    assert done.returncode == 0, done.stdout + done.stderr
    assert not aside.exists()
