"""From a folder of art to a project: what is written, that it builds on every shipped console, and what is never touched."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
import sys
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

from pipeline.bringing import guess, write
from pipeline.bringing.bring import show_found, start_from
from pipeline.bringing.fit import Console, fit
from pipeline.bringing.guess import describe
from pipeline.bringing.look import look_through
from pipeline.joints.budget import read_budget_file
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import show_size
from pipeline.project.loading.load import load_project
from pipeline.questions.start import start_project
from pipeline.target.loading import load_target, shipped_targets
from tests.bringing.test_look import picture, tone
from tests.bringing.test_measure import full_cells_of, sheet
from tests.conftest import some, tries
from tests.graph.builds import ROOT, build
from tests.graph.looks import looks_of
from tests.recorded import differing, hash_of


@pytest.fixture(scope="module")
def loose(tmp_path_factory) -> Path:
    """The guide's folder of art, with what comes late."""
    folder = tmp_path_factory.mktemp("loose") / "from_artists"
    for more in ([], ["late"]):
        subprocess.run([sys.executable, str(ROOT / "demo_project/make/loose_art.py"), str(folder), *more], check=True)
    return folder


def start(folder: Path, source: Path, target: str = "basalt32", link: bool = False) -> str:
    """Make a project of a folder of art."""
    return start_from(folder, "game", source, "art", target, link)


def bring(folder: Path, source: Path, add: bool = False, link: bool = False) -> str:
    """Ask what a folder of art would add, or add it."""
    return show_found(folder, folder / "build/found.png", folder / "build/budget.json", source, "art", link, add)


def contents(folder: Path) -> dict[str, str]:
    """Return file -> SHA-256."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.mark.parametrize("target", some(sorted(shipped_targets()), 1))
def test_project_builds_on_every_shipped_console(tmp_path, loose, target):
    """Up to the kit, with what was guessed and nothing else; blobs are not larger than estimated."""
    start(tmp_path / "game", loose, target)
    assert "kit" in build(tmp_path / "game")
    assert list((tmp_path / "game/build/kit").glob("*.zip"))
    console = load_target(shipped_targets()[target])
    description = describe(look_through(loose), (console.screen.width, console.screen.height), loose.name)
    fitted = fit(description.found, console, set())
    room = Console(console)
    for one, _ in fitted.assets:
        size = (tmp_path / f"game/build/blobs/{one.name}.bin").stat().st_size
        assert size <= room.bytes_of(one, Fraction(str(fitted.scale)), fitted.rate), one.name
    looks = looks_of(tmp_path / "game") | {"project.toml": hash_of((tmp_path / "game/project.toml").read_bytes())}
    assert differing(f"build of found art, {target}", looks) == set()


def test_same_folder_gives_the_same_project(tmp_path, loose):
    """Byte for byte, ``found.png`` too, from a copy at another place with other times."""
    shutil.copytree(loose, tmp_path / "elsewhere/from_artists")
    for name, source in (("one", loose), ("two", tmp_path / "elsewhere/from_artists")):
        start(tmp_path / name, source)
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_every_guess_has_its_reason_and_the_next_best(tmp_path, loose):
    """A comment beside the line that says where an asset's art is."""
    start(tmp_path / "game", loose)
    lines = (tmp_path / "game/project.toml").read_text(encoding="utf-8").splitlines()
    for rank, line in enumerate(lines):
        if line.startswith(("frames = \"", "sheet = ", "animated = ", "file = \"art", "file = \"sound")):
            assert "; or: " in line or "; or: " in lines[rank - 1], line


