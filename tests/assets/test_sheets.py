"""Sheets cut on grids with margins and gaps, boxes found and read, canvases, anchors and key colours."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.assets.backgrounds.prepare import prepare_background
from pipeline.assets.fonts.source import StripSource
from pipeline.assets.sources.canvas import without_marker
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Background, Font, Sheet, Sprite
from pipeline.target.calls import Call
from pipeline.target.records import SpriteLimits

BOXED = Call("pipeline.assets.sources.boxes:boxed")
RED, BLUE, MAGENTA = (220, 40, 30, 255), (30, 60, 200, 255), (255, 0, 255, 255)


def prepare(folder: Path, boxes: bool = False, names: tuple[str, ...] = ("s.png",), **keys) -> tuple[PreparedFrames, str]:
    """Prepare a sprite; return its frames and what the step says."""
    spec, files = Sprite(**keys), frame_files(folder, "ada")
    found, cuts = (folder / "s.boxes.toml", BOXED) if boxes else (None, None), folder / "build/work/ada.cuts.png"
    limits = SpriteLimits(max_width=4096, max_height=4096)
    said = prepare_sprite(Sources(folder, names), files, "ada", spec, limits, *found, cuts)
    return PreparedFrames(files), said


def refused(folder: Path, *args, **keys) -> str:
    """Return the refusal of a sprite."""
    with pytest.raises(ProjectError) as raised:
        prepare(folder, *args, **keys)
    return str(raised.value)


def spaced(cell: tuple[int, int], grid: tuple[int, int], margin: tuple[int, int], gap: tuple[int, int], end: tuple[int, int] | None = None):
    """Return a sheet whose frames are filled ellipses of differing colours, touching the edges of their cells."""
    ends = margin if end is None else end
    size = [margin[way] + grid[way] * (cell[way] + gap[way]) - gap[way] + ends[way] for way in (0, 1)]
    picture = Image.new("RGBA", tuple(size))
    draw = ImageDraw.Draw(picture)
    for rank in range(grid[0] * grid[1]):
        left, top = (margin[way] + place * (cell[way] + gap[way]) for way, place in enumerate((rank % grid[0], rank // grid[0])))
        draw.ellipse((left, top, left + cell[0] - 1, top + cell[1] - 1), fill=(250 - rank * 9, 40, rank * 9, 255))
    return picture


@pytest.mark.parametrize("margin", [(0, 0), (3, 5)])
@pytest.mark.parametrize("gap", [(0, 0), (2, 1)])
@pytest.mark.parametrize("given", [("columns", "rows"), ("frame",), ("columns", "frame", "rows"), ("frame", "rows")])
def test_frames_of_a_grid_are_pillows_crops(tmp_path, margin, gap, given):
    """Pillow's crop at the places of the grid, whichever of the keys are left out. At gap 0 neighbours touch, so cut is set."""
    cell, grid = (16, 24), (4, 3)
    picture = spaced(cell, grid, margin, gap)
    picture.save(tmp_path / "s.png")
    every = {"columns": 4, "rows": 3, "frame": cell}
    sheet = Sheet(file="s.png", margin=list(margin), gap=list(gap), cut="anyway", count=11, **{key: every[key] for key in given})
    frames, _ = prepare(tmp_path, sheet=sheet)
    boxes = [(margin[0] + x * (cell[0] + gap[0]), margin[1] + y * (cell[1] + gap[1])) for y in range(3) for x in range(4)]
    expected = [np.asarray(picture.crop((x, y, x + cell[0], y + cell[1]))) for x, y in boxes[:11]]
    assert all(np.array_equal(one, other) for one, other in zip(frames, expected, strict=True))


