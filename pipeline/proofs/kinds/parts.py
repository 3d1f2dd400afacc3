"""A background's parts: outlined on what the image holds, and the art at full detail beside it, with what differs.

The art at full detail comes from ``work/NAME.originals.png``; ``joints.originals`` documents it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath

import numpy as np
from PIL import Image, ImageDraw

from pipeline.joints.facts import BackgroundFacts
from pipeline.joints.originals import Originals, PartShown, Region, read_originals
from pipeline.pixels.colours.difference import difference_map
from pipeline.proofs.animated_png import FEW_BYTES
from pipeline.proofs.canvas import DEEP, GAP, INK, PAPER, SOFT, WIDE, aspect_size, fitted, largest, png, stretched, text_width, write
from pipeline.proofs.kinds.before import shades, write_key
from pipeline.proofs.subject import Subject

_COMFORTABLE = (1200, 720)  # screen pixels up to which a small picture is magnified
_LINE, _TAG, _HEADING, _CAPTION, _KEY = 19, 15, 26, 22, 34
_PANEL = (380, 300)  # screen pixels up to which a panel is magnified
_Box = tuple[int, int, int, int]  # left, top, right and bottom pixel
_PANELS = ("as drawn", "in the image", "difference in colour")


def outlines(subject: Subject) -> bytes:
    """Return the background with the outline, number and name of each part, and a list of the parts, as a PNG."""
    rgb, described = _shown(subject), _described(subject)
    height, width = rgb.shape[:2]
    size = aspect_size(width, height, largest(width, height, _COMFORTABLE, subject.pixel_aspect, limit=4), subject.pixel_aspect)
    lines = [_listed(number, part) for number, part in enumerate(described.parts, 1)]
    across = max(size[0], *(text_width(line, 12) + 2 * GAP for line in lines))
    sheet = Image.new("RGB", (across, size[1] + GAP + _LINE * len(lines) + GAP // 2), PAPER)
    sheet.paste(Image.fromarray(stretched(rgb, size)), (0, 0))
    draw = ImageDraw.Draw(sheet)
    scale = _scale(subject)
    times = (size[0] / width * scale[0], size[1] / height * scale[1])
    tags: list[_Box] = []
    for number, part in enumerate(described.parts, 1):
        for place in part.places:
            _outline(draw, _box(part, place, times, size))
        write(draw, (GAP, size[1] + GAP + _LINE * (number - 1)), lines[number - 1], 12, across - GAP, fill=SOFT)
    for number, part in enumerate(described.parts, 1):
        text = f"{number}: {_name(part)}"
        tags.append(_tag_box(_box(part, part.places[0], times, size), text, size, tags))
        _tag(draw, tags[-1], text)
    return png(sheet)


def compared(subject: Subject) -> bytes:
    """Return the art at full detail, what the image holds and their difference, whole and around each part, as a PNG."""
    rows = _rows(subject)
    width = max(640, *(row.width for row in rows), *(text_width(row.heading, 13, bold=True) + 2 * GAP for row in rows))
    sheet = Image.new("RGB", (width, sum(row.height for row in rows) + _KEY), PAPER)
    draw = ImageDraw.Draw(sheet)
    top = 0
    for row in rows:
        write(draw, (GAP, top + GAP // 2 + 4), row.heading, 13, width - 2 * GAP, bold=True)
        for rank, (caption, picture) in enumerate(zip(_PANELS, row.panels, strict=True)):
            left, down = row.place(rank)
            write(draw, (left, top + down - _CAPTION + 4), caption, 12, row.step - GAP, fill=SOFT)
            sheet.paste(picture, (left, top + down))
        top += row.height
    write_key(draw, sheet.height - _KEY + 8, clear=False)
    return png(sheet, FEW_BYTES)


@dataclass(frozen=True)
class _Row:
    """What is compared in one row: a heading and three pictures of one size."""

    heading: str
    panels: list[Image.Image]

    @property
    def step(self) -> int:
        """Screen pixels from one panel to the next where they are side by side."""
        return max(self.panels[0].width, 150) + GAP

    @property
    def abreast(self) -> bool:
        return len(self.panels) * self.step + GAP <= WIDE

    @property
    def width(self) -> int:
        return (len(self.panels) if self.abreast else 1) * self.step + GAP

    @property
    def height(self) -> int:
        return _HEADING + (1 if self.abreast else len(self.panels)) * (_CAPTION + self.panels[0].height + GAP) + GAP // 2

    def place(self, rank: int) -> tuple[int, int]:
        """Return left and top of a panel."""
        across, down = (rank, 0) if self.abreast else (0, rank)
        return GAP + across * self.step, _HEADING + _CAPTION + GAP // 2 + down * (_CAPTION + self.panels[0].height + GAP)


def _rows(subject: Subject) -> list[_Row]:
    described, image = _described(subject), Image.fromarray(_shown(subject))
    headings = [f"{subject.name}, whole", *(f"{number}: {_name(part)}" for number, part in enumerate(described.parts, 1))]
    regions = [described.whole, *(part.around for part in described.parts)]
    rows, top = [], 0
    assert subject.originals is not None
    with Image.open(subject.originals.pixels) as sheet:
        for heading, region in zip(headings, regions, strict=True):
            drawn = np.asarray(sheet.crop((0, top, region.size[0], top + region.size[1])).convert("RGB"))
            rows.append(_row(subject, heading, region, drawn, image))
            top += region.size[1]
    return rows


def _row(subject: Subject, heading: str, region: Region, drawn: np.ndarray, image: Image.Image) -> _Row:
    ours = _in_image(image, region, _scale(subject))
    lost = difference_map(drawn, ours)
    times = largest(*region.size, _PANEL, subject.pixel_aspect, limit=6)
    size = aspect_size(*region.size, times, subject.pixel_aspect)
    shaded = shades(np.rint(lost * 100).astype(np.int64))
    panels = [fitted(Image.fromarray(stretched(one, size)), (WIDE - 2 * GAP, size[1])) for one in (drawn, ours, shaded)]
    return _Row(f"{heading}: CIEDE2000 {lost.mean():.1f} on average, {lost.max():.1f} at most", panels)


def _in_image(image: Image.Image, region: Region, scale: tuple[float, float]) -> np.ndarray:
    """Return what the image holds where a region is, at the region's size: each pixel as it is, or the mean of those that it covers."""
    box = [
        min(max((at + end * side / region.times) * factor, 0.0), float(most))
        for end in (0, 1)
        for at, side, factor, most in zip(region.at, region.size, scale, image.size, strict=True)
    ]
    return np.asarray(image.resize(region.size, Image.Resampling.BOX, box=(box[0], box[1], box[2], box[3])))


