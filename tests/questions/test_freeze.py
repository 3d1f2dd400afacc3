"""``doit freeze``: a palette written as a file gives the same image. What the file holds is asked of Pillow. Common practice, no source."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.graph.plan import plan_project
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from tests.conftest import some
from tests.makers import TARGETS, build_here, make_project, write_text

_SLOT = "\ntransparent = true"


def painted(path: Path, size: tuple[int, int], clear: bool, seed: int) -> None:
    """Draw slopes and noise of many colours, perhaps around a clear edge."""
    noise = np.random.default_rng(seed).integers(-30, 30, (size[1], size[0], 3))
    y, x = np.mgrid[: size[1], : size[0]]
    slopes = np.stack([x * 255 // size[0], y * 255 // size[1], 255 - (x + y) * 255 // sum(size)], axis=-1)
    alpha = np.full((*slopes.shape[:2], 1), 255)
    alpha[:, :3] = 0 if clear else 255
    Image.fromarray(np.concatenate([(slopes + noise).clip(0, 255), alpha], axis=-1).astype(np.uint8)).save(path)


def project_of(folder: Path, target: str, *changes: tuple[str, str], more: str = "", many: bool = True) -> Path:
    """A project in which two sprites share a palette."""
    more = '[sprite.bo]\nframes = "art/bo.png"\npalette = "figures"\ndither = "ordered"\n' + more
    made = make_project(folder, ("[screen.boot]\n", ""), *changes, target=target, more=more)
    painted(made / "art/bo.png", (16, 20), True, 1)
    if many:
        painted(made / "art/quay.png", (32, 24), False, 2)
        painted(made / "art/ada/walk_1.png", (20, 24), True, 3)
    return made


def on_lines(old: str, keys: str) -> tuple[tuple[str, str], ...]:
    """Return the changes that draw the background as tiles on lines."""
    table, user = "[palette.quay_colours]\n", 'palette = "quay_colours"\n'
    return (f"{table}colours = {old}\n", f"{table}lines = {keys}\n"), (user, f'{user}arrangement = "tiles"\n')


def freeze(folder: Path, name: str = "") -> str:
    steps = {step.name: step for step in plan_project(load_project(folder), {"of": name}).steps}
    return steps["freeze"].run()


def paste(folder: Path, name: str, said: str) -> None:
    """Do to the table of the project file what the answer says, literally."""
    lines = said.splitlines()
    assert lines[1] == f"Write into project.toml, below [palette.{name}]:"
    head, rest = (folder / "project.toml").read_text().split(f"[palette.{name}]\n")
    table, after = re.fullmatch(r"(?s)(.*?\n|)((?:\n|\[).*|)", rest).groups()
    for line in lines[2:]:
        if line.startswith("    "):
            table = f"{line.strip()}\n{table}"
        elif change := re.fullmatch(r"and change (\w+) to (.+)", line):
            table, count = re.subn(rf"(?m)^{change[1]} = .*$", f"{change[1]} = {change[2]}", table)
            assert count == 1, line
        else:
            for key in re.fullmatch(r"and remove (\w+)(?: and (\w+))? from it", line).groups():
                table, count = re.subn(rf"(?m)^{key} = .*\n", "", table) if key else (table, 1)
                assert count == 1, line
    write_text(folder, f"{head}[palette.{name}]\n{table}{after}")


@pytest.mark.parametrize(("target", "many"), some([*((target, True) for target in TARGETS), ("basalt32", False)], 2))
def test_a_frozen_palette_gives_the_same_image(tmp_path, target, many):
    """On three consoles of 4, 16 and 256 colours a pixel can name, for two sprites that share it and for a background."""
    folder = project_of(tmp_path / "p", target, many=many)
    before = build_here(folder)
    for name in ("figures", "quay_colours"):
        said = freeze(folder, name)
        assert f'file = "palettes/{name}.png"' in said
        paste(folder, name, said)
    with Image.open(folder / "palettes/figures.png") as picture:
        colours = np.array(picture.getpalette()).reshape(-1, 3)
        assert picture.info["transparency"] in (0, b"\0") or picture.info["transparency"][0] == 0
        assert np.unique(np.asarray(picture)).tolist() == list(range(len(colours)))
    assert colours.tolist() == [list(colour) for colour in before.facts["figures"].colours]
    assert build_here(folder).image == before.image


def test_a_frozen_palette_gives_the_same_image_for_every_dither(tmp_path):
    """Indexed art, a third of it of the colour and number of an entry: the number is kept only where the colour was chosen anyway."""
    modes = ("none", "ordered", "where needed", "diffusion")
    tables = [f'[background.b{rank}]\nfile = "art/b.png"\npalette = "shades"\ndither = "{mode}"\n' for rank, mode in enumerate(modes)]
    palette = '[palette.shades]\nfirst = 100\ncolours = 8\nlocked = ["#000000"]\n'
    folder = project_of(tmp_path / "p", "basalt32", more=palette + "".join(tables), many=False)
    chance = np.random.default_rng(2)
    colours, numbers = chance.integers(0, 255, (64, 3)), chance.integers(0, 64, (48, 64)).astype(np.uint8)
    colours[0], numbers[:, ::3] = 0, 0
    picture = Image.frombytes("P", (64, 48), numbers.tobytes())
    picture.putpalette(colours.ravel().tolist())
    picture.save(folder / "art/b.png")
    before = build_here(folder)
    paste(folder, "shades", freeze(folder, "shades"))
    after = build_here(folder)
    assert after.facts["shades"].colours[0] == (0, 0, 0), "number 0 of the art is an entry, or nothing is tested"
    assert {name: one.sha256 for name, one in after.facts.items()} == {name: one.sha256 for name, one in before.facts.items()}
    assert after.image == before.image


_CASES = [("lattice16", True, ""), ("lattice16", False, _SLOT), ("pebble8", True, _SLOT)]


@pytest.mark.parametrize(("target", "many", "transparent"), some(_CASES, 2))
def test_frozen_lines_give_the_same_image(tmp_path, target, many, transparent):
    """So do lines dealt to tiles, whether all colours of the art fit or not."""
    old, keys = {"lattice16": ("8\nfirst = 16", "3\nfirst = 16"), "pebble8": ("4\nfirst = 4", "2\nfirst = 4")}[target]
    folder = project_of(tmp_path / "p", target, *on_lines(old, keys + transparent), many=many)
    before = build_here(folder)
    paste(folder, "quay_colours", freeze(folder, "quay_colours"))
    after = build_here(folder)
    assert after.facts["quay_colours"].line_used == before.facts["quay_colours"].line_used
    assert after.facts["quay_colours"].exact == before.facts["quay_colours"].exact
    assert after.image == before.image


def test_lines_of_a_file_must_hold_the_art_and_be_whole(tmp_path):
    """With exact, a tile whose colours no line has is refused; so are an empty line, one too long, and a hole in one."""
    changes = on_lines("8\nfirst = 16", "2\ncolours = 4\nfirst = 16\nexact = true")
    folder = project_of(tmp_path / "p", "lattice16", *changes, many=False)
    build_here(folder)
    text = (folder / "project.toml").read_text()
    write_text(folder, text.replace("exact = true\n", ""))
    paste(folder, "quay_colours", freeze(folder, "quay_colours"))
    assert build_here(folder).facts["quay_colours"].exact
    file = folder / "palettes/quay_colours.png"

    def refusal(clear: set[int], count: int = 32) -> str:
        picture = Image.frombytes("P", (count, 1), bytes(range(count)))
        picture.putpalette([value for number in range(count) for value in (number * 7, 0, 128)])
        picture.save(file, transparency=bytes(0 if number in clear else 255 for number in range(count)))
        with pytest.raises(ProjectError) as error:
            build_here(folder)
        return str(error.value)

    rest = {*range(4, 16), *range(20, 32)}
    assert "line 0, numbers 0 to 15, has 0 colours, 1 to 4 fit" in refusal({*range(16), *range(20, 32)})
    assert "line 0, numbers 0 to 15, has 5 colours, 1 to 4 fit" in refusal(rest - {4})
    assert "number 17 is transparent" in refusal(rest | {17})
    assert "uses number 32, palette 'quay_colours' of 2 lines of 16 holds numbers 0 to 31" in refusal(rest, 33)
    assert "tiles have colours that no line of the file has" in refusal(rest)


def test_locked_colours_are_named_and_nothing_is_overwritten(tmp_path):
    """What does not go with a file is to be removed; a second answer is the same, and another file in the way is left alone."""
    folder = project_of(tmp_path / "p", "basalt32", ("colours = 8\ntransparent", 'locked = ["#ff8800"]\ncolours = 8\ntransparent'))
    before = build_here(folder)
    said = freeze(folder, "figures")
    assert said.splitlines()[-1] == "and remove locked from it"
    text = (folder / "project.toml").read_text()
    again = freeze(folder, "figures").splitlines()
    assert again[0] == "palettes/figures.png is this palette already"
    assert again[1:] == said.splitlines()[1:]
    assert (folder / "project.toml").read_text() == text, "the project file is the author's"
    paste(folder, "figures", said)
    assert build_here(folder).image == before.image
    write_text(folder, text)
    (folder / "palettes/figures.png").write_bytes(b"mine")
    with pytest.raises(ProjectError, match="exists and is not this palette; nothing is overwritten"):
        freeze(folder, "figures")
    assert (folder / "palettes/figures.png").read_bytes() == b"mine"


_WRITTEN = [
    ("exact = true\n", "", "", False),
    ("exact = false\n", "", "and change exact to true", False),
    ('order = "reading"\nexact = false\n', "", 'and change order to "file"', False),
    ("", 'locked = ["#ff8800"]\norder = "reading"\n', "", True),
    ('locked = []\nlocked_file = "art/ada/walk_0.png"\n', "", "and remove locked and locked_file from it", True),
]


@pytest.mark.parametrize(("own", "defaults", "said", "many"), some(_WRITTEN, 2))
def test_the_advice_can_be_followed_whatever_the_table_has(tmp_path, own, defaults, said, many):
    """A key that the table has is changed or removed, not written again; keys from the defaults need no change."""
    defaults = f"[defaults.palette]\n{defaults}" if defaults else ""
    changes = ("[palette.quay_colours]\n", f"[palette.quay_colours]\n{own}")
    folder = project_of(tmp_path / "p", "basalt32", changes, more=defaults, many=many)
    before = build_here(folder)
    answer = freeze(folder, "quay_colours")
    assert said in answer
    assert "exact" not in answer or "exact = true" not in own
    paste(folder, "quay_colours", answer)
    after = build_here(folder)
    assert (after.image, after.facts["quay_colours"].exact) == (before.image, before.facts["quay_colours"].exact)


def test_a_name_that_cannot_be_frozen_is_refused(tmp_path):
    """No name, an unknown one, one of a palette from a file; a folder of that name that is a file, or leads out."""
    folder = project_of(tmp_path / "p", "basalt32")
    build_here(folder)
    for name, said in (("", "no palette is named"), ("figurs", "did you mean figures?"), ("ada", "the computed palettes are figures")):
        with pytest.raises(ProjectError) as error:
            freeze(folder, name)
        assert said in str(error.value)
    text = (folder / "project.toml").read_text()
    write_text(folder, text + '[palette.night]\nvariant_of = "figures"\nlightness = 0.5\n')
    with pytest.raises(ProjectError) as error:
        freeze(folder, "night")
    assert "'night' is a variant, whose numbers are those of palette 'figures'\n    write: freeze of=figures" in str(error.value)
    write_text(folder, text)
    (folder / "palettes").write_bytes(b"")
    with pytest.raises(ProjectError, match="palettes is not a folder"):
        freeze(folder, "figures")
    (folder / "palettes").unlink()
    (tmp_path / "elsewhere").mkdir()
    (folder / "palettes").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ProjectError, match="leads out of the project"):
        freeze(folder, "figures")
    assert list((tmp_path / "elsewhere").iterdir()) == []
    (folder / "palettes").unlink()
    for name in ("figures", "quay_colours"):
        paste(folder, name, freeze(folder, name))
    with pytest.raises(ProjectError, match="every palette of the project is taken from a file"):
        freeze(folder, "figures")