@pytest.mark.parametrize("end", [(0, 0), (2, 1), (5, 6)])
def test_a_gap_or_margin_after_the_last_frame_may_be_missing(tmp_path, end):
    """Common practice, no source: editors write the gap after each frame, or only between them."""
    spaced((16, 24), (4, 3), (3, 5), (2, 1), end).save(tmp_path / "s.png")
    frames, _ = prepare(tmp_path, sheet=Sheet(file="s.png", frame=(16, 24), margin=[3, 5], gap=[2, 1]))
    assert (frames.count, frames.width, frames.height) == (12, 16, 24)


@pytest.mark.parametrize(
    ("margin", "gap", "asked", "likeliest"),
    [
        ((0, 0), (2, 2), {"columns": 5, "rows": 3}, "frame = [16, 24], gap = 2 (5 x 3)"),
        ((1, 1), (1, 1), {"frame": (16, 24)}, "frame = [16, 24], margin = 1, gap = 1 (5 x 3)"),
        ((4, 0), (4, 0), {"columns": 5, "rows": 3}, "frame = [16, 24], margin = [4, 0], gap = [4, 0] (5 x 3)"),
    ],
)
def test_a_sheet_that_does_not_divide_is_told_what_would(tmp_path, margin, gap, asked, likeliest):
    """The grid the sheet was made with comes first; measured from its empty lines."""
    spaced((16, 24), (5, 3), margin, gap).save(tmp_path / "s.png")
    text = refused(tmp_path, sheet=Sheet(file="s.png", **asked))
    assert "do not divide" in text
    assert f"likeliest first: {likeliest}" in text


def test_a_grid_that_divides_but_cuts_is_told_what_is_likely(tmp_path):
    """100 pixels make five columns of 20, while figures of 16 have a margin of 4 with gaps of 3."""
    spaced((16, 24), (5, 3), (4, 1), (3, 1)).save(tmp_path / "s.png")
    text = refused(tmp_path, sheet=Sheet(file="s.png", columns=5, rows=2))
    assert "by its empty lines, frame = [16, 24], margin = [4, 1], gap = [3, 1] (5 x 3) is likely" in text


def test_a_cut_through_a_figure_is_refused_and_shown(tmp_path):
    """A grid half a cell off cuts every figure; the picture has the cut pixels in magenta. Common practice, no source."""
    picture = Image.new("RGBA", (64, 32))
    ImageDraw.Draw(picture).rectangle((40, 10, 52, 20), fill=RED)  # over the line at 48
    picture.save(tmp_path / "s.png")
    sheet = Sheet(file="s.png", columns=4, rows=1)
    text = refused(tmp_path, sheet=sheet)
    assert "s.png: is cut through opaque pixels: frame 2 at 47, 10 (11 pixels), frame 3 at 48, 10 (11 pixels)" in text
    assert 'see build/work/ada.cuts.png' in text
    assert 'cut = "anyway"' in text
    shown = np.asarray(Image.open(tmp_path / "build/work/ada.cuts.png"))
    times = shown.shape[1] // 64
    marked = (shown[::times, ::times] == (255, 0, 255)).all(axis=-1)
    assert sorted(map(tuple, np.argwhere(marked).tolist())) == [(y, x) for y in range(10, 21) for x in (47, 48)]
    frames, _ = prepare(tmp_path, sheet=Sheet(file="s.png", columns=4, rows=1, cut="anyway"))
    assert frames.count == 4
    assert not (tmp_path / "build/work/ada.cuts.png").exists()
    assert not isinstance(prepare(tmp_path, sheet=Sheet(file="s.png", columns=2, rows=1)), str)


