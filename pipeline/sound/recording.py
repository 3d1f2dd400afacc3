"""Reading a sound file of any usual form: its samples as one channel, and what is odd about them.

WAV of 8-bit or 16-bit PCM is read here, every other form by ``decoding``.
"""

from __future__ import annotations

import io
import math
import wave
from collections.abc import Iterator
from typing import Literal

import numpy as np

from pipeline.plain.bounds import LEAST_RECORDED, MOST_RECORDED
from pipeline.plain.errors import refuse
from pipeline.sound.containers import AGAIN, check_whole, chunks, container_of
from pipeline.sound.decoding import Decoded

Channels = Literal["left", "right", "mix"]
_READ = "WAV, FLAC, Ogg, AIFF, MP3, CAF, AU and W64 are read"
_BLOCK = 1 << 16  # bytes of samples read together, unless one frame has more
_LOUDEST = 8.0  # times full scale; samples beyond it count as that much where channels are compared
# Times less power than channels with nothing in common keep when they are mixed; 10 and 6 dB. Common practice, no source.
_CANCELLED, _WEAKENED = 10, 4


class Recording:
    """A recording whose header has been checked; its samples are read a block at a time.

    Args:
        data: the file's bytes.
        name: for messages.
        channels: the channel to take; None mixes them, unless they cancel out.

    Attributes:
        rate: samples a second.
        count: samples of each channel.

    Raises:
        ProjectError: no sound file that is read, empty, cut short, damaged, a rate that no recorder has, more samples or chunks than
            are looked through, or a channel that it lacks.
    """

    def __init__(self, data: bytes, name: str, channels: Channels | None = None) -> None:
        if not data:
            raise refuse(name, "", "is an empty file", "record or export it again")
        container = container_of(data)
        if container is None:
            raise refuse(name, "", "is not a sound file of a form that is read", f"export it as WAV or FLAC; {_READ}")
        self._file = _Plain(data, name) if container == "WAV" and _is_plain(data, name) else _decoded(data, name, container)
        self.rate, self.count, self._name, self._wanted = self._file.rate, self._file.count, name, channels
        if self.rate == 0 or not self.count:
            raise refuse(name, "", "holds no samples", "export it again")
        if not LEAST_RECORDED <= self.rate <= MOST_RECORDED:
            wrong = f"says that it was recorded at {self.rate:,} Hz, {LEAST_RECORDED:,} to {MOST_RECORDED:,} Hz are read"
            raise refuse(name, "", wrong, "export it again at the rate it was recorded at")
        if channels in ("left", "right") and self._file.channels > 2:
            wrong = f"has {self._file.channels} channels, not a left and a right one"
            raise refuse(name, "", wrong, "mix it down to two before you export it")
        self._each = self._mixed = 0  # sums of squares of 16-bit samples: of all channels, and of their sum

    def blocks(self) -> Iterator[np.ndarray]:
        """Yield the samples: float64, shape (n,), 1.0 is full scale: one channel, or the mean of all.

        Raises:
            ProjectError: the file is damaged, or cut short.
        """
        self._each = self._mixed = 0
        for block in self._file.blocks():
            if self._file.channels == 1:
                yield block[:, 0]
            elif self._wanted in ("left", "right"):
                yield block[:, ("left", "right").index(self._wanted)]
            else:
                self._compare(block)
                yield block.mean(axis=1)

    def _compare(self, block: np.ndarray) -> None:
        """Add to the sums. They are over whole numbers, so that no machine decides otherwise."""
        numbers = np.rint(np.clip(block, -_LOUDEST, _LOUDEST) * 32768).astype(np.int64)
        self._each += int((numbers**2).sum())
        self._mixed += int((numbers.sum(axis=1) ** 2).sum())

    def cancelling(self, table: str) -> str:
        """Return what is odd about channels that were mixed, once all blocks are read; empty where nothing is.

        Channels that have nothing in common add up to the sum of their powers. What is left of that is looked at.

        Args:
            table: of the project file, for messages.

        Raises:
            ProjectError: they cancel out (10 dB are lost or more, in stereo a correlation of -0.9) and nobody asked for the mix.
        """
        if not self._each or self._mixed * _WEAKENED >= self._each:
            return ""
        lost = f"{-10 * math.log10(self._mixed / self._each):.0f} dB" if self._mixed else "everything"
        stereo = f" (correlation {self._mixed / self._each - 1:.2f})" if self._file.channels == 2 else ""
        wrong = f"its {self._file.channels} channels cancel out{stereo}: mixed together they lose {lost}"
        if self._mixed * _CANCELLED < self._each and self._wanted is None:
            take = 'set channels = "left" or "right"' if stereo else "mix it down before you export it, or set channels"
            keep = '"mix" keeps it so' if stereo else 'to "mix" to keep it so'
            raise refuse(self._name, "", wrong, f"{take} of [{table}]{'; ' if stereo else ' '}{keep}")
        return wrong


class _Plain:
    """A WAV file of 8-bit or 16-bit PCM. Attributes and methods as those of ``Decoded``; all samples are there."""

    def __init__(self, data: bytes, name: str) -> None:
        try:
            with wave.open(io.BytesIO(data)) as file:
                self.channels, self._width, self.rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
                claimed = file.getnframes()
                self._raw = file.readframes(claimed)
        except (wave.Error, EOFError, RuntimeError) as error:
            # The standard library ends a file that is cut inside a chunk with an error that has no text.
            detail = str(error) or "it ends too early"
            raise refuse(name, "", f"is a damaged WAV file: {detail}", AGAIN) from None
        self.count = len(self._raw) // (self.channels * self._width)
        if self._raw and len(self._raw) < claimed * self.channels * self._width:
            raise refuse(name, "", f"is cut short: {self.count} of {claimed} samples are there", "export it again")

    def blocks(self) -> Iterator[np.ndarray]:
        frame = self.channels * self._width
        together = max(1, _BLOCK // frame) * frame
        for at in range(0, len(self._raw), together):
            raw = self._raw[at : at + together]
            samples = np.frombuffer(raw, dtype="<i2").astype(np.float64) / 32768 if self._width == 2 else _from_u8(raw)
            yield samples.reshape(-1, self.channels)


def _from_u8(raw: bytes) -> np.ndarray:
    return (np.frombuffer(raw, dtype=np.uint8).astype(np.float64) - 128) / 128


def _decoded(data: bytes, name: str, container: str) -> Decoded:
    check_whole(data, name, container)
    return Decoded(data, name)


def _is_plain(data: bytes, name: str) -> bool:
    """Whether a WAV file holds what the standard library reads on every version of it, or nothing that anything reads."""
    code, bits = None, 0
    for kind, at, _ in chunks(data, name):
        if code is None and kind == b"fmt " and at + 2 <= len(data):
            code, bits = (int.from_bytes(data[start : start + 2], "little") for start in (at, at + 14))
        if code is not None and kind == b"data":
            break  # the standard library looks no further
    return data[:4] == b"RIFF" and (code is None or (code == 1 and bits <= 16))
