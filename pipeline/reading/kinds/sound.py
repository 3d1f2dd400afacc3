"""Sounds back to samples."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import SoundFacts
from pipeline.joints.layouts import SOUND, SOUND_FORMATS
from pipeline.reading.compare import sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.target.records import Target


def decode_sound(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a sound; see ``decoded.decode_blob``."""
    head = read_record(SOUND, blob, 0, target.byte_order)
    if head["format"] >= len(SOUND_FORMATS):
        raise BlobFault(f"sound format {head['format']} is not one of {len(SOUND_FORMATS)}")
    order = target.order_of(target.sound.byte_order)
    kind = {"u8": "u1", "s8": "i1", "s16": "i2"}[SOUND_FORMATS[head["format"]]]
    width, start = int(kind[1]), head["samples"]
    raw = blob[start : start + width * head["sample_count"]]
    if len(raw) != width * head["sample_count"]:
        raise BlobFault("the samples leave the blob")
    return Decoded(head, samples=np.frombuffer(raw, dtype=(">" if order == "big" else "<") + kind).astype(np.int32))


def compare_sound(decoded: Decoded, facts: SoundFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {"rate": facts.rate, "sample_count": facts.samples, "format": SOUND_FORMATS.index(facts.format)}
    faults = wrong_head(decoded, head)
    if sum_of(decoded.samples, "<i4") != facts.intent.sha256:
        faults.append("its samples are not the converted ones")
    return faults
