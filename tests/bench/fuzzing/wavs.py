"""WAV as a tree of RIFF chunks (Microsoft and IBM, 1991), and sounds of other forms as libsndfile writes them, in pieces.

What is accepted is compared with what libsndfile reads. Pages of Ogg get their sum (RFC 3533) after they were damaged.
"""

from __future__ import annotations

import functools
import io
import random
import struct
import zlib
from pathlib import Path

import numpy as np
import soundfile

from pipeline.graph.plan import plan_project
from pipeline.graph.steps.step import Step
from pipeline.joints.facts import SoundFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.project.loading.load import load_project
from pipeline.sound.containers import container_of
from tests.bench.fuzzing.formats import Format, Wrong, perform_here
from tests.bench.fuzzing.parts import EXTREMES, Part, damaged
from tests.makers import make_project
from tests.sound.whole import read_wav

_RATES = (1, 2, 7, 999, 1000, 8000, 11025, 22050, 44100, 48000, 96000, 192000, 384000)


def _chunk(kind: bytes, lie: int, pad: bool, pieces: list[bytes]) -> bytes:
    data = b"".join(pieces)
    return kind + struct.pack("<I", (len(data) + lie) & 0xFFFFFFFF) + data + (b"\0" if pad and len(data) % 2 else b"")


def _part(chance: random.Random, kind: bytes, *data: bytes | Part) -> Part:
    lie = 0 if chance.random() < 0.97 else chance.choice((-1, 1, 2, 100, 1 << 20, 1 << 31, -(1 << 31), 0xFFFFFFFF))
    return Part(list(data), functools.partial(_chunk, kind, lie, chance.random() < 0.97))


