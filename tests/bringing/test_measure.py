"""What is measured of pictures: grids, gaps, figures apart, key colours, strips; against sheets drawn here with known cells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from pipeline.bringing.measuring.cells import full_cells
from pipeline.bringing.measuring.measure import measure
from pipeline.bringing.records import Found
from pipeline.bringing.sheets import grid_of, is_parted, is_strip_of_cells, row_animations, source_keys


def figure(width: int, height: int, turn: int) -> Image.Image:
    """Return a figure that nearly fills a cell and differs with ``turn``."""
    picture = Image.new("RGBA", (width, height))
    draw = ImageDraw.Draw(picture)
    draw.ellipse((1 + turn % 2, 1, width - 2, height - 2), fill=(200, 80, 40, 255))
    draw.rectangle((width // 2 - 1, 1 + turn % 3, width // 2 + 1, height - 2), fill=(20, 20, 60 + turn, 255))
    return picture


def sheet(columns: int, rows: int, size: tuple[int, int], gap: int = 0, margin: int = 0, count: int | None = None) -> np.ndarray:
    """Return a sheet of figures: uint8, shape (height, width, 4)."""
    width, height = (2 * margin + many * side + (many - 1) * gap for many, side in zip((columns, rows), size, strict=True))
    picture = Image.new("RGBA", (width, height))
    for rank in range(columns * rows if count is None else count):
        place = tuple(margin + at * (side + gap) for at, side in zip((rank % columns, rank // columns), size, strict=True))
        picture.paste(figure(*size, rank), place)
    return np.array(picture)


@given(st.integers(1, 8), st.integers(1, 6), st.integers(10, 40), st.integers(10, 40))
def test_cells_are_found(columns, rows, width, height):
    """Any grid of three cells or more."""
    if columns * rows < 3:
        return
    grid = grid_of("a.png", measure(sheet(columns, rows, (width, height))))
    assert grid is not None
    assert (grid.columns, grid.rows, grid.count, grid.cuts) == (columns, rows, columns * rows, False)


@pytest.mark.parametrize(("gap", "margin"), [(2, 2), (1, 0), (3, 1)])
def test_gaps_and_margins_are_found(gap, margin):
    """Nothing drawn outside the cells, which are those that were drawn."""
    grid = grid_of("a.png", measure(sheet(4, 3, (24, 24), gap, margin)))
    assert grid is not None
    assert (grid.columns, grid.rows) == (4, 3)
    cell = grid.cell(5)
    assert cell.left <= margin + 24 + gap + 1
    assert cell.left + cell.width >= margin + 2 * 24 + gap - 1


def test_last_cells_may_be_empty():
    """Seven of eight."""
    grid = grid_of("a.png", measure(sheet(4, 2, (20, 20), count=7)))
    assert grid is not None
    assert (grid.count, grid.rows_used) == (7, (4, 3))


def test_name_says_the_cells():
    """Where the picture does not: a sheet drawn on everywhere."""
    noise = np.random.default_rng(1).integers(0, 255, (32, 96, 4), dtype=np.uint8)
    noise[..., 3] = 255
    look = measure(noise)
    assert grid_of("lava.png", look) is None
    for name, cells in (("lava_32x32.png", (3, 1)), ("lava_16X16.png", (6, 2)), ("lava_strip6.png", (6, 1))):
        grid = grid_of(name, look)
        assert grid is not None
        assert (grid.columns, grid.rows) == cells


def test_water_repeats_with_changes_and_a_pattern_does_not():
    """Eight frames of waves that fill their cells; the same frame eight times is a pattern."""
    x, y = np.meshgrid(np.arange(64), np.arange(32))
    still = [120 + 60 * np.sin((x + y) / 9), 90 + 2 * y]
    frames = [np.stack([*still, 200 + 30 * np.sin(x / 5 + rank), 255 + 0 * x], axis=-1) for rank in range(8)]
    grid = grid_of("water.png", measure(np.concatenate(frames, axis=1).astype(np.uint8)))
    assert grid is not None
    assert (grid.columns, grid.rows) == (8, 1)
    assert grid_of("bricks.png", measure(np.concatenate(frames[:1] * 8, axis=1).astype(np.uint8))) is None


def full_cells_of(columns: int, rows: int, side: int, seed: int = 1) -> np.ndarray:
    """Return squares that are full to their edges, each a slope between two colours of its own: uint8, shape (height, width, 4)."""
    chance = np.random.default_rng(seed)
    slope = np.linspace(0, 1, side)[:, None, None] * np.ones((1, side, 1))
    cells = [[chance.integers(0, 200, 3) + 55 * slope for _ in range(columns)] for _ in range(rows)]
    whole = np.concatenate([np.concatenate(row, axis=1) for row in cells], axis=0)
    return np.dstack([whole, np.full(whole.shape[:2], 255)]).astype(np.uint8)


@pytest.mark.parametrize(("columns", "rows", "side"), [(12, 1, 25), (5, 1, 32), (8, 6, 16), (16, 15, 32)])
def test_full_squares_are_found_and_are_no_animation(columns, rows, side):
    """Tiles and icons that touch one another; the screen's size does not make a background of them."""
    look = measure(full_cells_of(columns, rows, side))
    grid = grid_of("level.png", look)
    assert grid is not None
    assert (grid.columns, grid.rows, grid.things) == (columns, rows, True)
    assert is_strip_of_cells(look)
    assert row_animations(grid) == ()


