"""Pictures and folders of art made by chance, near the limits by which they are judged: figures that touch, gaps, margins, grounds, tiles.

Only rectangles and bytes are drawn and only ``random.Random`` is asked, so that they are the same with every release of a library.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pipeline.assets.sources.keyed import Ground
from pipeline.bringing.measuring.measure import measure
from pipeline.bringing.measuring.shapes import Look
from pipeline.bringing.names import natural
from pipeline.bringing.records import Looked

GROUNDS = [(0, 0, 0, 0)] * 3 + [(255, 0, 255, 255), (255, 255, 255, 255), (0, 0, 0, 255)]
FOLDERS = ("", "", "hero", "hero/walk", "enemies/bat", "enemies", "items", "ui", "bg", "tiles", "sounds")
STEMS = (
    "hero_walk_{n}", "hero_run{n}", "bat fly {n}", "coin", "coin{n}", "Key-{n}", "sky", "background_{n}", "title", "menu button",
    "walk_{n}", "{n}", "level_16x16", "strip{n}", "icons_8x8", "sheet", "idle", "palette", "explosion_strip{n}",
    "npc_talk_left_{n}", "logo", "tileset",
)  # fmt: skip


def grid(chance: random.Random) -> np.ndarray:
    """Cells with a figure in each, some of which reach into the next; gaps, margins, empty cells, more width than the cells take."""
    columns, rows, width, height = chance.randint(1, 6), chance.randint(1, 3), chance.randint(6, 20), chance.randint(6, 20)
    gap, margin, ground = chance.choice((0, 0, 0, 1, 2, 3)), chance.choice((0, 0, 1, 2)), chance.choice(GROUNDS)
    more = chance.choice((0, 0, 0, 1, width, 2 * width))
    whole = blank(2 * margin + columns * width + (columns - 1) * gap + more, 2 * margin + rows * height + (rows - 1) * gap, ground)
    count = columns * rows - chance.choice((0, 0, 0, 1, 2))
    inset, over = chance.choice((0, 1, 1, 2)), chance.choice((0, 0, 0, 2, 6))
    for rank in range(count):
        left, top = margin + rank % columns * (width + gap), margin + rank // columns * (height + gap)
        left, top = left + inset + chance.randint(0, 1), top + inset + chance.randint(0, 1)
        wide, high = width - 2 * inset - chance.randint(0, 2), height - 2 * inset - chance.randint(0, 2)
        colour = tuple(chance.choice((20, 60, 200)) for _ in range(3))
        rectangle(whole, left, top, max(1, wide), max(1, high), colour)
        if chance.randrange(8) < over:
            rectangle(whole, left, top + high // 2, wide + 3, 1, colour)
        rectangle(whole, left + wide // 3, top + high // 3, 2, 2, (240, 240, 40))
    return whole


def scattered(chance: random.Random) -> np.ndarray:
    """Rectangles of like or unlike sizes here and there, or letters in a line."""
    whole = blank(chance.randint(40, 120), chance.randint(20, 60), chance.choice(GROUNDS))
    base, spread, line = chance.randint(3, 14), chance.choice((0, 2, 12)), chance.random() < 0.3
    left = 2
    for _ in range(chance.randint(1, 9)):
        wide, high = base + chance.randint(0, spread), base + chance.randint(0, spread)
        top = 4 if line else chance.randint(0, max(0, whole.shape[0] - high))
        left = left + wide + chance.choice((1, 2, 6, 14)) if line else chance.randint(0, max(0, whole.shape[1] - wide))
        rectangle(whole, left, top, wide, high, (chance.randrange(250), 80, 40))
    return whole


def tiles(chance: random.Random) -> np.ndarray:
    """Full squares side by side or in rows, from flat to noisy, some alike, some not square."""
    side, columns = chance.choice((7, 8, 12, 16)), chance.randint(2, 8)
    rows = chance.choice((1, 1, 1, -(-96 // side)))
    columns = max(columns, -(-96 // side)) if rows > 1 else columns
    noise, kinds = chance.choice((0, 4, 30, 120)), chance.choice((1, 2, 3, 40))
    pool = []
    for _ in range(kinds):
        colour = np.array([chance.randrange(200) for _ in range(4)])
        grains = np.frombuffer(chance.randbytes(side * side * 4), dtype=np.uint8).reshape(side, side, 4)
        pool.append((colour + grains.astype(int) * noise // 255 + np.arange(side)[:, None, None] % 5).astype(np.uint8))
    lines = [np.concatenate([chance.choice(pool) for _ in range(columns)], axis=1) for _ in range(rows)]
    whole = np.concatenate(lines, axis=0)
    whole[..., 3] = 255
    return whole[:, : whole.shape[1] - chance.choice((0, 0, 0, 1))]


def colours(chance: random.Random) -> np.ndarray:
    """A strip of blocks of one colour each, or nearly."""
    side, count = chance.choice((1, 2, 8, 64, 65)), chance.randint(2, 18)
    line = [[chance.randrange(256) for _ in range(3)] + [255] for _ in range(count)]
    line = line if chance.random() < 0.7 else [*line[:-1], line[0]]
    whole = np.repeat(np.repeat(np.array([line], dtype=np.uint8), side, axis=0), chance.choice((side, side, 2 * side)), axis=1)
    if chance.random() < 0.2:
        whole[-1, -1, 0] ^= 1
    return np.ascontiguousarray(whole.swapaxes(0, 1)) if chance.random() < 0.3 else whole


def waves(chance: random.Random) -> np.ndarray:
    """Full pictures side by side that repeat with small changes, or with none."""
    width, height, count = chance.choice((11, 12, 24)), chance.choice((6, 10)), chance.randint(3, 8)
    first = np.frombuffer(chance.randbytes(width * height * 4), dtype=np.uint8).reshape(height, width, 4) // 2
    changes = chance.choice((0, 3, 40))
    frames = [first + np.uint8(changes and chance.randrange(changes)) for _ in range(count)]
    whole = np.concatenate(frames, axis=1)
    whole[..., 3] = 255
    return whole


KINDS: dict[str, Callable[[random.Random], np.ndarray]] = {
    "grids": grid, "scattered": scattered, "tiles": tiles, "colours": colours, "waves": waves,
}  # fmt: skip


def blank(width: int, height: int, ground: tuple[int, ...]) -> np.ndarray:
    return np.full((height, width, 4), ground, dtype=np.uint8)


def rectangle(whole: np.ndarray, left: int, top: int, width: int, height: int, colour: tuple[int, ...]) -> None:
    whole[max(0, top) : top + height, max(0, left) : left + width] = (*colour, 255)


def folder(chance: random.Random, looks: list[Look]) -> dict[str, Looked]:
    """Return files as if they had been looked at: pictures with looks of such pictures, some as large as a screen, sounds and the rest."""
    found = {}
    for _ in range(chance.randint(1, 5)):
        found |= _row(chance, looks)
    for _ in range(chance.randint(2, 16)):
        stem = chance.choice(STEMS).format(n=chance.randint(1, 12))
        kind = chance.choices(("picture", "animation", "sound", "font", "palette", ""), (16, 1, 2, 1, 1, 1))[0]
        name = "/".join(filter(None, (chance.choice(FOLDERS), f"{stem}.{kind or 'doc'}")))
        one = Looked(name, kind, digest=f"{chance.randrange(1 << 32):064x}", size=chance.randrange(1, 9999))
        if kind in ("picture", "animation"):
            one = replace(one, look=_large(chance, chance.choice(looks)) if chance.random() < 0.3 else chance.choice(looks))
            one = replace(one, frames=chance.randint(2, 30)) if kind == "animation" else one
        elif kind == "sound":
            one = replace(one, seconds=chance.choice((0.1, 1.0, 40.0, 200.0)), rate=chance.choice((4000, 11025, 22050, 44100)))
        elif kind == "font":
            one = replace(one, letters="".join(map(chr, range(32, chance.randint(40, 127)))))
        elif kind == "palette":
            one = replace(one, entries=chance.choice((1, 4, 16, 17, 256, 257)))
        found[name] = replace(one, wrong="is damaged") if chance.random() < 0.05 else one
    return {name: found[name] for name in sorted(found, key=natural)}


def _row(chance: random.Random, looks: list[Look]) -> dict[str, Looked]:
    """Return numbered pictures of one size, or nearly, as exported frame by frame; some in a folder for each movement."""
    look, place = chance.choice(looks), chance.choice((*FOLDERS, "hero/run", "enemies/bat/fly left", "cat/1", "01 idle", "frames"))
    stem = chance.choice(("{n}", "walk_{n:02}", "hero_walk_{n}", "hero{n}", "bat fly {n}", "hero_hit{n}_left", "tile_{n:03}", "coin-{n}x"))
    first, step = chance.choice((0, 1, 1, 9)), chance.choice((1, 1, 1, 2))
    found = {}
    for number in range(first, first + step * chance.randint(1, 9), step):
        name = "/".join(filter(None, (place, f"{stem.format(n=number)}.png")))
        other = look._replace(width=look.width + 1) if chance.random() < 0.1 else look
        found[name] = Looked(name, "picture", digest=f"{chance.randrange(1 << 32):064x}", size=9, look=other)
    return found


def _large(chance: random.Random, look: Look) -> Look:
    """Return a look of something of about a screen's size."""
    key = chance.choice((None, None, Ground("#ff00ff", 0), Ground("#fb04fc", 4), Ground("#203040", 0)))
    width, height = chance.choice((96, 160, 192, 240, 320, 640)), chance.choice((60, 84, 144, 160, 224, 240, 480))
    full, opaque = look.box._replace(left=0, top=0, width=width, height=height), chance.choice((400, 989, 990, 1000))
    return Look(width, height, opaque, chance.choice((16, 64, 65, 300, 9000)), key, full, lossy=chance.random() < 0.2)


def looks(chance: random.Random, count: int) -> list[Look]:
    """Return what is measured of pictures of all kinds in turn."""
    makers = list(KINDS.values())
    return [measure(makers[rank % len(makers)](chance), lossy=rank % 7 == 0) for rank in range(count)]