def test_cut_short_start_is_finished_by_the_same_command(tmp_path, loose, monkeypatch):
    """After any number of writes: no project file before the end, then the same files as without a cut."""
    start(tmp_path / "whole", loose)
    count = len(contents(tmp_path / "whole"))

    class Cut(BaseException):
        pass

    for after in range(1, count, tries(13, 4)):
        left = [after]

        def cutting(path, data, left=left):
            if not left[0]:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.with_name(f"{path.name}.1.part").write_bytes(b"half")
                raise Cut
            left[0] -= 1
            write_bytes(path, data)

        folder = tmp_path / f"cut{after}"
        monkeypatch.setattr(write, "write_bytes", cutting)
        with pytest.raises(Cut):
            start(folder, loose)
        assert not (folder / "project.toml").exists()
        monkeypatch.undo()
        start(folder, loose)
        assert {name: one for name, one in contents(folder).items() if ".part" not in name} == contents(tmp_path / "whole")


def test_error_leaves_nothing(tmp_path, loose, monkeypatch):
    """A disk that is full half way: the folder is as it was."""
    (tmp_path / "game").mkdir()
    (tmp_path / "game/notes.txt").write_text("mine")
    before = contents(tmp_path / "game")
    count = [5]

    def full(path, data):
        count[0] -= 1
        if not count[0]:
            raise ProjectError([])
        write_bytes(path, data)

    monkeypatch.setattr(write, "write_bytes", full)
    with pytest.raises(ProjectError):
        start(tmp_path / "game", loose)
    assert contents(tmp_path / "game") == before
    assert [path.name for path in (tmp_path / "game").iterdir()] == ["notes.txt"]


def test_bring_appends_once_and_changes_nothing_else(tmp_path, loose):
    """What the author wrote stays in place, odd spaces and all; what is there is not added again, under another name either."""
    start_project(tmp_path / "game", "game")
    path = tmp_path / "game/project.toml"
    path.write_text(path.read_text() + "\n#   my   own words \n[defaults.sprite]\nheight = 20", encoding="utf-8")
    before, files = path.read_bytes(), contents(tmp_path / "game")
    shown = bring(tmp_path / "game", loose)
    assert path.read_bytes() == before
    bring(tmp_path / "game", loose, add=True)
    after = path.read_bytes()
    assert after.startswith(before)
    assert after[len(before) :].decode().strip() in shown
    kept = {name: one for name, one in contents(tmp_path / "game").items() if name in files}
    assert {name for name in files if kept[name] != files[name]} == {"project.toml"}
    (loose.parent / "renamed").mkdir(exist_ok=True)
    shutil.copytree(loose, loose.parent / "renamed/other", dirs_exist_ok=True)
    assert "nothing new" in bring(tmp_path / "game", loose.parent / "renamed/other", add=True)
    assert path.read_bytes() == after
    assert load_project(tmp_path / "game").assets["ines"].spec.height == 20


def test_what_new_assets_need_is_said_before_they_are_added(tmp_path):
    """Without a build that it is not known; with one the scene's own margin, and which asset it cannot take; never less than is built."""
    picture(tmp_path / "first/ant.png", (10, 8))
    start(tmp_path / "game", tmp_path / "first", "lattice16")
    for rank in range(20):
        picture(tmp_path / f"art/whale/swim_{rank}.png", (300, 200), (10 * rank, 90, 200, 255))
    for path in (tmp_path / "art/whale").iterdir():  # half of it clear, or it were a background
        with Image.open(path) as whole:
            whole.paste((0, 0, 0, 0), (0, 0, 300, 90))
            whole.save(path)
    picture(tmp_path / "art/bee.png", (12, 9))
    assert "what scenes have left is not known before the first build" in bring(tmp_path / "game", tmp_path / "art")
    build(tmp_path / "game", "budget")
    budget = read_budget_file(tmp_path / "game/build/budget.json")
    (scene,) = budget.scenes
    said = bring(tmp_path / "game", tmp_path / "art")
    assert "new assets are in no scene yet, so no memory is counted for them" in said
    assert f"scene {scene} has {show_size(budget.scenes[scene].margin)} left in its worst case, by the last build" in said
    (whale,) = (line for line in said.splitlines() if line.startswith("  whale"))
    (bee,) = (line for line in said.splitlines() if line.startswith("  bee"))
    assert whale.endswith(f"more than scene {scene} can take")
    assert "more than" not in bee
    assert re.search(rf'add to always of \[scene\.{scene}\], or to a bundle that it chooses: "whale", "\w+"', said)
    assert f"cartridge: {show_size(budget.image.bytes)} used" in said
    added = bring(tmp_path / "game", tmp_path / "art", add=True)
    assert whale in added.splitlines()


