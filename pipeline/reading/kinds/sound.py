"""Sounds back to samples."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import SoundFacts
from pipeline.joints.layouts import SOUND, SOUND_FORMATS
from pipeline.reading.coded_sound import adpcm_bytes, decode_adpcm, expand
from pipeline.reading.compare import sum_of, wrong_head
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.target.records import AdpcmRules, Target

_PLAIN = {"u8": "u1", "s8": "i1", "s16": "i2"}


def decode_sound(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a sound; see ``decoded.decode_blob``."""
    head = read_record(SOUND, blob, 0, target.byte_order)
    if head["format"] >= len(SOUND_FORMATS):
        raise BlobFault(f"sound format {head['format']} is not one of {len(SOUND_FORMATS)}")
    order = target.order_of(target.sound.byte_order)
    form, count, rules = SOUND_FORMATS[head["format"]], head["sample_count"], target.sound.adpcm or AdpcmRules()
    width = adpcm_bytes(count, rules.block) if form == "adpcm" else count * (2 if form == "s16" else 1)
    raw = blob[head["samples"] : head["samples"] + width]
    if len(raw) != width:
        raise BlobFault("the samples leave the blob")
    if form == "adpcm":
        return Decoded(head, samples=decode_adpcm(raw, count, rules.block, rules.first == "high", order == "big"))
    if form in _PLAIN:
        return Decoded(head, samples=np.frombuffer(raw, dtype=(">" if order == "big" else "<") + _PLAIN[form]).astype(np.int32))
    return Decoded(head, samples=expand(raw, form))


def compare_sound(decoded: Decoded, facts: SoundFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {"rate": facts.rate, "sample_count": facts.samples, "format": SOUND_FORMATS.index(facts.format)}
    faults = wrong_head(decoded, head)
    if sum_of(decoded.samples, "<i4") != facts.intent.sha256:
        faults.append("its samples are not the converted ones")
    return faults
