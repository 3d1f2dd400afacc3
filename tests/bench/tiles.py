"""The demo's harbours as tiles: how many, how large, how fast. Run: ``python -m tests.bench.tiles``.

Each harbour is brought to 15 and to 144 colours, cut into 8 x 8 tiles, and seen through a window of 320 x 240.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from unittest import mock

import numpy as np
from PIL import Image

from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import METRIC_UNIT
from pipeline.pixels.colours.quantise import choose_words, nearest_entries
from pipeline.pixels.tiles import merge
from pipeline.pixels.tiles.compare import Layer, compare
from pipeline.pixels.tiles.merge import entry_points, merge_to_budget
from pipeline.pixels.tiles.palettes import split_palettes
from pipeline.pixels.tiles.tiles import Tiles, cut
from pipeline.plain.bits import parse_pattern
from tests.pixels.inverses import count_words

HARBOURS = Path(__file__).parent.parent.parent / "demo_project" / "art" / "harbours"
_ENTRY = parse_pattern("xBBBBBGGGGGRRRRR")
_WINDOW, _SPEED = (320, 240), (4, 2)
_BUDGETS = (1024, 512)
_MAP_ENTRY = 2  # bytes


def main() -> None:
    """Measure and print."""
    for path in sorted(HARBOURS.glob("*.png")):
        with Image.open(path) as opened:
            rgb = np.asarray(opened.convert("RGB"))
        for colours, bits in ((15, 4), (144, 8)):
            _harbour(f"{path.stem}, {colours} colours", rgb, colours, bits)
        _palettes(path.stem, rgb)
    _speed()


def _indices(rgb: np.ndarray, colours: int) -> tuple[np.ndarray, np.ndarray]:
    entries = to_rgb(choose_words(*count_words(rgb.reshape(-1, 3), _ENTRY), colours, _ENTRY), _ENTRY)
    words, where = np.unique(to_words(rgb, _ENTRY), return_inverse=True)
    found = nearest_entries(perceptual(to_rgb(words, _ENTRY)), perceptual(entries))
    return found[where].reshape(rgb.shape[:2]).astype(np.uint8), entries


def _harbour(name: str, rgb: np.ndarray, colours: int, bits: int) -> None:
    picture, entries = _indices(rgb, colours)
    plain, mirrored = cut(picture, 8, 8), cut(picture, 8, 8, True, True)
    cells = plain.map_index.size
    print(f"{name}: cells {cells}, tiles {len(plain.tiles)}, with mirroring {len(mirrored.tiles)}")
    _forms("all tiles", picture, mirrored, bits)
    for budget in _BUDGETS:
        merged = merge_to_budget(mirrored, budget, entry_points(entries), flip_x=True, flip_y=True)
        loss = f"difference {merged.mean_difference}, worst cell {merged.worst_difference} of 10000"
        _forms(f"{budget} tiles, {merged.changed_cells} cells changed, {loss}", picture, merged.tiles, bits)


def _forms(name: str, picture: np.ndarray, tiles: Tiles, bits: int) -> None:
    height, width = picture.shape
    got = compare(Layer(width, height, tiles, bits * 8, _MAP_ENTRY, bits), _WINDOW, _SPEED)
    ratios = (f"{key} {got['tiles'][key]} / {got['bitmap'][key]}" for key in got["bitmap"] if key != "memory_bytes")
    print(f"  {name}: tiles / bitmap: {', '.join(ratios)}; window_tiles {got['tiles']['window_tiles']}")


def _palettes(name: str, rgb: np.ndarray) -> None:
    words = to_words(rgb, _ENTRY)
    for palettes, entries in ((1, 15), (4, 15), (8, 15), (1, 60)):
        split = split_palettes(words, 8, 8, palettes, entries, _ENTRY)
        print(f"  {name}, {palettes} palettes of {entries}: error {split.mean_error / METRIC_UNIT:.3f}, lossy tiles {split.lossy_tiles}")


def _timed(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _speed() -> None:
    """Time merging 1500 tiles of noise, the hardest there are, and a harbour's steps."""
    noise = np.random.default_rng(1).integers(0, 15, (240, 400)).astype(np.uint8)
    entries = np.random.default_rng(2).integers(0, 256, (15, 3), dtype=np.uint8)
    tiles = cut(noise, 8, 8, True, True)
    for budget in (1024, 512, 64):
        taken = _timed(lambda budget=budget: merge_to_budget(tiles, budget, entry_points(entries), flip_x=True, flip_y=True))
        print(f"{len(tiles.tiles)} tiles of noise to {budget}: {taken:.2f} s")
    with Image.open(HARBOURS / "northpier.png") as opened:
        rgb = np.asarray(opened.convert("RGB"))
    picture, _ = _indices(rgb, 15)
    mirrored = cut(picture, 8, 8, True, True)
    layer = Layer(640, 320, mirrored, 32, _MAP_ENTRY, 4)
    print(f"cut with mirroring: {_timed(lambda: cut(picture, 8, 8, True, True)):.3f} s")
    print(f"compare: {_timed(lambda: compare(layer, _WINDOW, _SPEED)):.3f} s")
    print(f"four palettes of 15: {_timed(lambda: split_palettes(to_words(rgb, _ENTRY), 8, 8, 4, 15, _ENTRY)):.2f} s")

    _large()


def _large() -> None:
    """A picture of 2048 x 512 from all harbours: steps beside cutting it, and thinning before merging beside merging all."""
    rgb = np.concatenate([_square(path) for path in sorted(HARBOURS.glob("*.png"))], axis=1)
    picture, entries = _indices(rgb, 15)
    tiles, points = cut(picture, 8, 8, True, True), entry_points(entries)
    merged = {}

    def merge_with(most: int) -> None:
        with mock.patch.object(merge, "MOST", most):
            merged[most] = merge_to_budget(tiles, 1024, points, flip_x=True, flip_y=True)

    whole, thinned = _timed(lambda: merge_with(1 << 20)), _timed(lambda: merge_with(merge.MOST))
    cutting = _timed(lambda: cut(picture, 8, 8, True, True))
    comparing = _timed(lambda: compare(Layer(2048, 512, tiles, 32, _MAP_ENTRY, 4), _WINDOW, _SPEED))
    ratios = [merged[merge.MOST].mean_difference / merged[1 << 20].mean_difference, thinned / whole]
    print(f"2048 x 512, {len(tiles.tiles)} tiles: compare / cut {comparing / cutting:.1f}, merge to 1024 / cut {thinned / cutting:.1f}")
    print(f"  thinned first / all compared: difference {ratios[0]:.3f}, time {ratios[1]:.2f}")


def _square(path: Path) -> np.ndarray:
    with Image.open(path) as opened:
        return np.asarray(opened.convert("RGB").resize((512, 512)))


if __name__ == "__main__":
    main()
