"""Palettes that keep their file's own numbers, and art whose pixels then keep theirs.

What a file's numbers are is asked of Pillow, which reads the pixels of an indexed PNG as they are (PNG specification, third edition,
11.2.2, 11.3.1.1); what the image holds, of ``reading``, which shares no code with what wrote it.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.proofs.subject import take
from pipeline.target.kinds import calls_of
from tests.makers import Built, as_map, build_here, make_project, problems, write_text

# Numbers 3 and 6 have one colour, 1 and 5 differ by less than the console can show, 4 is used by no pixel.
COLOURS = [(255, 0, 255), (200, 40, 40), (240, 220, 60), (16, 16, 16), (90, 90, 200), (201, 41, 41), (16, 16, 16), (250, 250, 250)]
EVERY = [0, 1, 2, 3, 5, 6, 7]
_ORDER = ("[palette.figures]\ncolours = 8\n", '[palette.figures]\nfile = "art/ada/walk_0.png"\norder = "file"\n')
_DECODERS = calls_of("decode", "sprite", "pool", "background", "palette", "font")


def indexed(path: Path, numbers: np.ndarray, clear: int | bytes | None = 0, colours=COLOURS) -> Path:
    """Save numbers as an indexed PNG."""
    picture = Image.fromarray(numbers.astype(np.uint8)).convert("L")
    picture = Image.frombytes("P", picture.size, picture.tobytes())
    picture.putpalette([value for colour in colours for value in colour])
    picture.save(path, **({} if clear is None else {"transparency": clear}))
    return path


def figure(rank: int, size: tuple[int, int] = (20, 24)) -> np.ndarray:
    """Return numbers of a figure: each of ``EVERY`` occurs, in single pixels and in areas."""
    height, width = size[1], size[0]
    grid = np.zeros((height, width), dtype=np.uint8)
    grid[2:, 3:17] = np.random.default_rng(rank).choice(EVERY, (height - 2, 14))
    grid[12:18, 5:12] = 6
    return grid


def project_of(folder: Path, *changes: tuple[str, str], target: str = "basalt32", more: str = "") -> Path:
    made = make_project(folder, *changes, target=target, more=more)
    for rank in range(2):
        indexed(made / f"art/ada/walk_{rank}.png", figure(rank))
    return made


def in_image(built: Built, name: str) -> np.ndarray:
    """Return the pixels of an asset as the image holds them."""
    folder = built.project.folder / "build"
    entries = {entry.name: entry for entry in as_map(built.map).entries}
    return take(next((folder / "rom").glob("*.rom")), name, entries, built.project.target, _DECODERS).pixels


def check_kept(built: Built, names: list[str], sprite: str = "ada") -> None:
    folder = built.project.folder
    for rank, name in enumerate(names):
        with Image.open(folder / name) as picture:
            numbers = np.asarray(picture)
        height, width = numbers.shape
        assert (in_image(built, sprite)[rank, :height, :width] == numbers).all()


@pytest.mark.parametrize("arrangement", ["sheet", "frames", "pieces"])
@pytest.mark.parametrize("dither", ["none", "ordered", "diffusion"])
def test_pixels_keep_their_numbers(tmp_path, arrangement, dither):
    """Whatever is equal or near in colour, every pixel of the image has the number that the picture gives it."""
    more = f'palette = "figures"\narrangement = "{arrangement}"\ndither = "{dither}"\n'
    changes = (('frames = "art/ada/*.png"\npalette = "figures"\n', f'frames = "art/ada/*.png"\n{more}'), _ORDER)
    built = build_here(project_of(tmp_path / "p", *changes))
    check_kept(built, ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    colours = built.facts["figures"].colours
    assert len(colours) == len(COLOURS), "the unused number 4 is an entry, too"
    # 5 bits a channel, widened by repeating the upper ones: 90 is level 11, shown as 90; 200 is 24, shown as 198.
    assert colours[4] == (90, 90, 198)


def test_numbers_of_a_pool_and_of_another_console_are_kept(tmp_path):
    """So are those of sprites that share a pool of cells, of a sheet cut by a grid, and with a palette that begins elsewhere."""
    pooled = 'palette = "figures"\narrangement = "pieces"\npool = "crowd"\n'
    more = f'[pool.crowd]\n[sprite.bo]\nframes = "art/ada/walk_1.png"\n{pooled}'
    ada = 'frames = "art/ada/*.png"\n'
    changes = ((f'{ada}palette = "figures"\n', ada + pooled), _ORDER)
    built = build_here(project_of(tmp_path / "p", *changes, target="lattice16", more=more))
    check_kept(built, ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    check_kept(built, ["art/ada/walk_1.png"], "bo")


def test_a_sheet_on_a_canvas_and_a_background_keep_their_numbers(tmp_path):
    """Frames cut from one picture and put on a canvas by their feet, and a background on the same palette."""
    more = '[sprite.bo]\nsheet = { file = "art/sheet.png", columns = 2, rows = 1 }\nalign = "bottom"\npalette = "figures"\n'
    changes = (_ORDER, ('palette = "quay_colours"\n', 'palette = "figures"\n'), ("[palette.quay_colours]\ncolours = 8\nfirst = 8\n", ""),
               ('"quay_colours"', '"figures"'))
    folder = project_of(tmp_path / "p", *changes, more=more)
    sheet = np.concatenate([figure(5), np.roll(figure(6), 0)], axis=1)
    sheet[20:, 20:] = 0  # the second ends higher
    indexed(folder / "art/sheet.png", sheet)
    indexed(folder / "art/quay.png", figure(7, (64, 48)).clip(1))
    built = build_here(folder)
    found = in_image(built, "bo")
    for frame, part in zip(found, (sheet[:, :20], sheet[:, 20:]), strict=True):
        rows, columns = np.nonzero(frame)
        drawn = frame[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
        own_rows, own_columns = np.nonzero(part)
        assert (drawn == part[own_rows.min() : own_rows.max() + 1, own_columns.min() : own_columns.max() + 1]).all()
    assert (in_image(built, "quay")[0, :48, :64] == figure(7, (64, 48)).clip(1)).all()


def test_diffusion_keeps_numbers_where_it_keeps_colours(tmp_path):
    """Of equal entries the pixel keeps its own; where the errors of a neighbour ask for another colour, that colour is taken."""
    changes = (_ORDER, ("[sprite.ada]\n", '[sprite.ada]\ndither = "diffusion"\n'))
    folder = project_of(tmp_path / "p", *changes)
    shown = [tuple((value >> 3) * 255 // 31 for value in colour) for colour in COLOURS]  # as a console of 5 bits a channel shows them
    for rank in range(2):
        indexed(folder / f"art/ada/walk_{rank}.png", figure(rank), colours=shown)
    numbers = figure(1)
    check_kept(build_here(folder), ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    between = [*shown[:2], (130, 120, 60), *shown[3:]]
    indexed(folder / "art/ada/walk_1.png", numbers, colours=between)
    found = in_image(build_here(folder), "ada")[1, :24, :20]
    same = np.isin(numbers, (3, 6)) & np.isin(found, (3, 6))
    assert (found[same] == numbers[same]).all()
    assert (found != numbers)[np.isin(numbers, EVERY) & (numbers != 2)].any(), "errors of number 2 reach other numbers"


def test_a_pixel_of_another_colour_takes_the_nearest_entry(tmp_path):
    """A number counts only where the picture has the palette file's colour there; a scaled frame has mixtures and no numbers."""
    other = [COLOURS[0], COLOURS[2], COLOURS[1], *COLOURS[3:]]  # 1 and 2 exchanged
    folder = project_of(tmp_path / "p", _ORDER)
    numbers = figure(1)
    indexed(folder / "art/ada/walk_1.png", numbers, colours=other)
    found = in_image(build_here(folder), "ada")[1, :24, :20]
    assert (found[numbers == 1] == 2).all()
    assert np.isin(found[numbers == 2], (1, 5)).all()  # which one is nearer is not settled by the number
    assert (found[numbers == 6] == 6).all()
    text = (folder / "project.toml").read_text().replace("[sprite.ada]\n", "[sprite.ada]\nscale = 0.5\n")
    write_text(folder, text)
    assert in_image(build_here(folder), "ada").max() < len(COLOURS)


