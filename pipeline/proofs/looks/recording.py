"""A sound's samples as a recording that any player takes: RIFF WAVE, PCM, one channel."""

from __future__ import annotations

import io
import wave
from collections.abc import Mapping

import numpy as np

from pipeline.joints.layouts import SOUND_FORMATS
from pipeline.joints.shown import FORMAT, ShownSound
from pipeline.proofs.subject import Subject
from pipeline.reading.decoded import Decoded


def recording(subject: Subject, variants: Mapping[str, Decoded]) -> tuple[ShownSound, bytes]:
    """Return a sound as the console plays it: 8 bits where its samples have 8, else 16. It has no variants."""
    head, samples = subject.decoded.head, subject.decoded.samples
    form, out = SOUND_FORMATS[head["format"]], io.BytesIO()
    # A recording of 8 bits is unsigned, one of 16 signed (Multimedia Programming Interface and Data Specifications 1.0, 1991).
    eight = form in ("u8", "s8")
    data = (samples + (128 if form == "s8" else 0)).astype(np.uint8) if eight else samples.astype("<i2")
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(1 if eight else 2)
        file.setframerate(head["rate"])
        file.writeframes(data.tobytes())
    seconds = round(len(samples) / head["rate"], 3)
    return ShownSound(version=FORMAT, words=f"{seconds:.2f} s at {head['rate']:,} Hz", seconds=seconds), out.getvalue()
