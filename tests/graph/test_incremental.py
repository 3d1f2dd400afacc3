"""A rebuild runs what depends on a change and nothing else, and equals a clean build byte for byte."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from pipeline.graph.freshness.unchanged import RECORD
from pipeline.graph.plan import plan_project
from pipeline.project.loading.load import load_project
from tests.conftest import LONG, tries
from tests.graph.builds import ROOT, build, clean_outputs, copy_built, draw_frame, make_project, outputs, reasons, run

# Steps that follow every change of a blob: the code, what shows it, the image and what is made of the image.
TAIL = {"code", "screen:boot", "image", "verify", "proof:boot", "packet", "author", "page", "notes", "kit", "report", "checks"}


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A project that has been built once; tests change copies of it."""
    project = make_project(tmp_path_factory.mktemp("built") / "project")
    build(project)
    return project


@pytest.fixture
def project(built, tmp_path) -> Path:
    """A copy of the built project in the same state as the original, database included."""
    return copy_built(built, tmp_path / "project")


def _edit_frame(project: Path) -> None:
    draw_frame(project / "art/one/f2.png", (200, 60, 40, 255), 7)


def _recolour_frame(project: Path) -> None:
    draw_frame(project / "art/one/f2.png", (10, 220, 40, 255), 2)


def _add_frame(project: Path) -> None:
    draw_frame(project / "art/one/f4.png", (200, 60, 40, 255), 4)


def _delete_frame(project: Path) -> None:
    (project / "art/one/f3.png").unlink()


def _rename_frame(project: Path) -> None:
    (project / "art/one/f0.png").rename(project / "art/one/f9.png")


def _replace(project: Path, old: str, new: str) -> None:
    path = project / "project.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


# Sizes are in the facts, so what reads sizes runs when facts change; its outputs stay the same and nothing follows.
MEASURED = {"flashing:one", "findings"}
SIZES = {"layout", "include", "memory", "advice"}
ONE = {"prepare:one", "palette:figures", "sprite:one", "sample:one", "proof:one", "shown:one"} | SIZES | MEASURED
# A change of what the palette serves can change its entries, so all its users may run.
FIGURES = ONE | {"sprite:two", "sample:two", "proof:two", "shown:two", "proof:figures", "flashing:two"}

EDITS = {
    "edit a frame": (_edit_frame, ONE | TAIL),
    "recolour a frame": (_recolour_frame, FIGURES | TAIL),
    "add a frame": (_add_frame, ONE | TAIL),
    "delete a frame": (_delete_frame, ONE | TAIL),
    "rename a frame": (_rename_frame, ONE | TAIL),
    "change a setting of one asset": (
        lambda project: _replace(project, "ms = 80", "ms = 120"),
        {"sprite:one", "sample:one", "proof:one", "shown:one"} | SIZES | MEASURED | TAIL,
    ),
    "change data": (lambda project: (project / "level.bin").write_bytes(b"other"), {"data:level", *SIZES} | TAIL),
    "change the title": (
        lambda project: _replace(project, "Small Game", "Other Game"),
        {"include", "letters"} | TAIL,
    ),
    "change the date": (
        lambda project: _replace(project, "2026-01-02", "2026-01-03"),
        {"packet", "author", "page", "notes", "checks", "report", "kit"},
    ),
    "change nothing but times": (lambda project: [os.utime(path) for path in project.rglob("*.png")], set()),
    "remove an asset": (
        lambda project: _replace(project, '[data.level]\nfile = "level.bin"\n', ""),
        SIZES | TAIL,
    ),
    "rename an asset": (
        lambda project: _replace(project, "[data.level]", "[data.map]"),
        {"data:map", *SIZES} | TAIL,
    ),
}


@pytest.mark.parametrize("name", list(EDITS)[:: tries(2, 1)])
def test_edit_runs_only_what_depends_on_it_and_equals_a_clean_build(name, project, tmp_path):
    """After each edit at most the dependent steps run, and the outputs are those of a clean build elsewhere."""
    edit, expected = EDITS[name]
    edit(project)

    ran = build(project)

    assert set(ran) <= expected, reasons(project)
    assert bool(ran) == bool(expected)
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_colour_that_the_palette_does_not_take_converts_no_other_sprite(project):
    """The palette has seen one colour more and has the same entries, the sprite has other pixels and the same size: all else stays."""
    _replace(project, "colours = 16\n", 'colours = 3\nlocked = ["#c83c28", "#285ac8"]\n')
    steps = ("sprite", "sample", "layout")
    draw_frame(project / "art/one/f1.png", (190, 50, 40, 255), 1)
    build(project, *steps)
    seen = json.loads((project / "build/blobs/figures.json").read_bytes())["colours_seen"]

    draw_frame(project / "art/one/f2.png", (210, 70, 50, 255), 2)

    assert set(build(project, *steps)) == {"prepare:one", "palette:figures", "sprite:one", "sample:one"}
    assert json.loads((project / "build/blobs/figures.json").read_bytes())["colours_seen"] == seen + 1


