"""The game's two fonts: capitals drawn on a grid of 8 x 11, and a small part of a free font under a name of its own."""

from __future__ import annotations

from pathlib import Path

from inks import INKS, rgb
from PIL import Image

CELL = (8, 11)
# Five columns from the left, bits from the top row down; the shapes are ours.
SHAPES = {
    "A": "7e 09 09 09 7e", "B": "7f 49 49 49 36", "C": "3e 41 41 41 22", "D": "7f 41 41 22 1c", "E": "7f 49 49 49 41",
    "F": "7f 09 09 09 01", "G": "3e 41 49 49 3a", "H": "7f 08 08 08 7f", "I": "00 41 7f 41 00", "J": "20 40 41 3f 01",
    "K": "7f 08 14 22 41", "L": "7f 40 40 40 40", "M": "7f 02 0c 02 7f", "N": "7f 04 08 10 7f", "O": "3e 41 41 41 3e",
    "P": "7f 09 09 09 06", "Q": "3e 41 51 21 5e", "R": "7f 09 19 29 46", "S": "26 49 49 49 32", "T": "01 01 7f 01 01",
    "U": "3f 40 40 40 3f", "V": "0f 30 40 30 0f", "W": "3f 40 38 40 3f", "X": "63 14 08 14 63", "Y": "07 08 70 08 07",
    "Z": "61 51 49 45 43", "0": "3e 51 49 45 3e", "1": "00 42 7f 40 00", "2": "62 51 49 49 46", "3": "22 41 49 49 36",
    "4": "18 14 12 7f 10", "5": "27 45 45 45 39", "6": "3c 4a 49 49 30", "7": "01 71 09 05 03", "8": "36 49 49 49 36",
    "9": "06 49 49 29 1e", ".": "00 60 60 00 00", ",": "00 60 60 00 00", "!": "00 00 5f 00 00", "?": "02 01 51 09 06",
    "-": "08 08 08 08 08", "'": "00 04 03 00 00", ":": "00 36 36 00 00", "/": "60 18 08 0c 03", " ": "00 00 00 00 00",
}  # fmt: skip
MARKS = {"É": ("E", "acute"), "È": ("E", "grave"), "Ê": ("E", "hat"), "À": ("A", "grave"), "Ç": ("C", "tail"), "Ô": ("O", "hat")}
ORDER = (*"ABCDEFGHIJKLMNOPQRSTUVWXYZ", *"0123456789", *MARKS, *".,!?-':/", " ")
COLUMNS = 13
SMALL = "Lueurs Texte"
KEPT = [*range(0x20, 0x7F), *range(0xA0, 0x100), 0x152, 0x153, 0x2013, 0x2014, 0x2019, 0x2026]


def draw_letters(art: Path) -> None:
    """Write the strip: light letters that darken downwards, each with a shadow to its lower right."""
    strip = Image.new("RGBA", (CELL[0] * COLUMNS, CELL[1] * -(-len(ORDER) // COLUMNS)))
    for rank, letter in enumerate(ORDER):
        lit = _lit(letter)
        left, top = rank % COLUMNS * CELL[0], rank // COLUMNS * CELL[1]
        for x, y in lit:
            strip.putpixel((left + x + 1, top + y + 1), (*rgb(INKS["line"]), 255))
        for x, y in lit:
            strip.putpixel((left + x, top + y), (*rgb(INKS["glow" if y < 5 else "flame" if y < 8 else "coat_light"]), 255))
    strip.save(art / "lettres.png")


def _lit(letter: str) -> list[tuple[int, int]]:
    """Return the pixels of a letter: column 1 to 5, row 0 to 9."""
    base, mark = MARKS.get(letter, (letter, ""))
    columns = [int(part, 16) for part in SHAPES[base].split()]
    lit = [(x + 1, y + 2) for x, bits in enumerate(columns) for y in range(7) if bits >> y & 1]
    if mark in ("acute", "grave", "hat"):
        # A row shorter, so that its mark has room.
        lit = [(x, y + 1 if y < 3 else y) for x, y in lit if y != 3]
    below = [(2, 9)] if letter == "," else []
    marks = {"acute": [(3, 1), (4, 0)], "grave": [(3, 1), (2, 0)], "hat": [(2, 1), (3, 0), (4, 1)], "tail": [(3, 9)], "": below}
    return lit + marks[mark]


def cut_font(shipped: Path, folder: Path) -> None:
    """Write Latin letters of DejaVu Sans as a font of another name, as its licence asks. Needs fontTools."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    font = TTFont(shipped / "DejaVuSans.ttf", recalcTimestamp=False)
    cutter = subset.Subsetter(subset.Options(layout_features=[], name_IDs=["*"], hinting=True, notdef_outline=True))
    cutter.populate(unicodes=KEPT)
    cutter.subset(font)
    kept = {0: "Copyright (c) 2003 by Bitstream, Inc.; DejaVu changes are in the public domain. Some letters of DejaVu Sans.",
            1: SMALL, 2: "Regular", 3: SMALL, 4: SMALL, 6: SMALL.replace(" ", ""), 13: "See LICENSE.txt beside the font."}  # fmt: skip
    font["name"].names = []
    for number, text in kept.items():
        font["name"].setName(text, number, 3, 1, 0x409)
    font.save(folder / "lueurs-texte.ttf")
    (folder / "LICENSE.txt").write_bytes((shipped / "LICENSE.txt").read_bytes())
