"""What a chosen palette loses beside an exhaustive exchange search and beside general quantisers, on pictures given.

Run: ``python -m tests.bench.palette_exchange PICTURE ...``. Figures are mean CIEDE2000 (the printed formula, with the math
library's functions) between the pixels as drawn and the nearest entry, whatever finds it. For each picture, console and
number of colours: our error; its ratio to the exhaustive search; its ratio to the best of Pillow's median cut, max
coverage and fast octree, each with and without k-means, and libimagequant if Pillow has it; and, for reference, its
ratio to scikit-learn's k-means if that is installed. Entries of all are snapped to the console's colours. ``all fit``:
the picture's colours, as the console shows them, fit and are kept (``quantise.kept_exact``); then nothing is searched.

The exhaustive search starts greedily and exchanges any entry for any candidate until no exchange gains. Candidates are
all colours of a console of nine bits; of one of fifteen, the picture's and their 26 neighbours, at most ``_MOST``.

Pictures it was measured on, a few of each Debian package, with the licence its copyright file names: kobodeluxe-data (GPL-2,
GPL-2+), berusky-data (GPL-2+), ardentryst (CC-BY-SA-3.0, GPL-3+), lbreakout2-data (GPL),
tecnoballz-data (GPL-3+), alienblaster-data (GPL-2+), tuxmath-data (GPL-3+, CC-BY-SA-3.0), pingus-data (GPL-2+). Other
pictures of the same packages, scikit-image's and the demo's were used while the search was built.
"""

from __future__ import annotations

import itertools
import sys
from pathlib import Path

import numpy as np
from PIL import Image, features

from pipeline.pixels.colours.colour import DRAWN, to_rgb, to_words
from pipeline.pixels.colours.difference import ciede2000, lab
from pipeline.pixels.colours.quantise import choose_words, kept_exact, put_together
from pipeline.plain.bits import BitPattern, parse_pattern
from tests.bench.palette_error import picture, pillow_palettes
from tests.pixels.inverses import count_words

PATTERNS = {"9-bit": parse_pattern("0000BBB0GGG0RRR0"), "15-bit": parse_pattern("xBBBBBGGGGGRRRRR")}
SIZES = (4, 15, 16, 64)
_PIXELS = 20_000  # looked at of a picture, evenly spread
_SERVED = 2000  # colours that the exhaustive search serves; more are put together
_MOST = 6000


def candidates(rgb: np.ndarray, pattern: BitPattern) -> np.ndarray:
    """Return the colours that the exhaustive search tries: uint8, shape (n, 3)."""
    used = np.unique(to_words(rgb, pattern))
    levels = [pattern.decode(used, letter).astype(int) for letter in "RGB"]
    tops = [(1 << pattern.bits(letter)) - 1 for letter in "RGB"]
    if sum(map(pattern.bits, "RGB")) <= 9:
        grid = np.array(list(itertools.product(*(range(top + 1) for top in tops)))).T
        return to_rgb(np.asarray(pattern.encode(**dict(zip("RGB", grid, strict=True))), dtype=np.uint32), pattern)
    found = [used]
    for steps in itertools.product((-1, 0, 1), repeat=3):
        moved = [np.clip(level + step, 0, top) for level, step, top in zip(levels, steps, tops, strict=True)]
        found.append(np.asarray(pattern.encode(**dict(zip("RGB", moved, strict=True))), dtype=np.uint32))
    others = np.setdiff1d(np.concatenate(found), used)
    room = max(_MOST - len(used), 0)
    return to_rgb(np.concatenate([used, np.random.default_rng(0).permutation(others)[:room]]), pattern)


def exhaustive(gaps: np.ndarray, counts: np.ndarray, most: int) -> list[int]:
    """Return columns of gaps (colours, candidates) that no exchange of one for any other betters."""
    near, chosen = np.full(len(gaps), 1e4, dtype=np.float32), []
    for _ in range(most):
        chosen.append(int((counts @ np.maximum(near[:, None] - gaps, 0)).argmax()))
        near = np.minimum(near, gaps[:, chosen[-1]])
    useless, column = 0, 0
    owner, least, second = _ranked(gaps[:, chosen])
    while useless < gaps.shape[1]:
        column, useless = (column + 1) % gaps.shape[1], useless + 1
        gap = gaps[:, column]
        nearer = np.minimum(least, gap)
        gain = float((least - nearer) @ counts)
        loss = np.bincount(owner, (np.minimum(second, gap) - nearer) * counts, len(chosen))
        if column not in chosen and loss.min() < gain * (1 - 1e-6):
            chosen[int(loss.argmin())] = column
            owner, least, second = _ranked(gaps[:, chosen])
            useless = 0
    return chosen


