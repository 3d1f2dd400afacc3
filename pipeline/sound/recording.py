"""Reading a WAV file: 8-bit or 16-bit PCM, any usual rate, any number of channels mixed down to one."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator

import numpy as np

from pipeline.plain.bounds import LEAST_RECORDED, MOST_RECORDED, SOUND_CHUNKS
from pipeline.plain.errors import refuse

_FORMATS = {1: "PCM", 2: "ADPCM", 3: "floating point", 6: "A-law", 7: "mu-law", 17: "ADPCM", 0xFFFE: "extensible"}
_BLOCK = 1 << 16  # bytes of samples read together, unless one frame has more


class Recording:
    """A recording whose header has been checked; its samples are read a block at a time.

    Args:
        data: the file's bytes (RIFF WAVE, as Microsoft and IBM published it in 1991).
        name: for messages.

    Attributes:
        rate: samples a second.
        count: samples of each channel, all of which are there.

    Raises:
        ProjectError: no WAV, empty, cut short, another sample format than 8-bit or 16-bit PCM, a rate that no recorder has, or
            more chunks than are looked through.
    """

    def __init__(self, data: bytes, name: str) -> None:
        _check_format(data, name)
        try:
            with wave.open(io.BytesIO(data)) as file:
                self._channels, self._width, self.rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
                claimed = file.getnframes()
                self._raw = file.readframes(claimed)
        except (wave.Error, EOFError, RuntimeError) as error:
            # The standard library ends a file that is cut inside a chunk with an error that has no text.
            detail = str(error) or "it ends too early"
            raise refuse(name, "", f"is a damaged WAV file: {detail}", "export it again as WAV, 16-bit PCM") from None
        if self._width not in (1, 2):
            raise refuse(name, "", f"has {8 * self._width}-bit samples", "export it as WAV, 16-bit PCM")
        if self.rate == 0 or not self._raw:
            raise refuse(name, "", "holds no samples", "export it again")
        self.count = len(self._raw) // (self._channels * self._width)
        if len(self._raw) < claimed * self._channels * self._width:
            wrong = f"is cut short: {self.count} of {claimed} samples are there"
            raise refuse(name, "", wrong, "export it again")
        if not LEAST_RECORDED <= self.rate <= MOST_RECORDED:
            wrong = f"says that it was recorded at {self.rate:,} Hz, {LEAST_RECORDED:,} to {MOST_RECORDED:,} Hz are read"
            raise refuse(name, "", wrong, "export it again at the rate it was recorded at")

    def blocks(self) -> Iterator[np.ndarray]:
        """Yield the samples: float64, shape (n,), in -1..1, the mean of the channels."""
        frame = self._channels * self._width
        together = max(1, _BLOCK // frame) * frame
        for at in range(0, len(self._raw), together):
            raw = self._raw[at : at + together]
            samples = np.frombuffer(raw, dtype="<i2").astype(np.float64) / 32768 if self._width == 2 else _from_u8(raw)
            yield samples.reshape(-1, self._channels).mean(axis=1)


def _from_u8(raw: bytes) -> np.ndarray:
    return (np.frombuffer(raw, dtype=np.uint8).astype(np.float64) - 128) / 128


def _check_format(data: bytes, name: str) -> None:
    if not data:
        raise refuse(name, "", "is an empty file", "record or export it again")
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        raise refuse(name, "", "is not a WAV file", "export it as WAV, 16-bit PCM")
    code = _format_code(data, name)
    if code not in (1, None):
        kind = _FORMATS.get(code, f"format {code}")
        article = "an" if kind[0] in "aAeE" else "a"
        raise refuse(name, "", f"is {article} {kind} WAV", "export it as WAV, 16-bit PCM (plain, not extensible)")


def _format_code(data: bytes, name: str) -> int | None:
    """Return the format tag of the ``fmt`` chunk, since the standard library refuses others without naming them."""
    at, code, count = 12, None, 0
    while at + 8 <= len(data):
        size, kind, count = int.from_bytes(data[at + 4 : at + 8], "little"), data[at : at + 4], count + 1
        if count > SOUND_CHUNKS:
            wrong = f"has {count:,} chunks or more, at most {SOUND_CHUNKS:,} are looked through"
            raise refuse(name, "", wrong, "export it again as WAV, 16-bit PCM")
        if code is None and kind == b"fmt " and at + 10 <= len(data):
            code = int.from_bytes(data[at + 8 : at + 10], "little")
        if code is not None and kind == b"data":
            break  # the standard library looks no further
        at += 8 + size + size % 2
    return code
