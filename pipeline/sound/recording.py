"""Reading a WAV file: 8-bit or 16-bit PCM, any rate, any number of channels mixed down to one."""

from __future__ import annotations

import io
import wave

import numpy as np

from pipeline.errors import refuse

_FORMATS = {1: "PCM", 2: "ADPCM", 3: "floating point", 6: "A-law", 7: "mu-law", 17: "ADPCM", 0xFFFE: "extensible"}


def read_wav(data: bytes, name: str) -> tuple[np.ndarray, int]:
    """Return the samples of a recording and its rate.

    Args:
        data: the file's bytes (RIFF WAVE, as Microsoft and IBM published it in 1991).
        name: for messages.

    Returns:
        float64, shape (n,), in -1..1 (the mean of the channels), and samples a second.

    Raises:
        ProjectError: no WAV, empty, cut short, or another sample format than 8-bit or 16-bit PCM.
    """
    if not data:
        raise refuse(name, "", "is an empty file", "record or export it again")
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        raise refuse(name, "", "is no WAV file", "export it as WAV, 16-bit PCM")
    code = _format_code(data)
    if code not in (1, None):
        kind = _FORMATS.get(code, f"format {code}")
        article = "an" if kind[0] in "aAeE" else "a"
        raise refuse(name, "", f"is {article} {kind} WAV", "export it as WAV, 16-bit PCM (plain, not extensible)")
    try:
        with wave.open(io.BytesIO(data)) as file:
            channels, width, rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
            claimed, raw = file.getnframes(), file.readframes(file.getnframes())
    except (wave.Error, EOFError, RuntimeError) as error:
        # The standard library ends a file that is cut inside a chunk with an error that has no text.
        detail = str(error) or "it ends too early"
        raise refuse(name, "", f"is a damaged WAV file: {detail}", "export it again as WAV, 16-bit PCM") from None
    if width not in (1, 2):
        raise refuse(name, "", f"has {8 * width}-bit samples", "export it as WAV, 16-bit PCM")
    if rate == 0 or not raw:
        raise refuse(name, "", "holds no samples", "export it again")
    if len(raw) < claimed * channels * width:
        wrong = f"is cut short: {len(raw) // (channels * width)} of {claimed} samples are there"
        raise refuse(name, "", wrong, "export it again")
    samples = np.frombuffer(raw, dtype="<i2").astype(np.float64) / 32768 if width == 2 else _from_u8(raw)
    return samples.reshape(-1, channels).mean(axis=1), rate


def _from_u8(raw: bytes) -> np.ndarray:
    return (np.frombuffer(raw, dtype=np.uint8).astype(np.float64) - 128) / 128


def _format_code(data: bytes) -> int | None:
    """Return the format tag of the ``fmt`` chunk, since the standard library refuses others without naming them."""
    at = 12
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        if data[at : at + 4] == b"fmt " and at + 10 <= len(data):
            return int.from_bytes(data[at + 8 : at + 10], "little")
        at += 8 + size + size % 2
    return None
