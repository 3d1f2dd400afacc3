"""Sheets: one picture cut into frames, on a grid with margins and gaps, never through a figure without a word."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image

from pipeline.assets.sources.islands import Box, find_islands
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import replacing
from pipeline.project.assets import Sheet

_SHOWN = 3  # crossings and ways to divide that a message lists
_LARGE = 1600  # pixels up to which a picture of cuts is magnified
_CUT, _EDGE = (255, 0, 255), (0, 120, 215)


class Axis(NamedTuple):
    """One direction of a grid, in pixels: before the first frame, a frame, between frames; and how many frames."""

    margin: int
    frame: int
    gap: int
    count: int

    def starts(self) -> range:
        """Return where each frame begins."""
        step = self.frame + self.gap
        return range(self.margin, self.margin + self.count * step, step)


class Cut(NamedTuple):
    """An edge of a frame between two opaque pixels: number of the frame, the pixel inside it, and the one outside."""

    frame: int
    x: int
    y: int
    outside: tuple[int, int]


def grid_boxes(picture: Image.Image, name: str, sheet: Sheet, alpha: int) -> list[Box]:
    """Return the boxes (left, top, width, height) of a sheet's frames, row by row.

    Args:
        name: the sheet's, for messages.
        alpha: pixels at least this opaque are drawn.

    Raises:
        ProjectError: the sheet does not divide; more frames are asked for than there are.
    """
    across, down = _axis(sheet, 0, picture.width), _axis(sheet, 1, picture.height)
    if across is None or down is None:
        raise _undivided(picture, name, sheet, alpha)
    boxes = [(left, top, across.frame, down.frame) for top in down.starts() for left in across.starts()]
    if sheet.count is not None and sheet.count > len(boxes):
        raise refuse(name, "", f"{sheet.count} frames asked for, {len(boxes)} there", "lower count, or leave it out")
    return boxes[: sheet.count]


def corners(box: Box) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of a box, as Pillow crops."""
    left, top, width, height = box
    return left, top, left + width, top + height


def slices(box: Box) -> tuple[slice, slice]:
    """Return rows and columns of a box, to index a picture's pixels."""
    left, top, width, height = box
    return slice(top, top + height), slice(left, left + width)


def drawn_pixels(picture: Image.Image, alpha: int) -> np.ndarray:
    """Return which pixels are drawn: bool, shape (height, width)."""
    return np.asarray(picture.getchannel("A")) >= alpha


def cuts_of(drawn: np.ndarray, boxes: Sequence[Box]) -> list[Cut]:
    """Return where edges of frames run between two drawn pixels; of a wholly drawn picture nothing can be said, so nothing is.

    An edge at the picture's own is not a cut, and neither is one where two figures only touch; see ``_touching``.
    """
    if drawn.all():
        return []
    cuts = [cut for frame, box in enumerate(boxes) for cut in _cuts_of_one(drawn, frame, box)]
    return _without_touching(drawn, boxes, cuts) if cuts else cuts


