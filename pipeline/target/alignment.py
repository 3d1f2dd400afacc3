"""The alignment that a target demands of each kind of asset."""

from __future__ import annotations

from pipeline.target.kinds import KINDS
from pipeline.target.records import Target

# Parts of blobs that have an alignment of their own (``records.Starts``), and the kinds whose blobs hold them.
PARTS = {
    "frame": ("sprite",),
    "cell": ("sprite", "pool", "background", "screen", "font"),
    "tile": ("background",),
    "glyph": ("font",),
    "entries": ("palette", "screen"),
}


def align(target: Target, kind: str) -> int:
    """Return the alignment of a kind in bytes: what the target file says of it, or of the kind it is aligned as, else its default."""
    named = kind if kind in target.alignment else KINDS[kind].aligned_as
    return target.alignment.get(named, target.alignment.get("default", 1))
