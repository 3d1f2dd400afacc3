"""Decoding a blob of any kind, for tests that need no step."""

from __future__ import annotations

from pathlib import Path

from pipeline.joints.map import MapEntry
from pipeline.proofs import subject
from pipeline.reading import decoded
from pipeline.reading.decoded import Decoded, FindPool
from pipeline.reading.verify import DECODERS
from pipeline.target.records import Target


def decode_blob(kind: str, blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Return what a blob holds; see ``reading.decoded.decode_blob``."""
    return decoded.decode_blob(kind, blob, target, DECODERS, find_pool)


def take(image: Path, name: str, entries: dict[str, MapEntry], target: Target) -> Decoded:
    """Return what an image holds of an asset; see ``proofs.subject.take``."""
    return subject.take(image, name, entries, target, DECODERS)
