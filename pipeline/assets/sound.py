"""Sounds: a recording to a blob."""

from __future__ import annotations

import hashlib
from pathlib import Path

import msgspec
import numpy as np

from pipeline.assets.blob import put_record, save_blob, save_facts
from pipeline.joints.facts import IntentFacts, SoundFacts
from pipeline.joints.layouts import SAMPLE_BITS, SOUND, SOUND_FORMATS, VERSION, record_bytes
from pipeline.joints.places import BlobFiles, Sources
from pipeline.plain.bits import ByteOrder
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import SOUND_BYTES, most_samples
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted, round_up
from pipeline.project.assets import Mix, Sound
from pipeline.sound.convert import encode, resampled, signal_to_noise, stored
from pipeline.sound.level import Level
from pipeline.sound.loudness import loudness
from pipeline.sound.mixing import Measured, mix, read_mix, write_mix
from pipeline.sound.recording import Recording
from pipeline.sound.shaping import amplified, faded, peak_of, trimmed, without_offset
from pipeline.target.records import AdpcmRules


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
    adpcm: AdpcmRules | None = None,
    gains: Path | None = None,
) -> str:
    """Write a sound's blob and facts; return one line about it.

    Args:
        sample_format: see ``sound.convert.stored``; ``adpcm``: its rules, where the target has any.
        max_rate: highest rate the target plays, in hertz.
        byte_order: of the record; ``sample_order``: of 16-bit samples.
        room: bytes that its samples may have; see ``bounds.asset_room``.
        gains: of the mix that it is in; see ``write_gains``.

    Raises:
        ProjectError: the recording cannot be used, its own rate is above the target's, or it becomes longer than fits, or its
            channels cancel out.
    """
    taken = _Taken(sources, name, spec, max_rate)
    taken.check_length(sample_format, room)
    shaped, level = taken.samples(), Level(sample_format)
    gain = spec.gain + (read_mix(gains).gains[name] if gains else 0.0)
    samples = amplified(shaped, gain)
    numbers, clipped = encode(samples, sample_format, spec.dither)
    body, numbers = stored(numbers, sample_format, sample_order, **msgspec.structs.asdict(adpcm or AdpcmRules()))
    level.add(samples, numbers)
    cancelling = taken.recording.cancelling(f"sound.{name}")
    samples_at = round_up(record_bytes(SOUND), max(alignment, 4))
    head = put_record(
        SOUND,
        byte_order,
        version=VERSION,
        format=SOUND_FORMATS.index(sample_format),
        rate=taken.rate,
        sample_count=len(numbers),
        samples=samples_at,
    )
    facts = SoundFacts(
        remarks=[remark for remark in (cancelling, level.remark()) if remark],
        **save_blob(out.content, name, [head.ljust(samples_at, b"\0"), body], spec.origin),
        rate=taken.rate,
        recorded_rate=taken.recording.rate,
        format=sample_format,
        samples=len(numbers),
        seconds=round(len(numbers) / taken.rate, 4),
        clipped=clipped,
        gain=round(gain, 2),
        peak=_rounded(peak_of(samples), 2),
        loudness=_rounded(loudness(samples, taken.rate), 2),
        signal_to_noise=_rounded(signal_to_noise(samples, numbers, sample_format), 1),
        intent=IntentFacts(shape=[len(numbers)], sha256=hashlib.sha256(numbers.astype("<i4").tobytes()).hexdigest()),
    )
    return "; ".join((f"{len(numbers) / taken.rate:.2f} s at {taken.rate} Hz, {save_facts(out.facts, facts)}", *facts.remarks))


def write_gains(sources: dict[str, Sources], out: Path, spec: Mix, specs: dict[str, Sound], max_rate: int) -> str:
    """Measure the sounds of a mix, and write by how much each is made louder; return one line about it.

    Args:
        sources, specs: of each sound, by name.
        out: see ``sound.mixing``.
        max_rate: as of ``convert_sound``.

    Raises:
        ProjectError: a recording cannot be used, or its own rate is above the target's.
    """
    measured = {}
    for sound, one in specs.items():
        taken = _Taken(sources[sound], sound, one, max_rate)
        samples = taken.samples()
        measured[sound] = Measured(loudness(samples, taken.rate), peak_of(samples), one.gain)
    record = mix(measured, spec.loudness, spec.peak)
    write_mix(out, record)
    line = f"{counted(len(specs), 'sound')}, {min(record.gains.values()):+.1f} to {max(record.gains.values()):+.1f} dB"
    if not record.lowered:
        return line
    return f"{line}; all are {record.lowered:.1f} dB below {spec.loudness:g} LUFS, so that {record.loudest} stays below {spec.peak:g} dBFS"


class _Taken:
    """A recording and the rate that it is brought to.

    Raises:
        ProjectError: it cannot be read, or its own rate is above the target's and no other is given.
    """

    def __init__(self, sources: Sources, name: str, spec: Sound, max_rate: int) -> None:
        self._name, self._spec = name, spec
        self.recording = Recording(read_source(sources.folder, spec.file, SOUND_BYTES), spec.file, spec.channels)
        self.rate = spec.rate or self.recording.rate
        if self.rate > max_rate:
            wrong = f"was recorded at {self.recording.rate} Hz, the target plays at most {max_rate} Hz"
            raise refuse(spec.file, "", wrong, f"set rate of [sound.{name}], for example to {max_rate // 2}")

    def check_length(self, sample_format: str, room: int) -> None:
        """Refuse a recording that becomes longer than fits, before all of it is decoded; what is trimmed off counts.

        Raises:
            ProjectError: it does.
        """
        count = -(-self.recording.count * self.rate // self.recording.rate)
        most = most_samples(room, SAMPLE_BITS[sample_format])
        if count > most:
            wrong = f"becomes {count:,} samples of {sample_format} at {self.rate:,} Hz"
            wrong += f", the target's largest cartridge or memory holds {most:,}"
            raise refuse(self._spec.file, "", wrong, f"cut it shorter, or set a lower rate of [sound.{self._name}]")

    def samples(self) -> np.ndarray:
        """Return the sound as it is before any gain: float64, shape (n,), at least one sample, 1.0 is full scale.

        Raises:
            ProjectError: the file is damaged, or cut short.
        """
        samples = np.concatenate(list(resampled(self.recording.blocks(), self.recording.rate, self.rate)))
        if self._spec.offset == "remove":
            samples = without_offset(samples)
        if self._spec.trim is not None:
            samples = trimmed(samples, self._spec.trim)
        return faded(samples, round(self._spec.fade * self.rate / 1000))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
