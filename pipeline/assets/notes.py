"""Notes: boxes, points, numbers, events and times of a sprite's frames, scaled as the frames are, to a blob."""

from __future__ import annotations

import hashlib
from array import array
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.assets.sources.note_layers import drawn_notes
from pipeline.assets.sources.prepared import Frames, Placed, read_frames
from pipeline.joints.facts import IntentFacts, NotesFacts
from pipeline.joints.layouts import NOTED_BOX, NOTED_FRAME, NOTED_POINT, NOTES, VERSION, name_hash, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.pixels.scaling.noted import scaled_place, scaled_span
from pipeline.plain.bits import ByteOrder
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted, round_up
from pipeline.project.assets import Notes
from pipeline.project.file import NoteKinds
from pipeline.project.notes import DrawnFrame, Noted, take_notes


class Scaled(NamedTuple):
    """What is noted on one frame, in pixels of the scaled frame and ranks of the project's words.

    Attributes:
        boxes: kind, left, top, width, height; by kind.
        points: kind, x, y; by kind.
        numbers: of every kind.
        events: bits.
        ticks: 0 where not said.
    """

    boxes: list[tuple[int, int, int, int, int]]
    points: list[tuple[int, int, int]]
    numbers: list[int]
    events: int
    ticks: int


def convert_notes(
    layer: Sources,
    written: Sources,
    described: Path,
    out: BlobFiles,
    name: str,
    spec: Notes,
    kinds: NoteKinds,
    names: tuple[str, ...],
    source: str,
    byte_order: ByteOrder,
    alignment: int,
) -> str:
    """Write the blob and facts of notes; return one line about them.

    Args:
        layer: the pictures of a layer; none without one.
        written: the notes file; none without one.
        described: of the sprite's scaled frames.
        names: of the files or boxes that the frames come from.
        source: where the frames come from: the key ``frames``, ``sheet`` or ``animated`` of the sprite.

    Raises:
        ProjectError: a file cannot be read, or names what is not there; a box or point leaves its frame; there is nothing noted at all.
    """
    frames = read_frames(described)
    placed = frames.placed
    assert placed is not None, "frames of a sprite with notes are prepared with their places"
    noted = [Noted() for _ in placed.frames]
    if layer.names:
        noted = drawn_notes(layer, placed.frames, names, source, kinds)
    for file in written.names:
        take_notes(noted, written.folder, file, kinds, names, _drawn(placed, names))
    scaled = list(scaled_notes(noted, frames, placed, kinds))
    used = _used(noted)
    if not used:
        raise refuse((*written.names, *layer.names)[0], "", "says nothing of any frame", "write a [[frame]], or remove the asset")
    head, tables = _tables(scaled, spec.of, byte_order, max(alignment, 4))
    count = sum(len(one.boxes) for one in scaled), sum(len(one.points) for one in scaled)
    facts = NotesFacts(
        **save_blob(out.content, name, [head, *tables], spec.origin),
        of=spec.of,
        frames=len(scaled),
        boxes=count[0],
        points=count[1],
        box_kinds=kinds.boxes,
        point_kinds=kinds.points,
        number_kinds=kinds.numbers,
        event_kinds=kinds.events,
        used=[word for some in (kinds.boxes, kinds.points, kinds.numbers, kinds.events) for word in some if word in used],
        intent=IntentFacts(shape=[len(scaled), *count], sha256=_sum(scaled)),
    )
    said = f"{counted(count[0], 'box', 'boxes')} and {counted(count[1], 'point')} on {counted(len(scaled), 'frame')} of {spec.of}"
    return f"{said}, {save_facts(out.facts, facts)}"


def _drawn(placed: Placed, names: tuple[str, ...]) -> list[DrawnFrame]:
    known = len(names) == len(placed.frames)
    return [
        DrawnFrame(f"frame {rank} ({Path(names[rank]).stem})" if known else f"frame {rank}", frame[2], frame[3])
        for rank, frame in enumerate(placed.frames)
    ]


