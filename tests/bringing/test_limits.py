"""Every limit by which art is judged: where a guess changes as one number of it, or of the console, grows.

No outside source: the limits are choices. What is recorded was looked at; if a change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np
from PIL import Image

from pipeline.assets.sources.keyed import Ground
from pipeline.bringing import picture
from pipeline.bringing.fit import Fitted, fit
from pipeline.bringing.guess import describe
from pipeline.bringing.measuring.cells import full_cells
from pipeline.bringing.measuring.measure import _is_strip, measure
from pipeline.bringing.measuring.shapes import Box, Grid, Look
from pipeline.bringing.needs import show_needs
from pipeline.bringing.picture import draw_found
from pipeline.bringing.places import Placed
from pipeline.bringing.records import Anim, Found, Frame, Kind, Left, Looked
from pipeline.bringing.sheets import grid_of, is_parted, is_strip_of_cells
from pipeline.bringing.text import not_taken, scene, summary, tables
from pipeline.target.loading import load_target, shipped_targets
from pipeline.target.records import Target
from tests.limits import Ramp, recorded, without_numbers
from tests.makers import as_budget, budget_json
from tests.recorded import differing, hash_of

CONSOLES = {name: load_target(path) for name, path in sorted(shipped_targets().items())}


def sprite(name: str = "hero", width: int = 32, height: int = 40, frames: int = 6, **more: Any) -> Found:
    cells = tuple(Frame(f"{name}_{rank}.png", Box(0, 0, width, height), Box(1, 2, width - 3, height - 2)) for rank in range(frames))
    files = tuple(one.file for one in cells)
    return replace(Found("sprite", name, files, "", "", frames=cells, canvas=(width, height), colours=20), **more)


def sky(width: int = 500, height: int = 400, **more: Any) -> Found:
    return replace(Found("background", "sky", ("sky.png",), "", "", canvas=(width, height), colours=300), **more)


def sound(seconds: float = 3.0, rate: int = 44100, name: str = "bell") -> Found:
    return Found("sound", name, (f"{name}.wav",), "", "", seconds=seconds, rate=rate)


LETTERS = Found("font", "plain", ("plain.ttf",), "", "", letters="abcdefgh", colours=1)
COLOURS = Found("palette", "own", ("own.gpl",), "", "", colours=12)


def changed(target: Target, path: str, value: Any) -> Target:
    """Return a target with one field of one of its parts replaced."""
    part, _, name = path.partition(".")
    return msgspec.structs.replace(target, **{part: msgspec.structs.replace(getattr(target, part), **{name: value})})


def said(fitted: Fitted) -> str:
    """Return what a console makes of things in one line."""
    keys = [f"{one.name} {extra}" for one, extra in fitted.assets]
    tables = [f"{one.name} {one.keys} {one.reason}" for one in fitted.palettes]
    return f"{fitted.scale} {fitted.scale_reason} {fitted.rate} {fitted.rate_reason} {keys} {tables} {fitted.direct} {fitted.left}"


def briefly(fitted: Fitted) -> str:
    return f"{fitted.scale:g} {fitted.rate} {' '.join(one.name for one, _ in fitted.assets)} | {' '.join(fitted.direct)}"


def first_keys(fitted: Fitted) -> str:
    return str(fitted.assets[0][1])


def fits(target: Target, *found: Found, how: Callable[[Fitted], str] = said, **more: Any) -> str:
    return how(fit(found, target, {one.name for one in found}, **more))


def fitting(target: Target) -> Iterator[tuple[str, Ramp]]:
    """Yield ramps of everything that a console is asked about."""
    some = (sprite(), sky(), sound(), LETTERS, COLOURS)
    most = max(target.cartridge.sizes)
    yield "cartridge that is taken", (lambda used: fits(target, *some, how=briefly, used=used), 0, most)
    yield "memory", (lambda size: fits(changed(target, "memory.size", size), *some, how=briefly), 1024, 1 << 21)
    yield "width of a sprite", (lambda wide: fits(target, sprite(width=wide, height=9, frames=1)), 4, 900)
    yield "height of a sprite", (lambda high: fits(target, sprite(width=9, height=high, frames=1)), 4, 900)
    yield "cells of a sprite", (lambda wide: fits(target, *[sprite(width=wide, frames=20)] * 3, how=briefly), 4, 240)
    yield "width of a background", (lambda wide: fits(target, sky(wide, 2000)), 280, 400)
    yield "height of a background", (lambda high: fits(target, sky(2000, high)), 130, 270)
    yield "backgrounds of two sizes", (lambda wide: fits(target, sky(wide), sky(400), sprite()), 395, 405)
    yield "colours of a sprite", (lambda many: fits(target, sprite(colours=many), scale=0.5), 1, 300)
    yield "colours of a background", (lambda many: fits(target, sky(colours=many)), 1, 300)
    yield "colours of a palette", (lambda many: fits(target, replace(COLOURS, colours=many)), 1, 300)
    yield "seconds of sound", (lambda tenths: fits(target, sound(tenths / 10), how=briefly), 1, 6000)
    yield "seconds of two sounds", (lambda tenths: fits(target, sound(tenths / 10), sound(5.0, name="horn"), how=briefly), 1, 6000)
    yield "rate of a sound", (lambda rate: fits(target, sound(1.0, rate), how=briefly), 1000, 48000)
    yield "width of the screen", (lambda wide: fits(changed(target, "screen.width", wide), LETTERS, sky(), how=first_keys), 100, 520)
    yield "frames of one that was opened", (lambda many: fits(target, sprite("a", 40, 40, many, source="animated"), how=briefly), 1, 80)
    yield "letters", (lambda many: fits(target, replace(LETTERS, letters="a" * many), sprite(), how=briefly), 1, 9000)


def test_what_a_console_makes_of_numbers():
    """Scales, rates, palettes, what is read from the cartridge and what is left, on a console of bitmaps and one of tiles."""
    ramps = {f"{console}, {name}": ramp for console in ("basalt32", "pebble8") for name, ramp in fitting(CONSOLES[console])}
    assert recorded("limits of fitting", ramps) == set()


def test_palettes_are_dealt_within_the_console():
    """Palettes of 2 to 300 entries in lines of 4, 16 and 256, for some sprites, with and without letters: as recorded."""
    found = {}
    for console, target in CONSOLES.items():
        for groups in (0, 1, 2, 5):
            sprites = [sprite(f"s{rank}", frames=1 + rank % 3, group=f"folder{rank % groups}") for rank in range(2 * groups)]
            for letters in ((), (LETTERS,)):
                lines = []
                for entries in (*range(2, 35, 3), 16, 31, 63, 64, 127, 128, 256, 300):
                    fitted = fit((*sprites, *letters, sky()), changed(target, "palette.entries", entries), set())
                    lines.append(f"{entries}: {[(one.name, one.keys, one.reason) for one in fitted.palettes]} {fitted.assets}")
                    for one in fitted.palettes:
                        if entries >= 32:
                            assert one.keys.get("first", 0) + one.keys.get("colours", 0) <= entries
                found[f"{console}, {groups} folders, {len(letters)} fonts"] = hash_of("\n".join(lines).encode())
    assert differing("palettes dealt", found) == set()


def look(width: int = 40, height: int = 30, **more: Any) -> Look:
    plain = Look(width, height, 500, 20, None, Box(3, 4, width // 2, height // 2))
    return plain._replace(**more)


def guessed(*files: Looked, taken: tuple[str, ...] = ()) -> str:
    described = describe({one.name: one for one in files}, (320, 240), "art", taken)
    kinds = " ".join(f"{one.kind}:{one.name}" for one in described.found)
    return f"{kinds} {' '.join(left.why for left in described.left)}".strip()


def seen(name: str, **more: Any) -> Looked:
    return Looked(name, "picture", look=look(**more))


def grid(columns: int, rows: int, **more: Any) -> Grid:
    plain = Grid(columns, rows, (10, 10), (0, 0), (0, 0), columns * rows, (columns,) * rows, (), False, "drawn here")
    return plain._replace(**({"boxes": tuple(plain.cell(rank) for rank in range(plain.count))} | more))


GUESSES: dict[str, Ramp] = {
    "background by its width": (lambda wide: guessed(seen("quay.png", width=wide, height=150, opaque=1000)), 1, 500),
    "background by its height": (lambda high: guessed(seen("quay.png", width=200, height=high, opaque=1000)), 1, 500),
    "background by its name and width": (lambda wide: guessed(seen("sky.png", width=wide, height=100)), 1, 500),
    "background by its name and height": (lambda high: guessed(seen("sky.png", width=200, height=high)), 1, 500),
    "background with a ground, by width": (
        lambda wide: guessed(seen("quay.png", width=wide, height=150, opaque=1000, key=Ground("#203040", 0))), 180, 400,
    ),
    "background with a ground, by height": (
        lambda high: guessed(seen("quay.png", width=200, height=high, opaque=1000, key=Ground("#203040", 0))), 120, 300,
    ),
    "ground near magenta": (
        lambda far: guessed(seen("quay.png", width=320, height=240, opaque=1000, key=Ground(f"#ff{far:02x}ff", 8))), 0, 20,
    ),
    "background by what shows through": (lambda opaque: guessed(seen("quay.png", width=320, height=240, opaque=opaque)), 0, 1000),
    "reason of a background": (
        lambda opaque: describe({"sky.png": seen("sky.png", width=320, height=240, opaque=opaque)}, (320, 240), "art").found[0].reason,
        900, 1000,
    ),
    "palette by its colours": (lambda many: guessed(seen("palette.png", opaque=1000, colours=many)), 2, 400),
    "palette by what shows through": (lambda opaque: guessed(seen("palette.png", opaque=opaque)), 900, 1000),
    "strip of colours by its length": (lambda long: guessed(seen("line.png", width=long, height=1 << 10, strip=True)), 900, 1100),
    "numbered pictures": (
        lambda many: guessed(*(seen(f"{rank}.png", width=320, height=240, opaque=1000, grids=(grid(4, 1),)) for rank in range(many))),
        1, 8,
    ),
    "things of one size": (lambda many: guessed(*(seen(f"items/{'abcdefghijklm'[rank]}xe.png") for rank in range(many))), 1, 13),
    "frames": (lambda many: without_numbers(guessed(Looked("run.gif", "animation", look=look(1, 1), frames=many))), 2, 70_000),
    "pixels of frames": (
        lambda side: without_numbers(guessed(Looked("run.gif", "animation", look=look(side, 1000), frames=30))), 1, 20_000,
    ),
    "letters of a name": (lambda many: guessed(Looked(f"{'a' * many}.wav", "sound"), taken=("a" * 30, "a" * 26)), 20, 40),
    "name that is taken": (
        lambda many: guessed(*(Looked(f"{rank}/bee.wav", "sound") for rank in range(many)), taken=("bee",)), 1, 12,
    ),
    "number at an action's end": (
        lambda number: [one.animations for one in describe({
            name: seen(name) for name in (*(f"ada/walk{number}_{rank}.png" for rank in range(3)), "ada/idle.png")
        }, (320, 240), "art").found],
        1, 12,
    ),
}  # fmt: skip


def test_guesses_change_where_they_did():
    """Of pictures of every size about the screen's, colours, clear parts, counts and names."""
    assert recorded("limits of guesses", GUESSES) == set()