@pytest.mark.parametrize(("reach", "cut"), [(0, False), (3, True)])
def test_figures_that_only_touch_are_not_cut(tmp_path, reach, cut):
    """Two pixels of two whole figures side by side are a touch; a sword of the one over the line is a cut. Common practice, no source."""
    picture = Image.new("RGBA", (64, 32))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((12, 4, 30, 28), fill=RED)
    draw.rectangle((40, 4, 56, 28), fill=BLUE)
    draw.rectangle((31, 12, 31 + reach, 13), fill=RED)
    if not reach:
        draw.rectangle((32, 12, 40, 13), fill=BLUE)
    picture.save(tmp_path / "s.png")
    sheet = Sheet(file="s.png", columns=2, rows=1)
    if cut:
        assert "frame 0 at 31, 12 (2 pixels), frame 1 at 32, 12 (2 pixels)" in refused(tmp_path, sheet=sheet)
    else:
        assert prepare(tmp_path, sheet=sheet)[0].count == 2


def figures(tmp_path: Path) -> Image.Image:
    """Draw three figures of different sizes, one of two parts with two clear pixels between them, in two rows."""
    picture = Image.new("RGBA", (100, 80))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((4, 2, 13, 9), fill=BLUE)  # a head
    draw.rectangle((2, 12, 15, 30), fill=RED)  # and its body
    draw.rectangle((40, 8, 51, 30), fill=RED)
    draw.rectangle((20, 50, 49, 60), fill=BLUE)
    picture.save(tmp_path / "s.png")
    return picture


BOXES = [(2, 2, 14, 29), (40, 8, 12, 23), (20, 50, 30, 11)]


def test_boxes_are_found_once_and_then_the_authors(tmp_path):
    """Two parts are one figure; the file gives the same frames as finding did, is not written again, and an edit of it counts."""
    figures(tmp_path)
    keys = {"sheet": Sheet(file="s.png", boxes="found"), "align": "anchors"}
    frames, said = prepare(tmp_path, True, **keys)
    file = tmp_path / "s.boxes.toml"
    first, text = [frame.copy() for frame in frames], file.read_text()
    assert "3 frames found, joined over 2 pixels, written to s.boxes.toml" in said
    assert [f"box = {list(box)}" in text for box in BOXES] == [True] * 3
    assert "anchor = [9, 31]" in text
    assert "anchor = [35, 61]" in text
    again, said = prepare(tmp_path, True, **keys)
    assert all(np.array_equal(one, other) for one, other in zip(again, first, strict=True))
    assert (said, file.read_text()) == ("3 frames, 30 x 29 pixels", text)
    file.write_text(text.replace("[35, 61]", "[20, 61]"))
    assert prepare(tmp_path, True, **keys)[0].width == 37  # 7 to the left of the anchor, 30 to the right


def test_feet_of_boxes_come_to_one_place(tmp_path):
    """Feet of each frame, found again in the prepared pixels, are at the anchor of all."""
    figures(tmp_path)
    frames, _ = prepare(tmp_path, True, sheet=Sheet(file="s.png", boxes="found"), align="anchors")
    for frame in frames:
        rows, columns = np.nonzero(frame[..., 3])
        lowest = columns[rows == rows.max()]
        assert ((lowest.min() + lowest.max() + 1) // 2, rows.max() + 1) == frames.facts.anchor


def test_pixels_of_a_neighbour_in_a_box_are_not_drawn(tmp_path):
    """Boxes overlap: an island wholly in one box is drawn there alone. Common practice, no source."""
    picture = Image.new("RGBA", (60, 40))
    draw = ImageDraw.Draw(picture)
    draw.line((2, 2, 2, 30), fill=RED)
    draw.line((2, 30, 30, 30), fill=RED)  # an L with a dot in its corner
    draw.rectangle((15, 10, 18, 13), fill=BLUE)
    picture.save(tmp_path / "s.png")
    sheet = Sheet(file="s.png", boxes="found", join=0)
    frames, _ = prepare(tmp_path, True, sheet=sheet, align="top")
    ell, dot = (frame for frame in frames)
    assert (ell[..., 3] > 0).sum() == 29 + 28
    assert (dot[..., 3] > 0).sum() == 16


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("[[frame]]\nbox = [90, 70, 20, 20]\n", "line 2, [[frame]] number 1 box: [90, 70, 20, 20] reaches to 110, 90; s.png has 100 x 80"),
        ("[[frame]]\nbox = [0, 0, 8, 40]\n", "s.png: is cut through opaque pixels: frame 0 at 7, 2"),
        ("[[frame]]\nbox = [1, 2, 3]\n", "[[frame]] number 1 box"),
        ("[[frame]\n", "not TOML"),
        ("join = 3\n", "there is no frame"),
        ("[[frame]]\nbox = [0, 0, 0, 4]\n", "box"),
    ],
)
def test_a_damaged_boxes_file_is_refused(tmp_path, text, wrong):
    """With file, line and key; and left as it is."""
    figures(tmp_path)
    (tmp_path / "s.boxes.toml").write_text(text)
    assert wrong in refused(tmp_path, True, sheet=Sheet(file="s.png", boxes="found"), align="anchors")
    assert (tmp_path / "s.boxes.toml").read_text() == text


