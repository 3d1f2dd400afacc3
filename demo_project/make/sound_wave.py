"""Write float signals as 16-bit PCM WAV files."""

import wave
from pathlib import Path

import numpy as np
from sound_synth import RATE, Signal, low


def halved(block: Signal) -> Signal:
    """Halve the rate of a (samples, channels) block after removing what would fold."""
    columns = [low(block[:, n], 8800, 10)[::2] for n in range(block.shape[1])]
    out = np.stack(columns, axis=1)
    out[0] = 0
    # Filtering smears a little over the edges; settle them on zero again.
    ramp = np.minimum(np.arange(out.shape[0]) / 24, 1)
    return out * (ramp * ramp[::-1])[:, None]


def write(path: Path, block: Signal, half_rate: bool) -> None:
    """Save a (samples, channels) block, values within +-1, at 44100 or 22050 Hz."""
    data = halved(block) if half_rate else block
    whole = np.clip(np.rint(data * 32767), -32768, 32767).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(block.shape[1])
        file.setsampwidth(2)
        file.setframerate(RATE // 2 if half_rate else RATE)
        file.writeframes(whole.tobytes())