def scaled_notes(noted: Sequence[Noted], frames: Frames, placed: Placed, kinds: NoteKinds) -> Iterator[Scaled]:
    """Yield what is noted on each frame as the console has it."""
    (across, down), (left, top) = ([Fraction(text) for text in pair] for pair in (placed.factors, placed.starts))
    for one, (column, row, *_) in zip(noted, placed.frames, strict=True):
        boxes = [
            (kind, *_box((x + column, y + row, width, height), (across, down), (left, top), (frames.width, frames.height)))
            for kind, word in enumerate(kinds.boxes)
            for x, y, width, height in one.boxes.get(word, ())
        ]
        points = [
            (
                kind,
                scaled_place(one.points[word][0] + column, across, left, frames.width),
                scaled_place(one.points[word][1] + row, down, top, frames.height),
            )
            for kind, word in enumerate(kinds.points)
            if word in one.points
        ]
        events = sum(1 << rank for rank, word in enumerate(kinds.events) if word in one.events)
        yield Scaled(boxes, points, [one.numbers.get(word, 0) for word in kinds.numbers], events, one.ticks)


def _box(
    box: tuple[int, int, int, int], factors: tuple[Fraction, Fraction], starts: tuple[Fraction, Fraction], size: tuple[int, int]
) -> tuple[int, int, int, int]:
    x, width = scaled_span(box[0], box[2], factors[0], starts[0], size[0])
    y, height = scaled_span(box[1], box[3], factors[1], starts[1], size[1])
    return x, y, width, height


def _used(noted: Sequence[Noted]) -> set[str]:
    return {
        word
        for one in noted
        for word in (*(kind for kind, some in one.boxes.items() if some), *one.points, *(n for n, value in one.numbers.items() if value))
    } | {word for one in noted for word in one.events} | ({"ticks"} if any(one.ticks for one in noted) else set())


def _tables(scaled: Sequence[Scaled], sprite: str, order: ByteOrder, alignment: int) -> tuple[bytes, list[bytes]]:
    """Return a blob's record and its tables, in the order in which they follow one another."""
    rows, boxes, points, numbers = [], [], [], array("h")
    for one in scaled:
        row = {"first_box": len(boxes), "first_point": len(points), "box_count": len(one.boxes), "point_count": len(one.points)}
        rows.append(put_record(NOTED_FRAME, order, **row, events=one.events, ticks=one.ticks))
        boxes += [put_record(NOTED_BOX, order, kind=k, x=x, y=y, width=w, height=h) for k, x, y, w, h in one.boxes]
        points += [put_record(NOTED_POINT, order, kind=k, x=x, y=y) for k, x, y in one.points]
        numbers.extend(one.numbers)
    tables = [b"".join(rows), b"".join(boxes), b"".join(points), np.array(numbers, dtype=f"{'>' if order == 'big' else '<'}i2").tobytes()]
    at, places = round_up(record_bytes(NOTES), alignment), []
    for rank, table in enumerate(tables):
        tables[rank] = table.ljust(round_up(len(table), 4), b"\0")
        places.append(at)
        at += len(tables[rank])
    head = put_record(
        NOTES, order, version=VERSION, number_count=len(scaled[0].numbers), frame_count=len(scaled), sprite=name_hash(sprite),
        box_count=len(boxes), point_count=len(points), frames=places[0], boxes=places[1], points=places[2], numbers=places[3],
    )  # fmt: skip
    return head.ljust(places[0], b"\0"), tables


def _sum(scaled: Sequence[Scaled]) -> str:
    """Return the sum that the facts keep; see ``joints.facts.NotesFacts``."""
    said: list[int] = []
    for one in scaled:
        said += [len(one.boxes), len(one.points), one.events, one.ticks]
        for some in (*one.boxes, *one.points, one.numbers):
            said += some
    return hashlib.sha256(np.array(said, dtype="<i4").tobytes()).hexdigest()
