"""Frames of different sizes on one canvas, laid over one another at a point of each: an edge's middle, the centre, or its anchor."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from PIL import Image

from pipeline.assets.sources.keyed import near, rgb_of
from pipeline.pixels.feet import feet
from pipeline.plain.bounds import PICTURE_PIXELS
from pipeline.plain.errors import Problem, refuse
from pipeline.project.assets import Sprite

Point = tuple[int, int]


class Drawn(NamedTuple):
    """A frame as drawn.

    Attributes:
        picture: RGBA.
        shown: its name, for messages.
        ms: milliseconds it is shown; 0 where the source does not say.
        anchor: the point that the author gives it, in pixels from its top left; None where there is none.
        place: column and row of the source that its top left is.
        numbers: of its pixels in the source's own palette, mode L; None where they are not asked for, or there are none.
        own: on a canvas, where the frame's own picture is there and its width and height; None without one.
    """

    picture: Image.Image
    shown: str
    ms: float = 0.0
    anchor: Point | None = None
    place: tuple[int, int] = (0, 0)
    numbers: Image.Image | None = None
    own: tuple[int, int, int, int] | None = None


class Canvas(NamedTuple):
    """What all frames of a sprite are put on.

    Attributes:
        width, height: in pixels.
        point: where the point of each frame is put.
    """

    width: int
    height: int
    point: Point

    def place(self, point: Point) -> tuple[int, int]:
        """Return where the top left corner of a frame goes, by the frame's own point."""
        return self.point[0] - point[0], self.point[1] - point[1]

    def put(self, part: Image.Image, point: Point) -> Image.Image:
        """Return a frame's picture, or its numbers, on the canvas, by the frame's own point; 0 where the frame does not reach."""
        place = self.place(point)
        if place == (0, 0) and part.size == (self.width, self.height):
            return part
        picture = Image.new(part.mode, (self.width, self.height))
        picture.paste(part, place)
        return picture


def canvas_for(frames: Iterable[Drawn], spec: Sprite, alpha: int, problems: list[Problem]) -> tuple[Canvas | None, list[Point]]:
    """Return the smallest canvas that holds all frames, and the point of each frame; notes markers that are missing or not alone.

    Args:
        alpha: pixels at least this opaque are drawn.

    Raises:
        ProjectError: the canvas would have more pixels than a picture may have.
    """
    points: list[Point] = []
    left = up = right = down = -(1 << 30)
    for frame in frames:
        x, y = _point(frame, spec, alpha, problems)
        points.append((x, y))
        width, height = frame.picture.size
        left, up, right, down = max(left, x), max(up, y), max(right, width - x), max(down, height - y)
    if not points:
        return None, points
    width, height = left + right, up + down
    if width * height > PICTURE_PIXELS:
        wrong = f"{width:,} x {height:,} pixels are needed for all frames by their anchors; at most {PICTURE_PIXELS:,} are taken"
        raise refuse(frame.shown, "", wrong, "bring the anchors nearer to their frames")
    return Canvas(width, height, (left, up)), points


def _point(frame: Drawn, spec: Sprite, alpha: int, problems: list[Problem]) -> Point:
    """Return the point at which a frame is laid over the others, in pixels from its top left."""
    width, height = frame.picture.size
    if spec.align == "anchors":
        return anchor_of(frame, spec, alpha, problems)
    return width // 2, {"top": 0, "centre": height // 2}.get(spec.align or "", height)


def anchor_of(frame: Drawn, spec: Sprite, alpha: int, problems: list[Problem]) -> Point:
    """Return a frame's anchor: the author's, its marker's, or its feet; notes a marker that is missing or not alone."""
    if frame.anchor is not None:
        return frame.anchor
    if spec.marker is None:
        return feet(np.asarray(frame.picture)[..., 3] >= alpha)
    places = marker_places(frame.picture, spec.marker)
    if len(places) == 1:
        return places[0]
    remedy = f"give each frame one pixel of {spec.marker} where its anchor is"
    wrong = f"has no pixel of the marker's colour {spec.marker}"
    if places:
        listed = ", ".join(f"({x}, {y})" for x, y in places[:3])
        wrong = f"has {len(places):,} pixels of the marker's colour {spec.marker}: {listed}{', ...' if len(places) > 3 else ''}"
    problems.append(Problem(frame.shown, "", wrong, remedy))
    return places[0] if places else (0, 0)


def marker_places(picture: Image.Image, marker: str) -> list[Point]:
    """Return x and y of a frame's opaque pixels of the marker's colour, from the top, then the left."""
    pixels = np.asarray(picture)
    found = near(pixels, rgb_of(marker)) & (pixels[..., 3] > 0)
    return [(int(x), int(y)) for y, x in np.argwhere(found)]


def without_marker(picture: Image.Image, marker: str) -> Image.Image:
    """Return a frame without its marker.

    In the marker's place comes the commonest colour of the pixels above, left, right and below, if at least two of them are
    opaque (then it was on the figure), else a transparent pixel. Of equally common colours the first in that order is taken.
    """
    places = marker_places(picture, marker)
    if not places:
        return picture
    pixels, before = np.array(picture), np.asarray(picture)
    for x, y in places:
        around = [(x, y - 1), (x - 1, y), (x + 1, y), (x, y + 1)]
        inside = [(at, down) for at, down in around if 0 <= at < picture.width and 0 <= down < picture.height]
        colours = [tuple(before[down, at].tolist()) for at, down in inside if (at, down) not in places and before[down, at, 3]]
        pixels[y, x] = max(colours, key=colours.count) if len(colours) > 1 else (0, 0, 0, 0)
    return Image.fromarray(pixels)