def test_files_of_the_project_are_never_overwritten(tmp_path, loose):
    """A folder and a file of the names that would be taken keep what they hold."""
    start_project(tmp_path / "game", "game")
    picture(tmp_path / "game/art/ines/walk_01.png", (9, 9))
    tone(tmp_path / "game/sound/chirp.wav", 0.1)
    before = contents(tmp_path / "game")
    bring(tmp_path / "game", loose, add=True)
    after = contents(tmp_path / "game")
    assert {name for name in before if after[name] != before[name]} == {"project.toml"}
    project = tomllib.loads((tmp_path / "game/project.toml").read_text(encoding="utf-8"))
    assert project["sprite"]["ines"]["frames"] == "art/ines_2/*.png"
    assert project["sound"]["chirp"]["file"] == "sound/chirp_2.wav"


def test_project_with_errors_is_refused_and_left_alone(tmp_path, loose):
    """The message names what is wrong in it; nothing is written."""
    start_project(tmp_path / "game", "game")
    path = tmp_path / "game/project.toml"
    path.write_text(path.read_text().replace("colours = 16", "colours = 1600"), encoding="utf-8")
    before = contents(tmp_path / "game")
    with pytest.raises(ProjectError, match="1600 colours"):
        bring(tmp_path / "game", loose, add=True)
    assert contents(tmp_path / "game") == before


def test_link_reads_art_where_it_is(tmp_path, loose):
    """No copy is made, hidden files beside the art are not frames, and every sprite has the frames it has as a copy."""
    shutil.copytree(loose, tmp_path / "game/from_artists")
    (tmp_path / "game/from_artists/Ines/.walk_07.png").write_bytes(b"x")
    start(tmp_path / "game", tmp_path / "game/from_artists", link=True)
    assert not (tmp_path / "game/sound").exists()
    start(tmp_path / "copied", loose)
    linked, copied = load_project(tmp_path / "game"), load_project(tmp_path / "copied")
    for name, asset in copied.assets.items():
        theirs = [(tmp_path / "copied" / file).read_bytes() for file in asset.files]
        assert [(tmp_path / "game" / file).read_bytes() for file in linked.assets[name].files] == theirs, name


def test_link_outside_and_copy_from_inside_are_refused(tmp_path, loose):
    """Each with the word to write."""
    with pytest.raises(ProjectError, match="leave link= out"):
        start(tmp_path / "game", loose, link=True)
    shutil.copytree(loose, tmp_path / "game/art")
    with pytest.raises(ProjectError, match="link=yes"):
        start(tmp_path / "game", tmp_path / "game/art")
    start(tmp_path / "other", loose)
    for source, link, said in (
        (loose, True, "leave link= out"), (tmp_path / "other/art", False, "link=yes"), (tmp_path / "none", False, "does not exist"),
        (tmp_path / "other/project.toml", False, "is a file, and not a folder of art"),
    ):  # fmt: skip
        with pytest.raises(ProjectError, match=said):
            bring(tmp_path / "other", source, link=link)
    with pytest.raises(ProjectError, match="no folder of art is named"):
        show_found(tmp_path / "other", tmp_path / "x.png", tmp_path / "b.json", None, "", False, False)


def test_start_without_from_names_the_command(tmp_path):
    """Where a folder holds art already, instead of ignoring it."""
    picture(tmp_path / "game/hero.png")
    with pytest.raises(ProjectError, match="start from=game link=yes project=game"):
        start_project(tmp_path / "game", "game")