def test_anchor_of_what_is_drawn_and_of_nothing():
    """The middle of the lower edge of all that is drawn; where nothing is, of the canvas."""
    for box, anchor in ((Box(0, 0, 0, 0), (20, 30)), (Box(3, 4, 11, 20), (8, 24)), (Box(39, 29, 1, 1), (39, 30))):
        files = {"run.gif": Looked("run.gif", "animation", look=look(box=box), frames=3)}
        (found,) = describe(files, (320, 240), "art").found
        assert (found.anchor, found.canvas, len(found.frames)) == (anchor, (40, 30), 3)


def parts(*sizes: tuple[int, int], gap: int = 20, line: int = 0) -> tuple[Box, ...]:
    """Return figures in a line, or each so much lower than the one before."""
    lefts = [sum(width + gap for width, _ in sizes[:rank]) for rank in range(len(sizes))]
    return tuple(Box(left, line * rank, *size) for rank, (left, size) in enumerate(zip(lefts, sizes, strict=True)))


def sheet_said(name: str, **more: Any) -> str:
    one = look(**more)
    found = grid_of(name, one)
    return f"{found and (found.columns, found.rows, found.reason)} {is_parted(name, one)} {is_strip_of_cells(one)}"


SHEETS: dict[str, Ramp] = {
    "figures": (lambda many: sheet_said("a.png", parts=parts(*[(9, 9)] * many)), 0, 9),
    "figures of a sheet": (lambda many: sheet_said("sheet.png", parts=parts(*[(9, 9)] * many)), 0, 9),
    "side of figures": (lambda side: sheet_said("a.png", parts=parts(*[(side, 1)] * 5)), 1, 12),
    "largest of figures": (lambda side: sheet_said("a.png", parts=parts(*[(10, 10)] * 5, (side, 9))), 1, 60),
    "two of six larger": (lambda side: sheet_said("a.png", parts=parts(*[(10, 10)] * 4, *[(9, side)] * 2)), 1, 60),
    "two of eight larger": (lambda side: sheet_said("a.png", parts=parts(*[(10, 10)] * 6, *[(9, side)] * 2)), 1, 60),
    "gap of letters": (lambda gap: sheet_said("a.png", parts=parts(*[(10, 12)] * 6, gap=gap)), 0, 30),
    "letters that go down": (lambda line: sheet_said("a.png", parts=parts(*[(10, 12)] * 6, gap=2, line=line)), 0, 30),
    "letters in two lines": (
        lambda many: sheet_said("a.png", parts=(*parts(*[(10, 12)] * 6, gap=2), *parts(*[(9, 9)] * many, gap=40, line=40)[1:])), 1, 8,
    ),
    "cells": (lambda many: sheet_said("a.png", width=10 * many, grids=(grid(many, 1),)), 2, 8),
    "width of two cells": (lambda wide: sheet_said("a.png", width=wide, grids=(grid(2, 1, frame=(wide // 2,) * 2),)), 8, 80),
    "height of two cells": (lambda high: sheet_said("a.png", width=64, grids=(grid(2, 1, frame=(32, high)),)), 8, 80),
    "drawn in the second of two": (
        lambda high: sheet_said("a.png", width=64, grids=(grid(2, 1, frame=(32, 32), boxes=(Box(0, 0, 10, 20), Box(32, 0, 10, high))),)),
        1, 40,
    ),
    "strip by its width": (lambda wide: sheet_said("a.png", width=wide, height=20, grids=(grid(3, 1, things=True),)), 20, 120),
    "strip by its height": (lambda high: sheet_said("a.png", width=20, height=high, grids=(grid(1, 3, cuts=True),)), 20, 120),
    "title of cells": (lambda many: sheet_said("title.png", grids=(grid(many, 1, cuts=True), grid(1, many))), 2, 6),
    "name with a count": (lambda many: sheet_said(f"run_strip{many}.png", width=96), 0, 10),
    "name with a width": (lambda wide: sheet_said(f"run_{wide}x15.png", width=96, grids=(grid(4, 2),)), 0, 10),
    "name with columns": (lambda wide: sheet_said(f"run_{wide}x2.png", width=97, height=31, grids=(grid(4, 2), grid(1, 2))), 0, 9),
    "name with a long number": (lambda wide: sheet_said(f"run_{wide}x1.png", width=29_997), 9_995, 10_005),
    "name with a long count": (lambda many: sheet_said(f"run_strip{many}.png", width=999_000), 995, 1005),
    "name with many cells": (lambda side: sheet_said("run_1x1.png", width=side, height=64), 62, 66),
}  # fmt: skip


def test_sheets_are_told_where_they_were():
    """Figures by their number, sizes and distances; cells by theirs; names with sizes and counts in them."""
    assert recorded("limits of sheets", SHEETS) == set()


def drawn(width: int, height: int, *boxes: tuple[int, int, int, int], ground: tuple[int, int, int, int] = (0, 0, 0, 0)) -> np.ndarray:
    """Return a picture with rectangles of slightly different colours: uint8, shape (height, width, 4)."""
    whole = np.full((height, width, 4), ground, dtype=np.uint8)
    for rank, (left, top, wide, high) in enumerate(boxes):
        whole[top : top + high, left : left + wide] = (200, 40 + rank % 200, 90, 255)
    return whole


def measured(pixels: np.ndarray, lossy: bool = False) -> str:
    one = measure(pixels, lossy)
    grids = [(grid.columns, grid.rows, grid.count, grid.frame, grid.margin, grid.gap, grid.cuts, grid.things) for grid in one.grids[:2]]
    return f"{one.opaque} {one.colours} {one.key and one.key.colour} {grids} {len(one.parts)} {one.strip}"


def noise(width: int, height: int, seed: int = 1) -> np.ndarray:
    """Return opaque noise: uint8, shape (height, width, 4), the same with every release of numpy."""
    values = np.frombuffer(np.random.Generator(np.random.PCG64(seed)).bytes(width * height * 4), dtype=np.uint8)
    return values.reshape(height, width, 4) | np.array([0, 0, 0, 255], dtype=np.uint8)


def alpha(value: int) -> np.ndarray:
    whole = drawn(40, 10, (2, 2, 6, 6), (12, 2, 6, 6), (22, 2, 6, 6), (32, 2, 6, 6))
    whole[2:4, 2:38, 3] = np.where(whole[2:4, 2:38, 3] > 0, value, 0)
    return whole


def blocks(side: int, many: int, down: int = 0) -> np.ndarray:
    line = np.array([[(20 + 9 * rank, 3 * rank, 200 - rank, 255) for rank in range(many)]], dtype=np.uint8)
    return np.repeat(np.repeat(line, down or side, axis=0), side, axis=1)


def strip(pixels: np.ndarray) -> bool:
    return _is_strip(np.ascontiguousarray(pixels).view(np.uint32)[..., 0])


def squares(side: int, columns: int, rows: int, kinds: int, jump: int) -> np.ndarray:
    """Return full squares of some kinds, each a slope that starts ``jump`` from where the last one ended."""
    slope = np.arange(side)[:, None] + np.arange(side)[None, :]
    whole = np.full((side * rows, side * columns, 4), 255, dtype=np.uint8)
    for rank in range(rows * columns):
        top, left = rank // columns * side, rank % columns * side
        whole[top : top + side, left : left + side, 0] = slope + rank % kinds * jump % 150
    return whole


def cells_said(pixels: np.ndarray, lossy: bool = False) -> str:
    found = full_cells(pixels, lossy)
    return f"{found and (found.columns, found.rows, found.things)}"


def wave(step: int, height: int, change: int, frames: int) -> np.ndarray:
    """Return a picture of noise that repeats with changes of the whole frame, the same at its first and last frame."""
    return np.concatenate([noise(step, height) // 2 + np.uint8(change * min(rank, 1 + rank % 2)) for rank in range(frames)], axis=1)


def row(many: int, step: int, size: tuple[int, int], width: int = 0, down: int = 30) -> np.ndarray:
    return drawn(width or many * step, down, *((rank * step + 2, 3, *size) for rank in range(many)))


PICTURES: dict[str, Ramp] = {
    "alpha": (lambda value: measured(alpha(value)), 0, 255),
    "width of cells": (lambda step: measured(row(5, step, (max(1, step - 4), 20))), 3, 18),
    "cells in a row": (lambda many: [one.columns == many for one in measure(row(many, 4, (2, 3), down=6)).grids], 255, 258),
    "figures that touch the next": (lambda wide: measured(row(6, 12, (wide, 2))), 1, 16),
    "pixels across a line": (
        lambda high: measured(np.maximum(row(6, 12, (8, 24)), drawn(72, 30, (0, 3, 72, high)))), 0, 20,
    ),
    "cells of other areas": (
        lambda high: measured(drawn(72, 30, *((12 * rank + 2, 3, 8, 24 if rank > 2 else high) for rank in range(6)))), 1, 26,
    ),
    "cells that are used": (lambda many: measured(row(many, 12, (8, 20), width=96)), 0, 8),
    "cells of two rows that are used": (
        lambda many: measured(drawn(60, 24, *((12 * (rank % 5) + 2, 12 * (rank // 5) + 2, 8, 8) for rank in range(many)))), 0, 10,
    ),
    "gap between cells": (lambda gap: measured(drawn(
        4 * 20 + 3 * gap, 20 + gap + 20, *(((20 + gap) * (rank % 4), (20 + gap) * (rank // 4), 20, 20) for rank in range(8))
    )), 0, 5),
    "margin around cells": (lambda margin: measured(drawn(
        2 * margin + 4 * 20 + 3, 2 * margin + 41, *((margin + 21 * (rank % 4), margin + 21 * (rank // 4), 20, 20) for rank in range(8))
    )), 0, 4),
    "figures in a wider picture": (lambda many: measured(row(many, 24, (16, 20), width=24 * many + 17)), 1, 8),
    "room after the last figure": (lambda more: measured(row(4, 12, (8, 14), width=48 + more, down=20)), 0, 8),
    "height of the last figure": (
        lambda high: len(measure(drawn(70, 36, *((14 * rank + 3, 2, 9, high if rank == 3 else 14) for rank in range(4)))).grids), 2, 33,
    ),
    "place of the second figure": (
        lambda left: measured(drawn(128, 30, *((24 * rank + (left if rank == 1 else 3), 2, 14, 20) for rank in range(5)))), 9, 12,
    ),
    "figures without cells": (
        lambda many: measured(drawn(170, 95, *((17 * (rank % 9) + rank % 4, 23 * (rank // 9) + rank % 5, 9, 11) for rank in range(many)))),
        1, 7,
    ),
    "ground of a lossy picture": (
        lambda far: len(measure(drawn(90, 30, (5, 4, 20, 20), (40, 6, 30, 20), ground=(200 - far, 40, 90, 255)), True).parts), 15, 18,
    ),
    "side of blocks": (lambda side: strip(blocks(side, 9)), 1, 70),
    "number of blocks": (lambda many: strip(blocks(4, many)), 1, 20),
    "height of blocks": (lambda high: strip(blocks(4, 8, high)), 1, 70),
    "colour of the last block": (lambda shade: strip(np.concatenate([blocks(4, 5), blocks(4, 6)[:, -4:] + np.uint8(shade)], axis=1)), 0, 9),
    "side of a strip's squares": (lambda side: cells_said(squares(side, 6, 1, 6, 67)), 3, 40),
    "squares of a strip": (lambda many: cells_said(squares(8, many, 1, 5, 67)) != "None", 1, 70),
    "jump between squares": (lambda jump: cells_said(squares(12, 8, 1, 8, jump)), 0, 149),
    "kinds of squares in a strip": (lambda kinds: cells_said(squares(12, 8, 1, kinds, 67)), 1, 8),
    "kinds of squares in rows": (lambda kinds: cells_said(squares(16, 6, 6, kinds, 37)), 1, 36),
    "jump between squares in rows": (lambda jump: cells_said(squares(16, 6, 6, 36, jump)), 0, 99),
    "width of a wave": (lambda step: measured(wave(step, 9, 2, 4)), 6, 40),
    "change of a wave": (lambda far: measured(wave(14, 9, far, 4)), 0, 42),
    "frames of a wave": (lambda many: measured(wave(14, 9, 3, many)), 1, 12),
    "height of a wave": (lambda high: measured(wave(24, high, 2, 5)), 1, 14),
}  # fmt: skip


def test_pictures_are_measured_the_same_up_to_the_same_limits():
    """Pictures drawn here with one number that grows: a size, a gap, a count, a difference."""
    assert recorded("limits of pictures", PICTURES) == set()


def placed(found: Found) -> Placed:
    return Placed(found, {"file": found.files[0]}, {}, ())


def texts(count: int, kind: Kind = "sound") -> str:
    found = [replace(sprite(f"s{rank}") if kind == "sprite" else sound(name=f"s{rank}"), lossy=True, turned=True) for rank in range(count)]
    target = CONSOLES["basalt32"]
    fitted = fit(tuple(found), target, set())
    left = tuple(Left(f"{rank}.doc", "is not art") for rank in range(count))
    some = [placed(one) for one in found]
    needs = show_needs(fitted, target, None, [f"scene{rank}" for rank in range(count)])
    text = [*summary(some, left, 9), not_taken(left), tables(some, fitted, True), scene(some, fitted, "main"), *needs]
    return hash_of("\n".join(text).encode())


def full(margin: int, count: int, used: int = 100) -> str:
    """Return what is said of one sprite that scenes have too little memory for."""
    console = CONSOLES["basalt32"]
    scenes = {f"scene{rank}": {"margin": margin + rank} for rank in range(count)}
    budget = as_budget(budget_json(scenes, image={"bytes": used, "planned": 0, "most": 60_000}))
    return without_numbers(" ".join(show_needs(fit((sprite(),), console, set()), console, budget, list(scenes))))


TEXTS: dict[str, Ramp] = {
    "sounds": (texts, 0, 60),
    "files not taken": (lambda many: hash_of(not_taken(tuple(Left(f"{rank}", "x") for rank in range(many))).encode()), 190, 230),
    "sprites": (lambda many: texts(many, "sprite"), 0, 14),
    "memory that scenes have left": (lambda margin: full(margin, 5), -20, 40_000),
    "scenes": (lambda many: full(1, many), 0, 30),
    "cartridge": (lambda used: full(1, 1, used), 55_000, 60_100),
    "animations": (
        lambda many: summary([placed(sprite(animations=tuple(Anim(f"a{rank}", (0,)) for rank in range(many))))], ())[0], 0, 12,
    ),
    "length of a line": (lambda long: hash_of(tables(
        [placed(sprite(reason="r" * long))], fit((sprite(reason="r" * long),), CONSOLES["basalt32"], set()), True
    ).encode()), 60, 140),
}  # fmt: skip


def test_texts_change_where_they_did():
    """Lists that end with how many more there are, scenes with too little memory, lines that would become too long."""
    assert recorded("limits of texts", TEXTS) == set()


def test_board_changes_where_it_did(tmp_path, monkeypatch):
    """``found.png`` of pictures and sprites from a pixel to more than the board is wide: sizes, lines, numbers, anchors."""
    monkeypatch.setattr(picture, "png", Image.Image.tobytes)

    def board(width: int, height: int, frames: int, kind: str) -> str:
        columns = frames if kind == "sheet" else 1
        Image.fromarray(drawn(width * columns, height, (0, 0, width * columns, height))).save(tmp_path / "one.png", compress_level=1)
        if kind == "background":
            one = replace(sky(width, height), files=("one.png",))
        else:
            lefts = (width * rank % (width * columns) for rank in range(frames))
            cells = tuple(Frame("one.png", Box(left, 0, width, height), Box(0, 0, 1, 1)) for left in lefts)
            more = {"source": kind, "files": ("one.png",), "frames": cells, "canvas": (width, height), "anchor": (width // 3, height - 1)}
            one = replace(sprite(), **more, grid=grid(columns, 1) if kind == "sheet" and width % 2 else None)
        return hash_of(draw_found(tmp_path, [placed(one)]))

    sizes = ((1, 1), (9, 11), (10, 12), (32, 129), (128, 20), (129, 9), (257, 30), (3, 500), (1240, 9))
    found = {f"{kind} of {width} x {height}": board(width, height, 3, kind) for width, height in sizes for kind in ("sheet", "frames")}
    found |= {f"background of {size}": board(*size, 1, "background") for size in (*sizes, (480, 200), (481, 201))}
    found |= {f"{many} frames": board(20, 9, many, "frames") for many in (1, 2, 8, 9, 48, 49)}
    dots = [(str(rank), Image.new("RGBA", (1, 1))) for rank in range(20)]
    for ways in ((40, 4), (200, 3), (3, 290)):
        sizes = [picture._laid_out(dots, replace(sprite(), canvas=(ways[0] + rank, ways[1]))).size for rank in range(0, 90, 2)]
        found[f"rows of frames from {ways} on"] = " ".join(str(high) for _, high in sizes)
    assert differing("found art at limits", found) == set()
