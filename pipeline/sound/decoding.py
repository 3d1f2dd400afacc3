"""Sound files read by libsndfile, in a process of its own: a decoder that fails on a hostile file ends only that."""

from __future__ import annotations

import hashlib
import io
import json
import re
from collections.abc import Generator, Iterator
from contextlib import closing
from typing import Any

import numpy as np

from pipeline.plain.apart import Bounds, TooMuch, parts_apart
from pipeline.plain.bounds import SOUND_SAMPLES
from pipeline.plain.errors import ProjectError, refuse
from pipeline.sound.containers import AGAIN

# What a decoder takes for the most samples on a slow machine; what comes back is read a block at a time and never held.
_BOUNDS = Bounds(processor_seconds=120, wall_seconds=600, bytes=9 * SOUND_SAMPLES)
_BLOCK = 1 << 15  # samples of all channels read together, unless one frame has more
# Encodings that were compared with another decoder's result; see tests/sound/test_forms.py.
_ENCODINGS = re.compile("PCM_.*|FLOAT|DOUBLE|[AU]LAW|(IMA|MS)_ADPCM|GSM610|VORBIS|OPUS|MPEG_LAYER_.*|ALAC_.*")
_LONGEST = 1 << 62  # libsndfile's count of samples where a file does not say


class Decoded:
    """A recording of which libsndfile has read the header.

    Args:
        data: the file's bytes.
        name: for messages.

    Attributes:
        rate: samples a second; ``channels``: at least 1; ``count``: samples of each channel, as the file says.

    Raises:
        ProjectError: libsndfile does not read it or its encoding, it does not say how long it is, or it has more samples than are read.
    """

    def __init__(self, data: bytes, name: str) -> None:
        self._data, self._name = data, name
        with closing(self._parts(whole=False)) as parts:
            head = json.loads(next(parts))
        self.rate, self.channels, self.count = head["rate"], head["channels"], head["count"]
        if not _ENCODINGS.fullmatch(head["encoding"]):
            raise refuse(name, "", f"holds samples in the encoding {head['encoding']}, which is not read", AGAIN)
        if self.count >= _LONGEST:
            raise refuse(name, "", "does not say how many samples it holds", AGAIN)
        if self.count * self.channels > SOUND_SAMPLES:
            wrong = f"holds {self.count * self.channels:,} samples, at most {SOUND_SAMPLES:,} are read"
            raise refuse(name, "", wrong, "cut it shorter")

    def blocks(self) -> Iterator[np.ndarray]:
        """Yield the samples: float64, shape (n, channels); 1.0 is full scale, and may be exceeded.

        Raises:
            ProjectError: the file is damaged, or has fewer or more samples than it says.
        """
        found = 0
        for part in self._parts(whole=True):
            block = np.frombuffer(part, dtype=np.float64).reshape(-1, self.channels)
            if not np.isfinite(block).all():
                raise refuse(self._name, "", f"has samples that are not numbers, after {found:,} others", AGAIN)
            found += len(block)
            if found > self.count:
                raise refuse(self._name, "", f"is damaged: it holds more than the {self.count:,} samples that it says", AGAIN)
            yield block
        if found < self.count:
            raise refuse(self._name, "", f"is cut short: {found:,} of {self.count:,} samples are there", AGAIN)

    def _parts(self, whole: bool) -> Generator[bytes]:
        """Yield what ``_decode`` does, without its letters."""
        import soundfile  # noqa: F401  # here, so that every fork has it already

        try:
            for part in parts_apart(lambda: _decode(self._data, whole), _BOUNDS):
                if part[:1] == b"E":
                    raise self._damaged(part[1:].decode())
                yield part[1:]
        except TooMuch as error:
            raise self._damaged(f"decoding it {error}") from None

    def _damaged(self, detail: str) -> ProjectError:
        return refuse(self._name, "", f"cannot be decoded: {detail}", AGAIN)


def _decode(data: bytes, whole: bool) -> Iterator[bytes]:
    """Yield the header (``H`` and JSON) or the samples (``S`` and float64) of a file; ``E`` and words where it fails."""
    import soundfile

    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if not whole:
                yield b"H" + json.dumps(_head(file)).encode()
                return
            if file.format == "FLAC":
                yield from _lossless(file, data)
                return
            while len(block := file.read(_together(file), dtype="float64", always_2d=True)):
                yield b"S" + block.tobytes()
    except soundfile.LibsndfileError as error:
        yield b"E" + (error.error_string.removeprefix("Error : ").rstrip(".\n ") or "it is damaged").encode()


def _together(file: Any) -> int:
    return max(1, _BLOCK // file.channels)


def _lossless(file: Any, data: bytes) -> Iterator[bytes]:
    """Yield the samples of a FLAC file, and ``E`` where they are not those its sum is of (RFC 9639, 8.2)."""
    head = data[data.index(b"fLaC") :][:42]
    bits, expected = (int.from_bytes(head[20:22], "big") >> 4 & 31) + 1, head[26:42]
    md5 = hashlib.md5(usedforsecurity=False)
    while len(block := file.read(_together(file), dtype="int32", always_2d=True)):
        numbers = (block >> (32 - bits)).astype("<i4")
        md5.update(numbers.view(np.uint8).reshape(-1, 4)[:, : -(-bits // 8)].tobytes())
        yield b"S" + (block / 2.0**31).tobytes()
    if any(expected) and md5.digest() != expected:
        yield b"Eits samples are not those that its checksum is of"


def _head(file: Any) -> dict[str, Any]:
    return {"encoding": file.subtype, "rate": file.samplerate, "channels": file.channels, "count": file.frames}
