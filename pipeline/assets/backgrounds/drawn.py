"""A background's pixels before they are arranged: on one palette, on a palette's lines, or in direct colour."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from pipeline.assets.art import Artwork
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.facts import ColourError, SeenError
from pipeline.joints.views import PaletteEntries, PaletteView
from pipeline.pixels.cells import pad_to_cells, pad_with_edge
from pipeline.pixels.colours.colour import DRAWN, to_words
from pipeline.pixels.colours.difference import ErrorFacts
from pipeline.pixels.tiles.lines import draw_on_lines
from pipeline.project.assets import Background
from pipeline.target.records import PictureRules


@dataclass(frozen=True)
class Drawn:
    """A background as the console will show it.

    Attributes:
        wanted: the scaled art, uint8, shape (height, width, 3).
        pixels: what is stored, uint32, padded to whole tiles: index in a palette's line, or a direct-colour word.
        lines: line of the console's palette that each tile takes, int32, shape (rows, columns); 0 without lines.
        first_line: the palette's first line.
        base: what a pixel of the palette's first entry holds.
        colours: of the palette, uint8, shape (lines, entries, 3); None for direct colour.
        transparent: the first entry of each line is not a colour.
        error: CIEDE2000 between the scaled art and what is shown.
        seen: what a blur leaves of it; None where no mixture was looked for.
    """

    wanted: np.ndarray
    pixels: np.ndarray
    lines: np.ndarray
    first_line: int
    base: int
    colours: np.ndarray | None
    transparent: bool
    error: ColourError
    seen: SeenError | None = None

    def shown(self, pixels: np.ndarray, tile: tuple[int, int]) -> np.ndarray:
        """Return the colours of other pixels in this one's lines, not padded: uint8, shape (height, width, 3).

        Raises:
            ValueError: it is of direct colour, which has no lines.
        """
        if self.colours is None:
            raise ValueError("direct colour has no lines of a palette")
        height, width = self.wanted.shape[:2]
        return _shown(pixels - self.base, self.lines - self.first_line, self.colours, tile)[:height, :width]


def draw_background(
    frames: PreparedFrames, palette: PaletteView | None, spec: Background, rules: PictureRules, tile: tuple[int, int], name: str
) -> Drawn:
    """Return a background's pixels, padded to whole tiles.

    Raises:
        ProjectError: as ``Artwork`` raises it.
    """
    facts = palette.read() if palette else None
    if facts and facts.line_entries:
        return _on_lines(next(iter(frames)), facts, rules, tile)
    dithering = spec.dither or ("where needed" if spec.arrangement == "bitmap" else "none")
    art = Artwork(frames, palette, dataclasses.replace(rules, cell=(1, 1)), name, dithering)
    pixels = next(iter(art))
    bits = rules.pixel_format.pixel.bits("I")
    first_line = facts.first >> bits if facts else 0
    padded = pad_to_cells(pixels, *tile, fill=art.base if facts else rules.pixel_format.pixel.fixed)
    lines = np.full((padded.shape[0] // tile[1], padded.shape[1] // tile[0]), first_line, dtype=np.int32)
    colours = np.array(facts.colours, dtype=np.uint8).reshape(1, -1, 3) if facts else None
    transparent = bool(facts and facts.transparent)
    wanted = next(iter(frames))[..., :3]
    return Drawn(wanted, padded, lines, first_line, art.base, colours, transparent, art.colour_error(), art.seen_error())


def _on_lines(frame: np.ndarray, facts: PaletteEntries, rules: PictureRules, tile: tuple[int, int]) -> Drawn:
    size, own = facts.line_entries, int(facts.transparent)
    colours = np.array(facts.colours, dtype=np.uint8).reshape(-1, size, 3)
    words = [to_words(line[own:used], rules.entry) for line, used in zip(colours, facts.line_used, strict=True)]
    wanted = frame[..., :3]
    # Where all colours fit, each is shown as the console shows it, though another entry may be a little nearer.
    counted = rules.entry if facts.exact else DRAWN
    entries, lines = draw_on_lines(pad_with_edge(to_words(wanted, counted), *tile), words, tile, rules.entry, counted)
    pixels, first = (entries + own).astype(np.uint32), facts.first // size
    shown = _shown(pixels, lines, colours, tile)[: wanted.shape[0], : wanted.shape[1]]
    return Drawn(wanted, pixels, lines + first, first, 0, colours, bool(own), whole_error(wanted, shown))


def _shown(entries: np.ndarray, lines: np.ndarray, colours: np.ndarray, tile: tuple[int, int]) -> np.ndarray:
    """Return the colours of whole tiles of entries in lines that are numbered from 0: uint8, shape (height, width, 3)."""
    return colours[np.repeat(np.repeat(lines, tile[1], axis=0), tile[0], axis=1), entries]


def whole_error(wanted: np.ndarray, shown: np.ndarray) -> ColourError:
    """Return the error over all pixels of two pictures: uint8, shape (height, width, 3)."""
    errors = ErrorFacts()
    errors.add(wanted, shown, np.ones(wanted.shape[:2], dtype=bool))
    return ColourError(**errors.facts())
