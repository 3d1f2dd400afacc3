"""What a picture loses to its palette: ours beside Pillow's quantisers.

Run: ``python -m tests.bench.palette_error [PNG ...]``; pictures named are measured beside the demo's art and open
photographs. Figures are mean CIEDE2000 between the pixels as drawn and as the console shows them; every palette is
snapped to the console's colours. A ratio below 1 is ours. Three rules send a pixel to an entry:

* ``snapped``: the pixel, snapped, to the nearest entry by CIEDE2000;
* ``oklab``: the pixel, snapped, to the nearest entry in Oklab (``apply.EntryFinder``);
* ``drawn``: the pixel as drawn to the entry that looks nearest (``nearest_colours``), our colours counted as drawn.
"""

from __future__ import annotations

import functools
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import skimage
from PIL import Image

from pipeline.pixels.colours.colour import perceptual, to_rgb, to_words
from pipeline.pixels.colours.difference import ciede2000, lab
from pipeline.pixels.colours.quantise import choose_words, nearest_colours, nearest_entries
from pipeline.pixels.scaling.scale import cut_alpha, scale_rgba
from pipeline.plain.bits import BitPattern, parse_pattern
from tests.pixels.inverses import count_words

ART = Path(__file__).parents[2] / "demo_project" / "art"
PHOTOS = Path(skimage.__file__).parent / "data"  # chelsea and coffee are CC0, the astronaut is NASA's, in the public domain
PATTERNS = {"15-bit": parse_pattern("xBBBBBGGGGGRRRRR"), "9-bit": parse_pattern("0000BBB0GGG0RRR0")}
DRAWN = parse_pattern("RRRRRRRRGGGGGGGGBBBBBBBB")
RULES = ("snapped", "oklab", "drawn")
METHODS = {"median cut": Image.Quantize.MEDIANCUT, "max coverage": Image.Quantize.MAXCOVERAGE, "octree": Image.Quantize.FASTOCTREE}


def picture(path: Path) -> np.ndarray:
    """Return a picture's opaque pixels: uint8, shape (n, 3)."""
    with Image.open(path) as opened:
        rgba = np.asarray(opened.convert("RGBA"))
    return rgba[rgba[..., 3] >= 128][:, :3]


def courier(folder: Path) -> np.ndarray:
    """Return the opaque pixels of all frames of a courier, scaled as the demo scales them: uint8, shape (n, 3)."""
    parts = []
    for path in sorted(folder.glob("*.png")):
        with Image.open(path) as opened:
            frame = cut_alpha(scale_rgba(opened.convert("RGBA"), 0.77, "area"), 128)
        parts.append(frame[frame[..., 3] > 0][:, :3])
    return np.concatenate(parts)


def pictures() -> dict[str, Callable[[], np.ndarray]]:
    """Return name -> how to get its pixels."""
    found = {path.name: functools.partial(courier, path) for path in sorted((ART / "couriers").iterdir()) if path.is_dir()}
    files = [*sorted((ART / "harbours").glob("*.png")), *(PHOTOS / f"{name}.png" for name in ("astronaut", "chelsea", "coffee"))]
    return found | {path.stem: functools.partial(picture, path) for path in files}


class Measure:
    """Mean CIEDE2000 of one picture for palettes of one console.

    Args:
        rgb: uint8, shape (n, 3).
        pattern: the console's palette entry.
    """

    def __init__(self, rgb: np.ndarray, pattern: BitPattern) -> None:
        keys = rgb.astype(np.uint32) @ np.array([65536, 256, 1], dtype=np.uint32)
        keys, self._counts = np.unique(keys, return_counts=True)
        drawn = np.stack([keys >> 16, keys >> 8 & 255, keys & 255], axis=-1).astype(np.uint8)
        self._colours, self._drawn, self._pattern = drawn, lab(drawn), pattern
        words, self._word_of = np.unique(to_words(drawn, pattern), return_inverse=True)
        self._words = to_rgb(words, pattern)

    def error(self, entries: np.ndarray, rule: str) -> float:
        """Return the error with some entries (uint8, shape (m, 3)) and one of the rules."""
        shown = np.unique(to_rgb(to_words(entries, self._pattern), self._pattern), axis=0)
        if rule == "drawn":
            nearest = nearest_colours(self._colours, shown)
        elif rule == "oklab":
            nearest = nearest_entries(perceptual(self._words), perceptual(shown))[self._word_of]
        else:
            parts = np.array_split(lab(self._words), len(self._words) // 256 + 1)
            nearest = np.concatenate([ciede2000(part[:, None], lab(shown)[None]).argmin(axis=1) for part in parts])[self._word_of]
        return float((ciede2000(self._drawn, lab(shown)[nearest]) * self._counts).sum() / self._counts.sum())


def pillow_palettes(rgb: np.ndarray, most: int) -> dict[str, np.ndarray]:
    """Return the palettes of Pillow's quantisers for some pixels, each with its k-means off and on: uint8, shape (m, 3)."""
    strip = Image.fromarray(_block(rgb))
    found = {}
    for name, method in METHODS.items():
        for rounds, said in ((0, ""), (1, " + k-means")):
            flat = strip.quantize(most, method, kmeans=rounds).getpalette("RGB")
            found[name + said] = np.array(flat, dtype=np.uint8).reshape(-1, 3)[:most]
    return found


def _block(rgb: np.ndarray) -> np.ndarray:
    """Pixels as a picture of 256 columns; Pillow refuses very wide ones. The last row repeats the first pixels, if at all."""
    rows = -(-len(rgb) // 256)
    return np.resize(rgb, (rows, 256, 3))


def main() -> None:
    """Print a line for each picture, pattern and number of colours."""
    chosen = pictures() | {Path(name).stem: functools.partial(picture, Path(name)) for name in sys.argv[1:]}
    rules = "".join(f"{rule:>8}{'Pillow':>8} {'its best':24}{'ratio':>6}" for rule in RULES)
    print(f"{'picture':11}{'entry':7}{'colours':>8}{'most':>5}{'s':>6} {rules}")
    for name, read in chosen.items():
        rgb = read()
        for most in (15, 255):
            theirs = pillow_palettes(rgb, most)
            for kind, pattern in PATTERNS.items():
                print(f"{name:11}{kind:7}" + _line(rgb, most, pattern, theirs), flush=True)


def _line(rgb: np.ndarray, most: int, pattern: BitPattern, theirs: dict[str, np.ndarray]) -> str:
    words, counts = count_words(rgb, pattern)
    start = time.perf_counter()
    snapped = to_rgb(choose_words(words, counts, most, pattern), pattern)
    seconds = time.perf_counter() - start
    drawn = to_rgb(choose_words(*count_words(rgb, DRAWN), most, pattern, counted=DRAWN), pattern)
    measure = Measure(rgb, pattern)
    line = f"{len(words):8}{most:5}{seconds:6.2f} "
    for rule in RULES:
        ours = measure.error(drawn if rule == "drawn" else snapped, rule)
        errors = {name: measure.error(palette, rule) for name, palette in theirs.items()}
        best = min(errors, key=errors.__getitem__)
        line += f"{ours:8.3f}{errors[best]:8.3f} {best:24}{ours / errors[best]:6.3f}"
    return line


if __name__ == "__main__":
    main()