def test_pictures_that_are_not_full_squares():
    """One slope, noise, a repeated pattern, and the blocks of a lossy format: none has cells."""
    slope = np.full((128, 160, 4), 255, dtype=np.uint8)
    slope[..., 0] = np.arange(160)
    noise = np.random.default_rng(2).integers(0, 255, (128, 160, 4), dtype=np.uint8)
    noise[..., 3] = 255
    pattern = np.tile(full_cells_of(1, 1, 32), (6, 6, 1))
    bar = np.full((16, 128, 4), 255, dtype=np.uint8)
    bar[:, 70:, :3] = 60
    for pixels in (slope, noise, pattern, bar):
        assert full_cells(pixels, lossy=False) is None
    assert full_cells(full_cells_of(8, 8, 16), lossy=False)
    assert full_cells(full_cells_of(8, 8, 16), lossy=True) is None


def test_letters_are_a_picture_and_not_figures():
    """Five letters close to one another in a line; as far apart as they are high, they are figures."""
    for gap, parted in ((3, False), (30, True)):
        word = np.zeros((50, 300, 4), dtype=np.uint8)
        for rank, width in enumerate((16, 22, 13, 25, 19)):
            left = 7 + sum((16, 22, 13, 25, 19)[:rank]) + gap * rank
            word[10:40, left : left + width] = (200, 30, 60 + rank, 255)
        look = measure(word)
        assert len(look.parts) == 5
        assert is_parted("start.png", look) == parted
        assert not is_parted("title.png", look)


def test_row_that_ends_before_its_picture_does():
    """Five cells of 24 in a picture of 128: the project file needs the frame's size."""
    padded = np.zeros((32, 128, 4), dtype=np.uint8)
    for rank in range(5):
        padded[4:28, 24 * rank + 3 : 24 * rank + 20] = (200, 60 + rank, 20, 255)
    grid = grid_of("run.png", measure(padded))
    assert grid is not None
    assert (grid.columns, grid.rows, grid.frame, grid.whole) == (5, 1, (24, 32), False)
    assert source_keys(Found("sprite", "run", ("run.png",), "", "", source="sheet", grid=grid), "run.png") == {
        "sheet": {"file": "run.png", "frame": [24, 32], "columns": 5, "rows": 1}
    }


def test_figures_apart_on_a_key_colour():
    """Five figures of several sizes on magenta; the corners say what is nothing."""
    picture = Image.new("RGB", (150, 80), (255, 0, 255))
    for left, top, width, height in ((5, 6, 30, 20), (44, 3, 26, 24), (80, 8, 34, 18), (12, 42, 38, 28), (70, 44, 33, 25)):
        ImageDraw.Draw(picture).ellipse((left, top, left + width, top + height), fill=(40, 160, 60))
    look = measure(np.array(picture.convert("RGBA")))
    assert (look.key and look.key.colour, len(look.parts), is_parted("beetles.png", look)) == ("#ff00ff", 5, True)


def test_one_figure_is_not_a_sheet():
    """Whole, however it is drawn."""
    look = measure(np.array(figure(40, 40, 0)))
    assert grid_of("a.png", look) is None
    assert not is_parted("a.png", look)


def test_strip_of_colours():
    """Eight blocks of eight colours; two blocks of one colour are not a strip."""
    colours = np.zeros((8, 64, 4), dtype=np.uint8)
    colours[..., 0], colours[..., 3] = np.arange(64) // 8 * 30, 255
    assert measure(colours).strip
    colours[:, 56:] = colours[:, :8]
    assert not measure(colours).strip
    assert not measure(colours[:4, :32:8]).strip  # a slope of 4 x 4 pixels is the edge of a frame, and not a palette


@pytest.mark.parametrize(
    ("columns", "rows", "side", "found"),
    [(8, 8, 12, True), (9, 9, 11, False), (7, 8, 12, False), (4, 4, 128, True), (4, 4, 129, False), (4, 4, 24, True), (3, 4, 40, False)],
)
def test_squares_of_several_rows_have_bounds(columns, rows, side, found):
    """12 to 128 pixels across, four in each direction, 96 pixels in all; common practice, no source."""
    grid = full_cells(full_cells_of(columns, rows, side), lossy=False)
    assert (grid is not None and grid.frame == (side, side)) == found
