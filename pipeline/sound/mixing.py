"""Sounds that are to sit together: one gain for all, or one loudness, and a peak that none goes over."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import msgspec

from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1


class Measured(NamedTuple):
    """A sound as it would be stored without gain.

    Attributes:
        loudness: in LUFS; peak: in dBFS; None of a silent one.
        own: decibels by which it is to be louder than its mix makes it.
    """

    loudness: float | None
    peak: float | None
    own: float = 0.0


class MixRecord(FileRecord, frozen=True, kw_only=True):
    """What a mix comes to.

    Attributes:
        gains: decibels of each sound, by name, to two decimals; its own come on top of them.
        lowered: decibels by which all are below the loudness that was asked for, so that none goes over the peak; 0 where none would.
        loudest: the sound that would go over most; empty where none would.
    """

    gains: dict[str, float]
    lowered: float = 0.0
    loudest: str = ""


_DECODER = msgspec.json.Decoder(MixRecord)


def mix(sounds: dict[str, Measured], loudness: float | None, peak: float) -> MixRecord:
    """Return the gains.

    Args:
        sounds: by name.
        loudness: that all are brought to, in LUFS, before their own gain; None: all keep what they have beside one another.
        peak: in dBFS. Without a loudness, that of the loudest sample of all.
    """
    heard = {name: one for name, one in sounds.items() if one.peak is not None}
    if loudness is None:
        # Sounds that are loud by nature stay so: one gain for all.
        gain = min((peak - one.peak - one.own for one in heard.values() if one.peak is not None), default=0.0)
        return MixRecord(version=FORMAT, gains={name: _hundredths(gain) if name in heard else 0.0 for name in sounds})
    gains = {name: loudness - one.loudness for name, one in heard.items() if one.loudness is not None}
    over = {name: gain + heard[name].own + (heard[name].peak or 0.0) - peak for name, gain in gains.items()}
    loudest = max(over, key=lambda name: over[name], default="")
    lowered = max(0.0, over[loudest]) if loudest else 0.0
    whole = {name: _hundredths(gains[name] - lowered) if name in gains else 0.0 for name in sounds}
    return MixRecord(version=FORMAT, gains=whole, lowered=round(lowered, 2), loudest=loudest if lowered else "")


def _hundredths(gain: float) -> float:
    """Return a gain in whole hundredths of a decibel, rounded down so that no peak is passed."""
    return math.floor(gain * 100) / 100


def write_mix(file: Path, record: MixRecord) -> None:
    """Write a mix's file.

    Raises:
        ProjectError: the system would not write it.
    """
    write_record(file, record)


def read_mix(file: Path) -> MixRecord:
    """Return the mix of a file that ``write_mix`` wrote.

    Raises:
        ProjectError: it is not such a file.
    """
    return read_record(file, _DECODER, FORMAT)
