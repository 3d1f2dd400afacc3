"""The parts of a background: cut out of their files, checked against it, and laid over it at some scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from PIL import Image

from pipeline.assets.sources.keyed import cleared, file_notes, near, rgb_of
from pipeline.assets.sources.pictures import open_picture
from pipeline.joints.places import Sources
from pipeline.pixels.scaling.placed import Pair, Placing
from pipeline.pixels.scaling.scale import exact_factors
from pipeline.plain.bounds import PART_PIXELS
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.project.assets import Background, Part

_TURNS = {
    "x": Image.Transpose.FLIP_LEFT_RIGHT,
    "y": Image.Transpose.FLIP_TOP_BOTTOM,
    "both": Image.Transpose.ROTATE_180,
}


@dataclass(frozen=True)
class Laid:
    """One part, ready to be laid.

    Attributes:
        number: from 1, as the author counts.
        file: its picture, as the author names it.
        spec: as the author wrote it.
        picture: what is taken of it: RGBA, key colours cleared, mirrored.
        size: width and height it takes, in pixels of the background's file.
        places: top left corner of every copy, row by row, in pixels of the background's file.
    """

    number: int
    file: str
    spec: Part
    picture: Image.Image
    size: Pair
    places: tuple[Pair, ...]

    def lay(self, ground: np.ndarray, places: tuple[Pair, ...], factors: Pair, background: Background, end: Pair) -> None:
        """Lay copies over a ground, in place.

        Args:
            ground: uint8, shape (height, width, 3 or more), opaque.
            places: of the copies, in pixels of the background's file from the ground's top left.
            factors: pixels of the ground for one of the background's file.
            background: how it is scaled.
            end: where the ground ends; see ``Placing.put``.
        """
        blend = exact(self.spec.blend)
        own = pair(one * factor for one, factor in zip(exact_factors(self.spec.scale), factors, strict=True))
        placing = Placing(own, pair(blend * factor for factor in factors), background.resample, background.light)
        for place in places:
            placing.put(ground, self.picture, pair(at * factor for at, factor in zip(place, factors, strict=True)), end)


@dataclass
class Parts:
    """All parts of a background, opened and cut one after another each time they are gone through.

    Attributes:
        sources: the background's own picture, then that of each part.
        name: of the background, for messages.
        size: width and height of its own picture.
        factors: pixels of the ground they are laid over for one of the background's file.
        notes: what an author should know, though nothing is wrong; complete after the parts were gone through.
    """

    sources: Sources
    name: str
    spec: Background
    size: tuple[int, int]
    factors: Pair = (Fraction(1), Fraction(1))
    notes: list[str] = field(default_factory=list)

    def __iter__(self) -> Iterator[Laid]:
        """Yield the parts in their order.

        Raises:
            ProjectError: after those that can be laid, with all that is wrong with the others: a picture cannot be read, a box
                leaves its file, a part or a copy is outside the background, a blend is too wide, or all copies have too many pixels.
        """
        problems: list[Problem] = []
        self.notes.clear()
        opened: tuple[str, Image.Image] | None = None
        pixels = 0
        for rank, file in enumerate(self.sources.names[1:]):
            try:
                if opened is None or opened[0] != file:
                    opened = None  # let go of the last before the next is opened
                    opened = file, self._opened(file, rank)
                    self.notes += file_notes(opened[1], file).values()
                laid = self._laid(opened[1], file, rank)
            except ProjectError as error:
                problems += error.problems
                continue
            pixels += self._pixels(laid)
            if pixels > PART_PIXELS:
                wrong = f"all parts to this one, {file}, have {pixels:,} pixels with all copies; at most {PART_PIXELS:,} are taken"
                raise refuse("project.toml", self._place(rank), wrong, "use fewer copies, or smaller parts")
            yield laid
        if problems:
            raise ProjectError(problems)

    def lay(self, ground: np.ndarray) -> None:
        """Lay all parts over the background's scaled picture, in place: uint8, shape (height, width, 3 or more), opaque.

        Raises:
            ProjectError: as going through them does; the ground is of no use then.
        """
        end = pair(side * factor for side, factor in zip(self.size, self.factors, strict=True))
        for laid in self:
            laid.lay(ground, laid.places, self.factors, self.spec, end)

    def _opened(self, file: str, rank: int) -> Image.Image:
        try:
            return open_picture(self.sources.folder, file)
        except ProjectError as error:
            which = f"part {rank + 1} of {self.name}"
            named = (Problem(one.file, f"{which}, {one.place}" if one.place else which, one.wrong, one.remedy) for one in error.problems)
            raise ProjectError(named) from None

    def _laid(self, picture: Image.Image, file: str, rank: int) -> Laid:
        part = self.spec.part[rank]
        left, top, width, height = part.box or (0, 0, *picture.size)
        if left + width > picture.width or top + height > picture.height:
            held = f"{file} has {picture.width} x {picture.height} pixels"
            wrong = f"{list(part.box or ())} reaches to {left + width}, {top + height}; {held}"
            raise refuse("project.toml", self._place(rank, "box"), wrong, "write left, top, width and height inside the file")
        taken = picture.crop((left, top, left + width, top + height))
        self._note_keys(taken, part, file, rank)
        taken = cleared(taken, part)
        if not taken.getchannel("A").getbbox():
            self.notes.append(f"part {rank + 1} ({file}) is wholly transparent, so it is not seen")
        if part.mirror:
            taken = taken.transpose(_TURNS[part.mirror])
        size = pair(side * factor for side, factor in zip(taken.size, exact_factors(part.scale), strict=True))
        laid = Laid(rank + 1, file, part, taken, size, _places(part, size))
        self._check(laid, rank)
        return laid

    def _note_keys(self, taken: Image.Image, part: Part, file: str, rank: int) -> None:
        pixels = np.asarray(taken)
        for colour in part.key or ():
            if not near(pixels, rgb_of(colour), part.tolerance).any():
                self.notes.append(f"part {rank + 1} ({file}) has no pixel of its key colour {colour}")

    def _check(self, laid: Laid, rank: int) -> None:
        """Refuse a part that is outside the background, or blended over more than it has."""
        blend, least = exact(laid.spec.blend), min(laid.size)
        if 2 * blend > least:
            placed = " x ".join(shown(side) for side in laid.size)
            wrong = f"{shown(blend)} pixels at each edge of {laid.file}, which takes {placed} pixels of the background"
            remedy = f"blend over at most {shown(Fraction(math.floor(least * 50), 100))}, so that both edges leave room for each other"
            raise refuse("project.toml", self._place(rank, "blend"), wrong, remedy)
        outside = [copy for copy, place in enumerate(laid.places) if self._lies(laid, place) == "outside"]
        partly = [copy for copy, place in enumerate(laid.places) if self._lies(laid, place) == "partly"]
        if outside:
            fit = len(laid.places) - len(outside) - (0 if laid.spec.clip else len(partly))
            remedy = "correct its place, in pixels of the background's file, or leave the part out"
            if len(laid.places) > 1 and fit:
                remedy = f"{fit} of {len(laid.places)} copies fit: correct repeat, every or at"
            raise self._misplaced(laid, rank, outside[0], "is outside", remedy)
        if partly and not laid.spec.clip:
            remedy = "move it, or write clip = true to cut off what reaches beyond"
            if len(laid.places) > 1:
                fit = len(laid.places) - len(partly)
                remedy = f"{fit} of {len(laid.places)} copies fit whole: correct repeat, every or at, or write clip = true"
            raise self._misplaced(laid, rank, partly[0], "reaches beyond", remedy)

    def _misplaced(self, laid: Laid, rank: int, copy: int, how: str, remedy: str) -> ProjectError:
        (left, top), (width, height) = laid.places[copy], laid.size
        several = len(laid.places) > 1
        which = f"copy {copy + 1} of {len(laid.places)} of {laid.file}" if several else laid.file
        where = f"{shown(left)}, {shown(top)} to {shown(left + width)}, {shown(top + height)}"
        wrong = f"{which} is put from {where}, which {how} the background's {self.size[0]} x {self.size[1]} pixels"
        return refuse("project.toml", self._place(rank, "repeat" if several else "at"), wrong, remedy)

    def _lies(self, laid: Laid, place: Pair) -> str:
        """Return whether a copy is inside the background, partly, or outside."""
        spans = list(zip(place, laid.size, self.size, strict=True))
        if any(start >= side or start + length <= 0 for start, length, side in spans):
            return "outside"
        return "inside" if all(start >= 0 and start + length <= side for start, length, side in spans) else "partly"

    def _pixels(self, laid: Laid) -> int:
        """Return how many pixels are gone through for all copies of a part: those of its picture, or those it is put on."""
        spans = zip(laid.size, self.size, self.factors, strict=True)
        placed = math.prod(math.ceil(min(length, side) * max(factor, 1)) for length, side, factor in spans)
        return len(laid.places) * max(placed, laid.picture.width * laid.picture.height)

    def _place(self, rank: int, key: str = "") -> str:
        return f"[[background.{self.name}.part]] number {rank + 1} {key}".rstrip()


def _places(part: Part, size: Pair) -> tuple[Pair, ...]:
    step = pair(map(exact, part.every)) if part.every else size
    left, top = map(exact, part.at)
    across, down = part.repeat
    return tuple((left + column * step[0], top + row * step[1]) for row in range(down) for column in range(across))


def pair(values: Iterator[Fraction]) -> Pair:
    """Return two numbers, across and down."""
    across, down = values
    return across, down


def exact(value: float) -> Fraction:
    """Return a number as it is written: 0.1 is a tenth, not its binary nearest."""
    return Fraction(str(value))


def shown(value: Fraction) -> str:
    """Return a number of pixels as an author writes it, to two places."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".")
