"""Synthesises the demo's three sounds: ``python demo_project/veillee/make/sound.py``. The same bytes on every machine."""

from __future__ import annotations

import math
import sys
import wave
from pathlib import Path

RATE = 11025
SOUNDS = Path(__file__).resolve().parent.parent / "sound"


def main(folder: Path = SOUNDS) -> None:
    """Write all sounds as 16-bit WAV."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, seconds, level in (("cloche", 0.9, _bell), ("grouf", 0.35, _croak), ("pas", 0.08, _step)):
        values = [level(rank / RATE, rank) for rank in range(round(seconds * RATE))]
        with wave.open(str(folder / f"{name}.wav"), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            out.writeframes(b"".join(round(max(-1, min(1, value)) * 28000).to_bytes(2, "little", signed=True) for value in values))


def _bell(time: float, _rank: int) -> float:
    """A small bell: partials that are no multiples of each other, each dying away at its own pace."""
    parts = ((660, 0.45, 3.2), (1391, 0.3, 4.6), (2215, 0.16, 6.5), (3630, 0.09, 9.0))
    return sum(loud * math.exp(-fall * time) * math.sin(2 * math.pi * pitch * time) for pitch, loud, fall in parts)


def _croak(time: float, _rank: int) -> float:
    """A toad: a low buzz in pulses, twice."""
    pulse = max(0.0, math.sin(2 * math.pi * 6 * time)) * math.exp(-2 * time)
    return pulse * 0.8 * math.sin(2 * math.pi * 96 * time + 4 * math.sin(2 * math.pi * 31 * time))


def _step(time: float, rank: int) -> float:
    """A boot on stone: noise from a counted sequence, quickly gone."""
    noise = ((rank * 1103515245 + 12345 >> 9) % 2048) / 1024 - 1
    return noise * 0.6 * math.exp(-55 * time)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