def test_figure_on_a_plain_ground_is_a_sprite_until_it_covers_the_screen(tmp_path):
    """The ground is its key; a picture as large as the screen is a background, whatever its border shows."""
    for name, size in (("ship", (200, 200)), ("dusk", (320, 240))):
        whole = Image.new("RGB", size, (12, 12, 20))
        whole.paste((180, 60, 40), (40, 40, 160, 150))
        (tmp_path / "art").mkdir(exist_ok=True)
        exif = Image.Exif()
        exif[274] = 6 if name == "dusk" else 1
        whole.save(tmp_path / f"art/{name}.jpg", quality=95, exif=exif)
    said = start(tmp_path / "game", tmp_path / "art")
    assets = load_project(tmp_path / "game").assets
    assert {name: assets[name].kind for name in ("ship", "dusk")} == {"ship": "sprite", "dusk": "background"}
    assert assets["ship"].spec.key
    assert 16 <= assets["ship"].spec.tolerance <= 32
    assert "JPEG or lossy WebP: ship, dusk: their colours are not exact, and a JPEG has no transparent pixels" in said
    assert "EXIF orientation: dusk: their files ask viewers to turn them" in said
    lines = (tmp_path / "game/project.toml").read_text().splitlines()
    assert sum("the format changes colours: export it as PNG if you can" in line for line in lines) == 2


def test_levels_drawn_of_tiles_are_backgrounds_and_their_tiles_a_sheet(tmp_path):
    """Three numbered pictures larger than the screen, and one of the same look by itself."""
    for rank, name in enumerate(("level_1", "level_2", "level_3", "walls")):
        (tmp_path / "art").mkdir(exist_ok=True)
        Image.fromarray(full_cells_of(20, 15, 16, seed=rank)).save(tmp_path / f"art/{name}.png")
    start(tmp_path / "game", tmp_path / "art")
    assets = load_project(tmp_path / "game").assets
    kinds = {name: assets[name].kind for name in ("level_1", "level_2", "level_3", "walls")}
    assert kinds == {"level_1": "background", "level_2": "background", "level_3": "background", "walls": "sprite"}
    assert (assets["walls"].spec.sheet.columns, assets["walls"].spec.sheet.rows, assets["walls"].spec.animations) == (20, 15, {})


def test_frames_on_nearly_one_ground_have_one_key(tmp_path):
    """A lossy format gives each frame's ground a colour of its own, a step or two apart; one key with its tolerance takes them all."""
    for rank in range(6):
        whole = Image.new("RGB", (48, 40), (250 + rank % 3, 2, 250 - rank % 2))
        whole.paste((40, 160, 60), (10 + rank, 8, 30 + rank, 34))
        (tmp_path / "art").mkdir(exist_ok=True)
        whole.save(tmp_path / f"art/frog_hop_{rank}.jpg", quality=90)
    start(tmp_path / "game", tmp_path / "art")
    frog = load_project(tmp_path / "game").assets["frog"]
    assert (len(frog.files), len(frog.spec.key)) == (6, 1)


