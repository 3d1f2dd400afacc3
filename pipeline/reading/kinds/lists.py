"""Load lists back to tables of numbers."""

from __future__ import annotations

import zlib

import numpy as np

from pipeline.joints.facts import ListsFacts
from pipeline.joints.layouts import (
    LIST_BUFFER,
    LIST_BUNDLE,
    LIST_GROUP,
    LIST_PLACE,
    LIST_SCENE,
    LIST_SLOT,
    LIST_STEP,
    LISTS,
    LISTS_VERSION,
    record_bytes,
)
from pipeline.reading.compare import sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.target.records import Target

_TABLES = {
    "scene": LIST_SCENE, "slot": LIST_SLOT, "group": LIST_GROUP, "step": LIST_STEP, "place": LIST_PLACE, "bundle": LIST_BUNDLE,
    "buffer": LIST_BUFFER,
}  # fmt: skip
# Field of a record that counts records of another table from the field before it.
_RANGES = {
    "scene": [("first_slot", "slot_count", "slot")],
    "slot": [("first_group", "group_count", "group")],
    "group": [("first_step", "step_count", "step"), ("first_place", "place_count", "place"), ("first_buffer", "buffer_count", "buffer")],
    "bundle": [("first_place", "place_count", "place")],
}


def decode_lists(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode load lists; see ``decoded.decode_blob``."""
    head = read_record(LISTS, blob, 0, target.byte_order)
    tables = {name: _table(blob, head, name, target) for name in _TABLES}
    for name, ranges in _RANGES.items():
        for row in tables[name]:
            for first, count, other in ranges:
                if row[first] + row[count] > len(tables[other]):
                    raise BlobFault(f"a {name} has {other}s up to {row[first] + row[count]}, there are {len(tables[other])}")
    if any(row["group"] >= len(tables["group"]) for row in tables["scene"]):
        raise BlobFault("a scene names a group that is not there")
    return Decoded(head, tables=tables)


def _table(blob: bytes, head: dict[str, int], name: str, target: Target) -> list[dict[str, int]]:
    size, start = record_bytes(_TABLES[name]), head[f"{name}s"]
    return [read_record(_TABLES[name], blob, start + rank * size, target.byte_order) for rank in range(head[f"{name}_count"])]


def compare_lists(decoded: Decoded, facts: ListsFacts, target: Target) -> list[str]:
    """Return what differs from the facts, one text each."""
    counts = {"scene_count": len(facts.scenes), "bundle_count": len(facts.bundles)}
    faults = wrong_head(decoded, {"version": LISTS_VERSION, "memory_bytes": target.memory.size, **counts})
    for name, wanted in (("scene", facts.scenes), ("bundle", facts.bundles)):
        if [row["name_hash"] for row in decoded.tables[name]] != [zlib.crc32(one.encode()) for one in wanted]:
            faults.append(f"its {name}s are not {', '.join(wanted)}")
    numbers = [value for rows in decoded.tables.values() for row in rows for value in row.values()]
    if sum_of(np.array(numbers, dtype=np.uint32), "<u4") != facts.intent.sha256:
        faults.append("its numbers are not the converted ones")
    return faults
