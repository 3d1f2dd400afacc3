"""How source art is looked at, up to every limit: keys, grids, cuts, boxes, canvases, sizes; against plain reckonings, or as it was.

The limits are choices. What is recorded was looked at; if a change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

import functools
import io
import itertools
import json
import random
import struct
import zlib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from pipeline.assets.sources import (
    boxes,
    canvas,
    file_frames,
    frames,
    islands,
    keyed,
    pictures,
    png_rows,
    prepare,
    prepared,
    sample,
    sheets,
    structure,
)
from pipeline.assets.sources.grid import read_grid
from pipeline.joints.places import FrameFiles, Sources, frame_files
from pipeline.joints.views import WorstFrameView
from pipeline.plain import bounds
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Background, Sheet, Sprite
from pipeline.target.calls import Call
from pipeline.target.records import SpriteLimits
from tests.limits import Ramp, recorded
from tests.pixels.chance import few_colours, hash_of_values, pixels
from tests.recorded import differing

ROOMY = SpriteLimits(max_width=4096, max_height=4096)


def said(function: Callable[[], Any]) -> str:
    """Return what a function returns, or refuses, as text."""
    try:
        return str(function())
    except ProjectError as error:
        return str(error)


def ground(size: tuple[int, int], inside: tuple[int, int, int, int], border: int = 0, far: int = 0) -> np.ndarray:
    """Return opaque magenta with a green rectangle, some of the border's pixels black, and the upper half of the ground changed."""
    whole = np.full((size[1], size[0], 4), (200, 0, 200, 255), dtype=np.uint8)
    whole[: size[1] // 2, :, 0] += far
    left, top, width, height = inside
    whole[top : top + height, left : left + width] = (20, 200, 40, 255)
    whole[0, 1 : 1 + border] = whole[-1, 1 : 1 + border] = (0, 0, 0, 255)
    return whole


def grounded(pixel: tuple[int, int], value: int) -> np.ndarray:
    whole = ground((8, 8), (2, 2, 3, 3))
    whole[pixel] = (value, 0, 200, 255)
    return whole


def clear_at(alpha: int) -> np.ndarray:
    whole = ground((8, 8), (2, 2, 3, 3))
    whole[4, 4, 3] = alpha
    return whole


KEYS: dict[str, Ramp] = {
    "side": (lambda side: keyed.likely_key(ground((side, 9), (1, 3, 1, 3))), 1, 9),
    "height": (lambda side: keyed.likely_key(ground((9, side), (3, 1, 3, 1))), 1, 9),
    "border that differs": (lambda many: keyed.likely_key(ground((20, 6), (3, 2, 4, 2), many)), 0, 18),
    "border that differs in a lossy picture": (lambda many: keyed.likely_key(ground((40, 4), (3, 1, 4, 2), many), True), 0, 38),
    "figure": (lambda high: keyed.likely_key(ground((40, 40), (1, 1, 38, high))), 0, 38),
    "wide figure": (lambda wide: keyed.likely_key(ground((20, 30), (0, 1, wide, 28))), 0, 20),
    "ground that varies": (lambda far: keyed.likely_key(ground((20, 20), (4, 4, 8, 8), far=far)), 0, 5),
    "lossy ground that varies": (lambda far: keyed.likely_key(ground((20, 20), (4, 4, 8, 8), far=far), True), 0, 55),
    "first corner": (lambda value: keyed.likely_key(grounded((0, 0), value)), 195, 205),
    "last corner": (lambda value: keyed.likely_key(grounded((7, 7), value)), 195, 205),
    "another corner of a lossy one": (lambda value: keyed.likely_key(grounded((0, 7), value), True), 150, 250),
    "alpha": (lambda alpha: keyed.likely_key(clear_at(alpha)), 250, 255),
}


def test_where_a_ground_seems_to_be_a_key():
    """Corners, half of the border, a tenth of the picture; what a lossy format does to them."""
    assert recorded("limits of grounds", KEYS) == set()


def test_near_colours_by_channel():
    """Each channel at most the tolerance away, at both ends of the range; cleared pixels are black."""
    whole = pixels(1, 9, 9, 4, holes="none")
    whole[0, :6, 0] = (0, 1, 8, 247, 254, 255)
    for colour, tolerance in itertools.product(((0, 0, 0), (255, 255, 255), (8, 128, 250)), (0, 1, 7, 8, 128, 255)):
        expected = (np.abs(whole[..., :3].astype(int) - colour) <= tolerance).all(axis=-1)
        assert np.array_equal(keyed.near(whole, colour, tolerance), expected)
        spec = Background(file="a.png", key=(f"#{bytes(colour).hex()}", "#010203"), tolerance=tolerance)
        made = np.asarray(keyed.cleared(Image.fromarray(whole), spec))
        either = expected | (np.abs(whole[..., :3].astype(int) - (1, 2, 3)) <= tolerance).all(axis=-1)
        assert np.array_equal(made, np.where(either[..., None], 0, whole))
    assert keyed.Ground("#ff00ff", 0).keys == 'key = "#ff00ff"'
    assert keyed.Ground("#ff00ff", 16).keys == 'key = "#ff00ff" and tolerance = 16'


def drawn(seed: int, height: int, width: int, share: int = 90) -> np.ndarray:
    return pixels(seed, height, width) < share


def brute_cuts(shape: np.ndarray, places: list[tuple[int, int, int, int]]) -> set[tuple]:
    """Return every edge of a box between two drawn pixels: number of the box, pixel inside, pixel outside."""
    found = set()
    for rank, (left, top, width, height) in enumerate(places):
        for y, x in itertools.product(range(top, top + height), range(left, left + width)):
            for down, across in ((0, 1), (0, -1), (1, 0), (-1, 0)):
                v, u = y + down, x + across
                outside = not (top <= v < top + height and left <= u < left + width)
                if outside and 0 <= v < shape.shape[0] and 0 <= u < shape.shape[1] and shape[y, x] and shape[v, u]:
                    found.add((rank, x, y, (u, v)))
    return found


def test_cuts_by_looking_at_each_edge():
    """Those of cells with gaps between; of cells side by side all but those where two main figures just touch, as recorded."""
    found = {}
    for seed in range(12):
        shape = drawn(seed, 14, 17, 60 + 8 * seed)
        apart = [(left, top, 4, 5) for top in (0, 6) for left in (1, 6, 12)]
        assert {tuple(cut) for cut in sheets.cuts_of(shape, apart)} == brute_cuts(shape, apart)
        beside = [(left, top, 5, 7) for top in (0, 7) for left in (0, 5, 10)]
        cuts = sheets.cuts_of(shape, beside)
        assert cuts == sorted(cuts)
        assert {tuple(cut) for cut in cuts} <= brute_cuts(shape, beside)
        found[f"{seed}"] = f"{len(cuts)} {hash_of_values([tuple(cut) for cut in cuts])}"
    assert sheets.cuts_of(np.ones((6, 6), dtype=bool), [(0, 0, 3, 6), (3, 0, 3, 6)]) == []
    touching = {
        name: (lambda many, make=make: len(sheets.cuts_of(*make(many))), 0, 40) for name, make in (
            ("pixels that meet", lambda many: met(many, 64, 60)), ("pixels that meet of small frames", lambda many: met(many, 30, 27)),
            ("main figure", lambda size: met(1, 64, size)),
        )
    }  # fmt: skip
    assert differing("cuts of sheets", found) == set()
    assert recorded("limits of figures that touch", touching) == set()


def met(many: int, side: int, size: int) -> tuple[np.ndarray, list[tuple[int, int, int, int]]]:
    """Return two frames whose figures, two pixels wide, meet in some pixels; apart from them each has a block of 40 pixels."""
    shape = np.zeros((side, 2 * side), dtype=bool)
    shape[1 : 1 + size, side - 3 : side - 1] = shape[1 : 1 + size, side + 1 : side + 3] = True
    shape[1 : 1 + many, side - 3 : side + 3] = True
    shape[5:15, :4] = shape[5:15, -4:] = True
    return shape, [(0, 0, side, side), (side, 0, side, side)]


def axes_that_divide(sheet: Sheet, way: int, length: int) -> list[tuple[int, int, int, int]]:
    """Return the grids that the words of ``sheets._axis`` allow, the first of which counts."""
    pair = [one if isinstance(one, int) else one[way] for one in (sheet.margin, sheet.gap)]
    (margin, gap), frame, count = pair, sheet.frame[way] if sheet.frame else None, (sheet.columns, sheet.rows)[way]
    made = []
    for end in (margin, 0, gap, margin + gap):
        for side, many in itertools.product([frame] if frame else range(1, 30), [count] if count else range(1, 30)):
            used = margin + many * side + (many - 1) * gap
            if (used + end == length and (frame or count)) or (frame and count and used <= length):
                made.append((margin, side, gap, many))
    return made


def test_axes_by_trying_all():
    """Frames, counts, gaps and margins, given and not, of pictures that they divide and do not."""
    for length, frame, count, gap, margin in itertools.product(range(5, 24, 3), (None, 4, 5), (None, 3, 4), (0, 1, 2), (0, 1)):
        if not frame and not count:
            continue
        sheet = Sheet(file="a", frame=frame and (frame, frame), columns=count, rows=count, gap=gap, margin=margin)
        for way in (0, 1):
            axis, allowed = sheets._axis(sheet, way, length), axes_that_divide(sheet, way, length)
            assert (tuple(axis) if axis else None) == (allowed[0] if allowed else None), (sheet, length)
            if axis:
                assert list(axis.starts()) == [margin + rank * (axis.frame + gap) for rank in range(axis.count)]


def figures(seed: int, columns: int, rows: int, size: tuple[int, int], gap: int, margin: int) -> np.ndarray:
    chance = random.Random(seed)
    whole = np.zeros((2 * margin + rows * (size[1] + gap) - gap, 2 * margin + columns * (size[0] + gap) - gap), dtype=bool)
    for row, column in itertools.product(range(rows), range(columns)):
        left, top = margin + column * (size[0] + gap), margin + row * (size[1] + gap)
        inset = chance.randint(0, 2)
        whole[top + inset : top + size[1], left : left + size[0] - inset] = chance.random() < 0.9
    return whole


def test_grids_that_are_likely():
    """Of sheets with cells of usual and odd sizes, whatever the author says of them; and what is refused of sheets that do not divide."""
    found = {}
    for seed in range(12):
        size, gap, margin = ((8, 8), (12, 9), (7, 5))[seed % 3], seed % 4 % 3, seed % 5 % 3
        shape = figures(seed, 2 + seed % 3, 1 + seed % 2, size, gap, margin)
        picture = Image.fromarray(np.where(shape[..., None], np.uint8(200), np.uint8(0)).repeat(4, axis=2))
        wrong = {"columns": 5, "rows": 2, "gap": 1, "margin": (3, 1)}
        for name, more in (("", {}), ("a frame", {"frame": size}), ("columns", {"columns": 3}), ("wrong", wrong))[seed % 2 :]:
            sheet = Sheet(file="a.png", **more)
            likely = [[tuple(axis) for axis in grid] for grid in sheets.likely_grids(shape, sheet, keep=seed % 2 == 0)]
            cut = said(lambda sheet=sheet, picture=picture: sheets.grid_boxes(picture, "a.png", sheet, 128)) if more else ""
            found[f"{seed}, {name}"] = hash_of_values(likely, sheets.grid_remedy(shape, sheet), cut)
    counts = {"frames asked for": (lambda many: said(lambda: len(sheets.grid_boxes(Image.new("RGBA", (16, 8)), "a", Sheet(
        file="a", columns=4, rows=2, count=many
    ), 1))), 1, 12)}  # fmt: skip
    assert differing("grids that are likely", found) == set()
    assert recorded("limits of sheet counts", counts) == set()


def test_drawn_pixels_and_grounds():
    """From the alpha on; of a picture without transparency what differs from its top left."""
    rgba = pixels(1, 6, 6, 4)
    rgba[0, :3, 3] = (127, 128, 129)
    assert np.array_equal(sheets.drawn_pixels(Image.fromarray(rgba), 128), rgba[..., 3] >= 128)
    opaque = few_colours(2, 2, 6, 6)
    whole = np.dstack([opaque, np.full((6, 6), 255, dtype=np.uint8)])
    assert np.array_equal(sheets._ground(Image.fromarray(whole), 128), (opaque != opaque[0, 0]).any(axis=-1))
    assert np.array_equal(sheets._ground(Image.fromarray(rgba), 128), rgba[..., 3] >= 128)


def row_by_row(places: list[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Return boxes in reading order, by the words of ``islands.reading_order``."""
    left, found = list(places), []

    def beside(one: tuple, other: tuple) -> bool:
        shared = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
        return 2 * shared >= min(one[3], other[3])

    while left:
        first = min(left, key=lambda box: (box[1], -box[3]))
        tallest = max((box for box in left if beside(box, first)), key=lambda box: box[3])
        row = [box for box in left if box is first or beside(box, tallest)]
        found += sorted(row, key=lambda box: (box[0], box[1]))
        left = [box for box in left if box not in row]
    return found


def test_reading_order_and_join():
    """Rows by halves of heights; the distance by the longest stretch of one count, of pictures in which it matters."""
    for seed in range(30):
        chance = random.Random(seed)
        places = list({(chance.randrange(20), chance.randrange(12), 1 + chance.randrange(3), 1 + chance.randrange(6)) for _ in range(7)})
        order = islands.reading_order(np.array(places))
        assert [places[rank] for rank in order] == row_by_row(places), places
    for seed in range(25):
        clear = ~drawn(seed, 20, 34, 4 + seed)
        counts = [islands.island_count(clear, join) for join in islands.JOINS]
        stretches = []
        for count, group in itertools.groupby(zip(islands.JOINS, counts, strict=True), key=lambda one: one[1]):
            some = [join for join, _ in group]
            if count > 1:
                stretches.append((Fraction(some[-1] + 1, some[0] + 1), -some[0]))
        assert islands.default_join(clear) == (-max(stretches)[1] if stretches else 0)
    for count in (3, 4):
        clear = np.ones((3, 40), dtype=bool)
        clear[1, 5 : 5 + 9 * count : 9] = False
        if count > 3:
            with pytest.raises(islands.TooManyIslands, match="4 islands"):
                islands.find_islands(clear, 0, 3)
        else:
            assert len(islands.find_islands(clear, 0, 3).boxes) == 3
    for bad in (clear[0], clear[None]):
        with pytest.raises(ValueError, match="dimensions"):
            islands.find_islands(bad)
    with pytest.raises(ValueError, match="join -1"):
        islands.find_islands(clear, -1)


def test_canvas_and_anchors():
    """The smallest that holds all frames about a point of each; markers by their colour; what comes in a marker's place."""
    found = {}
    for seed in range(8):
        chance = random.Random(seed)
        made = []
        for rank in range(4):
            alpha = np.where(drawn(seed + rank, 5 + rank, 9 - rank), 255, 0).astype(np.uint8)
            rgba = np.dstack([few_colours(seed + rank, 3, 5 + rank, 9 - rank), alpha])
            for _ in range(1 if seed % 2 else rank):
                rgba[chance.randrange(5 + rank), chance.randrange(9 - rank)] = (1, 2, 3, 255)
            anchor = (chance.randrange(-3, 9), chance.randrange(9)) if rank == 3 and seed % 3 == 0 else None
            made.append(canvas.Drawn(Image.fromarray(rgba), f"frame {rank}", anchor=anchor))
        for align, marker in (("top", None), ("centre", None), ("bottom", None), ("anchors", None), ("anchors", "#010203")):
            spec, problems = Sprite(frames="*.png", align=align, marker=marker), []
            board, points = canvas.canvas_for(made, spec, 128, problems)
            ends = [(point, one.picture.size) for point, one in zip(points, made, strict=True)]
            left, up = max(point[0] for point, _ in ends), max(point[1] for point, _ in ends)
            right, down = (max(size[way] - point[way] for point, size in ends) for way in (0, 1))
            assert board == (left + right, up + down, (left, up))
            put = [np.asarray(board.put(one.picture, point)) for one, point in zip(made, points, strict=True)]
            for picture, (point, size) in zip(put, ends, strict=True):
                x, y = left - point[0], up - point[1]
                assert picture.shape[:2] == (up + down, left + right)
                assert picture[..., 3].sum() == picture[y : y + size[1], x : x + size[0], 3].sum()
            found[f"{seed}, {align}, {marker}"] = hash_of_values(board, points, [str(one) for one in problems], *put)
        found[f"{seed}, without"] = hash_of_values(*(np.asarray(canvas.without_marker(one.picture, "#010203")) for one in made))
    assert canvas.canvas_for([], spec, 128, []) == (None, [])
    sides = {"pixels of a canvas": (lambda wide: said(lambda: canvas.canvas_for(
        [canvas.Drawn(Image.new("RGBA", (1, 1)), "", anchor=anchor) for anchor in ((0, 0), (wide, 4095))],
        Sprite(frames="*.png", align="anchors"), 128, [],
    )), 4090, 4100)}  # fmt: skip
    assert differing("canvases", found) == set()
    assert recorded("limits of canvases", sides) == set()


def boxed_said(picture: Image.Image, spec: Sprite, file: Path, cuts: Path | None) -> list:
    """Return what a sheet is cut into by its boxes file, and the notes about it."""
    made, notes = boxes.boxed(picture, "s.png", spec, file, file.parent, cuts)
    return [*((one.shown, one.anchor, one.place, hash_of_values(np.asarray(one.picture))) for one in made), *notes]


def test_boxes_of_figures(tmp_path):
    """Found, dealt where they overlap, and what is in none; too large, outside, cut; with anchors of their own and without."""
    found = {}
    for seed in range(10):
        rgba = np.dstack([few_colours(seed, 4, 24, 30), np.where(drawn(seed, 24, 30, 12 + seed), 255, 0).astype(np.uint8)])
        rgba[3:9, 4:11] = (9, 90, 200, 255)
        rgba[5 + seed % 4 : 16, 18:23] = (200, 90, 9, 255)
        picture, spec = Image.fromarray(rgba), Sprite(sheet=Sheet(file="s.png", boxes="found", join=(None, 0, 1, 3)[seed % 4]))
        file = tmp_path / f"{seed}.boxes.toml"
        first = said(functools.partial(boxed_said, picture, spec, file, None))
        found[f"{seed}"] = hash_of_values(first, file.read_text(encoding="utf-8"))
        places = [(2, 2, 12, 9), (4 + seed % 3, 3, 12, 12), (15, 3, 12, 16), (0, 0, 30, 24)][: 2 + seed % 3]
        lines = [f"[[frame]]\nbox = {list(one)}\n" + ("anchor = [5, 6]\n" if rank else 'name = "one"\n') for rank, one in enumerate(places)]
        file.write_text(f"join = {seed % 3}\n" + "".join(lines), encoding="utf-8")
        for cuts in (None, tmp_path / "build/work/cuts.png"):
            found[f"{seed}, written, {bool(cuts)}"] = hash_of_values(said(functools.partial(boxed_said, picture, spec, file, cuts)))
    assert differing("boxes of figures", found) == set()
    file.write_text("[[frame]]\nbox = [20, 14, 10, 10]\n", encoding="utf-8")
    assert said(lambda: len(boxes.boxed(picture, "s.png", spec, file, tmp_path, None)[0])) == "1"
    for outside in ("[21, 14, 10, 10]", "[20, 15, 10, 10]"):
        file.write_text(f"[[frame]]\nbox = {outside}\n", encoding="utf-8")
        assert "reaches to" in said(lambda: boxes.boxed(picture, "s.png", spec, file, tmp_path, None))


def png(path: Path, rgba: np.ndarray) -> str:
    Image.fromarray(rgba).save(path, compress_level=1)
    return path.name


def made_sprite(folder: Path, names: tuple[str, ...], limits: SpriteLimits = ROOMY, numbered: bool = False, **keys: Any) -> str:
    """Prepare a sprite; return what is said of it and a hash of its files, or the refusal."""
    out = frame_files(folder, "ada", numbered)

    def run() -> str:
        text = prepare.prepare_sprite(Sources(folder, names), out, "ada", Sprite(**keys), limits)
        contents = [path.read_bytes() for path in (out.pixels, out.described, out.numbers) if path]
        return f"{text} {hash_of_values(contents)}"

    return said(run)


def test_sprites_prepared(tmp_path):
    """Files of one size and several, sheets and animations, at every scale and anchor, on a canvas or not; what is refused of them."""
    names = tuple(png(tmp_path / f"f{rank}.png", pixels(rank, 9, 7, 4, holes="some")) for rank in range(3))
    odd = (*names, png(tmp_path / "odd.png", pixels(9, 11, 6, 4, holes="some")))
    png(tmp_path / "sheet.png", pixels(5, 18, 21, 4, holes="some"))
    Image.fromarray(pixels(3, 9, 7) % 4, "P").save(tmp_path / "indexed.png")
    indexed = Image.open(tmp_path / "indexed.png")
    indexed.putpalette([9, 9, 9, 200, 3, 3, 3, 200, 3, 3, 3, 200])
    indexed.save(tmp_path / "indexed.png")
    frames_ = [Image.fromarray(pixels(rank, 6, 5, 4, holes="none")) for rank in range(4)]
    frames_[0].save(tmp_path / "run.png", save_all=True, append_images=frames_[1:], duration=[80, 90, 0, 120])
    found = {
        f"scale {scale}, {resample}": made_sprite(tmp_path, names, frames="f*.png", scale=scale, resample=resample)
        for scale, resample in ((1.0, "area"), (0.5, "dominant"), ([0.5, 2.0], "nearest"), (1.5, "lanczos"), (0.77, "area"))
    }
    for anchor in ((0, 0), (3.5, 9), (-4, 20)):
        found[f"anchor {anchor}"] = made_sprite(tmp_path, names, frames="f*.png", scale=0.6, anchor=anchor)
    found |= {f"alpha {alpha}": made_sprite(tmp_path, names, frames="f*.png", scale=0.6, alpha=alpha) for alpha in (1, 100, 255)}
    for align in ("top", "centre", "bottom", "anchors"):
        found[f"align {align}"] = made_sprite(tmp_path, odd, frames="*.png", align=align)
    found |= {
        "several sizes": made_sprite(tmp_path, odd, frames="*.png"), "height": made_sprite(tmp_path, names, frames="f*.png", height=5),
        "sheet": made_sprite(tmp_path, ("sheet.png",), sheet=Sheet(file="sheet.png", columns=3, rows=2, cut="anyway")),
        "animation": made_sprite(tmp_path, ("run.png",), animated="run.png"), 
        "key": made_sprite(tmp_path, names, frames="f*.png", key=("#000000",), tolerance=60),
        "numbers": made_sprite(tmp_path, ("indexed.png",), numbered=True, frames="i*.png"),
        "numbers of none": made_sprite(tmp_path, names, numbered=True, frames="f*.png"),
        "numbers scaled": made_sprite(tmp_path, ("indexed.png",), numbered=True, frames="i*.png", scale=0.5),
        "numbers of a sheet": made_sprite(
            tmp_path, ("indexed.png",), numbered=True, sheet=Sheet(file="indexed.png", columns=1, rows=3, cut="anyway"), align="bottom"
        ),
        "a file that is missing": made_sprite(tmp_path, (*names, "gone.png", "lost.png"), frames="*.png"),
        "more frames than the target takes": made_sprite(tmp_path, names, SpriteLimits(max_frames=2), frames="f*.png"),
        "as many": made_sprite(tmp_path, names, SpriteLimits(max_frames=3), frames="f*.png"),
        "more frames of an animation": made_sprite(tmp_path, ("run.png",), SpriteLimits(max_frames=3), animated="run.png"),
    }  # fmt: skip
    for wide, high in ((7, 9), (6, 9), (7, 8)):
        found[f"at most {wide} x {high}"] = made_sprite(tmp_path, names, SpriteLimits(max_width=wide, max_height=high), frames="f*.png")
    assert differing("sprites prepared", {name: text.replace(str(tmp_path), "") for name, text in found.items()}) == set()


def test_bounds_of_a_sprite():
    """As many pixels as are taken, and a step more; an anchor's 16 bits; heights that ask for a factor that can be made."""
    for anchor, fits in (((-0x8000, 0x7FFF), True), ((0x7FFF, -0x8000), True), ((-0x8001, 0), False), ((0, 0x8000), False)):
        assert (said(lambda anchor=anchor: prepare._check_anchor("ada", anchor)) == "None") == fits
    limits = SpriteLimits(max_width=1 << 22, max_height=1 << 22)
    for module, name, check, most in (
        (prepare, "FRAME_PIXELS", lambda high: prepare._check_limits(3, high, "a.png", limits), bounds.FRAME_PIXELS // 3),
        (prepare, "SPRITE_PIXELS", lambda high: prepare._check_all("ada", 3, 5, high), bounds.SPRITE_PIXELS // 15),
        (pictures, "DRAWN_PIXELS", lambda high: pictures.check_drawn("ada", 3, (5, high)), bounds.DRAWN_PIXELS // 15),
        (pictures, "PICTURE_PIXELS", lambda high: pictures._check_size(7, high, "a", bounds.PICTURE_PIXELS), bounds.PICTURE_PIXELS // 7),
    ):  # fmt: skip
        assert getattr(module, name)
        assert [said(lambda high=high, check=check: check(high)) == "None" for high in (most, most + 1)] == [True, False]
    ramp = {
        f"height of {high} pixels": (
            lambda wanted, high=high: said(
                lambda: prepare.chosen_factors("sprite", "ada", Sprite(frames="*", height=wanted), high)
            ).startswith("("), 1, 9 * high,
        )
        for high in (1, 5, 150)
    }  # fmt: skip
    assert recorded("limits of heights", ramp) == set()
    assert prepare.chosen_factors("sprite", "ada", Sprite(frames="*", scale=0.77), 9) == (Fraction(77, 100), Fraction(77, 100))


def test_prepared_frames_are_read_a_few_at_a_time(tmp_path, monkeypatch):
    """What was written comes back, one by one and in stacks, numbers beside pixels."""
    files = FrameFiles(tmp_path / "a.rgba", tmp_path / "a.frames.json", tmp_path / "a.numbers")
    every, numbers = pixels(1, 7, 3, 5, 4), pixels(2, 7, 3, 5)
    files.pixels.write_bytes(every.tobytes())
    files.numbers.write_bytes(numbers.tobytes())
    prepared.write_frames(files.described, 7, (5, 3), (10, 6))
    for together in (1 << 18, 15, 31, 44, 1):
        monkeypatch.setattr(prepared, "_TOGETHER", together)
        made = prepared.PreparedFrames(files)
        assert np.array_equal(np.stack(list(made)), every)
        stacks = list(made.stacks())
        assert np.array_equal(np.concatenate(stacks), every)
        assert [len(one) for one in stacks] == [len(one) for one in made.number_stacks()]
        assert max(map(len, stacks)) == max(1, min(7, together // 15))
        assert np.array_equal(np.concatenate(list(made.number_stacks())), numbers)
    assert next(iter(prepared.PreparedFrames(FrameFiles(files.pixels, files.described)).number_stacks())) is None


def test_sampled_frames(tmp_path):
    """A row for each of the first frame and the worst one, as drawn and as scaled, with what its texts say."""
    names = tuple(png(tmp_path / f"f{rank}.png", pixels(rank, 9, 7, 4, holes="some")) for rank in range(3))
    for scale in (0.5, 2.0):
        out = frame_files(tmp_path, "ada")
        prepare.prepare_sprite(Sources(tmp_path, names), out, "ada", Sprite(frames="f*.png", scale=scale), ROOMY)
        scaled = list(prepared.PreparedFrames(out))
        for worst, numbers in ((None, [0]), (0, [0]), (2, [0, 2])):
            facts = {"version": 1, "kind": "sprite", "colour_error": {"worst_frame": worst}}
            (tmp_path / "facts.json").write_text(json.dumps(facts))
            view = WorstFrameView(tmp_path / "facts.json")
            line = sample.sample_sprite(Sources(tmp_path, names), out, view, tmp_path / "b.png", Sprite(frames="f*.png"))
            assert line.startswith(f"{len(numbers)} frame{'s' if len(numbers) > 1 else ''} as drawn")
            with Image.open(tmp_path / "b.png") as sheet:
                whole = np.asarray(sheet)
                high, wide = scaled[0].shape[:2]
                assert sheet.text["frames"] == " ".join(map(str, numbers))
                assert (sheet.text["source"], sheet.text["scaled"]) == ("7 9", f"{wide} {high}")
                assert whole.shape[:2] == (max(9, high) * len(numbers), 7 + wide)
                for rank, number in enumerate(numbers):
                    top = rank * max(9, high)
                    assert np.array_equal(whole[top : top + 9, :7], np.asarray(Image.open(tmp_path / names[number])))
                    assert np.array_equal(whole[top : top + high, 7:], scaled[number])


def test_odd_sizes_and_single_frames(tmp_path):
    """The commonest size is right, the first of equal ones; one frame is that of all."""
    found = {}
    for sizes in ([(1, 2)], [(1, 2), (2, 1)], [(1, 2), (2, 1), (2, 1)], [(1, 2), (2, 1), (3, 3)], [(1, 2), (1, 2), (2, 1), (2, 1)]):
        found[str(sizes)] = "; ".join(map(str, frames.odd_sizes([(f"{rank}.png", one) for rank, one in enumerate(sizes)])))
    assert differing("odd sizes", found) == set()
    names = tuple(png(tmp_path / f"f{rank}.png", pixels(rank, 4 + rank, 5, 4, holes="some")) for rank in range(3))
    for align in (None, "bottom"):
        every = frames.SourceFrames(Sources(tmp_path, names), Sprite(frames="f*.png", align=align))
        assert [np.asarray(every.one(rank)).tobytes() for rank in range(3)] == [np.asarray(one.picture).tobytes() for one in every.placed()]
        assert (every.count, [one[1] for one in every], every.problems) == (3, list(names), [])
        with pytest.raises((ProjectError, IndexError)):
            every.one(3)


Frame = tuple[int, int, int, int]  # left, top, width and height


def gif(*shown: Frame, screen: tuple[int, int] = (3, 4), table: int = 0, local: int = -1, junk: bytes = b"") -> bytes:
    """Return a GIF's structure: frames with a place and a size, tables of colours, comments between, other bytes; GIF89a."""
    start = b"GIF89a" + struct.pack("<HHBBB", *screen, 0x80 | table, 0, 0) + bytes(3 << table + 1)
    flags, colours = (0x80 | local, bytes(3 << local + 1)) if local >= 0 else (0, b"")
    image = [b"\x2c" + struct.pack("<HHHHB", *one, flags) + colours + b"\x02\x02\x44\x01\x00" for one in shown]
    return start + b"".join(b"\x21\xfe\x03abc\x00" + junk + one for one in image) + b"\x3b" + b"\x2c" * 30


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def apng(count: int, *shown: Frame, short: int = 0) -> bytes:
    control = [struct.pack(">IIIIIHHBB", rank, *one[2:], *one[:2], 1, 10, 0, 0)[: 26 - short] for rank, one in enumerate(shown)]
    parts = [chunk(b"acTL", struct.pack(">II", count, 0)), *(chunk(b"fcTL", one) for one in control), chunk(b"IEND", b"")]
    return file_frames.PNG_MARK + b"".join(parts)


def test_frames_that_files_announce():
    """By structures written here after the formats' specifications: counts and the canvas that frames grow to."""
    some = [(0, 0, 3, 4), (2, 1, 5, 2), (0, 3, 1, 9)]
    for table, local, junk in ((0, -1, b""), (2, 0, b""), (1, 3, b"\x00\x99")):
        data = gif(*some, table=table, local=local, junk=junk)
        assert file_frames.announced_frames(data) == 3
        assert file_frames.check_frames(data, "a.gif", 3) == (3, (7, 12))
        assert list(file_frames._canvases(data)) == [(3, 4), (7, 4), (7, 12)]
        assert "has 3 frames, at most 2" in said(lambda data=data: file_frames.check_frames(data, "a.gif", 2))
    assert file_frames.check_frames(gif(some[0], screen=(9, 1)), "a.gif", 9).size == (9, 4)
    assert list(file_frames._sizes(apng(3, *some))) == [(3, 4), (7, 3), (1, 12)]
    assert file_frames.check_frames(apng(3, *some), "a.png", 3) == (3, (7, 12))
    assert file_frames.check_frames(apng(2, *some), "a.png", 3).count == 3
    assert [file_frames.announced_frames(one) for one in (apng(0), apng(1), apng(7), b"", b"RIFF", gif())] == [1, 1, 7, 1, 1, 1]
    assert list(file_frames._sizes(apng(3, *some, short=6))) == [(3, 4), (7, 3), (1, 12)]
    assert list(file_frames._sizes(apng(3, *some, short=7))) == []
    side = 1 << 12
    for size, fits in (((side, side), True), ((side, side + 1), False)):
        for data in (gif((0, 0, *size)), apng(1, (0, 0, *size))):
            assert ("at most" not in said(lambda data=data: file_frames.check_frames(data, "a", 9))) == fits
    for cut in range(len(gif(*some)) - 31):
        assert file_frames.announced_frames(gif(*some)[:cut]) <= 3


def test_rows_and_chunks_of_a_png():
    """Bytes of rows for each depth and interlacing, by the specification's own table; sums; chunks that decide nothing."""
    for width, height, bits in itertools.product((1, 2, 5, 8, 9), (1, 4, 9), (1, 2, 4, 8, 24)):
        for first, step in (((0, 0), (1, 1)), ((4, 0), (8, 8)), ((0, 4), (4, 8)), ((1, 0), (2, 2))):
            columns, rows = len(range(first[0], width, step[0])), len(range(first[1], height, step[1]))
            assert png_rows._pass_bytes(width, height, bits, (*first, *step)) == (rows * (1 + -(-columns * bits // 8)) if columns else 0)
    for interlaced in (0, 1):
        times = np.zeros((9, 9), dtype=int)
        for left, top, across, down in png_rows._PASSES:
            times[top::down, left::across] += 1
        assert (times == 1).all()
        rows = sum(png_rows._pass_bytes(9, 9, 8, one) for one in (png_rows._PASSES if interlaced else ((0, 0, 1, 1),)))
        head = chunk(b"IHDR", struct.pack(">IIBBBBB", 9, 9, 8, 0, 0, 0, interlaced))
        for missing in (0, 1):
            data = file_frames.PNG_MARK + head + chunk(b"IDAT", zlib.compress(bytes(rows - missing))) + chunk(b"IEND", b"")
            assert ("of pixels are there" in said(lambda data=data: png_rows.check_rows(data, "a.png"))) == bool(missing)
            png_rows.check_chunks(data, "a.png")
            for broken in (data[:-1], data[:-12], data[:40] + b"x" + data[41:]):
                assert "damaged" in said(lambda broken=broken: png_rows.check_chunks(broken, "a.png"))
    texts = [chunk(kind, b"abc") for kind in (b"tEXt", b"tRNS", b"iCCP", b"acTL", b"fcTL", b"fdAT", b"PLTE", b"IEND")]
    kept = b"".join(texts[rank] for rank in (1, 3, 4, 5, 6, 7))
    assert png_rows.used_chunks(file_frames.PNG_MARK + b"".join(texts), "a.png") == file_frames.PNG_MARK + kept
    for count, fits in ((bounds.PNG_CHUNKS, True), (bounds.PNG_CHUNKS + 1, False)):
        many = file_frames.PNG_MARK + bytes(12) * count
        assert ("at most" not in said(lambda many=many: len(png_rows.used_chunks(many, "a.png")))) == fits


def test_grids_of_numbers(tmp_path):
    """Every parting mark, quotes, blanks, line ends; what is refused of rows, numbers and sizes, with its place."""
    found = {}
    for rank, text in enumerate((
        "1,2\n3,4", "1;2\n3;4\n", "1 2\n3  4", '"1","2"\r\n"3","4"\r\n', " +1 ,\t-2\r3,4", "1,2;3", "", " \n", "1,2\n3", "1,,2", "1,a\nb,2",
        "1,2\n\n3,4", "1.5,2", "\ufeff7,8", "1,300", "-1,9", '"1,2', "1,2,", "99999999999999999999,1", "x" * 30,
        "x" * 24, "\n".join("a,b" for _ in range(15)),
    )):  # fmt: skip
        (tmp_path / "a.csv").write_bytes(text.encode())
        found[f"{rank}"] = said(lambda: read_grid(tmp_path, "a.csv", 0, 255, 100).tolist())
    (tmp_path / "a.csv").write_bytes(b"1,\xff")
    found["not a text"] = said(lambda: read_grid(tmp_path, "a.csv", 0, 255, 100))
    assert differing("grids of numbers", found) == set()
    (tmp_path / "a.csv").write_text("1,5\n9,5\n7,5")
    for least, most, room, fits in ((1, 9, 6, True), (2, 9, 6, False), (1, 8, 6, False), (1, 9, 5, False)):
        made = said(lambda least=least, most=most, room=room: read_grid(tmp_path, "a.csv", least, most, room).tolist())
        assert (made == "[[1, 5], [9, 5], [7, 5]]") == fits
    for wide, fits in ((bounds.GRID_SIDE, True), (bounds.GRID_SIDE + 1, False)):
        for line in (b"1," * (wide - 1) + b"1", b"1\n" * wide):
            (tmp_path / "a.csv").write_bytes(line)
            assert (said(lambda: read_grid(tmp_path, "a.csv", 0, 9, 1 << 20).size) == str(wide)) == fits
    assert isinstance(Call("a:b"), Call)


def samples() -> dict[str, bytes]:
    """Return small files of every kind that is looked at before it is decoded."""
    plain, grey = Image.fromarray(pixels(1, 4, 5, 3)), Image.fromarray(pixels(2, 4, 5))
    mapped = grey.convert("P")
    found = {}
    for kind, form, picture, more in (
        ("TGA", "a", plain, {}), ("TGA", "b", mapped, {}), ("TGA", "c", grey, {}), ("PCX", "a", plain, {}),
        ("PCX", "b", mapped, {}), ("PPM", "a", plain, {}), ("PPM", "b", grey, {}), ("PPM", "c", grey.convert("1"), {}),
    ):  # fmt: skip
        out = io.BytesIO()
        picture.save(out, kind, **more)
        found[f"{kind} {form}"] = out.getvalue()
    canvas_chunk = b"VP8X" + struct.pack("<I", 10) + bytes([0, 0, 0, 0, 4, 0, 0, 6, 0, 0])
    chunks = (canvas_chunk, b"VP8 " + struct.pack("<I", 10) + bytes(6) + b"\x05\x40\x07\xc0")
    lossless = b"VP8L" + struct.pack("<I", 5) + b"\x2f" + struct.pack("<I", 4 | 6 << 14)
    for name, parts in (("a", chunks[:1]), ("b", chunks), ("c", (lossless,)), ("d", (chunks[0], b"ANIM" + bytes(4)))):
        found[f"WEBP {name}"] = b"RIFF\x00\x00\x00\x00WEBP" + b"".join(parts)
    scan = b"\xff\xda\x00\x04ab\x12\xff\x00\x34\xff\xd0\x56"
    found["JPEG a"] = b"\xff\xd8\xff\xe0\x00\x04xx" + scan * 3 + b"\xff\xff\xd9" + scan
    return found


def test_structures_cut_and_changed():
    """Each file ended after each byte, and each of its first bytes another: what is refused, for which size it asks, how many scans."""
    found = {}
    for name, data in samples().items():
        kind, asked = name.split()[0], []
        changed = [data[:end] for end in range(min(len(data), 140) + 1)]
        changed += [data[:at] + bytes([value]) + data[at + 1 :] for at in range(min(len(data), 34)) for value in (0, 1, 8, 24, 255)]
        texts = []
        for one in changed:
            asked.clear()
            text = said(lambda one=one, kind=kind, asked=asked: structure.check_structure(one, kind, "a", lambda *size: asked.append(size)))
            more = [structure.kind_of(one, "a.png"), structure.is_lossy(one, kind), len(structure.padded(one, kind))]
            texts.append([text, *asked, *more, structure._scans(one) if kind == "JPEG" else 0])
        found[name] = hash_of_values(texts)
    assert structure._scans(samples()["JPEG a"]) == 3
    many = b"\xff\xd8" + b"\xff\xda\x00\x02" * bounds.JPEG_SCANS
    assert said(lambda: structure.check_structure(many, "JPEG", "a", print)) == "None"
    assert "scans" in said(lambda: structure.check_structure(many + b"\xff\xda\x00\x02", "JPEG", "a", print))
    for order, mark in (("little", b"II*\0"), ("big", b"MM\0*")):
        for value, turned in ((0, False), (1, False), (2, True), (8, True), (9, False)):
            fields = [(256, 5), (274, value)]
            exif = mark + (8).to_bytes(4, order) + len(fields).to_bytes(2, order)
            for tag, number in fields:
                exif += tag.to_bytes(2, order) + (3).to_bytes(2, order) + (1).to_bytes(4, order) + number.to_bytes(2, order) + bytes(2)
            assert [structure.is_turned(start + exif) for start in (b"", b"Exif\0\0")] == [turned] * 2
            assert not structure.is_turned(exif[:-13])
    assert [structure.is_turned(one) for one in (b"", b"XX*\0", b"II*\0")] == [False] * 3
    assert differing("structures cut and changed", found) == set()
