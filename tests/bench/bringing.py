"""How many sheets are guessed as their makers cut them: ``python -m tests.bench.bringing FOLDER [--labels held|fit]``.

FOLDER is the data of a free game that says how its pictures are cut, unpacked with ``dpkg -x``:

- pingus-data (GPL-2 or later): files ``NAME.sprite`` with ``(image "FILE")``, ``(array COLUMNS ROWS)`` and ``(size WIDTH HEIGHT)``.
  Pictures without ``array`` are one frame each. Held back until 38 of 61 sheets were right; rows that repeat with changes came after.
  FOLDER is its ``data/images``.
- mrrescue (zlib, CC-BY-SA-3.0; its archive unpacked): ``newAnimation(img.NAME, WIDTH, HEIGHT, SECONDS, COUNT)`` in its scripts, of which
  the count is compared. Held back until 18 of 34 were right; rows that end before their picture does came after.

With ``--labels``, FOLDER holds unpacked packages under their names, and guesses are compared with ``bringing_labels.toml``: ``held`` are
pictures that nobody looked at while rules were made, ``fit`` are those that rules were made with.

What was drawn for kobodeluxe-data and ardentryst was looked at while the rules were made.
"""

from __future__ import annotations

import argparse
import re
import resource
import time
import tomllib
from collections import Counter
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.bringing.guess import describe
from pipeline.bringing.look import look_through
from pipeline.bringing.records import Found

_SCREEN = (320, 240)
LABELS = Path(__file__).with_name("bringing_labels.toml")


def described_sheets(folder: Path) -> dict[str, tuple[int, int]]:
    """Return file -> columns and rows, as the descriptions say; pictures that several describe differently are left out."""
    said: dict[str, set[tuple[int, int]]] = {}
    for path in sorted(folder.rglob("*.sprite")):
        text = path.read_text(encoding="utf-8", errors="replace")
        image, array = re.search(r'\(image\s+"([^"]+)"', text), re.search(r"\(array\s+(\d+)\s+(\d+)\)", text)
        if image:
            file = folder.parent / image[1].lstrip("/") if image[1].startswith("/") else path.parent / image[1]
            if file.resolve().is_file() and file.resolve().is_relative_to(folder.resolve()):
                name = file.resolve().relative_to(folder.resolve()).as_posix()
                said.setdefault(name, set()).add(_whole(file, text, (int(array[1]), int(array[2]))) if array else (1, 1))
    return {name: next(iter(cuts)) for name, cuts in said.items() if len(cuts) == 1}


def _whole(file: Path, text: str, array: tuple[int, int]) -> tuple[int, int]:
    """Return the cells of the whole picture, of which a description may name only some rows: by the size of a cell."""
    size = re.search(r"\(size\s+(\d+)\s+(\d+)\)", text)
    with Image.open(file) as picture:
        if size and not picture.width % int(size[1]) and not picture.height % int(size[2]):
            return picture.width // int(size[1]), picture.height // int(size[2])
    return array


def described_counts(folder: Path) -> dict[str, set[int]]:
    """Return name of a picture without its ending -> frames of its animations, as scripts say; those that compute them are left out."""
    counts: dict[str, set[int]] = {}
    for path in sorted(folder.glob("*.lua")):
        text = path.read_text(encoding="utf-8", errors="replace")
        for name, count in re.findall(r"newAnimation\(img\.(\w+),\s*\d+,\s*\d+,\s*[\d.]+,\s*(\d+)", text):
            counts.setdefault(name, set()).add(int(count))
    return counts


def guessed(found: tuple[Found, ...]) -> dict[str, tuple[int, int]]:
    """Return file -> columns and rows guessed; 1 and 1 for what is one frame, 0 and the number of figures where there is no grid."""
    cuts = {}
    for one in found:
        for name in one.files:
            cuts[name] = (one.grid.columns, one.grid.rows) if one.grid else (0, len(one.frames)) if one.source == "sheet" else (1, 1)
    return cuts


