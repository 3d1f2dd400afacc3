"""Palettes back to colours."""

from __future__ import annotations

from pipeline.joints.facts import PaletteFacts
from pipeline.joints.layouts import PALETTE
from pipeline.reading.compare import wrong_head
from pipeline.reading.decoded import Decoded, FindPool, read_record
from pipeline.reading.pixels import read_entries
from pipeline.target.records import Target


def decode_palette(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a palette; see ``decoded.decode_blob``."""
    head = read_record(PALETTE, blob, 0, target.byte_order)
    return Decoded(head, colours=read_entries(blob, head, target))


def compare_palette(decoded: Decoded, facts: PaletteFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {key: getattr(facts, key) for key in ("first", "entry_count", "line_entries")}
    faults = wrong_head(decoded, {"transparent": int(facts.transparent), **head})
    if decoded.colours.tolist() != [list(colour) for colour in facts.colours]:
        faults.append("its colours are not the chosen ones")
    return faults
