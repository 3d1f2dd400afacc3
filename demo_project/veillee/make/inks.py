"""The colours of all figures, and a canvas on which shapes become hard-edged pixels with an outline."""

from __future__ import annotations

import math
from pathlib import Path

from PIL import Image, ImageDraw

INKS = {
    "line": "#1c1430",
    "skin": "#f2bd92",
    "skin_dark": "#b8725e",
    "straw": "#ecc862",
    "straw_dark": "#a9772f",
    "coat": "#b8483c",
    "coat_dark": "#792a3c",
    "coat_light": "#e08452",
    "leather": "#5a382f",
    "leaf": "#6aa65a",
    "leaf_dark": "#2f5f50",
    "glow": "#fff4b8",
    "flame": "#ffc24a",
    "blue": "#5878bc",
    "pale": "#ccd8ea",
}
FINE = 6  # a pixel is looked at in so many rows and columns


def rgb(colour: str) -> tuple[int, int, int]:
    """Return #rrggbb as three numbers."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def write_palette(path: Path, colours: tuple[str, ...]) -> None:
    """Write a text palette of these colours, named like its file."""
    lines = "".join("{:3} {:3} {:3}\n".format(*rgb(colour)) for colour in colours)
    path.write_text(f"GIMP Palette\nName: {path.stem}\n#\n{lines}", encoding="ascii")


class Canvas:
    """Shapes in pixels, fractions allowed; each pixel takes the ink that covers most of it. Of these inks the first outlines."""

    def __init__(self, width: int, height: int, inks: dict[str, str] = INKS) -> None:
        self.size = (width, height)
        self._inks = inks
        self._numbers = {name: rank for rank, name in enumerate(inks, start=1)}
        self._fine = Image.new("L", (width * FINE, height * FINE))
        self._draw = ImageDraw.Draw(self._fine)

    def blob(self, ink: str, x: float, y: float, across: float, down: float) -> None:
        """An ellipse around a middle, with its two radii."""
        self._draw.ellipse([FINE * (x - across), FINE * (y - down), FINE * (x + across), FINE * (y + down)], self._numbers[ink])

    def shape(self, ink: str, *points: tuple[float, float]) -> None:
        """A polygon."""
        self._draw.polygon([(FINE * x, FINE * y) for x, y in points], self._numbers[ink])

    def limb(self, ink: str, start: tuple[float, float], end: tuple[float, float], width: float) -> None:
        """A thick stroke with round ends."""
        self._draw.line([FINE * start[0], FINE * start[1], FINE * end[0], FINE * end[1]], self._numbers[ink], round(FINE * width))
        for x, y in (start, end):
            self.blob(ink, x, y, width / 2, width / 2)

    def dot(self, ink: str, x: int, y: int, width: int = 1, height: int = 1) -> None:
        """Whole pixels."""
        self._draw.rectangle([FINE * x, FINE * y, FINE * (x + width) - 1, FINE * (y + height) - 1], self._numbers[ink])

    def picture(self, outline: int = 1) -> Image.Image:
        """Return the pixels as RGBA, with a dark line of that many pixels around all that is drawn."""
        width, height = self.size
        inks = [[self._ink(x, y) for x in range(width)] for y in range(height)]
        for _ in range(outline):
            inks = [[inks[y][x] or self._edge(inks, x, y) for x in range(width)] for y in range(height)]
        colours = [(0, 0, 0, 0), *((*rgb(colour), 255) for colour in self._inks.values())]
        made = Image.new("RGBA", self.size)
        made.putdata([colours[ink] for row in inks for ink in row])
        return made

    def painted(self) -> Image.Image:
        """Return all that is drawn in full detail, FINE times as large, RGBA without an outline."""
        made = self._fine.copy()
        made.putpalette([part for colour in ("#000000", *self._inks.values()) for part in rgb(colour)])
        made.info["transparency"] = 0
        return made.convert("RGBA")

    def _ink(self, x: int, y: int) -> int:
        box = self._fine.crop((x * FINE, y * FINE, (x + 1) * FINE, (y + 1) * FINE))
        return max(box.getcolors(), key=lambda found: (found[0], found[1]))[1]

    def _edge(self, inks: list[list[int]], x: int, y: int) -> int:
        width, height = self.size
        beside = ((x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1))
        return 1 if any(0 <= i < width and 0 <= j < height and inks[j][i] for i, j in beside) else 0


def swing(rank: int, count: int) -> float:
    """Return the sine of a cycle's step."""
    return math.sin(2 * math.pi * rank / count)
