"""Sounds: a recording to a blob."""

from __future__ import annotations

import hashlib

import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.joints.facts import IntentFacts, SoundFacts
from pipeline.joints.layouts import SOUND, SOUND_FORMATS, VERSION, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bits import ByteOrder
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import SOUND_BYTES, most_samples
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Sound
from pipeline.sound.convert import SAMPLE_TYPES, encode, resampled, to_bytes
from pipeline.sound.level import Level
from pipeline.sound.recording import Recording


def convert_sound(
    sources: Sources,
    out: BlobFiles,
    name: str,
    spec: Sound,
    sample_format: str,
    max_rate: int,
    byte_order: ByteOrder,
    sample_order: ByteOrder,
    alignment: int,
    room: int,
) -> str:
    """Write a sound's blob and facts; return one line about it.

    Args:
        sample_format: ``u8``, ``s8`` or ``s16``.
        max_rate: highest rate the target plays, in hertz.
        byte_order: of the record; ``sample_order``: of 16-bit samples.
        room: bytes that its samples may have; see ``bounds.asset_room``.

    Raises:
        ProjectError: the recording cannot be used, its own rate is above the target's, or it becomes longer than fits, or its
            channels cancel out.
    """
    recording = Recording(read_source(sources.folder, spec.file, SOUND_BYTES), spec.file, spec.channels)
    recorded = recording.rate
    rate = spec.rate or recorded
    if rate > max_rate:
        wrong = f"was recorded at {recorded} Hz, the target plays at most {max_rate} Hz"
        raise refuse(spec.file, "", wrong, f"set rate of [sound.{name}], for example to {max_rate // 2}")
    _check_length(name, spec.file, -(-recording.count * rate // recorded), rate, sample_format, room)
    body, clipped, intent, level = bytearray(), 0, hashlib.sha256(), Level(sample_format)
    for block in resampled(recording.blocks(), recorded, rate):
        numbers, cut = encode(block, sample_format)
        level.add(block, numbers)
        body += to_bytes(numbers, sample_format, sample_order)
        clipped += cut
        intent.update(numbers.astype("<i4").tobytes())
    cancelling = recording.cancelling(f"sound.{name}")
    count = len(body) // np.dtype(SAMPLE_TYPES[sample_format]).itemsize
    samples_at = round_up(record_bytes(SOUND), max(alignment, 4))
    head = put_record(
        SOUND,
        byte_order,
        version=VERSION,
        format=SOUND_FORMATS.index(sample_format),
        rate=rate,
        sample_count=count,
        samples=samples_at,
    )
    facts = SoundFacts(
        remarks=[remark for remark in (cancelling, level.remark()) if remark],
        **save_blob(out.content, name, [head.ljust(samples_at, b"\0"), body], spec.origin),
        rate=rate,
        recorded_rate=recorded,
        format=sample_format,
        samples=count,
        seconds=round(count / rate, 4),
        clipped=clipped,
        intent=IntentFacts(shape=[count], sha256=intent.hexdigest()),
    )
    return "; ".join((f"{count / rate:.2f} s at {rate} Hz, {save_facts(out.facts, facts)}", *facts.remarks))


def _check_length(name: str, file: str, count: int, rate: int, sample_format: str, room: int) -> None:
    most = most_samples(room, np.dtype(SAMPLE_TYPES[sample_format]).itemsize)
    if count > most:
        wrong = f"becomes {count:,} samples of {sample_format} at {rate:,} Hz, the target's largest cartridge or memory holds {most:,}"
        raise refuse(file, "", wrong, f"cut it shorter, or set a lower rate of [sound.{name}]")
