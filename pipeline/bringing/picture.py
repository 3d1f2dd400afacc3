"""``found.png``: every frame that was found, outlined on its sheet or laid out, with its number and the anchor."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.assets.sources.keyed import cleared
from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.bringing.measuring.shapes import Box
from pipeline.bringing.places import Placed
from pipeline.bringing.records import Found
from pipeline.plain.errors import shown
from pipeline.proofs.canvas import DEEP, GAP, INK, LINE, PAPER, SOFT, WIDE, blended, letters, png, write

_HIGHEST = 12_000  # pixels down; assets that do not fit are counted at the end
_TITLE, _SMALL, _NUMBER = 17, 13, 12
_SIDE = 128  # pixels that a small frame is enlarged up to
_MOST_FRAMES = 48  # of a sprite of single files
_ANCHOR = (214, 32, 120)


def draw_found(source: Path, placed: list[Placed]) -> bytes:
    """Return the picture as a PNG file.

    Raises:
        ProjectError: a picture changed since it was looked at.
    """
    parts, height = [_heading(len(placed))], GAP
    for rank, one in enumerate(placed):
        part = _section(source, one.found)
        if height + part.height + GAP > _HIGHEST:
            parts.append(_line(f"and {len(placed) - rank:,} more assets", ""))
            break
        parts.append(part)
        height += part.height + GAP
    whole = Image.new("RGB", (WIDE, sum(part.height + GAP for part in parts) + GAP), PAPER)
    top = GAP
    for part in parts:
        whole.paste(part, (0, top))
        top += part.height + GAP
    return png(whole)


def _heading(count: int) -> Image.Image:
    return _line(f"{count:,} asset{'s' if count != 1 else ''} found", "numbers count frames from 0; the cross is the anchor")


def _line(title: str, rest: str) -> Image.Image:
    strip = Image.new("RGB", (WIDE, _TITLE + 10), PAPER)
    draw = ImageDraw.Draw(strip)
    end = write(draw, (GAP, 4), title, _TITLE, WIDE - 2 * GAP, bold=True)
    if rest and end + 60 < WIDE:
        write(draw, (end + GAP, 7), rest, _SMALL, WIDE - end - 2 * GAP, fill=SOFT)
    return strip


def _section(source: Path, found: Found) -> Image.Image:
    title = _line(f"{found.kind} {found.name}", shown(found.reason, 300))
    body = _body(source, found)
    if body is None:
        return title
    whole = Image.new("RGB", (WIDE, title.height + body.height), PAPER)
    whole.paste(title, (0, 0))
    whole.paste(body, (0, title.height))
    return whole


def _body(source: Path, found: Found) -> Image.Image | None:
    if found.kind == "background":
        return _framed(_thumbnail(open_picture(source, found.files[0]), (480, 200)))
    if found.kind != "sprite":
        return None
    if found.source == "animated":
        return _laid_out([(str(rank), picture) for rank, picture in enumerate(_first_frames(source, found))], found)
    if found.source == "sheet":
        return _sheet(_keyed(source, found, found.files[0]), found)
    several = [(str(rank), _keyed(source, found, frame.file)) for rank, frame in enumerate(found.frames[:_MOST_FRAMES])]
    return _laid_out(several, found)


def _keyed(source: Path, found: Found, file: str) -> Image.Image:
    """Return a picture as the build will see it: its key colours are transparent."""
    return cleared(open_picture(source, file), found)


def _first_frames(source: Path, found: Found) -> Iterator[Image.Image]:
    for _, (picture, _) in zip(range(_MOST_FRAMES), open_animation(source, found.files[0]), strict=False):
        yield picture


def _times(width: int, height: int, most: tuple[int, int]) -> tuple[int, int]:
    """Return the size at which a picture is shown: a whole number of times as large, or smaller, so that it fits."""
    times = max(1, min(most[0] // width, most[1] // height, 4))
    if width * times <= most[0] and height * times <= most[1]:
        return width * times, height * times
    return max(1, min(most[0], width * most[1] // height)), max(1, min(most[1], height * most[0] // width))


def _thumbnail(picture: Image.Image, most: tuple[int, int]) -> Image.Image:
    """Return a picture on the board at a size that fits."""
    size = _times(*picture.size, most)
    if size[0] < picture.width or size[1] < picture.height:
        picture = picture.resize(size, Image.Resampling.BOX)
    return Image.fromarray(blended(np.asarray(picture), size))


def _framed(picture: Image.Image) -> Image.Image:
    body = Image.new("RGB", (WIDE, picture.height + 2), PAPER)
    ImageDraw.Draw(body).rectangle((GAP - 1, 0, GAP + picture.width, picture.height + 1), outline=LINE)
    body.paste(picture, (GAP, 1))
    return body


def _sheet(picture: Image.Image, found: Found) -> Image.Image:
    """Return a sheet with every frame's cell outlined, its number in the upper left corner and its anchor as a cross."""
    sheet = _thumbnail(picture, (WIDE - 2 * GAP, 800))
    body = _framed(sheet)
    draw = ImageDraw.Draw(body)
    for rank, frame in enumerate(found.frames):
        box = _scaled(frame.cell, picture.size, sheet.size)
        draw.rectangle((GAP + box.left, 1 + box.top, GAP + box.left + box.width - 1, box.top + box.height), outline=DEEP)
        if found.grid is not None:
            place = Box(frame.cell.left + found.anchor[0], frame.cell.top + found.anchor[1], 0, 0)
        else:
            place = Box(frame.cell.left + frame.cell.width // 2, frame.cell.top + frame.cell.height, 0, 0)
        at = _scaled(place, picture.size, sheet.size)
        _cross(draw, GAP + at.left, min(at.top, sheet.height))
        if box.width >= 10 and box.height >= _NUMBER:
            _number(draw, GAP + box.left, 1 + box.top, str(rank))
    return body


def _scaled(box: Box, size: tuple[int, int], shown_size: tuple[int, int]) -> Box:
    left, right = (value * shown_size[0] // size[0] for value in (box.left, box.left + box.width))
    top, bottom = (value * shown_size[1] // size[1] for value in (box.top, box.top + box.height))
    return Box(left, top, right - left, bottom - top)


def _laid_out(frames: list[tuple[str, Image.Image]], found: Found) -> Image.Image:
    """Return frames beside one another, each on the sprite's canvas, in as many rows as it takes."""
    width, height = _times(*found.canvas, (_SIDE, _SIDE)) if max(found.canvas) <= _SIDE else _times(*found.canvas, (2 * _SIDE, 2 * _SIDE))
    across = max(1, (WIDE - GAP) // (width + GAP))
    down = -(-len(frames) // across)
    more = len(found.frames) - len(frames)
    body = Image.new("RGB", (WIDE, down * (height + 8) + (_SMALL + 8 if more else 0)), PAPER)
    draw = ImageDraw.Draw(body)
    for rank, (number, picture) in enumerate(frames):
        left, top = GAP + rank % across * (width + GAP), rank // across * (height + 8) + 1
        canvas = Image.new("RGBA", found.canvas)
        canvas.paste(picture, ((found.canvas[0] - picture.width) // 2, found.canvas[1] - picture.height))
        shown_frame = _thumbnail(canvas, (width, height))
        body.paste(shown_frame, (left, top))
        draw.rectangle((left - 1, top - 1, left + shown_frame.width, top + shown_frame.height), outline=DEEP)
        x, y = (place * side // whole for place, side, whole in zip(found.anchor, shown_frame.size, found.canvas, strict=True))
        _cross(draw, left + x, top + y)
        if len(found.frames) > 1:
            _number(draw, left, top, number)
    if more > 0:
        write(draw, (GAP, down * (height + 8)), f"and {more:,} more frames", _SMALL, WIDE, fill=SOFT)
    return body


def _cross(draw: ImageDraw.ImageDraw, x: int, y: int) -> None:
    draw.line((x - 4, y, x + 4, y), fill=_ANCHOR)
    draw.line((x, y - 4, x, y + 4), fill=_ANCHOR)


def _number(draw: ImageDraw.ImageDraw, left: int, top: int, text: str) -> None:
    """Draw a frame's number on paper of its own, so that it can be read on any picture."""
    width = round(letters(_NUMBER).getlength(text))
    draw.rectangle((left, top, left + width + 3, top + _NUMBER), fill=PAPER)
    write(draw, (left + 2, top + 2), text, _NUMBER, WIDE, fill=INK)