def test_what_is_in_no_box_is_pointed_out(tmp_path):
    """A figure drawn after the boxes were found."""
    figures(tmp_path)
    (tmp_path / "s.boxes.toml").write_text("[[frame]]\nbox = [0, 0, 20, 40]\n[[frame]]\nbox = [40, 0, 20, 40]\n")
    _, said = prepare(tmp_path, True, sheet=Sheet(file="s.png", boxes="found"), align="anchors")
    assert "330 opaque pixels are in no box of s.boxes.toml, the first at 20, 50" in said


def test_sheets_in_which_nothing_is_found(tmp_path):
    """All opaque, nothing opaque, too many islands, one frame."""
    keys = {"sheet": Sheet(file="s.png", boxes="found", join=0), "align": "bottom"}
    picture = Image.new("RGBA", (20, 20), MAGENTA)
    ImageDraw.Draw(picture).rectangle((5, 5, 9, 9), fill=RED)
    picture.save(tmp_path / "s.png")
    assert 'has no transparent pixel, so no figure ends\n    write key = "#ff00ff"' in refused(tmp_path, True, **keys)
    frames, _ = prepare(tmp_path, True, key=("#ff00ff",), **keys)
    assert (frames.count, frames.width, frames.height) == (1, 5, 5)
    (tmp_path / "s.boxes.toml").unlink()
    Image.new("RGBA", (20, 20)).save(tmp_path / "s.png")
    assert "has no opaque pixel" in refused(tmp_path, True, **keys)
    dots = np.zeros((140, 140, 4), dtype=np.uint8)
    dots[::2, ::2] = RED
    Image.fromarray(dots).save(tmp_path / "s.png")
    assert "has 4,900 figures, at most 4,096 are taken" in refused(tmp_path, True, **keys)
    assert not (tmp_path / "s.boxes.toml").exists()


SIZES = [(10, 20), (11, 20), (14, 26)]


def sized(folder: Path, sizes: list[tuple[int, int]]) -> tuple[str, ...]:
    """Draw a file for each size, full to its edges."""
    for rank, size in enumerate(sizes):
        Image.new("RGBA", size, (200, 10 * rank, 30, 255)).save(folder / f"{rank}.png")
    return tuple(f"{rank}.png" for rank in range(len(sizes)))


@pytest.mark.parametrize(
    ("align", "places"),
    [("bottom", [(2, 6), (2, 6), (0, 0)]), ("centre", [(2, 3), (2, 3), (0, 0)]), ("top", [(2, 0), (2, 0), (0, 0)])],
)
def test_files_of_different_sizes_are_put_on_one_canvas(tmp_path, align, places):
    """Each frame is where half of its width is over half of the canvas's. Reference: numpy slices."""
    frames, _ = prepare(tmp_path, names=sized(tmp_path, SIZES), frames="*.png", align=align)
    assert (frames.width, frames.height) == (14, 26)
    for frame, (left, top), (width, height) in zip(frames, places, SIZES, strict=True):
        expected = np.zeros((26, 14), dtype=bool)
        expected[top : top + height, left : left + width] = True
        assert np.array_equal(frame[..., 3] > 0, expected)


