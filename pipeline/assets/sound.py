"""Sounds: a recording to a blob."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.assets.blob import put_record, save_blob
from pipeline.errors import refuse
from pipeline.project_assets import Sound
from pipeline.records import SOUND, SOUND_FORMATS, VERSION, record_bytes
from pipeline.sizes import round_up
from pipeline.sound.convert import encode, resample, to_bytes
from pipeline.sound.recording import read_wav


def convert_sound(
    folder: Path,
    blobs: Path,
    name: str,
    spec: Sound,
    sample_format: str,
    max_rate: int,
    byte_order: str,
    sample_order: str,
    alignment: int,
) -> str:
    """Write a sound's blob and facts; return one line about it.

    Args:
        sample_format: ``u8``, ``s8`` or ``s16``.
        max_rate: highest rate the target plays, in hertz.
        byte_order: of the record; ``sample_order``: of 16-bit samples.

    Raises:
        ProjectError: the recording cannot be used, or its own rate is above the target's.
    """
    samples, recorded = read_wav((folder / spec.file).read_bytes(), spec.file)
    rate = spec.rate or recorded
    if rate > max_rate:
        wrong = f"was recorded at {recorded} Hz, the target plays at most {max_rate} Hz"
        raise refuse(spec.file, "", wrong, f"set rate of [sound.{name}], for example to {max_rate // 2}")
    numbers, clipped = encode(resample(samples, recorded, rate), sample_format)
    samples_at = round_up(record_bytes(SOUND), max(alignment, 4))
    head = put_record(
        SOUND,
        byte_order,
        version=VERSION,
        format=SOUND_FORMATS.index(sample_format),
        rate=rate,
        sample_count=len(numbers),
        samples=samples_at,
    )
    blob = head.ljust(samples_at, b"\0") + to_bytes(numbers, sample_format, sample_order)
    facts = {
        "rate": rate,
        "recorded_rate": recorded,
        "format": sample_format,
        "samples": len(numbers),
        "seconds": round(len(numbers) / rate, 4),
        "clipped": clipped,
        "intent": {"shape": [len(numbers)], "sha256": hashlib.sha256(numbers.astype("<i4").tobytes()).hexdigest()},
        "origin": spec.origin,
    }
    return f"{len(numbers) / rate:.2f} s at {rate} Hz, {save_blob(blobs, name, 'sound', blob, facts)}"
