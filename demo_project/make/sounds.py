"""Synthesise the ten sounds of Harbour Relay as 16-bit PCM WAV files.

Run from anywhere: ``python sounds.py``.
"""

from collections.abc import Callable
from pathlib import Path

import sound_harbour
import sound_moves
import sound_tune
from sound_synth import RATE, Signal
from sound_wave import write

OUTPUT = Path(__file__).resolve().parent.parent / "sound"

# name: (maker, whether the file runs at half of 44100 Hz)
SOUNDS: dict[str, tuple[Callable[[], Signal], bool]] = {
    "footstep": (sound_moves.footstep, True),
    "jump": (sound_moves.jump, False),
    "land": (sound_moves.land, True),
    "throw": (sound_moves.throw, False),
    "crate": (sound_moves.crate, False),
    "splash": (sound_harbour.splash, False),
    "horn": (sound_harbour.horn, True),
    "bell": (sound_harbour.bell, False),
    "gull": (sound_harbour.gull, True),
    "finish": (sound_tune.finish, False),
}


def main() -> None:
    """Make and save every sound."""
    OUTPUT.mkdir(parents=True, exist_ok=True)
    for name, (make, half_rate) in SOUNDS.items():
        block = make()
        write(OUTPUT / f"{name}.wav", block, half_rate)
        print(f"{name}.wav: {block.shape[0] / RATE:.2f} s, {block.shape[1]} channel(s)")


if __name__ == "__main__":
    main()