def test_build_with_nothing_to_do_runs_nothing_and_says_so(project):
    """The second build of the same files runs no step."""
    before = outputs(project)

    done = run(project)

    assert "Nothing to do: all" in done.stdout
    assert re.search(r"^Kit     .*SMALL-0.1.0-[0-9A-Z]{6}.zip$", done.stdout, re.MULTILINE)
    assert done.returncode == 0
    assert outputs(project) == before


def test_build_with_nothing_to_do_imports_no_heavy_library(project):
    """A build that runs no step has not loaded numpy, Pillow, reportlab or another library of the steps."""
    (project / "build/.state" / RECORD).unlink(missing_ok=True)  # with it, not even msgspec would be loaded
    done = run(project, PYTHONPROFILEIMPORTTIME="1")

    assert "Nothing to do" in done.stdout
    imported = {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines() if line.startswith("import time:")}
    assert "msgspec" in imported, "the list of imports was not read"
    assert not imported & {"numpy", "PIL", "reportlab", "jinja2", "qrcode", "soxr", "soundfile", "zxingcpp"}


# Each output is harmed in every way in the long form, in turn in the short form.
HARMS = ("deleted", "altered", "altered, same size and time")
HARMED = ("blobs/one.bin", "map.json", "rom/small.rom", "proofs/one.png", "packet.pdf", "include/assets.h")


@pytest.mark.parametrize(
    ("name", "harm"), [(name, harm) for at, name in enumerate(HARMED) for rank, harm in enumerate(HARMS) if LONG or rank == at % len(HARMS)]
)
def test_harmed_output_is_made_again(name, harm, project):
    """A deleted or tampered output is noticed by its hash and made again, and the reason is kept."""
    before, path = outputs(project), project / "build" / name
    stat = path.stat()
    if harm == "deleted":
        path.unlink()
    elif harm == "altered":
        path.write_bytes(path.read_bytes()[:-1])
    else:
        path.write_bytes(path.read_bytes()[:-1] + bytes([path.read_bytes()[-1] ^ 1]))
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))

    build(project)

    word = "missing" if harm == "deleted" else "altered"
    assert f"output {word}: build/{name}" in [reason for given in reasons(project).values() for reason in given]
    assert outputs(project) == before


def test_source_with_same_size_and_time_but_other_bytes_is_noticed(project, tmp_path):
    """An edit that an archive tool has given the old modification time still rebuilds."""
    path = project / "level.bin"
    stat = path.stat()
    path.write_bytes(bytes(reversed(range(100))))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))

    assert "data:level" in build(project)
    assert reasons(project)["data:level"] == ["file changed: level.bin"]
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_emptied_and_refilled_list_is_noticed(project, tmp_path):
    """Going through an empty list of dependencies and back, which doit alone misses, rebuilds each time."""
    _replace(project, "[screen.boot]", '[screen.boot]\nwarning = "Other."')
    build(project)
    _replace(project, 'always = ["one", "two", "figures", "hill", "hill_colours", "main"]', "always = []")
    assert "memory" in build(project)
    _replace(project, "always = []", 'always = ["one", "two", "figures", "hill", "hill_colours", "main"]')
    assert "memory" in build(project)

    assert outputs(project) == clean_outputs(project, tmp_path)


def test_reasons_name_the_setting_and_both_values(project):
    """A changed setting is shown with its key, the old and the new value."""
    _replace(project, "scale = 0.77", "scale = 0.5")
    build(project)

    assert reasons(project)["prepare:one"] == ["setting changed: spec.scale from 0.77 to 0.5"]
    assert "because setting changed" not in run(project).stdout
    answer = run(project, "why").stdout
    assert "prepare one\n    setting changed: spec.scale from 0.77 to 0.5\n" in answer


def test_own_template_takes_the_place_of_the_shipped_one(project, tmp_path):
    """A template that appears in the project's folder rebuilds what uses it, and going away again too."""
    before = outputs(project)
    own = project / "templates/notes.txt.j2"
    own.parent.mkdir()
    own.write_text("Only this.\n")
    ran = build(project)
    assert "notes" in ran
    assert "packet" not in ran
    assert outputs(project) == clean_outputs(project, tmp_path)
    own.unlink()
    build(project)
    assert outputs(project) == before