def test_odd_names_and_odd_sheets_make_a_project(tmp_path):
    """Line ends, control codes, signs and scripts in names; a sheet of one frame, one that is all opaque, one with nothing on it."""
    names = ("a\nb.png", "tab\t\x1b[2J.png", "герой_01.png", "герой_02.png", "英雄.png", "-rf.png", "quote\"'.png", "a#b.png", "{c}.png")
    for rank, name in enumerate(names):
        picture(tmp_path / "art" / name, (10 + rank, 10))
    picture(tmp_path / "art/one_sheet.png", (32, 32))
    Image.new("RGB", (16, 16), (9, 9, 9)).save(tmp_path / "art/opaque_sheet.png")
    Image.new("RGBA", (16, 16)).save(tmp_path / "art/empty_sheet.png")
    said = start(tmp_path / "game", tmp_path / "art")
    assets = load_project(tmp_path / "game").assets
    assert {"one_sheet", "opaque_sheet", "geroj"} <= set(assets)
    assert sum(len(one.files) for one in assets.values() if one.kind == "sprite") == len(names) + 2
    assert "not taken: 1 file\n  empty_sheet.png: has nothing drawn on it" in said
    assert "\x1b" not in said + (tmp_path / "game/project.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(("frames", "fits"), [(4, True), (5, False)])
def test_frames_of_more_pixels_than_a_sprite_has_are_left(tmp_path, monkeypatch, frames, fits):
    """As many as the bound says are taken: 4 frames of 20 x 30."""
    monkeypatch.setattr(guess, "SPRITE_PIXELS", 4 * 20 * 30)
    for rank in range(frames):
        frame = Image.new("RGBA", (20, 30))
        frame.paste((200, 60, 40, 255), (4, 6, 14, 26 + rank))
        (tmp_path / "ada").mkdir(exist_ok=True)
        frame.save(tmp_path / f"ada/walk_{rank}.png")
    description = describe(look_through(tmp_path), (320, 240), "art")
    assert [one.name for one in description.found] == (["ada"] if fits else [])
    said = [f"belongs to 5 frames with {5 * 20 * 30:,} pixels, more than a sprite has"] * 5
    assert [one.why for one in description.left] == ([] if fits else said)


def test_second_guess_of_a_sheet_is_its_next_grid(tmp_path):
    Image.fromarray(sheet(4, 2, (24, 32))).save(tmp_path / "ada_walk.png")
    looked = look_through(tmp_path)
    (found,) = describe(looked, (320, 240), "art").found
    first, second = looked["ada_walk.png"].look.grids[:2]
    assert found.reason.startswith("4 columns and 2 rows")
    assert (first.columns, first.rows) == (4, 2)
    assert found.other == f"{second.columns} x {second.rows} cells"


def test_two_files_of_one_name(tmp_path):
    """In two folders, in two scripts and with two endings: four assets of four names."""
    for name in ("a/bee.png", "b/bee.png", "b/бее.png"):
        picture(tmp_path / "art" / name, (10, 10 + len(name)))
    tone(tmp_path / "art/bee.wav")
    start(tmp_path / "game", tmp_path / "art")
    assets = load_project(tmp_path / "game").assets
    assert len([one for one in assets.values() if one.kind in ("sprite", "sound") and "bee" in one.name]) == 4


def test_names_with_signs_of_patterns(tmp_path):
    """Brackets and stars in names, and capitals that differ: each frame is found."""
    for rank in range(1, 4):
        picture(tmp_path / f"art/bat/fly [{rank}].png", (10, 9), (rank * 60, 90, 30, 255))
        picture(tmp_path / f"art/bat/die*{rank}.png", (10, 9), (90, rank * 60, 30, 255))
    start(tmp_path / "game", tmp_path / "art")
    bat = load_project(tmp_path / "game").assets["bat"]
    assert len(bat.files) == 6
    assert {name: len(one.frames) for name, one in bat.spec.animations.items() if isinstance(one.frames, list)}


def test_empty_folder_and_file_are_refused(tmp_path):
    """With what was seen."""
    (tmp_path / "art").mkdir()
    with pytest.raises(ProjectError, match="holds no file"):
        start(tmp_path / "game", tmp_path / "art")
    (tmp_path / "art/notes.txt").write_text("x")
    with pytest.raises(ProjectError, match="none can be used"):
        start(tmp_path / "game", tmp_path / "art")
    with pytest.raises(ProjectError, match="not a folder of art"):
        start(tmp_path / "game", tmp_path / "art/notes.txt")
    assert not (tmp_path / "game").exists()


def test_picture_shows_every_frame(tmp_path, loose):
    """``found.png`` opens, is not wider than a page, and has the outline's colour around every frame."""
    start(tmp_path / "game", loose)
    with Image.open(tmp_path / "game/build/found.png") as whole:
        assert whole.width == 1240
        critters = [colour for _, colour in whole.convert("RGB").getcolors(1 << 24) if colour == (255, 0, 255)]
        assert critters == []  # the key colour of the sheet on magenta is not drawn
        colours = {colour: count for count, colour in whole.convert("RGB").getcolors(1 << 24)}
    assert colours[(30, 92, 140)] > 1000
    assert colours[(214, 32, 120)] > 100