def test_the_odd_one_out_is_named(tmp_path):
    """Three of one size and one of another, which comes first: the one is wrong, not the three."""
    text = refused(tmp_path, names=sized(tmp_path, [(9, 9), (8, 8), (8, 8), (8, 8)]), frames="*.png")
    assert text.startswith("0.png: 9 x 9 pixels, 3 of 4 frames have 8 x 8\n")
    assert 'align = "bottom"' in text
    assert "1.png" not in text


def marked(folder: Path, *places: tuple[int, int]) -> tuple[str, ...]:
    """Draw a figure with a marker pixel in each file."""
    for rank, place in enumerate(places):
        picture = Image.new("RGBA", (20, 20))
        ImageDraw.Draw(picture).rectangle((4, 4, 11, 15), fill=BLUE)
        picture.putpixel(place, (255, 0, 0, 255))
        picture.save(folder / f"{rank}.png")
    return tuple(f"{rank}.png" for rank in range(len(places)))


def test_markers_give_anchors_and_are_not_drawn(tmp_path):
    """On the figure its colour is drawn instead, at its edge too; beside it nothing."""
    frames, _ = prepare(tmp_path, names=marked(tmp_path, (7, 15), (8, 10), (7, 16)), frames="*.png", align="anchors", marker="#ff0000")
    assert frames.facts.anchor == (8, 16)
    for frame, (left, top) in zip(frames, [(1, 1), (0, 6), (1, 0)], strict=True):
        expected = np.zeros((frames.height, frames.width, 4), dtype=np.uint8)
        expected[top + 4 : top + 16, left + 4 : left + 12] = BLUE
        assert np.array_equal(frame, expected)


def test_a_marker_that_is_missing_or_twice_is_refused(tmp_path):
    """Every frame at fault is named, with where the pixels are."""
    names = marked(tmp_path, (7, 15), (7, 14), (7, 13))
    with Image.open(tmp_path / "1.png") as picture:
        picture.putpixel((5, 5), (255, 0, 0, 255))
        picture.save(tmp_path / "1.png")
    Image.new("RGBA", (20, 20), BLUE).save(tmp_path / "2.png")
    text = refused(tmp_path, names=names, frames="*.png", align="anchors", marker="#ff0000")
    assert "1.png: has 2 pixels of the marker's colour #ff0000: (5, 5), (7, 14)" in text
    assert "2.png: has no pixel of the marker's colour #ff0000" in text
    assert "0.png" not in text


def test_markers_of_found_figures_go_into_their_boxes(tmp_path):
    """A marker on a figure and one beside its feet: both are anchors in the file, neither is drawn."""
    picture = figures(tmp_path)
    picture.putpixel((5, 20), (255, 0, 0, 255))
    picture.putpixel((46, 31), (255, 0, 0, 255))
    picture.putpixel((30, 55), (255, 0, 0, 255))
    picture.save(tmp_path / "s.png")
    keys = {"sheet": Sheet(file="s.png", boxes="found"), "align": "anchors", "marker": "#ff0000"}
    frames, _ = prepare(tmp_path, True, **keys)
    text = (tmp_path / "s.boxes.toml").read_text()
    assert [f"anchor = {list(place)}" in text for place in ((5, 20), (46, 31), (30, 55))] == [True] * 3
    assert frames.facts.anchor == (10, 23)
    assert [int((frame[..., 3] > 0).sum()) for frame in frames] == [8 * 10 + 19 * 14, 23 * 12, 11 * 30]
    assert not any((frame[..., :3] == (255, 0, 0)).all(axis=-1).any() for frame in frames)
    picture.putpixel((5, 21), (255, 0, 0, 255))
    picture.save(tmp_path / "s.png")
    (tmp_path / "s.boxes.toml").unlink()
    assert "s.png figure at 2, 2: has 2 pixels of the marker's colour #ff0000" in refused(tmp_path, True, **keys)


