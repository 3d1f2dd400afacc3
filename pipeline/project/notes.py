"""A notes file: what the author says of frames of a sprite, in pixels of the art, and what that comes to for each frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import msgspec
from msgspec import Meta

from pipeline.plain.bounds import NOTED_BOXES, NOTED_FRAMES
from pipeline.plain.checked import Document, build, read_document
from pipeline.plain.errors import nearest_name, refuse
from pipeline.plain.sizes import counted, listed
from pipeline.plain.written import Record, about
from pipeline.project.art import frames_named
from pipeline.project.file import NoteKinds

Box = tuple[int, int, int, int]
Point = tuple[int, int]
_Place = Annotated[int, Meta(ge=-65535, le=65535)]
_MOST_BOXES = 255  # of a kind, on a frame
_LEAST, _LARGEST = -0x8000, 0x7FFF


class FrameNote(Record):
    """What is said of some frames. A later table replaces what an earlier one says of the same kind and the same frame."""

    frames: Annotated[
        str | list[int],
        about("Pattern over the frames' file names, as of an animation, or frame numbers from 0; \"*\" means all.", examples=["run_*"]),
    ]
    boxes: Annotated[
        dict[str, list[_Place | list[_Place]]],
        about(
            "Kind -> left, top, width and height in pixels of the frame as drawn, or a list of such boxes; an empty list: none.",
            examples=[{"body": [12, 4, 20, 44]}],
        ),
    ] = msgspec.field(default_factory=dict)
    points: Annotated[
        dict[str, list[_Place]],
        about("Point -> the pixel, across and down, of the frame as drawn; an empty list: none.", examples=[{"hand": [30, 18]}]),
    ] = msgspec.field(default_factory=dict)
    numbers: Annotated[
        dict[str, Annotated[int, Meta(ge=_LEAST, le=_LARGEST)]],
        about("Number -> its value; 0 where nothing is said.", examples=[{"damage": 12}]),
    ] = msgspec.field(default_factory=dict)
    events: Annotated[list[str] | None, about("What happens when the frame is shown.", examples=[["step"]])] = None
    ticks: Annotated[
        int | None, about("Screen pictures for which the frame is shown where no animation says it; 0: not said.", ge=0, le=65535)
    ] = None


class NotesFile(Record):
    """The file."""

    frame: list[FrameNote] = msgspec.field(default_factory=list)


@dataclass
class Noted:
    """What is noted on one frame, in pixels of the frame as drawn.

    Attributes:
        boxes: kind -> boxes.
        points, numbers: name -> place, value.
        events: in the order of the project.
        ticks: 0 where not said.
        places: kind -> where in the notes file it is said, for messages; what a picture shows has none.
    """

    boxes: dict[str, list[Box]] = field(default_factory=dict)
    points: dict[str, Point] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    events: tuple[str, ...] = ()
    ticks: int = 0
    places: dict[str, tuple] = field(default_factory=dict)


class DrawnFrame(NamedTuple):
    """A frame as drawn: its name for messages, width and height."""

    shown: str
    width: int
    height: int


def take_notes(
    found: list[Noted], folder: Path, name: str, kinds: NoteKinds, names: tuple[str, ...], frames: list[DrawnFrame]
) -> None:
    """Add what a notes file says of each frame.

    Args:
        found: of each frame what is noted already, which the file replaces where it speaks of the same kind.
        folder, name: the project folder, and the file in it.
        names: of the frames' files or boxes, which patterns are compared with; as many as frames where frames have names.
        frames: as drawn.

    Raises:
        ProjectError: it cannot be read, names a kind or frame that is not there, or a box or point leaves its frame.
    """
    document = read_document(folder / name, name, folder)
    made = build(document, (), document.data, NotesFile)
    file = document.finished(made)
    count = 0
    for rank, note in enumerate(file.frame):
        here = ("frame", rank)
        _check_words(document, here, note, kinds)
        boxes = {kind: _boxes(document, (*here, "boxes", kind), written) for kind, written in note.boxes.items()}
        points = {name: _point(document, (*here, "points", name), written) for name, written in note.points.items()}
        numbers = _frames_of(document, here, note, names, frames)
        count += len(numbers)
        if count > NOTED_FRAMES:
            wrong = f"with it the file speaks of frames {count:,} times, at most {NOTED_FRAMES:,} are taken"
            document.say(here, wrong, 'say once what is so of all frames, with frames = "*"')
            break
        for number in numbers:
            _take(here, note, boxes, points, found[number])
    document.finish()
    total = sum(len(boxes) for noted in found for boxes in noted.boxes.values())
    if total > NOTED_BOXES:
        raise refuse(name, "", f"notes {total:,} boxes on all frames, at most {NOTED_BOXES:,} are taken", "note fewer, or split the sprite")
    _check_inside(document, found, frames)
    document.finish()


def _check_words(document: Document, here: tuple, note: FrameNote, kinds: NoteKinds) -> None:
    for key, given in (("boxes", note.boxes), ("points", note.points), ("numbers", note.numbers), ("events", note.events or ())):
        known = getattr(kinds, key)
        for word in given:
            if word not in known:
                near = nearest_name(word, known)
                remedy = f"did you mean {near}?" if near else f"add it to {key} of [note_kinds] in the project file"
                remedy += f"; known are {listed(known)}" if known and not near else ""
                document.say((*here, key, word) if key != "events" else (*here, key), f"unknown word {word!r}", remedy)


def _frames_of(document: Document, here: tuple, note: FrameNote, names: tuple[str, ...], frames: list[DrawnFrame]) -> Sequence[int]:
    path = (*here, "frames")
    if isinstance(note.frames, list):
        outside = [number for number in note.frames if not 0 <= number < len(frames)]
        if outside:
            document.say(path, f"there is no frame {outside[0]}", f"frames are numbered 0 to {len(frames) - 1}")
        return [number for number in note.frames if 0 <= number < len(frames)]
    if note.frames == "*":
        return range(len(frames))
    if len(names) != len(frames):
        remedy = "give frame numbers, or \"*\"; only frames from single files, or with names in a boxes file, have names"
        document.say(path, f"{note.frames!r} is a pattern over names of frames", remedy)
        return []
    found = frames_named(note.frames, names)
    if not found:
        document.say(path, f"no frame matches {note.frames!r}", "check the pattern against the file names")
    return found


def _take(here: tuple, note: FrameNote, boxes: dict[str, list[Box]], points: dict[str, Point | None], noted: Noted) -> None:
    noted.boxes |= boxes
    noted.places |= {kind: (*here, "boxes", kind) for kind in boxes}
    for name, point in points.items():
        noted.places[name] = (*here, "points", name)
        if point is None:
            noted.points.pop(name, None)
        else:
            noted.points[name] = point
    noted.numbers |= note.numbers
    noted.events = noted.events if note.events is None else tuple(dict.fromkeys(note.events))
    noted.ticks = noted.ticks if note.ticks is None else note.ticks


def _boxes(document: Document, path: tuple, written: list[Any]) -> list[Box]:
    boxes = [one for one in written if isinstance(one, list)] or ([written] if written else [])
    mixed = len(boxes) != len(written) and any(isinstance(one, list) for one in written)
    if mixed or any(len(one) != 4 for one in boxes):
        document.say(path, f"{written!r} is not a box", "write left, top, width and height, such as [12, 4, 20, 44], or a list of those")
        return []
    if len(boxes) > _MOST_BOXES:
        document.say(path, f"{len(boxes):,} boxes of a kind, at most {_MOST_BOXES} are taken", "note fewer")
    return [(one[0], one[1], one[2], one[3]) for one in boxes[:_MOST_BOXES]]


def _point(document: Document, path: tuple, written: list[int]) -> Point | None:
    if not written:
        return None
    if len(written) != 2:
        document.say(path, f"{written!r} is not a point", "write two numbers, across and down, such as [30, 18]")
        return None
    return written[0], written[1]


def _check_inside(document: Document, found: list[Noted], frames: list[DrawnFrame]) -> None:
    """Note each box and point that leaves frames: once, however many frames it is written for."""
    outside: dict[tuple, list[DrawnFrame]] = {}
    for noted, frame in zip(found, frames, strict=True):
        for kind, boxes in noted.boxes.items():
            for box in boxes:
                if not _holds(frame, *box):
                    outside.setdefault((noted.places[kind], kind, box), []).append(frame)
        for name, point in noted.points.items():
            if not _holds(frame, *point, 1, 1):
                outside.setdefault((noted.places[name], name, point), []).append(frame)
    for (place, word, values), left in outside.items():
        more = f", nor in {counted(len(left) - 1, 'other frame')}" if len(left) > 1 else ""
        wrong = f"{word} {list(values)} is not in {left[0].shown} of {left[0].width} x {left[0].height} pixels{more}"
        document.say(place, wrong, "count in pixels of the frame as drawn, from its top left")


def _holds(frame: DrawnFrame, left: float, top: float, width: float, height: float) -> bool:
    return width >= 1 and height >= 1 and left >= 0 and top >= 0 and left + width <= frame.width and top + height <= frame.height
