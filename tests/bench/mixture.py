"""What mixing entries where the eye sees a gain does to pictures given: ``mixture.WhereNeeded`` beside nearest entries and whole dithering.

Run: ``python -m tests.bench.mixture [--pictures FOLDER] PICTURE ...``. Pictures are brought to 320 pixels across and cut to 240 rows. For
each console and number of colours: the mean CIEDE2000 as drawn and after a Gaussian blur of one pixel in linear light (the printed
formula, with the math library's functions), for nearest entries, for the rule, and for ``ordered`` and ``diffusion`` of the whole picture;
the part of the pixels that the rule mixes, and the processor's seconds it takes. With ``--pictures`` the picture, nearest and the rule's
are put side by side into a folder, to be looked at.

Cost and least gain were fitted on pictures of berusky-data (GPL-2+), lbreakout2-data (GPL), tuxmath-data (GPL-3+, CC-BY-SA-3.0) and
scikit-image's coffee and chelsea (CC0); they were measured, and looked at, on others: ardentryst (CC-BY-SA-3.0, GPL-3+), pingus-data
(GPL-2+), alienblaster-data (GPL-2+), kobodeluxe-data (GPL-2, GPL-2+), another of tuxmath-data, and scikit-image's astronaut (NASA, public
domain). Names are Debian packages, licences those of their copyright files.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.pixels.colours.apply import Converter
from pipeline.pixels.colours.colour import DRAWN, to_rgb
from pipeline.pixels.colours.difference import ciede2000, lab
from pipeline.pixels.colours.dither import dithered
from pipeline.pixels.colours.mixture import WhereNeeded, blurred
from pipeline.pixels.colours.quantise import choose_words
from tests.bench.palette_exchange import PATTERNS, SIZES
from tests.pixels.inverses import count_words

_RULES = ("none", "where needed", "ordered", "diffusion")


def read(path: Path) -> np.ndarray:
    """Return a picture on black: uint8, shape (height, 320, 3)."""
    with Image.open(path) as opened:
        rgba = opened.convert("RGBA")
    flat = Image.alpha_composite(Image.new("RGBA", rgba.size, (0, 0, 0, 255)), rgba).convert("RGB")
    return np.asarray(flat.resize((320, max(1, round(flat.height * 320 / flat.width))), Image.Resampling.LANCZOS))[:240]


def difference(left: np.ndarray, right: np.ndarray) -> float:
    """Return the mean CIEDE2000 of two pictures."""
    return float(ciede2000(lab(left.reshape(-1, 3)), lab(right.reshape(-1, 3))).mean())


def shown_by(rule: str, rgb: np.ndarray, entries: np.ndarray) -> tuple[np.ndarray, float, float]:
    """Return a picture as a rule shows it, the part that is mixed where the rule says so, and the processor's seconds."""
    start = time.process_time()
    made = WhereNeeded(entries) if rule == "where needed" else dithered(entries, rule)
    rgba = np.concatenate([rgb, np.full((*rgb.shape[:2], 1), 255, dtype=np.uint8)], axis=-1)[None]
    held = Converter(made, 0).convert(rgba)[0][0]
    part = made.seen.mixed / made.seen.pixels if isinstance(made, WhereNeeded) else 0.0
    return entries[held], part, time.process_time() - start


def main() -> None:
    """Print a line for each picture, console and number of colours, and the means over all pictures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--pictures", type=Path)
    parser.add_argument("picture", nargs="+", type=Path)
    asked = parser.parse_args()
    sums: dict[tuple[str, int], list[list[float]]] = {}
    print(f"{'picture':24}{'entry':7}{'most':>5}  as drawn / blurred: " + "  ".join(_RULES) + "   mixed  seconds")
    for path in asked.picture:
        rgb = read(path)
        for kind, pattern in PATTERNS.items():
            for most in SIZES:
                words = choose_words(*count_words(rgb.reshape(-1, 3), DRAWN), most, pattern, counted=DRAWN)
                found = {rule: shown_by(rule, rgb, to_rgb(words, pattern)) for rule in _RULES}
                pairs = [(difference(rgb, one), difference(blurred(rgb), blurred(one))) for one, _, _ in found.values()]
                _, part, seconds = found["where needed"]
                sums.setdefault((kind, most), []).append([value for pair in pairs for value in pair] + [part, seconds])
                print(f"{path.stem[:23]:24}{kind:7}{most:5}  {_pairs(pairs)}{part:8.2f}{seconds:8.2f}", flush=True)
                if asked.pictures:
                    sheet = np.concatenate([rgb, found["none"][0], found["where needed"][0]], axis=1)
                    Image.fromarray(sheet).save(asked.pictures / f"{path.stem}-{kind}-{most}.png")
    for (kind, most), rows in sums.items():
        *values, part, seconds = np.mean(rows, axis=0).tolist()
        print(f"{'mean':24}{kind:7}{most:5}  {_pairs(list(zip(values[::2], values[1::2], strict=True)))}{part:8.2f}{seconds:8.2f}")


def _pairs(pairs: list[tuple[float, float]]) -> str:
    return "  ".join(f"{drawn:5.2f}/{seen:5.2f}" for drawn, seen in pairs)


if __name__ == "__main__":
    main()