def _wav(chance: random.Random) -> Part:
    channels = chance.choice((1, 1, 1, 2, 2, 6))
    bits = chance.choice((8, 8, 16, 16, 16, 16, 24)) if chance.random() < 0.95 else chance.choice((0, 1, 7, 9, 12, 32, 64, 65535))
    rate = chance.choice((8000, 11025, 44100)) if chance.random() < 0.8 else chance.choice((0, *_RATES, *EXTREMES))
    width = max(1, -(-bits // 8)) if bits <= 64 else 2
    code = 1 if chance.random() < 0.93 else chance.choice((0, 2, 3, 6, 7, 17, 0x55, 0xFFFE, 0xFFFF))
    if chance.random() < 0.02:
        channels = chance.choice((0, 255, 256, 65535))
    block, speed = channels * width & 0xFFFF, rate * channels * width & 0xFFFFFFFF
    if chance.random() < 0.04:
        block = chance.choice((0, 1, 3, 65535))
    head = [struct.pack("<HH", code, channels), struct.pack("<I", rate), struct.pack("<IHH", speed, block, bits)]
    if chance.random() < 0.15:
        head.append(chance.choice((b"\0\0", struct.pack("<HHI", 22, bits, 3) + b"\x01\0\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71", b"\0")))
    count = chance.choice((0, 1, 2, 3, 100, 1000)) if chance.random() < 0.99 else 100_000
    frames = Part([chance.randbytes(min(max(1, channels), 8) * width * max(1, count // 10)) for _ in range(min(count, 10))])
    if chance.random() < 0.05:
        frames.nodes.append(b"\x7f")
    nodes = [b"WAVE", _part(chance, b"fmt ", *head)]
    for kind in (b"LIST", b"fact", b"bext", b"cue ", b"junk", b"smpl"):
        if chance.random() < 0.06:
            nodes.append(_part(chance, kind, chance.randbytes(chance.choice((0, 1, 4, 30)))))
    nodes.append(_part(chance, b"data", frames))
    if chance.random() < 0.1:
        nodes.append(_part(chance, chance.choice((b"LIST", b"data", b"fmt ", b"id3 ")), chance.randbytes(chance.choice((0, 3, 16, 200)))))
    lie = 0 if chance.random() < 0.95 else chance.choice((-8, 1, -1, 100, 0x7FFFFFFF))
    name = b"RIFF" if chance.random() < 0.98 else chance.choice((b"RIFX", b"RF64", b"riff"))
    top = Part([Part(nodes, functools.partial(_chunk, name, lie, True))])
    return damaged(chance, top, chance.choice((1, 1, 2, 3))) if chance.random() < 0.3 else top


_OTHERS = (
    ("FLAC", "PCM_16"), ("FLAC", "PCM_24"), ("OGG", "VORBIS"), ("OGG", "OPUS"), ("MP3", "MPEG_LAYER_III"), ("AIFF", "PCM_24"),
    ("CAF", "ALAC_16"), ("WAV", "FLOAT"), ("WAV", "IMA_ADPCM"), ("WAV", "MS_ADPCM"), ("WAVEX", "PCM_24"), ("RF64", "PCM_16"),
    ("AU", "PCM_16"), ("W64", "PCM_16"),
)  # fmt: skip


@functools.cache
def _written(form: str, encoding: str, channels: int) -> bytes:
    samples = np.cumsum(np.random.default_rng(channels).uniform(-1, 1, (3000, channels)), axis=0)
    stream = io.BytesIO()
    soundfile.write(stream, samples / np.abs(samples).max() * 0.8, 16000, format=form, subtype=encoding)
    return stream.getvalue()


def _page(pieces: list[bytes]) -> bytes:
    """Return an Ogg page with its sum, and with one number for every stream: libsndfile draws another each time."""
    page = bytearray(b"".join(pieces))
    page[14:18], page[22:26] = b"same", bytes(4)
    turned = zlib.crc32(bytes(int(f"{byte:08b}"[::-1], 2) for byte in page), 0xFFFFFFFF) ^ 0xFFFFFFFF
    page[22:26] = int(f"{turned:032b}"[::-1], 2).to_bytes(4, "little")
    return bytes(page)


def _pieces(data: bytes) -> list[bytes]:
    return [data[at : at + 64] for at in range(0, len(data), 64)]


def _sound(chance: random.Random) -> Part:
    form, encoding = chance.choice(_OTHERS)
    data = _written(form, encoding, chance.choice((1, 2)))
    if form == "OGG":
        top = Part([Part(_pieces(b"OggS" + page), _page) for page in data.split(b"OggS")[1:]])
    else:
        top = Part(_pieces(data))
    if chance.random() < 0.4:
        place = chance.randrange(min(400, len(data)))
        top = Part(_pieces(data[:place] + chance.randbytes(chance.choice((1, 2, 4))) + data[place + 1 :])) if chance.random() < 0.3 else top
        return damaged(chance, top, chance.choice((1, 1, 2, 3)))
    return top


def _run(folder: Path, data: bytes) -> str:
    samples, rate = read_wav(data, "a.wav")
    _compare(data, samples, rate)
    step = _steps(folder)[len(data) % len(_WAYS)]
    perform_here(step)
    wanted, name = step.arguments["spec"].rate, step.arguments["name"]
    facts = read_facts(facts_file(folder / "build/blobs", name), SoundFacts)
    if facts.samples < 1 or facts.rate != (wanted or rate):
        raise Wrong("the facts of a sound are not its own")
    if wanted is None and facts.samples != len(samples):
        raise Wrong("a sound as recorded has another number of samples")
    return "accepted"


def _compare(data: bytes, samples: np.ndarray, rate: int) -> None:
    if data.count(b"data") > 1 or data.count(b"fmt ") > 1:
        return  # there may be one of each; readers differ in which of two they take
    try:
        wanted, other_rate = soundfile.read(io.BytesIO(data), dtype="float64", always_2d=True)
    except (soundfile.LibsndfileError, RuntimeError, ValueError, MemoryError):
        return  # it refuses more than is refused here: chunks in odd order, a rate of 2^31
    if other_rate != rate:
        raise Wrong("libsndfile reads another rate")
    if len(wanted) != len(samples):
        raise Wrong("libsndfile reads another number of samples")
    # Its decoder of MP3 rounds 32-bit floats by how many samples it is asked for at once.
    if np.abs(wanted.mean(axis=1) - samples).max() > (1e-4 if container_of(data) == "MP3" else 0):
        raise Wrong("libsndfile reads other samples")


_WAYS = (("s8", None), ("s16", None), ("s8", 11025), ("s16", 44100), ("s8", 1000))


def _prepare(folder: Path) -> None:
    folder.rmdir()
    keys = ((form, f"rate = {rate}" if rate else "") for form, rate in _WAYS)
    more = "".join(f'[sound.way{rank}]\nfile = "a.wav"\nformat = "{form}"\n{rate}\n' for rank, (form, rate) in enumerate(keys))
    make_project(folder, more=more)
    (folder / "a.wav").write_bytes((folder / "sound/bell.wav").read_bytes())
    (folder / "build/blobs").mkdir(parents=True)
    _steps(folder)


@functools.cache
def _steps(folder: Path) -> list[Step]:
    """Return the build's own steps of the sounds, each converting the document in a way of its own."""
    return [one for one in plan_project(load_project(folder)).steps if one.name.startswith("sound:way")]


FORMATS = (Format("wav", _wav, "a.wav", _prepare, _run, 512 << 20), Format("sound", _sound, "a.wav", _prepare, _run, 512 << 20))
