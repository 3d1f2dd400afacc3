"""PNG and APNG as trees: chunks with right sums around data that may be wrong (PNG specification, W3C, third edition).

Accepted pictures are compared with what Pillow decodes and, where it can, with what pypng decodes.
"""

from __future__ import annotations

import contextlib
import functools
import io
import random
import struct
import warnings
import zlib
from pathlib import Path

import numpy as np
import png
from PIL import Image

from pipeline.assets.backgrounds.prepare import prepare_background
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.pixels.scaling.scale import cut_alpha
from pipeline.project.assets import Background, Sprite
from pipeline.target.records import SpriteLimits
from tests.bench.fuzzing.formats import MIB, Format, Wrong
from tests.bench.fuzzing.parts import EXTREMES, Part, damaged

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


# What a reference library raises of a file that is taken here: of a chunk that says nothing of the pixels, for instance.
_REFUSED = (OSError, SyntaxError, ValueError, EOFError, IndexError, TypeError, OverflowError)


def chunk(kind: bytes, *data: bytes | Part, lie: int = 0, wrong_sum: bool = False) -> Part:
    """Return a chunk; ``lie`` is added to its length."""
    return Part(list(data), functools.partial(_chunk, kind, lie, wrong_sum))


def _chunk(kind: bytes, lie: int, wrong_sum: bool, pieces: list[bytes]) -> bytes:
    data = b"".join(pieces)
    total = zlib.crc32(kind + data) ^ wrong_sum
    return struct.pack(">I", (len(data) + lie) & 0xFFFFFFFF) + kind + data + struct.pack(">I", total)


def _deflated(level: int, pieces: list[bytes]) -> bytes:
    return zlib.compress(b"".join(pieces), level)


def _side(chance: random.Random) -> int:
    return chance.choice((1, 2, 3, 7, 8, 9, 16, 20, 33, 64))


