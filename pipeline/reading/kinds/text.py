"""Texts back to units."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import TextFacts
from pipeline.joints.layouts import STRING, TEXT, record_bytes
from pipeline.reading.compare import name_hash, sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.target.records import Target


def decode_text(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode texts; see ``decoded.decode_blob``."""
    head = read_record(TEXT, blob, 0, target.byte_order)
    if head["version"] != 1 or head["unit_bytes"] not in (1, 2, 4) or not head["language_count"]:
        what = f"version {head['version']}, units of {head['unit_bytes']} bytes in {head['language_count']} languages"
        raise BlobFault(f"{what} are not texts")
    units = []
    for rank in range(head["language_count"] * head["key_count"]):
        one = read_record(STRING, blob, head["texts"] + record_bytes(STRING) * rank, target.byte_order)
        units.append(_units(blob, head, target, one))
    return Decoded(head, texts=[units[start : start + head["key_count"]] for start in range(0, len(units), max(head["key_count"], 1))])


def _units(blob: bytes, head: dict[str, int], target: Target, one: dict[str, int]) -> list[int]:
    size = head["unit_bytes"]
    stored = blob[one["text"] : one["text"] + size * (one["units"] + 1)]
    if len(stored) != size * (one["units"] + 1):
        raise BlobFault(f"a text of {one['units']} units at {one['text']} leaves the blob")
    units = [int.from_bytes(stored[at : at + size], target.byte_order) for at in range(0, len(stored), size)]
    if units[-1] != head["end"] or head["end"] in units[:-1]:
        raise BlobFault(f"a text at {one['text']} does not end after its {one['units']} units")
    if one["lines"] != 1 + units.count(head["line_break"]):
        raise BlobFault(f"a text at {one['text']} does not have {one['lines']} lines")
    return units[:-1]


def compare_text(decoded: Decoded, facts: TextFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    last = 256**facts.unit_bytes - 1
    marks = {"end": last, "line_break": last - 1} if facts.font else {"end": 0, "line_break": 10}
    head = {"unit_bytes": facts.unit_bytes, "language_count": len(facts.languages), "key_count": len(facts.keys), **marks}
    faults = wrong_head(decoded, {**head, "font": name_hash(facts.font)})
    said = [number for language in decoded.texts for units in language for number in (len(units), *units)]
    if sum_of(np.array(said, dtype=np.int64), "<u4") != facts.intent.sha256:
        faults.append("its texts are not the converted ones")
    return faults