@pytest.mark.parametrize(("tolerance", "left"), [(0, 5), (7, 5), (8, 4)])
def test_key_colours_are_cleared_within_their_tolerance(tmp_path, tolerance, left):
    """Several colours, and each channel at most the tolerance away. Common practice, no source."""
    picture = Image.new("RGB", (4, 3), MAGENTA[:3])
    for place, colour in enumerate([(1, 2, 3), (255, 8, 255), (255, 0, 246), (254, 9, 255), (0, 255, 0), (9, 9, 9)]):
        picture.putpixel((place % 4, place // 4), colour)
    picture.save(tmp_path / "s.png")
    frames, said = prepare(tmp_path, frames="s.png", key=("#ff00ff", "#00ff00"), tolerance=tolerance)
    assert sum((frame[..., 3] > 0).sum() for frame in frames) == left
    assert said == "1 frame, 4 x 3 pixels"


def test_a_likely_key_is_pointed_out_once(tmp_path):
    """Two frames on magenta; one colour all over says nothing, and transparency says enough."""
    for rank in range(2):
        picture = Image.new("RGB", (8, 8), MAGENTA[:3])
        picture.putpixel((4, 4), (rank, 0, 0))
        picture.save(tmp_path / f"{rank}.png")
    hint = '0.png has no transparency and #ff00ff around it: if that means transparent, write key = "#ff00ff"'
    names = ("0.png", "1.png")
    assert prepare(tmp_path, names=names, frames="*.png")[1] == f"2 frames, 8 x 8 pixels; {hint}"
    for colour in (MAGENTA, (255, 0, 255, 254)):
        Image.new("RGBA", (8, 8), colour).save(tmp_path / "s.png")
        assert prepare(tmp_path, frames="s.png")[1] == "1 frame, 8 x 8 pixels"


def test_the_key_of_a_background_is_black_and_of_a_strip_clear(tmp_path):
    """Nothing shows through a background; of a strip without transparency the key to write is named."""
    picture = Image.new("RGB", (8, 4), MAGENTA[:3])
    picture.putpixel((1, 1), RED[:3])
    picture.putpixel((6, 2), BLUE[:3])
    picture.save(tmp_path / "s.png")
    files = frame_files(tmp_path, "hill")
    prepare_background(Sources(tmp_path, ("s.png",)), files, "hill", Background(file="s.png", key=("#ff00ff",)))
    [frame] = PreparedFrames(files)
    assert sorted({tuple(pixel) for pixel in frame.reshape(-1, 4).tolist()}) == [(0, 0, 0, 255), BLUE, RED]
    strip = {"file": "s.png", "cell": (4, 4), "order": "AB"}
    StripSource(tmp_path, "s.png", Font(**strip, key=("#ff00ff",)))
    with pytest.raises(ProjectError, match='or write key = "#ff00ff"'):
        StripSource(tmp_path, "s.png", Font(**strip))


def test_marker_beside_the_figure_becomes_nothing():
    """A pixel of it with one opaque neighbour is clear, and so black; between two it takes their colour."""
    picture = Image.new("RGBA", (5, 3))
    for place, colour in {(0, 1): (9, 8, 7, 255), (1, 1): (255, 0, 0, 255), (3, 1): (255, 0, 0, 1)}.items():
        picture.putpixel(place, colour)
    assert [without_marker(picture, "#ff0000").getpixel((x, 1)) for x in range(5)] == [(9, 8, 7, 255), *[(0, 0, 0, 0)] * 4]
    picture.putpixel((2, 1), (9, 8, 7, 255))
    assert without_marker(picture, "#ff0000").getpixel((1, 1)) == (9, 8, 7, 255)