def _ranked(gaps: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    row, owner = np.arange(len(gaps)), gaps.argmin(axis=1)
    least = gaps[row, owner]
    gaps[row, owner] = np.inf
    return owner, least, gaps.min(axis=1)


def error(rgb: np.ndarray, counts: np.ndarray, entries: np.ndarray) -> float:
    """Return the mean CIEDE2000 of colours to the nearest of some entries."""
    near = np.full(len(rgb), np.inf)
    place = lab(rgb)
    for entry in lab(np.unique(entries, axis=0)):
        near = np.minimum(near, ciede2000(place, entry))
    return float(near @ counts / counts.sum())


def general(rgb: np.ndarray, most: int) -> dict[str, np.ndarray]:
    """Return the palettes of Pillow's quantisers, libimagequant among them if it is there."""
    found = pillow_palettes(rgb, most)
    if features.check("libimagequant"):
        strip = Image.fromarray(np.resize(rgb, (-(-len(rgb) // 256), 256, 3)))
        found["libimagequant"] = np.array(strip.quantize(most, Image.Quantize.LIBIMAGEQUANT).getpalette("RGB")).reshape(-1, 3)[:most]
    return {name: palette.astype(np.uint8) for name, palette in found.items()}


def k_means(rgb: np.ndarray, most: int) -> np.ndarray | None:
    """Return the means of scikit-learn's k-means; None where it is not installed."""
    try:
        from sklearn.cluster import KMeans  # noqa: PLC0415
    except ImportError:
        return None
    return np.clip(np.rint(KMeans(most, n_init=4, random_state=0).fit(rgb.astype(float)).cluster_centers_), 0, 255).astype(np.uint8)


def main() -> None:
    """Print a line for each picture, console and number of colours, and the worst ratios."""
    worst: dict[str, float] = {}
    for name in sys.argv[1:]:
        pixels = picture(Path(name))
        pixels = pixels[:: -(-len(pixels) // _PIXELS)]
        drawn, counts = np.unique(pixels, axis=0, return_counts=True)
        served, weights, _ = put_together(drawn, counts, _SERVED)
        for kind, pattern in PATTERNS.items():
            tried = candidates(pixels, pattern)
            place = lab(tried)
            gaps = np.stack([ciede2000(one, place) for one in lab(served)]).astype(np.float32)
            for most in SIZES:
                _line(Path(name).name, kind, most, (pixels, drawn, counts), pattern, (tried, gaps, weights), worst)
    print(*(f"worst, {what}: {ratio:.4f}" for what, ratio in sorted(worst.items())), sep="\n")


def _line(name, kind, most, colours, pattern, search, worst) -> None:
    pixels, drawn, counts = colours
    if len(np.unique(to_words(drawn, pattern))) <= most and kept_exact(to_words(drawn, DRAWN), DRAWN, pattern):
        print(f"{name:22}{kind:7}{most:4} all fit", flush=True)
        return
    tried, gaps, weights = search
    ours = error(drawn, counts, to_rgb(choose_words(*count_words(pixels, DRAWN), most, pattern, counted=DRAWN), pattern))
    others = {"exhaustive": tried[exhaustive(gaps, weights, most)]} | general(pixels, most)
    means = k_means(pixels, most)
    if means is not None:
        others["scikit-learn's k-means"] = means
    errors = {what: error(drawn, counts, to_rgb(to_words(one, pattern), pattern)) for what, one in others.items()}
    for what, theirs in errors.items():
        worst[f"{kind} {what}"] = max(worst.get(f"{kind} {what}", 0), ours / theirs)
    best = min(set(errors) - {"exhaustive", "scikit-learn's k-means"}, key=errors.__getitem__)
    line = f"{name:22}{kind:7}{most:4} ours {ours:.3f}, exhaustive {ours / errors['exhaustive']:.3f}, {best} {ours / errors[best]:.3f}"
    print(line, flush=True)


if __name__ == "__main__":
    main()