def compare_labels(root: Path, chosen: str) -> None:
    """Print what is guessed otherwise than labelled, and recall and precision of sheets, of pools, and of single pictures."""
    counts: Counter[str] = Counter()
    for package, labels in tomllib.loads(LABELS.read_text(encoding="utf-8"))[chosen].items():
        found = describe(look_through(root / package), _SCREEN, package).found
        for one in found:
            for name in one.files:
                label = labels.get(Path(name).name)
                if label:
                    _count(counts, f"{package}/{Path(name).name}", label, one)
    for kind, wanted, right, guesses in (
        ("sheets", "sheet", "sheet right", "sheet guessed"),
        ("of them pools of cells", "pool", "pool right", "pool guessed"),
        ("single pictures", "picture", "picture right", "picture guessed"),
    ):
        print(f"{kind}: {counts[right]} of {counts[wanted]} found, {counts[guesses]} guessed")


def _count(counts: Counter[str], name: str, label: str, one: Found) -> None:
    cut, _, pool = label.partition(" ")
    sheet = one.source == "sheet"
    guess = f"{one.grid.columns}x{one.grid.rows}" if one.grid else f"{len(one.frames)} figures" if sheet else "picture"
    counts["picture" if cut == "picture" else "sheet"] += 1
    counts["sheet guessed" if sheet else "picture guessed"] += 1
    kind = "picture" if cut == "picture" else "sheet"
    counts[f"{kind} right"] += guess == cut
    counts["pool"] += bool(pool)
    counts["pool guessed"] += sheet and not one.animations
    counts["pool right"] += bool(pool) and guess == cut and not one.animations
    if guess != cut or bool(pool) != (sheet and not one.animations):
        print(f"{name}: {label}, guessed {guess}{' pool' if sheet and not one.animations else ''}{'' if sheet else ' ' + one.kind}")


def time_many(folder: Path, count: int) -> None:
    """Print how long a folder of many small pictures takes, as a ratio to reading them by Pillow alone, and the memory it takes."""
    chance = np.random.default_rng(1)
    for rank in range(count):
        pixels = np.zeros((48, 40, 4), dtype=np.uint8)
        pixels[4:44, 6:34] = (*chance.integers(0, 256, 3), 255)
        path = folder / f"figure_{rank % 100}/walk_{rank // 100:03}.png"
        path.parent.mkdir(parents=True, exist_ok=True)
        Image.fromarray(pixels).save(path)
    looking, reading = [], []
    for _ in range(3):
        began = time.process_time()
        for path in folder.rglob("*.png"):
            with Image.open(path) as picture:
                picture.convert("RGBA")
        reading.append(time.process_time() - began)
        before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
        found = describe(look_through(folder), _SCREEN, "many").found
        looking.append(time.process_time() - began)
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    taken = sum(len(one.files) for one in found)
    ratio = min(looking) / min(reading)
    print(f"{count:,} pictures, {taken:,} taken as {len(found):,} assets: {min(looking):.1f} s, {ratio:.1f} times Pillow alone")
    print(f"memory grew by {grown / 1024:.0f} MiB in the last of three runs")


def main() -> None:
    """Read the command line, look, guess, compare, and print what differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.bringing", description=__doc__.partition("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--labels", choices=("held", "fit"))
    parser.add_argument("--many", type=int, help="write this many small pictures into FOLDER, which is empty, and time looking through it")
    options = parser.parse_args()
    folder = options.folder
    if options.many:
        time_many(folder, options.many)
        return
    if options.labels:
        compare_labels(folder, options.labels)
        return
    said = described_sheets(folder)
    found = describe(look_through(folder), _SCREEN, folder.name).found
    cuts = guessed(found)
    counts = {Path(name).stem: len(one.frames) if one.source == "sheet" else 1 for one in found for name in one.files}
    animations = {name: wanted for name, wanted in described_counts(folder).items() if name in counts}
    if animations:
        print(f"animations: {sum(counts[name] in wanted for name, wanted in animations.items())} of {len(animations)} have their frames")
    right, all_of = Counter(), Counter()
    for name, cut in sorted(said.items()):
        kind = "sheets" if cut != (1, 1) else "single pictures"
        all_of[kind] += 1
        right[kind] += cuts.get(name) == cut
        if cuts.get(name) != cut:
            print(f"{name}: {cut[0]} x {cut[1]}, guessed {cuts.get(name)}")
    for kind in all_of:
        print(f"{kind}: {right[kind]} of {all_of[kind]} as their makers cut them")


if __name__ == "__main__":
    main()
