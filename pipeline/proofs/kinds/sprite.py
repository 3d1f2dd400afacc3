"""The contact sheet of a sprite: every stored frame with its number, animation by animation; or of a pool: its cells."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from pipeline.plain.sizes import show_runs
from pipeline.proofs.canvas import (
    ANCHOR_LIGHT,
    GAP,
    PAPER,
    SOFT,
    WIDE,
    aspect_size,
    largest,
    on_board,
    png,
    text_width,
    write,
)
from pipeline.proofs.subject import Subject

_COMFORTABLE = (128, 128)  # screen pixels up to which small frames are magnified
_TITLE, _HEAD, _NUMBER = 30, 24, 18  # heights of the sheet's title, of an animation's line, of a frame's number
_BETWEEN = 4  # pixels between frames


@dataclass(frozen=True)
class Group:
    """Frames under one heading, in the order in which they are first shown."""

    title: str
    note: str
    frames: tuple[int, ...]


@dataclass(frozen=True)
class Place:
    """Where a frame is on a sheet, in screen pixels."""

    frame: int
    left: int
    top: int


@dataclass(frozen=True)
class Layout:
    """A whole sheet: its size, the size of a shown frame, headings by place, and frames."""

    width: int
    height: int
    shown: tuple[int, int]
    heads: tuple[tuple[Group, int, int, int], ...]  # group, left, top, width
    places: tuple[Place, ...]


def contact_sheet(subject: Subject) -> bytes:
    """Return the sheet as a PNG; frames keep their pixels exactly, the anchor's lines are under the figure."""
    return png(sheet_picture(subject, arranged(subject)))


def sheet_picture(subject: Subject, layout: Layout) -> Image.Image:
    """Return the sheet of a sprite in RGB, laid out as ``arranged`` returns."""
    rgb, clear = subject.coloured()
    sheet = Image.new("RGB", (layout.width, layout.height), PAPER)
    draw, anchor = ImageDraw.Draw(sheet), subject.anchor()
    _title(draw, subject, layout)
    for group, left, top, width in layout.heads:
        end = write(draw, (left, top + 4), group.title, 14, width, bold=True)
        write(draw, (end + 8, top + 5), group.note, 12, left + width - end - 8, fill=SOFT)
    drawn: dict[int, Image.Image] = {}
    for place in layout.places:
        if place.frame not in drawn:
            drawn[place.frame] = Image.fromarray(on_board(rgb[place.frame], clear[place.frame], layout.shown, anchor))
        sheet.paste(drawn[place.frame], (place.left, place.top))
        number = str(place.frame)
        middle = place.left + (layout.shown[0] - text_width(number, 12)) // 2
        write(draw, (middle, place.top + layout.shown[1] + 4), number, 12, WIDE, fill=SOFT)
    return sheet


def arranged(subject: Subject) -> Layout:
    """Return where everything is on the sheet of a sprite."""
    pixels = subject.decoded.pixels
    times = largest(pixels.shape[2], pixels.shape[1], _COMFORTABLE, subject.pixel_aspect)
    shown = aspect_size(pixels.shape[2], pixels.shape[1], times, subject.pixel_aspect)
    across, down = max(shown[0], 24) + _BETWEEN, shown[1] + _NUMBER + 6
    room = max(WIDE, across + 2 * GAP) - 2 * GAP
    heads, places, right = [], [], 0
    left, top, bottom = GAP, GAP + _TITLE, GAP + _TITLE
    for group in groups(len(pixels), subject.animations(), _what(subject)):
        rows = -(-len(group.frames) // max(1, (room + _BETWEEN) // across))
        columns = -(-len(group.frames) // max(1, rows))  # rows of one length, no lone frame at the end
        width = min(room, max(columns * across, _head_width(group)))
        if left > GAP and left + width > GAP + room:  # no room beside the group before
            left, top = GAP, bottom
        heads.append((group, left, top, width))
        for rank, frame in enumerate(group.frames):
            row, column = divmod(rank, columns)
            places.append(Place(frame, left + column * across, top + _HEAD + row * down))
        bottom = max(bottom, top + _HEAD + rows * down + GAP // 2)
        right = max(right, left + width)
        left += width + 2 * GAP
        if rows > 1:
            left, top = GAP, bottom
    width = max(right, GAP + min(room, _title_width(subject))) + GAP
    return Layout(width, bottom + GAP // 2, shown, tuple(heads), tuple(places))


def groups(count: int, animations: list[tuple[str, bool, list[tuple[int, int]]]], what: str = "frame") -> list[Group]:
    """Return the groups of a sheet: each animation, then the frames of none; ``what`` is their name in the singular.

    A frame that an animation shows again is drawn once in it, and the heading gives the order. An animation whose frames
    are all under an earlier one is named there and not drawn again.
    """
    found: list[Group] = []
    for name, loop, steps in animations:
        order = [frame for frame, _ in steps]
        frames = tuple(dict.fromkeys(order))
        before = next((group for group in found if set(frames) <= set(group.frames)), None)
        note = _timing(frames, steps, loop)
        if before:
            found.append(Group(name, f"{note}; frames {show_runs(order)}, see {before.title}", ()))
        else:
            found.append(Group(name, note if len(order) == len(frames) else f"{note}; order {show_runs(order)}", frames))
    used = {frame for group in found for frame in group.frames}
    rest = tuple(frame for frame in range(count) if frame not in used)
    if rest:
        title = "In no animation" if found else f"{what.capitalize()}s"
        found.append(Group(title, f"{len(rest)} {what}{'s' if len(rest) > 1 else ''}", rest))
    return found


def _timing(frames: tuple[int, ...], steps: list[tuple[int, int]], loop: bool) -> str:
    ticks = sorted({count for _, count in steps})
    each = f"{ticks[0]} to {ticks[-1]} ticks" if len(ticks) > 1 else f"{ticks[0]} tick{'s' if ticks[0] > 1 else ''}"
    return f"{len(frames)} frame{'s' if len(frames) > 1 else ''}, {each} each, {'looped' if loop else 'once'}"


def _head_width(group: Group) -> int:
    return text_width(group.title, 14, bold=True) + 8 + text_width(group.note, 12) + 2


def _title_note(subject: Subject) -> str:
    count, height, width = subject.decoded.pixels.shape
    times = largest(width, height, _COMFORTABLE, subject.pixel_aspect)
    wide, high = subject.pixel_aspect
    shape = f", pixels {wide}:{high}" if wide != high else ""
    anchor = "; the lines cross at the anchor" if subject.anchor() else ""
    return f"{count} {_what(subject)}{'s' if count > 1 else ''} of {width} × {height}, shown ×{times}{shape}{anchor}"


def _what(subject: Subject) -> str:
    """Return what is on the sheet: a pool has cells, and neither frames nor an anchor."""
    return "frame" if "frame_count" in subject.decoded.head else "cell"


def _title_width(subject: Subject) -> int:
    return text_width(subject.name, 17, bold=True) + 10 + text_width(_title_note(subject), 12) + 2


def _title(draw: ImageDraw.ImageDraw, subject: Subject, layout: Layout) -> None:
    right = layout.width - GAP
    end = write(draw, (GAP, GAP), subject.name, 17, right - GAP, bold=True)
    write(draw, (end + 10, GAP + 4), _title_note(subject), 12, right - end - 10, fill=SOFT)
    draw.line((GAP, GAP + _TITLE - 8, right - 1, GAP + _TITLE - 8), fill=ANCHOR_LIGHT)
