"""Notes back to what they say of each frame."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import NotesFacts
from pipeline.joints.layouts import NOTED_BOX, NOTED_FRAME, NOTED_POINT, NOTES, Part, record_bytes
from pipeline.reading.compare import name_hash, sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, NotedFrame, read_record
from pipeline.target.records import Target

_MOST_KINDS = 16


def decode_notes(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode notes; see ``decoded.decode_blob``."""
    head, order = read_record(NOTES, blob, 0, target.byte_order), target.byte_order
    if head["version"] != 1 or not head["frame_count"]:
        raise BlobFault(f"version {head['version']} of {head['frame_count']} frames is not a kind of notes")
    noted = []
    for rank in range(head["frame_count"]):
        one = read_record(NOTED_FRAME, blob, head["frames"] + record_bytes(NOTED_FRAME) * rank, order)
        boxes = _rows(NOTED_BOX, blob, target, head, "box", one)
        points = _rows(NOTED_POINT, blob, target, head, "point", one)
        if any(width < 1 or height < 1 for _, _, _, width, height in boxes):
            raise BlobFault(f"frame {rank} has an empty box")
        at = head["numbers"] + 2 * head["number_count"] * rank
        stored = blob[at : at + 2 * head["number_count"]]
        if len(stored) != 2 * head["number_count"]:
            raise BlobFault(f"the numbers of frame {rank} leave the blob")
        numbers = [int.from_bytes(stored[place : place + 2], order, signed=True) for place in range(0, len(stored), 2)]
        noted.append(NotedFrame(boxes, points, numbers, one["events"], one["ticks"]))
    return Decoded(head, noted=noted)


def _rows(record: tuple[Part, ...], blob: bytes, target: Target, head: dict[str, int], what: str, frame: dict[str, int]) -> list:
    """Return the boxes or points of a frame, each with its kind first."""
    first, count = frame[f"first_{what}"], frame[f"{what}_count"]
    if first + count > head[f"{what}_count"]:
        raise BlobFault(f"a frame uses {what} {first + count - 1} of {head[f'{what}_count']}")
    table, size = head["boxes" if what == "box" else "points"], record_bytes(record)
    rows = [tuple(read_record(record, blob, table + size * rank, target.byte_order).values()) for rank in range(first, first + count)]
    if any(row[0] >= _MOST_KINDS for row in rows):
        raise BlobFault(f"a {what} is of kind {max(row[0] for row in rows)}, there are at most {_MOST_KINDS}")
    return rows


def compare_notes(decoded: Decoded, facts: NotesFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {"frame_count": facts.frames, "box_count": facts.boxes, "point_count": facts.points, "sprite": name_hash(facts.of)}
    faults = wrong_head(decoded, {**head, "number_count": len(facts.number_kinds)})
    said = []
    for one in decoded.noted:
        said += [len(one.boxes), len(one.points), one.events, one.ticks]
        said += [value for row in (*one.boxes, *one.points) for value in row] + one.numbers
    if sum_of(np.array(said, dtype=np.int64), "<i4") != facts.intent.sha256:
        faults.append("what it says of its frames is not what conversion wrote")
    return faults
