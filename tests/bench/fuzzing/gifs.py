"""GIF as a tree of blocks (GIF89a specification, 1990): codes packed by a writer of its own, so that they can be wrong in any way."""

from __future__ import annotations

import functools
import random
import struct
from pathlib import Path

from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.project.assets import Sprite
from pipeline.target.records import SpriteLimits
from tests.bench.fuzzing.formats import Format
from tests.bench.fuzzing.parts import EXTREMES, Part, damaged, rendered
from tests.bench.fuzzing.pngs import run_animation


def _blocks(pieces: list[bytes]) -> bytes:
    """Return data as sub-blocks of up to 255 bytes, and the empty one behind them."""
    data = b"".join(pieces)
    return b"".join(bytes([len(data[at : at + 255])]) + data[at : at + 255] for at in range(0, len(data), 255)) + b"\0"


def _codes(size: int, pieces: list[bytes]) -> bytes:
    """Return pixels as codes that never grow: a clear code before the table would need one bit more."""
    pixels, clear, width = b"".join(pieces), 1 << size, size + 1
    every = (1 << size) - 2
    codes = []
    for rank, pixel in enumerate(pixels):
        if rank % every == 0:
            codes.append(clear)
        codes.append(pixel & (clear - 1))
    out, waiting, bits = bytearray(), 0, 0
    for code in [*codes, clear + 1]:
        waiting |= code << bits
        bits += width
        while bits >= 8:
            out.append(waiting & 0xFF)
            waiting, bits = waiting >> 8, bits - 8
    return bytes(out) + (bytes([waiting]) if bits else b"")


def _number(chance: random.Random, value: int) -> bytes:
    return struct.pack("<H", value if chance.random() < 0.98 else chance.choice(EXTREMES) & 0xFFFF)


def _gif(chance: random.Random, count: int) -> Part:
    width, height = chance.choice((1, 3, 8, 20, 40)), chance.choice((1, 3, 8, 20, 40))
    bits = chance.choice((2, 2, 3, 4, 8))
    table = chance.random() < 0.9
    flags = (0x80 if table else 0) | 0x70 | (bits - 1)
    nodes = [chance.choice((b"GIF89a", b"GIF89a", b"GIF89a", b"GIF87a", b"GIF90a"))]
    nodes.append(Part([_number(chance, width), _number(chance, height), bytes([flags, chance.choice((0, 0, 1, 255)), 0])]))
    if table:
        nodes.append(chance.randbytes(3 << bits))
    if chance.random() < 0.5:
        nodes.append(Part([b"\x21\xff\x0bNETSCAPE2.0", Part([b"\1" + struct.pack("<H", chance.choice((0, 3, 65535)))], _blocks)]))
    if chance.random() < 0.1:
        nodes.append(
            Part([chance.choice((b"\x21\xfe", b"\x21\x01", b"\x21\x77")), Part([chance.randbytes(chance.choice((0, 9, 600)))], _blocks)])
        )
    if chance.random() < 0.01:
        nodes.append(Part([rendered(_image(chance, 0, 1, 1, bits, table)) * chance.choice((300, 3000, 20000))]))
    for rank in range(count):
        nodes.append(_image(chance, rank, width, height, bits, table))
    nodes.append(b";" if chance.random() < 0.9 else b"")
    top = Part(nodes)
    return damaged(chance, top, chance.choice((1, 1, 2, 3))) if chance.random() < 0.35 else top


def _image(chance: random.Random, rank: int, width: int, height: int, bits: int, table: bool) -> Part:
    nodes = []
    if chance.random() < 0.8:
        flags = chance.choice((0, 1, 2, 3, 3, 7)) << 2 | chance.randrange(2)
        control = bytes([flags]) + struct.pack("<H", chance.choice((0, 1, 5, 100, 65535))) + bytes([chance.randrange(1 << bits)])
        nodes.append(Part([b"\x21\xf9", Part([control], _blocks)]))
    whole = rank == 0 or chance.random() < 0.5
    wide, high = (width, height) if whole else (chance.randint(1, width), chance.randint(1, height))
    left, top = (0, 0) if whole else (chance.randint(0, width - wide), chance.randint(0, height - high))
    real = wide, high
    if chance.random() < 0.03:
        wide, high = chance.choice(((width + 5, high), (0, high), (wide, 0), (8192, 8192), (60000, 60000), (65535, 1), (9000, 9000)))
    own = not table or chance.random() < 0.2
    flags = (0x80 if own and chance.random() < 0.97 else 0) | (0x40 if chance.random() < 0.2 else 0) | (bits - 1)
    nodes.append(Part([b",", _number(chance, left), _number(chance, top), struct.pack("<HH", wide, high), bytes([flags])]))
    if flags & 0x80:
        nodes.append(chance.randbytes(3 << bits))
    pixels = Part([bytes(chance.randrange(1 << bits) for _ in range(real[0])) for _ in range(real[1])])
    if chance.random() < 0.06:
        pixels.nodes = pixels.nodes[:-1] if chance.random() < 0.5 else pixels.nodes * 2
    size = bits if chance.random() < 0.97 else chance.choice((0, 1, 2, 9, 11, 12, 255))
    packed = Part([pixels], functools.partial(_codes, bits)) if chance.random() < 0.97 else chance.randbytes(60)
    nodes += [bytes([size]), Part([packed], _blocks)]
    return Part(nodes)


def _prepare(folder: Path) -> None:
    (folder / "build/work").mkdir(parents=True)


def _run(folder: Path, data: bytes) -> str:
    return run_animation(folder, data, "a.gif")


def _run_still(folder: Path, data: bytes) -> str:
    limits = SpriteLimits(max_width=65535, max_height=65535)
    files = frame_files(folder / "build/work", "ada")
    prepare_sprite(Sources(folder, ("a.gif",)), files, "ada", Sprite(frames="a.gif", palette="x"), limits)
    list(PreparedFrames(files))
    return "accepted"


FORMATS = (
    Format("gif", lambda chance: _gif(chance, 1), "a.gif", _prepare, _run_still),
    Format("agif", lambda chance: _gif(chance, chance.choice((2, 2, 3, 5))), "a.gif", _prepare, _run),
)