@pytest.mark.parametrize("name", ["colours.gpl", "colours.pal"])
def test_a_text_palette_keeps_its_numbers_with_the_slot_first(tmp_path, name):
    """Number 0 of a text palette is the transparent entry; doubles stay. Without order each colour is taken once, after that entry."""
    order = ("[palette.figures]\ncolours = 8\n", f'[palette.figures]\nfile = "{name}"\norder = "file"\n')
    folder = project_of(tmp_path / "p", order)
    head = "GIMP Palette\n" if name.endswith("gpl") else f"JASC-PAL\n0100\n{len(COLOURS)}\n"
    (folder / name).write_text(head + "".join(f"{red} {green} {blue}\n" for red, green, blue in COLOURS))
    built = build_here(folder)
    check_kept(built, ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    assert built.facts["figures"].entry_count == 8
    write_text(folder, (folder / "project.toml").read_text().replace('order = "file"\n', ""))
    # 8 colours and the slot, less 3 and 6 that are one, and 1 and 5 that the console shows alike.
    assert build_here(folder).facts["figures"].entry_count == 7


def _refused(folder: Path) -> str:
    with pytest.raises(ProjectError) as error:
        build_here(folder)
    return str(error.value)


def test_the_transparent_numbers_must_agree(tmp_path):
    """A file whose transparent number is not the slot's, and one that shows the slot as a colour, are refused with what to do."""
    folder = project_of(tmp_path / "p", _ORDER)
    swapped = np.where(figure(0) == 0, 5, np.where(figure(0) == 5, 0, figure(0)))
    indexed(folder / "art/ada/walk_0.png", swapped, clear=5)
    said = _refused(folder)
    assert "number 5 is transparent, but the palette's transparent entry is number 0" in said
    assert "make number 0 the transparent one" in said
    indexed(folder / "art/ada/walk_0.png", figure(0), clear=None)
    assert "pixels show number 0 as a colour" in _refused(folder)
    write_text(folder, (folder / "project.toml").read_text().replace("transparent = true\n", ""))
    assert "keeps no entry for transparent pixels" in "\n".join(problems(folder))


def test_a_background_palette_takes_no_transparent_number(tmp_path):
    """Without an entry for transparent pixels, a transparent number would be shown."""
    table = "[palette.quay_colours]\n"
    order = (f"{table}colours = 8\nfirst = 8\n", f'{table}file = "art/quay.png"\norder = "file"\nfirst = 8\n')
    folder = project_of(tmp_path / "p", order)
    numbers = np.tile(figure(3), (2, 3))[:48, :60]
    indexed(folder / "art/quay.png", numbers)
    assert "number 0 is transparent, palette 'quay_colours' keeps no transparent entry" in _refused(folder)
    indexed(folder / "art/quay.png", numbers, clear=None)
    assert (in_image(build_here(folder), "quay")[0, :48, :60] == numbers + 8).all()


def test_entries_above_the_palette_are_refused_unless_unused(tmp_path):
    """A paint program that always writes 256 colours does no harm; a pixel that uses one of those above does."""
    more = [*COLOURS, *[(0, 0, 0)] * 248]
    changed = (_ORDER[0], _ORDER[1] + "colours = 8\n")
    folder = project_of(tmp_path / "p", changed)
    indexed(folder / "art/ada/walk_0.png", figure(0), colours=more)
    built = build_here(folder)
    check_kept(built, ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    assert built.facts["figures"].entry_count == 8
    numbers = figure(0)
    numbers[3, 4] = 9
    indexed(folder / "art/ada/walk_0.png", numbers, colours=more)
    assert "uses number 9, palette 'figures' holds numbers 0 to 7" in _refused(folder)
    numbers[3, 4] = 8
    indexed(folder / "art/ada/walk_0.png", numbers, colours=COLOURS)
    assert "pixels have number 8, and the file's last colour is number 7" in _refused(folder)


def test_exact_holds_for_numbered_palettes(tmp_path):
    """With exact, art with another colour is refused."""
    folder = project_of(tmp_path / "p", (_ORDER[0], _ORDER[1] + "exact = true\n"))
    check_kept(build_here(folder), ["art/ada/walk_0.png", "art/ada/walk_1.png"])
    indexed(folder / "art/ada/walk_1.png", figure(1), colours=[*COLOURS[:7], (0, 255, 0)])
    assert "the art has 1 colour that the file lacks" in _refused(folder)


def test_order_needs_a_file_with_numbers(tmp_path):
    """Order without a file, with a kind of picture whose numbers are not read, and with a picture that has none."""
    folder = project_of(tmp_path / "p")
    text = (folder / "project.toml").read_text()
    shutil.copy(folder / "art/ada/walk_0.png", folder / "art/colours.png")
    with Image.open(folder / "art/colours.png") as picture:
        picture.convert("RGBA").save(folder / "art/true.png")
        picture.save(folder / "art/colours.gif")
    write_text(folder, text.replace("[palette.figures]\n", '[palette.figures]\norder = "file"\n'))
    assert any("'file', and the palette is computed" in line for line in problems(folder))
    write_text(folder, text.replace("[palette.figures]\n", '[palette.figures]\norder = "file"\nfile = "art/colours.gif"\n'))
    assert any("is not a kind of file whose numbers are read" in line for line in problems(folder))
    write_text(folder, text.replace("[palette.figures]\n", '[palette.figures]\norder = "file"\nfile = "art/true.png"\n'))
    load_project(folder)
    assert "is not an indexed picture" in _refused(folder)
