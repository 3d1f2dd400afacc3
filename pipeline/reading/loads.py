"""Load lists compared with the image they are in: they name what is there, and write nothing over anything else of a scene."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

from pipeline.joints.map import MapEntry
from pipeline.reading.decoded import Decoded
from pipeline.target.fields import CODEC_NUMBERS
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.records import Target

_IN_PART = 2  # of a place


def wrong_places(decoded: Decoded, entries: Iterable[MapEntry], target: Target) -> list[str]:
    """Return what load lists say otherwise than the image is, or would do to memory that they must not, one text each."""
    known, tables = {zlib.crc32(one.name.encode()): one for one in entries}, decoded.tables
    faults = [fault for row in tables["place"] for fault in _wrong_place(row, known, target)]
    starts = {one.offset for one in known.values()}
    in_part = [known[row["name_hash"]] for row in tables["place"] if row["in_memory"] == _IN_PART and row["name_hash"] in known]
    for row in tables["step"]:
        offset = _offset(row, "source", target)
        # What is there in part is copied in parts, which lie inside it.
        if offset not in starts and not any(0 <= offset - one.offset <= one.bytes - row["bytes"] for one in in_part):
            faults.append(f"a step of the load lists reads from {offset:#x}, where no asset starts")
    for rank, scene in enumerate(tables["scene"]):
        faults += _overlaps(decoded, scene, rank)
    for row in tables["bundle"]:
        faults += _wrong_run(row, tables["place"], target)
    return faults


def _offset(row: dict[str, int], key: str, target: Target) -> int:
    banks = target.cartridge.banks
    return row[key] + (row["bank"] * banks.size if banks else 0)


def _wrong_place(row: dict[str, int], known: dict[int, MapEntry], target: Target) -> Iterator[str]:
    entry = known.get(row["name_hash"])
    if entry is None:
        yield f"the load lists name an asset of hash {row['name_hash']:#x}, which there is not"
        return
    packed = row["codec"] != CODEC_NUMBERS["stored"] or not row["in_memory"]
    wanted = {"kind": KIND_NUMBERS[entry.kind], "unpacked_bytes": entry.unpacked_bytes}
    wanted |= {"bytes": entry.bytes, "codec": CODEC_NUMBERS[entry.codec]} if packed else {"bytes": entry.unpacked_bytes}
    if row["in_memory"] == _IN_PART:
        wanted |= {"bytes": min(row["bytes"], entry.unpacked_bytes), "codec": CODEC_NUMBERS["stored"]}
    if not row["in_memory"] and _offset(row, "at", target) != entry.offset:
        yield f"the load lists say {entry.name} is at {_offset(row, 'at', target):#x} of the image, it is at {entry.offset:#x}"
    for key, value in wanted.items():
        if row[key] != value:
            yield f"the load lists say {key.replace('_', ' ')} of {entry.name} is {row[key]}, it is {value}"


def _overlaps(decoded: Decoded, scene: dict[str, int], rank: int) -> Iterator[str]:
    """Report what of one scene is written outside memory or a slot, or over something else of it."""
    tables = decoded.tables
    spans = _written(tables, tables["group"][scene["group"]])
    for slot in tables["slot"][scene["first_slot"] : scene["first_slot"] + scene["slot_count"]]:
        spans.append((slot["at"], slot["at"] + slot["bytes"]))
        for group in tables["group"][slot["first_group"] : slot["first_group"] + slot["group_count"]]:
            inside = sorted(_written(tables, group))
            if not _apart(inside) or any(end > slot["bytes"] for _, end in inside):
                yield f"a member of scene {rank} of the load lists overlaps itself or leaves its slot"
    spans = sorted(span for span in spans if span[0] < span[1])
    if not _apart(spans) or (spans and spans[-1][1] > decoded.head["memory_bytes"]):
        yield f"scene {rank} of the load lists overlaps itself or leaves memory"


def _written(tables: dict[str, list[dict[str, int]]], group: dict[str, int]) -> list[tuple[int, int]]:
    """Return what copies of a group write, and its buffers; those that members of a role share count once."""
    buffers = {(row["at"], row["at"] + row["sets"] * row["set_bytes"]) for row in _of(tables, group, "buffer")}
    return [*((row["at"], row["at"] + row["unpacked_bytes"]) for row in _of(tables, group, "step")), *buffers]


def _of(tables: dict[str, list[dict[str, int]]], group: dict[str, int], table: str) -> list[dict[str, int]]:
    first = group[f"first_{table}"]
    return tables[table][first : first + group[f"{table}_count"]]


def _apart(spans: list[tuple[int, int]]) -> bool:
    return all(end <= start for (_, end), (start, _) in zip(spans, spans[1:], strict=False))


def _wrong_run(row: dict[str, int], places: list[dict[str, int]], target: Target) -> Iterator[str]:
    """Report a bundle that is said to be one run and whose assets are not from its first byte to its last, in their order."""
    if not row["contiguous"]:
        return
    found = places[row["first_place"] : row["first_place"] + row["place_count"]]
    start = end = _offset(row, "source", target)
    for place in found:
        at = _offset(place, "at", target)
        if at < end:
            yield "a contiguous bundle of the load lists is not in the order of use"
        end = at + place["bytes"]
    if end - start != row["bytes"] or (found and _offset(found[0], "at", target) != start):
        yield f"a contiguous bundle of the load lists is said to have {row['bytes']} bytes, it has {end - start}"