def _without_touching(drawn: np.ndarray, boxes: Sequence[Box], cuts: list[Cut]) -> list[Cut]:
    """Return the cuts without those between two frames that only touch there.

    Two frames touch where few pixels meet (up to two, or a sixteenth of a frame's longer side) and what meets is, on both sides, the main
    figure of its frame: a connected part with at least half of the frame's drawn pixels.
    """
    frame_of = np.full(drawn.shape, -1, dtype=np.int32)
    for frame, box in enumerate(boxes):
        frame_of[slices(box)] = frame
    between: dict[tuple[int, int], list[Cut]] = {}
    for cut in cuts:
        other = int(frame_of[cut.outside[1], cut.outside[0]])
        between.setdefault((min(cut.frame, other), max(cut.frame, other)), []).append(cut)
    main: dict[int, np.ndarray] = {}
    left: list[Cut] = []
    for (one, other), found in between.items():
        few = len(found) <= 2 * max(2, max(boxes[one][2:]) // 16)  # each is seen from both sides
        if one < 0 or not few or not all(_in_main(drawn, boxes, main, frame, found) for frame in (one, other)):
            left += found
    return sorted(left)


def _in_main(drawn: np.ndarray, boxes: Sequence[Box], main: dict[int, np.ndarray], frame: int, cuts: list[Cut]) -> bool:
    """Return whether all pixels of a frame at some cuts are in the part that has at least half of its drawn pixels."""
    box = boxes[frame]
    if frame not in main:
        part = drawn[slices(box)]
        labels = find_islands(~part, 0, part.size).labels
        sizes = np.bincount(labels.ravel())[1:]
        largest = int(sizes.argmax())
        main[frame] = (labels == largest + 1) if 2 * sizes[largest] >= sizes.sum() else np.zeros(part.shape, dtype=bool)
    return all(main[frame][cut.y - box[1], cut.x - box[0]] for cut in cuts if cut.frame == frame)


def _cuts_of_one(drawn: np.ndarray, frame: int, box: Box) -> Iterator[Cut]:
    left, top, width, height = box
    right, bottom = left + width, top + height
    for inside, outside in ((left, left - 1), (right - 1, right)):
        if 0 <= outside < drawn.shape[1]:
            for y in np.flatnonzero(drawn[top:bottom, inside] & drawn[top:bottom, outside]).tolist():
                yield Cut(frame, inside, top + y, (outside, top + y))
    for inside, outside in ((top, top - 1), (bottom - 1, bottom)):
        if 0 <= outside < drawn.shape[0]:
            for x in np.flatnonzero(drawn[inside, left:right] & drawn[outside, left:right]).tolist():
                yield Cut(frame, left + x, inside, (left + x, outside))


def check_cuts(
    picture: Image.Image, name: str, boxes: Sequence[Box], drawn: np.ndarray, anyway: bool, out: Path, remedy: Callable[[], str]
) -> None:
    """Refuse cuts through drawn pixels unless they are allowed, and leave a picture that shows them; where there is none, take
    away an earlier one.

    Args:
        drawn: bool, shape (height, width): the pixels that must not be cut.
        anyway: cuts are allowed.
        remedy: what to do in place of allowing them; only asked where there are cuts.

    Raises:
        ProjectError: there are cuts.
    """
    cuts = [] if anyway else cuts_of(drawn, boxes)
    if not cuts:
        out.unlink(missing_ok=True)
        return
    _show_cuts(picture, boxes, cuts, out)
    frames = [(frame, list(group)) for frame, group in itertools.groupby(cuts, lambda cut: cut.frame)]
    texts = [f"frame {frame} at {group[0].x}, {group[0].y} ({len(group)} pixels)" for frame, group in frames[:_SHOWN]]
    more = f" and {len(frames) - _SHOWN:,} more frames" if len(frames) > _SHOWN else ""
    wrong = f"is cut through opaque pixels: {', '.join(texts)}{more}; see {'/'.join(out.parts[-3:])}"
    raise refuse(name, "", wrong, f'{remedy()}; to cut there all the same, write cut = "anyway"')


def _show_cuts(picture: Image.Image, boxes: Sequence[Box], cuts: list[Cut], out: Path) -> None:
    """Write the sheet, pale, with the edges of its frames in blue and the cut pixels in magenta."""
    times = max(1, min(8, _LARGE // max(picture.size)))
    paper = Image.new("RGBA", picture.size, (255, 255, 255, 255))
    pale = Image.blend(paper, Image.alpha_composite(paper, picture), 0.6).convert("RGB")
    shown = np.repeat(np.repeat(np.asarray(pale), times, axis=0), times, axis=1)
    for left, top, width, height in boxes:
        rows, columns = slice(top * times, (top + height) * times), slice(left * times, (left + width) * times)
        part = shown[rows, columns]
        part[0] = part[-1] = part[:, 0] = part[:, -1] = _EDGE
    for cut in cuts:
        shown[cut.y * times : (cut.y + 1) * times, cut.x * times : (cut.x + 1) * times] = _CUT
    out.parent.mkdir(parents=True, exist_ok=True)
    with replacing(out) as file:
        Image.fromarray(shown).save(file, "PNG")


def _pair(value: int | list[int]) -> tuple[int, int]:
    return (value, value) if isinstance(value, int) else (value[0], value[1])


def _asked(sheet: Sheet, way: int) -> tuple[int, int | None, int, int | None]:
    """Return margin, frame, gap and count as the author gives them for one direction: 0 across, 1 down."""
    frame = sheet.frame[way] if sheet.frame else None
    return _pair(sheet.margin)[way], frame, _pair(sheet.gap)[way], (sheet.columns, sheet.rows)[way]


def _axis(sheet: Sheet, way: int, length: int) -> Axis | None:
    """Return one direction of a sheet's grid; None where it does not divide.

    After the last frame there may be a margin as before the first, a gap, both or nothing; with frame and count given, anything.
    """
    margin, frame, gap, count = _asked(sheet, way)
    for end in (margin, 0, gap, margin + gap):
        room = length - margin - end + gap  # of count frames with a gap after each
        if frame and count:
            if count * (frame + gap) <= length - margin + gap:
                return Axis(margin, frame, gap, count)
        elif frame:
            if room >= frame + gap and room % (frame + gap) == 0:
                return Axis(margin, frame, gap, room // (frame + gap))
        elif count and room % count == 0 and room // count > gap:
            return Axis(margin, room // count - gap, gap, count)
    return None


def grid_remedy(drawn: np.ndarray, sheet: Sheet) -> str:
    """Return what to do about a grid that cuts through figures: a likely one that cuts through none, if there is one."""
    for across, down in likely_grids(drawn, sheet, keep=False)[:1]:
        boxes = [(left, top, across.frame, down.frame) for top in down.starts() for left in across.starts()]
        if not cuts_of(drawn, boxes):
            return f"by its empty lines, {_written(across, down)} is likely; or write boxes = \"found\" instead of a grid"
    return 'correct the grid, or write boxes = "found" instead'


def _undivided(picture: Image.Image, name: str, sheet: Sheet, alpha: int) -> ProjectError:
    axes = [_axis(sheet, way, length) for way, length in enumerate(picture.size)]
    parts = []
    for way, axis in enumerate(axes):
        if axis is None:
            margin, frame, gap, count = _asked(sheet, way)
            extra = "".join(f", {word} {value}" for word, value in (("margin", margin), ("gap", gap)) if value)
            asked = f"into {count} {('columns', 'rows')[way]}" if count else ""
            of = f"{' ' if asked else 'into frames '}of {frame}" if frame else ""
            parts.append(f"{picture.size[way]} pixels {('across', 'down')[way]} do not divide {asked}{of}{extra}")
    found = likely_grids(_ground(picture, alpha), sheet)
    known = " or ".join(_written(*grid) for grid in found)
    other = 'correct columns, rows, frame, margin and gap, or write boxes = "found"'
    return refuse(name, "", "; ".join(parts), f"by its empty lines, likeliest first: {known}" if found else other)


def _ground(picture: Image.Image, alpha: int) -> np.ndarray:
    """Return which pixels are drawn; of a picture without transparency, those that differ from its top left."""
    drawn = drawn_pixels(picture, alpha)
    if not drawn.all():
        return drawn
    pixels = np.asarray(picture)
    return (pixels != pixels[0, 0]).any(axis=-1)


def _written(across: Axis, down: Axis) -> str:
    def both(word: str, one: int, other: int) -> str:
        return f", {word} = {one}" if one == other and one else f", {word} = [{one}, {other}]" if one or other else ""

    grid = f"frame = [{across.frame}, {down.frame}]" + both("margin", across.margin, down.margin) + both("gap", across.gap, down.gap)
    return f"{grid} ({across.count} x {down.count})"


def likely_grids(drawn: np.ndarray, sheet: Sheet, keep: bool = True) -> list[tuple[Axis, Axis]]:
    """Return grids across and down that divide a picture, the likeliest first, at most three.

    Args:
        drawn: bool, shape (height, width).
        keep: what the sheet says of a direction that divides is kept; else it only counts as the author's word for frame or count.
    """
    ways = []
    for way, length in enumerate(drawn.shape[::-1]):
        axis = _axis(sheet, way, length) if keep else None
        ways.append([(0, axis)] if axis else _likely(drawn if way == 0 else drawn.T, sheet, way)[:_SHOWN])
    pairs = itertools.product(*(enumerate(way) for way in ways))
    ranked = sorted((cost + more, rank + after, across, down) for (rank, (cost, across)), (after, (more, down)) in pairs)
    return [(across, down) for _, _, across, down in ranked[:_SHOWN]]


def _likely(drawn: np.ndarray, sheet: Sheet, way: int) -> list[tuple[int, Axis]]:
    """Return (cost, axis) of the grids across a picture, the likeliest first.

    The cost is the number of drawn pixels outside all frames, and of edges between drawn pixels. Of equal ones come first: what keeps
    the author's frame or count, leaves fewest frames empty, has frames of 8, 4 or 2 pixels' multiples, as consoles draw them, the
    narrowest margin and gap, and most frames.
    """
    ink = drawn.sum(axis=0)
    inside = np.concatenate([[0], np.cumsum(ink)])
    crossed = np.zeros(len(ink) + 1, dtype=np.int64)
    crossed[1:-1] = (drawn[:, 1:] & drawn[:, :-1]).sum(axis=0)
    asked = _asked(sheet, way)
    ranked = []
    for axis in _axes(len(ink), asked):
        starts = np.array(axis.starts())
        kept = inside[starts + axis.frame] - inside[starts]
        cost = int(inside[-1] - kept.sum() + crossed[np.unique([starts, starts + axis.frame])].sum())
        changed = sum(given not in (None, value) for value, given in ((axis.frame, asked[1]), (axis.count, asked[3])))
        odd = next(rank for rank, size in enumerate((8, 4, 2, 1)) if axis.frame % size == 0)
        ranked.append((cost, changed, int((kept == 0).sum()), odd, axis.margin + axis.gap, -axis.count, axis))
    return [(one[0], one[-1]) for one in sorted(ranked)]


_WIDEST, _MOST_FRAMES, _LEAST_SIDE = 16, 64, 4  # margins and gaps, frames in a direction, and sides that are tried


def _axes(length: int, asked: tuple[int, int | None, int, int | None]) -> Iterator[Axis]:
    """Yield the grids that divide a length."""
    _, frame, _, count = asked
    for margin, gap in itertools.product(range(_WIDEST + 1), repeat=2):
        room = length - 2 * margin + gap
        for number in {count or 2, *range(2, _MOST_FRAMES + 1)}:
            if room > 0 and room % number == 0 and room // number - gap >= _LEAST_SIDE:
                yield Axis(margin, room // number - gap, gap, number)
        if frame and room >= frame + gap and room % (frame + gap) == 0:
            yield Axis(margin, frame, gap, room // (frame + gap))


