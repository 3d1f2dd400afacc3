"""Levels back to numbers."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import LevelFacts
from pipeline.joints.layouts import LEVEL
from pipeline.reading.compare import sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.target.records import Target


def decode_level(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a level; see ``decoded.decode_blob``."""
    head = read_record(LEVEL, blob, 0, target.byte_order)
    if head["cell_bytes"] not in (1, 2) or not head["width"] or not head["height"]:
        raise BlobFault(f"{head['width']} x {head['height']} cells of {head['cell_bytes']} bytes are not a level")
    size = head["width"] * head["height"] * head["cell_bytes"]
    raw = np.frombuffer(blob[head["cells"] : head["cells"] + size], dtype=np.uint8)
    if len(raw) != size:
        raise BlobFault("the cells leave the blob")
    octets = raw.reshape(head["height"], head["width"], head["cell_bytes"]).astype(np.uint32)
    if target.byte_order == "little":
        octets = octets[..., ::-1]
    cells = octets[..., 0] if head["cell_bytes"] == 1 else octets[..., 0] * 256 + octets[..., 1]
    if cells.min() < head["least"] or cells.max() > head["most"]:
        raise BlobFault(f"it holds numbers from {cells.min()} to {cells.max()}, its record allows {head['least']} to {head['most']}")
    return Decoded(head, cells=cells)


def compare_level(decoded: Decoded, facts: LevelFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {key: getattr(facts, key) for key in ("cell_bytes", "width", "height", "least", "most")}
    faults = wrong_head(decoded, head)
    if sum_of(decoded.cells, "<u4") != facts.intent.sha256:
        faults.append("its cells are not the converted ones")
    return faults