def _described(subject: Subject) -> Originals:
    if subject.originals is None:
        raise ValueError(f"{subject.name} has no parts")
    return read_originals(subject.originals.described)


def _shown(subject: Subject) -> np.ndarray:
    """Return what the image holds of the background, without what fills its last cells: uint8, shape (height, width, 3)."""
    facts = subject.facts
    if not isinstance(facts, BackgroundFacts):
        raise TypeError(f"a {facts.kind} has no parts")
    return subject.coloured()[0][0][: facts.height, : facts.width]


def _scale(subject: Subject) -> tuple[float, float]:
    if not isinstance(subject.facts, BackgroundFacts):
        raise TypeError(f"a {subject.facts.kind} has no parts")
    across, down = subject.facts.scale
    return float(across), float(down)


def _name(part: PartShown) -> str:
    return part.name or PurePosixPath(part.file).stem


def _listed(number: int, part: PartShown) -> str:
    copies = f", {len(part.places)} copies" if len(part.places) > 1 else ""
    (left, top), (width, height) = part.places[0], part.size
    return (
        f"{number}: {_name(part)}, {part.taken[0]} × {part.taken[1]} of {part.file}, "
        f"{_pixels(width)} × {_pixels(height)} at {_pixels(left)}, {_pixels(top)}{copies}"
    )


def _pixels(number: float) -> str:
    """Return a number of pixels to two places."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _box(part: PartShown, place: tuple[float, float], times: tuple[float, float], size: tuple[int, int]) -> _Box:
    """Return the outermost screen pixels of a copy, those outside the picture left out."""
    left, top = (max(0, int(at * factor)) for at, factor in zip(place, times, strict=True))
    right, bottom = (
        min(most, int((at + length) * factor)) - 1
        for at, length, factor, most in zip(place, part.size, times, size, strict=True)
    )
    return min(left, size[0] - 1), min(top, size[1] - 1), max(left, right), max(top, bottom)


def _outline(draw: ImageDraw.ImageDraw, box: _Box) -> None:
    """Draw a box just around what it holds, dark and light, to be seen on any ground."""
    for rim, colour in ((2, INK), (1, (255, 255, 255))):
        draw.rectangle((box[0] - rim, box[1] - rim, box[2] + rim, box[3] + rim), outline=colour)


def _tag_box(box: _Box, text: str, size: tuple[int, int], taken: list[_Box]) -> _Box:
    """Return where a part's number and name go: above its box or below it, or in the nearest row that leaves it free, if any does.

    No other tag is covered: where they take up that room, the tag goes further up, down or left. Only a picture full of tags leaves no
    other way.
    """
    width = min(text_width(text, 11) + 8, size[0])
    left = max(0, min(box[0] - 2, size[0] - width))
    usual = [box[1] - 2 - _TAG, box[3] + 3]
    rows = sorted(range(size[1] - _TAG + 1), key=lambda top: (top <= box[3] and top + _TAG > box[1], abs(top - box[1])))
    columns = range(left, -1, -width - 1)
    places = [(at, top, at + width - 1, top + _TAG - 1) for at in columns for top in [*usual, *rows] if 0 <= top <= size[1] - _TAG]
    free = [one for one in places if not any(_meet(one, other) for other in taken)]
    return next(iter([*free, *places]), (left, 0, left + width - 1, _TAG - 1))


def _meet(one: _Box, other: _Box) -> bool:
    """Return whether less than a pixel is between two boxes."""
    return one[0] <= other[2] + 1 and other[0] <= one[2] + 1 and one[1] <= other[3] + 1 and other[1] <= one[3] + 1


def _tag(draw: ImageDraw.ImageDraw, box: _Box, text: str) -> None:
    """Write a part's number and name on a ground of its own; what does not fit is left out."""
    draw.rectangle(box, fill=DEEP)
    write(draw, (box[0] + 4, box[1] + 4), text, 11, box[2] - box[0] - 7, fill=(255, 255, 255))
