"""What is guessed of art made by chance stays as it was; the right guess is in ``test_measure`` and ``tests.bench.bringing``.

No outside source: many a guess could be another. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import random
from pathlib import Path

from PIL import Image

from pipeline.bringing import picture
from pipeline.bringing.fit import fit
from pipeline.bringing.guess import describe
from pipeline.bringing.measuring.measure import measure
from pipeline.bringing.measuring.shapes import Box
from pipeline.bringing.needs import show_needs
from pipeline.bringing.picture import draw_found
from pipeline.bringing.places import Placed, Placing
from pipeline.bringing.records import Anim, Found, Frame
from pipeline.bringing.sheets import grid_of, is_parted, is_strip_of_cells, row_animations
from pipeline.bringing.text import not_taken, scene, summary, tables
from pipeline.target.loading import load_target, shipped_targets
from tests.bringing.invented_art import KINDS, STEMS, blank, folder, looks, rectangle
from tests.makers import as_budget, budget_json
from tests.recorded import differing, hash_of

CONSOLES = [load_target(path) for _, path in sorted(shipped_targets().items())]
COUNTS = {"grids": 80, "scattered": 50, "tiles": 70, "colours": 20, "waves": 30}
FULL = budget_json({"race": {"margin": 3000}, "menu": {"margin": -5}, "map": {"margin": 400}, "end": {"margin": 0}, "more": {"margin": 1}})


def test_pictures_are_measured_as_before():
    """Of each kind some: cells, gaps, margins, figures apart, squares, strips, what repeats; and what their names make of them."""
    found = {}
    for kind, make in KINDS.items():
        chance = random.Random(kind)
        for rank in range(COUNTS[kind]):
            look = measure(make(chance), lossy=rank % 8 == 0)
            names = [f"{chance.choice(STEMS).format(n=chance.randint(1, 6))}.png" for _ in range(3)]
            grids = [grid_of(name, look) for name in names]
            said = [look, grids, [is_parted(name, look) for name in names], is_strip_of_cells(look)]
            said.append([one and row_animations(one) for one in grids])
            found[f"{kind}, {rank}"] = hash_of(repr(said).encode())
    assert differing("pictures measured", found) == set()


def test_folders_become_the_same_projects(tmp_path):
    """Fifteen folders on each shipped console: kinds, names, animations, scales, rates, palettes, and what is left out."""
    pool = looks(random.Random(5), 60)
    found = {}
    for rank in range(15):
        chance = random.Random(rank)
        art = folder(chance, pool)
        for console in CONSOLES:
            known = set(chance.sample(["hero", "coin", "bat", "sky", "items", "walk"], 2))
            described = describe(art, (console.screen.width, console.screen.height), chance.choice(("hero", "art")), known)
            fitted = fit(described.found, console, set(known), chance.choice((None, None, 0.5)), chance.choice((0, 0, 100_000)))
            placing = Placing(tmp_path, tmp_path / "project", art, link=False)
            placed = [placing.place(one) for one, _ in fitted.assets]
            needs = show_needs(fitted, console, as_budget(FULL) if rank % 2 else None, ["race", "menu", "map", "end", "more"][: rank % 6])
            left = (*described.left, *fitted.left)
            texts = [tables(placed, fitted, defaults=True), scene(placed, fitted, "main"), not_taken(left), *summary(placed, left), *needs]
            found[f"{rank}, {console.name}"] = hash_of(repr(described).encode(), repr(fitted).encode(), "\n".join(texts).encode())
    assert differing("folders described", found) == set()


def drawn(folder: Path, sizes: list[tuple[int, int]], frames: int, sheet: bool) -> Found:
    """Write a sprite's pictures, and return it."""
    boxes = []
    for rank, (width, height) in enumerate(sizes):
        whole = blank(width, height, (0, 0, 0, 0))
        rectangle(whole, width // 4, height // 4, max(1, width // 2), max(1, height // 2), (40 * rank % 256, 90, 200))
        Image.fromarray(whole).save(folder / f"{width}x{height}_{rank}.png")
        across = frames if sheet else 1
        cells = [Box(width // across * at, 0, width // across, height) for at in range(across)]
        boxes += [Frame(f"{width}x{height}_{rank}.png", cell, cell) for cell in cells]
    canvas = (max(one.cell.width for one in boxes), max(one.cell.height for one in boxes))
    files = tuple(dict.fromkeys(one.file for one in boxes))
    source = "sheet" if sheet else "frames"
    anims = (Anim("go", tuple(range(len(boxes)))),)
    return Found("sprite", "one", files, "drawn here", "", source, tuple(boxes), canvas, (canvas[0] // 2, canvas[1]), anims)


def board(folder: Path, sprites: list[Found]) -> str:
    return hash_of(draw_found(folder, [Placed(one, {}, {}, ()) for one in sprites]))


def test_found_art_is_drawn_as_before(tmp_path, monkeypatch):
    """Frames and sheets from a pixel to more than the board is wide, and one more of each than a line, a sprite and the board take."""
    monkeypatch.setattr(picture, "png", Image.Image.tobytes)  # packing takes most of the time
    several = ([(1, 1)], [(32, 48)] * 49, [(128, 128), (60, 20)], [(300, 200)] * 2)
    cases = {f"sheet of {size}": ([size], 4, True) for size in ((4, 4), (44, 9), (480, 100), (1400, 30), (60, 900))}
    cases |= {f"{len(sizes)} frames of {sizes[0]}": (sizes, 1, False) for sizes in several}
    found = {}
    for name, case in cases.items():
        sprite = drawn(tmp_path, *case)
        found[name] = board(tmp_path, [sprite])
    tall = drawn(tmp_path, [(60, 790)], 2, True)
    found["a board that is full"] = board(tmp_path, [tall] * 16)
    assert differing("found art", found) == set()