def test_wording_of_a_language_rebuilds_packet_and_notes_alone(project, tmp_path):
    """Another language, and a message file of its own that appears: both packets, notes, and the kit they go into."""
    wanted = {"packet", "author", "page", "notes", "letters", "kit"}
    _replace(project, 'phase = "alpha"', 'phase = "alpha"\nlanguage = "de-AT"')
    assert set(build(project)) == wanted | {"checks"}  # which looks at [game]
    own = project / "templates/packet.de-at.toml"
    own.parent.mkdir()
    text = (ROOT / "templates/packet.de.toml").read_text(encoding="utf-8")
    own.write_text(text.replace('heading = "Bekannte Fehler"', 'heading = "Fehler"'), encoding="utf-8")
    assert set(build(project)) == wanted
    assert "\nFehler\n------\n" in (project / "build/work/NOTES.txt").read_text(encoding="utf-8")
    assert outputs(project) == clean_outputs(project, tmp_path)


def test_half_written_files_are_cleared_away_and_strangers_are_not(project):
    """What a killed build left half written goes; a file whose name is of no form the tool gives there stays."""
    before = outputs(project)
    (project / "build/rom/small.rom.123.part").write_bytes(b"x")
    strangers = [project / "build/blobs/Mine.bin", project / "build/notes.txt", project / "build/kit/SMALL-for-print.zip"]
    for path in strangers:
        path.write_bytes(b"mine")
    build(project)
    for path in strangers:
        assert path.read_bytes() == b"mine"
        path.unlink()
    assert outputs(project) == before


def test_refused_start_touches_nothing(project):
    """Starting a project where there is one is refused and leaves the last build as it is."""
    before = outputs(project)
    done = run(project, "start")
    assert done.returncode == 3
    assert f"ERROR: project.toml is already in {project}\n    choose an empty folder: start project=PATH" in done.stderr
    assert outputs(project) == before


def test_everything_wrong_with_sources_is_reported_at_once(project):
    """Bad frames of two sprites and a bad background are reported in one build, and what could not be made again is named."""
    for name in ("art/one/f0.png", "art/one/f2.png", "art/two/f1.png", "art/hill.png"):
        (project / name).write_bytes(b"")
    done = run(project)
    assert done.returncode == 2
    for name in ("art/one/f0.png", "art/one/f2.png", "art/two/f1.png", "art/hill.png"):
        assert f"{name}: is an empty file\n    save it again from the paint program" in done.stdout
    assert "Not made again, and as the last good build left it: image, packet, kit, report." in done.stdout
    assert "Traceback" not in done.stdout + done.stderr


@pytest.mark.parametrize("workers", ["1", "2"])
def test_source_broken_for_a_moment_costs_its_own_step_alone(workers, project):
    """What could not run meanwhile is as its last good run left it. Common practice, no source."""
    frame = project / "art/one/f2.png"
    whole = frame.read_bytes()
    frame.write_bytes(whole[: len(whole) // 2])
    assert run(project, "-n", workers).returncode != 0
    frame.write_bytes(whole)
    assert build(project, "-n", workers) == ["prepare:one"]


@pytest.mark.parametrize("damage", [b"rubbish" * 500, b"", b"SQLite format 3\0" + b"x" * 4000])
def test_damaged_database_is_begun_anew(damage, project):
    """A step database that cannot be read costs a full build, not a traceback."""
    before = outputs(project)
    (project / "build/.state/steps.sqlite3").write_bytes(damage)
    assert len(build(project)) > 20
    assert outputs(project) == before


def test_image_comes_before_every_picture(built):
    """What the image does not need runs after it is verified and in its place, so that it can be copied meanwhile."""
    plan = plan_project(load_project(built))
    order = [plan.default.index(name) for name in ("verify", "sample:one", "sample:hill", "proof:one", "packet", "report")]
    assert order == sorted(order)
    pictures = {step.name for step in plan.steps if any(path.suffix in (".png", ".pdf", ".html") for path in step.writes)}
    assert not pictures & set(plan.default[: plan.default.index("verify")])
    assert len(pictures) > 5


def test_image_alone_draws_no_picture(tmp_path):
    """``doit rom`` of a clean project runs what the image is made of, and nothing else."""
    project = make_project(tmp_path / "project")
    ran = set(build(project, "rom"))
    assert {name.partition(":")[0] for name in ran} == {
        *("prepare", "palette", "sprite", "background", "data", "program", "layout", "code", "screen", "image", "verify")
    }
