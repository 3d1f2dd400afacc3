"""Notes drawn over the frames they are about: on the contact sheet and in the animations of the sprite, with a legend."""

from __future__ import annotations

from collections.abc import Iterator

from PIL import Image, ImageDraw

from pipeline.joints.facts import NotesFacts
from pipeline.plain.sizes import show_runs
from pipeline.proofs.canvas import GAP, INK, PAPER, SOFT, WIDE, png, text_width, write
from pipeline.proofs.kinds.animation import animation
from pipeline.proofs.kinds.sprite import arranged, sheet_picture
from pipeline.proofs.marks import draw_box, draw_sign
from pipeline.proofs.subject import Subject
from pipeline.reading.decoded import NotedFrame

_ROW, _SAMPLE = 24, (34, 18)  # height of a line of the legend; width and height of a box drawn there
_LETTERS = 12


def noted_sheet(subject: Subject) -> bytes:
    """Return the sprite's contact sheet with boxes and points over its frames, and the legend below."""
    sprite = _sprite(subject)
    layout = arranged(sprite)
    sheet = sheet_picture(sprite, layout)
    size = (sprite.decoded.pixels.shape[2], sprite.decoded.pixels.shape[1])
    for place in layout.places:
        box = (place.left, place.top, place.left + layout.shown[0], place.top + layout.shown[1])
        figure = sheet.crop(box)
        _mark(figure, subject.decoded.noted[place.frame], size)
        sheet.paste(figure, box[:2])
    below = legend(subject, max(sheet.width, 360))
    whole = Image.new("RGB", (max(sheet.width, below.width), sheet.height + below.height), PAPER)
    whole.paste(sheet, (0, 0))
    whole.paste(below, (0, sheet.height))
    return png(whole)


def noted_animation(subject: Subject) -> bytes:
    """Return the sprite's animations with boxes and points over the figure, and the legend below."""
    sprite = _sprite(subject)
    size = (sprite.decoded.pixels.shape[2], sprite.decoded.pixels.shape[1])
    noted = subject.decoded.noted
    return animation(sprite, lambda figure, frame: _mark(figure, noted[frame], size), legend(subject, 360, frames=False))


def _sprite(subject: Subject) -> Subject:
    assert subject.about is not None, "notes are drawn with their sprite"
    return subject.about


def _mark(figure: Image.Image, noted: NotedFrame, size: tuple[int, int]) -> None:
    """Draw what is noted on a frame over its picture.

    Args:
        size: width and height of the frame in pixels of the console.
    """
    (width, height), (wide, high) = size, figure.size
    for kind, x, y, across, down in noted.boxes:
        left, top = x * wide // width, y * high // height
        draw_box(figure, (left, top, (x + across) * wide // width - left, (y + down) * high // height - top), kind)
    for kind, x, y in noted.points:
        draw_sign(figure, ((2 * x + 1) * wide // (2 * width), (2 * y + 1) * high // (2 * height)), kind)


def legend(subject: Subject, width: int, frames: bool = True) -> Image.Image:
    """Return what the marks mean, and with ``frames`` which frames have numbers, events and times: RGB, ``width`` pixels wide."""
    facts = subject.facts
    assert isinstance(facts, NotesFacts)
    lines = list(_texts(facts, subject.decoded.noted)) if frames else []
    rows = _wrapped(facts, width)
    picture = Image.new("RGB", (width, _ROW * (len(rows) + len(lines)) + GAP), PAPER)
    draw, top = ImageDraw.Draw(picture), 0
    for row in rows:
        left = GAP
        for what, kind, word in row:
            if what == "box":
                draw_box(picture, (left, top + 2, *_SAMPLE), kind)
            else:
                draw_sign(picture, (left + _SAMPLE[0] // 2, top + 2 + _SAMPLE[1] // 2), kind)
            left = write(draw, (left + _SAMPLE[0] + 6, top + 7), word, _LETTERS, WIDE, fill=INK) + 2 * GAP
        top += _ROW
    for word, text in lines:
        end = write(draw, (GAP, top + 7), word, _LETTERS, width, bold=True)
        write(draw, (end + 8, top + 7), text, _LETTERS, width - GAP - end - 8, fill=SOFT)
        top += _ROW
    return picture


def _wrapped(facts: NotesFacts, width: int) -> list[list[tuple[str, int, str]]]:
    """Return the marks of a legend, in rows that fit: what it is, its kind, its word."""
    rows: list[list[tuple[str, int, str]]] = []
    left = width
    for what, words in (("box", facts.box_kinds), ("point", facts.point_kinds)):
        for kind, word in enumerate(words):
            if word not in facts.used:
                continue
            needed = _SAMPLE[0] + 6 + text_width(word, _LETTERS) + 2 * GAP
            if left + needed > width:
                rows.append([])
                left = GAP
            rows[-1].append((what, kind, word))
            left += needed
    return rows


def _texts(facts: NotesFacts, noted: list[NotedFrame]) -> Iterator[tuple[str, str]]:
    """Yield a word and what is said of it: its values and the numbers of their frames."""
    for rank, word in enumerate(facts.event_kinds):
        said = [frame for frame, one in enumerate(noted) if one.events >> rank & 1]
        if said:
            yield word, _frames(said)
    for rank, word in enumerate(facts.number_kinds):
        yield from _values(word, [one.numbers[rank] for one in noted])
    yield from _values("ticks", [one.ticks for one in noted])


def _values(word: str, values: list[int]) -> Iterator[tuple[str, str]]:
    said = [f"{value} in {_frames([f for f, one in enumerate(values) if one == value])}" for value in dict.fromkeys(values) if value]
    if said:
        yield word, "; ".join(said)


def _frames(said: list[int]) -> str:
    return f"frame{'s' if len(said) > 1 else ''} {show_runs(said)}"
