"""Glyphs from an outline font, drawn without smoothing, or cut from a strip of drawn letters."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from pipeline.assets.data import read_file
from pipeline.assets.fonts.characters import Uses, missing_problem
from pipeline.assets.fonts.cmap import read_cmap
from pipeline.assets.fonts.outline import OutlineFont
from pipeline.assets.sources.keyed import cleared, likely_key
from pipeline.assets.sources.pictures import open_picture
from pipeline.pixels.glyphs import Glyph, trimmed
from pipeline.pixels.scaling.scale import cut_alpha
from pipeline.plain.bounds import FONT_BYTES, PICTURE_PIXELS
from pipeline.plain.errors import Problem, refuse
from pipeline.project.art import strip_order
from pipeline.project.assets import Font

_LARGE = 64  # pixels at which every glyph that has a shape shows it


def bounded(name: str, glyphs: Iterable[Glyph]) -> Iterator[Glyph]:
    """Yield glyphs as long as all of them have at most the pixels of a picture.

    Raises:
        ProjectError: they have more.
    """
    pixels = 0
    for count, glyph in enumerate(glyphs, 1):
        pixels += glyph.pixels.shape[0] * glyph.pixels.shape[1]
        if pixels > PICTURE_PIXELS:
            wrong = f"{count:,} glyphs have {pixels:,} pixels, at most {PICTURE_PIXELS:,} are taken for all"
            raise refuse(name, "", wrong, "use fewer characters, a smaller size, or two fonts")
        yield glyph


class OutlineSource:
    """A TrueType or OpenType font at one size; a pixel is drawn or it is not, as its own hints for that say.

    Args:
        folder: the project folder.
        name: the file, relative to it.
        spec: the font's size and colour.

    Attributes:
        line_height: ascent and descent of the font, in pixels.

    Raises:
        ProjectError: the file is not such a font, or cannot be drawn at that size.
    """

    def __init__(self, folder: Path, name: str, spec: Font) -> None:
        self._name, self._size = name, spec.size
        self._data = read_file(folder, name, FONT_BYTES)
        try:
            self._known = read_cmap(self._data)
        except ValueError as error:
            raise refuse(name, "", str(error), "use a whole .ttf or .otf file with Unicode characters") from None
        self._colour = [int((spec.colour or "#ffffff")[at : at + 2], 16) for at in (1, 3, 5)]
        if spec.size is None:
            raise ValueError(f"the font of {name} has no size")  # loading refuses that
        with self._drawing(f"at {spec.size} pixels"):
            self._font, self._large = OutlineFont(self._data, spec.size), OutlineFont(self._data, _LARGE)
        self.line_height = self._font.line_height

    def problems(self, asked: dict[str, Uses]) -> Iterator[Problem]:
        """Yield a problem for every character the font lacks, or that shows nothing at this size though it has a shape."""
        for character, uses in asked.items():
            if ord(character) not in self._known:
                yield missing_problem(character, uses, f"has no glyph in {self._name}", "choose a font that has it, or change the text")
            elif self._vanishes(character):
                yield missing_problem(character, uses, f"vanishes at {self._size} pixels", "choose a larger size, or change the text")

    def glyphs(self, asked: dict[str, Uses]) -> list[Glyph]:
        """Return a glyph for each character that ``problems`` does not report."""
        with self._drawing("whole"):
            reference = self._font.first_exact(itertools.chain(asked, map(chr, sorted(self._known))))
            return list(bounded(self._name, (self._glyph(character, reference) for character in asked)))

    def _glyph(self, character: str, reference: str | None) -> Glyph:
        mask, left, top, _ = self._font.placed(character, reference)
        pixels = np.where(mask[..., None], np.array([*self._colour, 255], dtype=np.uint8), np.uint8(0))
        return Glyph(pixels, left, top, self._font.advance(character))

    def _vanishes(self, character: str) -> bool:
        with self._drawing("whole"):
            return not len(self._font.drawn(character).mask) and len(self._large.drawn(character).mask) > 0

    @contextlib.contextmanager
    def _drawing(self, how: str) -> Iterator[None]:
        try:
            yield
        except (OSError, ValueError) as error:
            remedy = "use another size, a whole copy of the font, or another font"
            raise refuse(self._name, "", f"cannot be drawn {how}: {error}", remedy) from None


class StripSource:
    """A picture of letters on a grid, in reading order.

    Args:
        folder: the project folder.
        name: the picture, relative to it.
        spec: the font's cell, order, spacing and alpha.

    Attributes:
        line_height: rows of a cell.

    Raises:
        ProjectError: the picture cannot be read, is not a whole grid, has fewer cells than characters or drawn ones beyond them,
            or nothing transparent.
    """

    def __init__(self, folder: Path, name: str, spec: Font) -> None:
        if spec.cell is None:
            raise ValueError(f"the font of {name} has no cell")  # loading refuses that
        self._name, self._spec, self._cell, self.line_height = name, spec, spec.cell, spec.cell[1]
        picture = open_picture(folder, name)
        pixels = cut_alpha(np.asarray(cleared(picture, spec)), spec.alpha)
        if pixels[..., 3].all():
            ground = likely_key(np.asarray(picture), bool(picture.info.get("lossy")))
            key = f", or write {ground.keys}" if ground else ""
            raise refuse(name, "", "has no transparent pixel, so no letter ends", f"make the ground between the letters transparent{key}")
        width, height = self._cell
        rows, columns = pixels.shape[0] // height, pixels.shape[1] // width
        if pixels.shape[:2] != (rows * height, columns * width):
            wrong = f"{pixels.shape[1]} x {pixels.shape[0]} pixels do not part into cells of {width} x {height}"
            raise refuse(name, "", wrong, "correct cell, or the picture's size")
        order = strip_order(spec)
        if len(order) > rows * columns:
            raise refuse(name, "", f"has {rows * columns} cells, order names {len(order)} characters", "draw the others, or shorten order")
        cells = pixels.reshape(rows, height, columns, width, 4).swapaxes(1, 2).reshape(-1, height, width, 4)
        drawn = np.flatnonzero(cells[len(order) :, ..., 3].any(axis=(1, 2)))
        if len(drawn):
            place = divmod(len(order) + int(drawn[0]), columns)
            wrong = f"the cell in row {place[0] + 1}, column {place[1] + 1} is drawn, but order names only {len(order)} characters"
            raise refuse(name, f"pixel ({place[1] * width}, {place[0] * height})", wrong, "add its character to order, or clear the cell")
        self._cells = dict(zip(order, cells, strict=False))

    def problems(self, asked: dict[str, Uses]) -> Iterator[Problem]:
        """Yield a problem for every character not in order, or whose cell is empty although it is not a space."""
        for character, uses in asked.items():
            if character not in self._cells:
                remedy = "draw it and add it to order, or change the text"
                yield missing_problem(character, uses, f"has no glyph in {self._name}", remedy)
            elif not character.isspace() and not self._cells[character][..., 3].any():
                yield missing_problem(character, uses, f"has an empty cell in {self._name}", "draw it, or change the text")

    def glyphs(self, asked: dict[str, Uses]) -> list[Glyph]:
        """Return a glyph for each character that ``problems`` does not report."""
        return [self._glyph(self._cells[character]) for character in asked]

    def _glyph(self, cell: np.ndarray) -> Glyph:
        width, height = self._cell
        baseline = height if self._spec.baseline is None else self._spec.baseline
        if self._spec.spacing == "fixed":
            return Glyph(cell, 0, -baseline, width)
        glyph = trimmed(cell, 0, -baseline, 0)
        if not len(glyph.pixels):
            return glyph._replace(advance=-(-width // 2) if self._spec.space is None else self._spec.space)
        gap = 1 if self._spec.gap is None else self._spec.gap
        return glyph._replace(left=0, advance=glyph.pixels.shape[1] + gap)