class _Head:
    """What IHDR says, and the rows that go with it."""

    def __init__(self, chance: random.Random) -> None:
        self.width, self.height = _side(chance), _side(chance)
        self.colour = chance.choice((0, 2, 3, 3, 4, 6, 6))
        depths = _DEPTHS[self.colour]
        self.depth = chance.choice(depths) if chance.random() < 0.3 else min(8, depths[-1])
        self.interlaced = int(chance.random() < 0.2)

    def bytes(self, chance: random.Random) -> list[bytes]:
        """Return IHDR's fields, now and then one of them beyond what there is."""
        numbers = [struct.pack(">I", self.width), struct.pack(">I", self.height), *(bytes([one]) for one in self._small())]
        if chance.random() < 0.12:
            at = chance.randrange(len(numbers))
            other = (*EXTREMES, 5000, 8192, 8193, 16384, 60000, 65536)
            numbers[at] = struct.pack(">I", chance.choice(other)) if at < 2 else bytes([chance.choice((0, 1, 2, 3, 5, 7, 16, 255))])
        return numbers

    def _small(self) -> tuple[int, ...]:
        return self.depth, self.colour, 0, 0, self.interlaced

    def rows(self, chance: random.Random, width: int, height: int) -> Part:
        """Return the filtered rows of one picture."""
        rows = []
        for left, top, across, down in _PASSES if self.interlaced else ((0, 0, 1, 1),):
            columns, lines = -(-(width - left) // across), -(-(height - top) // down)
            if columns <= 0 or lines <= 0:
                continue
            size = -(-columns * self.depth * _CHANNELS[self.colour] // 8)
            flat = chance.random() < 0.5
            for _ in range(lines):
                kind = chance.choice((0, 0, 1, 2, 3, 4)) if chance.random() < 0.99 else chance.choice((5, 255))
                rows.append(bytes([kind]) + (bytes([chance.randrange(4)]) * size if flat else chance.randbytes(size)))
        return Part(rows)


def _picture(chance: random.Random, animated: bool) -> Part:
    head = _Head(chance)
    nodes = [_SIGNATURE, chunk(b"IHDR", *head.bytes(chance))]
    nodes += _early(chance, head)
    if chance.random() < 0.02:
        nodes += _bomb(chance, head, nodes)
    elif animated:
        nodes += _frames(chance, head)
    else:
        nodes += _data(chance, head, b"IDAT", head.width, head.height)
    if chance.random() < 0.2:
        nodes += _others(chance)
    nodes.append(chunk(b"IEND"))
    if chance.random() < 0.05:
        nodes.append(chance.randbytes(9))
    top = Part(nodes)
    return damaged(chance, top, chance.choice((1, 1, 2, 3))) if chance.random() < 0.35 else top


def _early(chance: random.Random, head: _Head) -> list[Part]:
    nodes = []
    if head.colour == 3 or chance.random() < 0.05:
        most = 1 << min(head.depth, 8)
        count = chance.choice((most, most, max(1, most // 2), 1)) if chance.random() < 0.95 else chance.choice((0, 257, 300))
        nodes.append(chunk(b"PLTE", chance.randbytes(3 * count + (chance.random() < 0.02))))
    if head.colour in (0, 2, 3) and chance.random() < 0.3:
        size = {0: 2, 2: 6}.get(head.colour, chance.choice((1, 4, 16, 256)))
        content = chance.randbytes(size)
        if head.colour != 3 and head.depth < 16:
            # Bits above the depth are 0, as encoders should write them; decoders differ about others (section 11.3.1.1).
            content = bytes(byte & ((1 << head.depth) - 1) if rank % 2 else 0 for rank, byte in enumerate(content))
        nodes.append(chunk(b"tRNS", content if chance.random() < 0.9 else chance.randbytes(chance.choice((0, 1, 300)))))
    for kind, size in ((b"gAMA", 4), (b"sBIT", 3), (b"pHYs", 9), (b"bKGD", 6), (b"cHRM", 32), (b"sRGB", 1), (b"tIME", 7)):
        if chance.random() < 0.05:
            nodes.append(chunk(kind, chance.randbytes(size if chance.random() < 0.8 else chance.choice((0, 1, 40)))))
    return nodes


def _others(chance: random.Random) -> list[Part]:
    long = b"word " * chance.choice((1, 1000, 300_000))
    return [
        chance.choice(
            (
                chunk(b"tEXt", b"Title\0", chance.randbytes(20)),
                chunk(b"zTXt", b"Title\0\0", Part([long], functools.partial(_deflated, 9))),
                chunk(b"iTXt", b"Title\0\1\0\0\0", Part([long], functools.partial(_deflated, 9))),
                chunk(b"iCCP", b"x\0\0", Part([chance.randbytes(200)], functools.partial(_deflated, 6))),
                chunk(b"eXIf", b"MM\0*\0\0\0\x08", chance.randbytes(30)),
                chunk(b"zzZz", chance.randbytes(30)),
                chunk(b"ABCD", chance.randbytes(30)),
                chunk(b"IDAT", chance.randbytes(9)),
                chunk(b"IHDR", chance.randbytes(13)),
                chunk(b"tEXt", b"a", lie=chance.choice((-1, 1, 4, 1 << 31, -(1 << 31), 1 << 20))),
                chunk(b"tEXt", b"a", wrong_sum=True),
                chunk(b"acTL", struct.pack(">II", chance.choice((0, 1, 2, 1 << 31)), 0)),
                chunk(b"fcTL", chance.randbytes(26)),
            )
        )
    ]


def _data(chance: random.Random, head: _Head, kind: bytes, width: int, height: int) -> list[Part]:
    level = chance.choice((0, 1, 9))
    rows = head.rows(chance, width, height)
    if chance.random() < 0.05:
        rows.nodes.append(chance.choice((b"", bytes(50), chance.randbytes(3))))
    packed = Part([rows], functools.partial(_deflated, level))
    if chance.random() < 0.2:
        # The same stream in several chunks; what is damaged in the rows then goes through all of them.
        return [Part([packed], functools.partial(_parted, kind, chance.choice((1, 2, 7, 100))))]
    if chance.random() < 0.05:
        return [chunk(kind, packed, lie=chance.choice((-1, 1, 100, 1 << 31)), wrong_sum=chance.random() < 0.5)]
    return [chunk(kind, packed)]


def _parted(kind: bytes, size: int, pieces: list[bytes]) -> bytes:
    data = b"".join(pieces)
    step = max(size, len(data) // 64 + 1)
    return b"".join(_chunk(kind, 0, False, [data[at : at + step]]) for at in range(0, len(data), step))


def _bomb(chance: random.Random, head: _Head, nodes: list) -> list[Part]:
    """A picture whose few bytes represent many pixels, up to and beyond what is allowed."""
    head.width, head.height = chance.choice(
        ((2000, 2000), (4096, 4096), (8192, 8192), (8193, 8192), (65535, 1024), (1, 1 << 26), (30000, 30000))
    )
    head.colour, head.depth, head.interlaced = chance.choice(((0, 1, 0), (3, 1, 0), (0, 1, 1), (6, 8, 0)))
    nodes[1] = chunk(b"IHDR", struct.pack(">II", head.width, head.height), bytes(head._small()))
    size = head.height * (1 + -(-head.width * head.depth * _CHANNELS[head.colour] // 8))
    return [chunk(b"PLTE", bytes(6)), chunk(b"IDAT", zlib.compress(bytes(min(size, 16 * MIB)), 1))]


def _frames(chance: random.Random, head: _Head) -> list[Part]:
    count = chance.choice((1, 2, 3, 5))
    claimed = count if chance.random() < 0.9 else chance.choice((0, 1, count + 1, 9, 1 << 20, 0x7FFFFFFF, 0xFFFFFFFF))
    hidden = chance.random() < 0.2
    nodes = [chunk(b"acTL", struct.pack(">I", claimed), struct.pack(">I", chance.choice((0, 0, 3, 0xFFFFFFFF))))]
    number = 0
    if hidden:
        nodes += _data(chance, head, b"IDAT", head.width, head.height)
    for rank in range(count):
        whole = rank == 0 or chance.random() < 0.4
        width = head.width if whole else chance.randint(1, head.width)
        height = head.height if whole else chance.randint(1, head.height)
        left, top = chance.randint(0, head.width - width), chance.randint(0, head.height - height)
        if chance.random() < 0.04:
            width, left = chance.choice(
                ((head.width + 1, 0), (0, 0), (width, head.width), (60000, 0), (0xFFFFFFFF, 0), (width, 0xFFFFFFFF))
            )
        delays = struct.pack(">HH", chance.choice((0, 1, 100, 65535)), chance.choice((0, 1, 1000, 65535)))
        control = struct.pack(">IIIII", number, width, height, left, top) + delays
        odd = chance.random() < 0.03
        control += bytes([chance.choice((3, 255)) if odd else chance.randrange(3), 7 if odd else chance.randrange(2)])
        nodes.append(chunk(b"fcTL", control))
        number += 1
        if rank == 0 and not hidden:
            nodes += _data(chance, head, b"IDAT", head.width, head.height)
            continue
        rows = head.rows(chance, min(width, 100), min(height, 100))
        nodes.append(
            chunk(b"fdAT", struct.pack(">I", number if chance.random() < 0.98 else 0), Part([rows], functools.partial(_deflated, 6)))
        )
        number += 1
    return nodes


def _still(folder: Path, data: bytes) -> str:
    spec = Sprite(frames="a.png", palette="x")
    sources, work = Sources(folder, ("a.png",)), folder / "build/work"
    prepare_background(sources, frame_files(work, "quay"), "quay", Background(file="a.png", palette="x"))
    prepare_sprite(sources, frame_files(work, "ada"), "ada", spec, SpriteLimits(max_width=65535, max_height=65535))
    made = PreparedFrames(frame_files(folder / "build/work", "ada"))
    if made.width * made.height > 1 << 20:
        return "accepted"
    _check_sums(data)
    decoded = _by_pillow(data)
    if decoded and not (b"tRNS" in data and data[24] in (2, 4)):  # a grey key, which Pillow compares unscaled
        _compare(made, decoded)
    (frame,) = made
    if b"tRNS" in data and b"PLTE" not in data and not _plain_key(data):
        return "accepted"
    with contextlib.suppress(png.Error, zlib.error, *_REFUSED):
        reader = png.Reader(bytes=data)
        reader.preamble()
        reader.sbit = None  # pypng scales by it; it says how much of a sample was meant, not what it is (sBIT)
        width, height, rows, _ = reader.asRGBA8()
        other = np.array([list(row) for row in rows], dtype=np.uint8).reshape(height, width, 4)
        if cut_alpha(other, 128).tobytes() != frame.tobytes():
            raise Wrong("pypng decodes another picture than was prepared")
    return "accepted"


def _by_pillow(data: bytes) -> list[np.ndarray]:
    """Return the frames that Pillow decodes; none where it fails over a chunk that says nothing of pixels, which the tool leaves out."""
    with warnings.catch_warnings(), contextlib.suppress(ValueError, SyntaxError):
        warnings.simplefilter("ignore")
        with Image.open(io.BytesIO(data)) as picture:
            return [_decoded(picture, rank) for rank in range(1 if picture.info.get("default_image") else 0, picture.n_frames)]
    return []


def _decoded(picture: Image.Image, rank: int) -> np.ndarray:
    picture.seek(rank)
    picture.decoderconfig = ()  # to which Pillow adds for each frame of an interlaced animation
    return np.asarray(picture.convert("RGBA"))


def _check_sums(data: bytes) -> None:
    """Go through the chunks of an accepted file, up to the one that ends it: each has its sum (section 5.3)."""
    at = len(_SIGNATURE)
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        if zlib.crc32(data[at + 4 : end]) != int.from_bytes(data[end : end + 4], "big") and end + 4 <= len(data):
            raise Wrong("a chunk of an accepted file is not as its checksum says")
        if data[at + 4 : at + 8] == b"IEND":
            return
        at = end + 4
    raise Wrong("an accepted file does not end")


def _plain_key(data: bytes) -> bool:
    """Say whether there may be a transparent colour, of bits that the depth has; decoders differ about others."""
    at = data.index(b"tRNS")
    content = data[at + 4 : at + 4 + int.from_bytes(data[at - 4 : at], "big")]
    return data[25] in (0, 2) and (
        data[24] == 16 or all(byte < 1 << data[24] if rank % 2 else not byte for rank, byte in enumerate(content))
    )


def _compare(made: PreparedFrames, wanted: list[np.ndarray]) -> None:
    frames = list(made)
    if len(frames) != len(wanted):
        raise Wrong(f"{len(frames)} frames were prepared, {len(wanted)} decoded")
    for frame, other in zip(frames, wanted, strict=True):
        if frame.shape != other.shape:
            raise Wrong("a prepared frame has another shape")
        if frame.tobytes() != np.ascontiguousarray(cut_alpha(other, 128)).tobytes():
            raise Wrong("a prepared frame has other pixels than Pillow decodes")


def run_animation(folder: Path, data: bytes, name: str) -> str:
    """Prepare an animated picture, and compare its frames with those that Pillow decodes one after another."""
    spec = Sprite(animated=name, palette="x")
    files = frame_files(folder / "build/work", "ada")
    prepare_sprite(Sources(folder, (name,)), files, "ada", spec, SpriteLimits(max_width=65535, max_height=65535))
    made = PreparedFrames(files)
    if made.width * made.height * made.count > 1 << 20:
        return "accepted"
    if name.endswith(".png"):
        _check_sums(data)
    decoded = _by_pillow(data)
    if decoded and not (b"tRNS" in data and data[24] in (2, 4)):
        _compare(made, decoded)
    return "accepted"


def _prepare(folder: Path) -> None:
    (folder / "build/work").mkdir(parents=True)


FORMATS = (
    Format("png", lambda chance: _picture(chance, False), "a.png", _prepare, _still),
    Format("apng", lambda chance: _picture(chance, True), "a.png", _prepare, lambda folder, data: run_animation(folder, data, "a.png")),
)
