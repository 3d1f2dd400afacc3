"""TGA, PCX and PPM by a grammar of their own; JPEG and WebP as Pillow writes them, taken apart into segments and chunks.

Accepted pictures are compared with what Pillow decodes of the same bytes. Sources: as of ``pipeline.assets.sources.structure``.
"""

from __future__ import annotations

import functools
import io
import random
import struct
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.backgrounds.prepare import prepare_background
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.pixels.scaling.scale import cut_alpha
from pipeline.project.assets import Background, Sprite
from pipeline.target.records import SpriteLimits
from tests.bench.fuzzing.formats import Format, Wrong
from tests.bench.fuzzing.parts import EXTREMES, Part, damaged, joined

_SIDES = (1, 2, 3, 7, 8, 9, 16, 20, 33, 64)
_HUGE = (4096, 4097, 8192, 16383, 65535)


def _number(chance: random.Random, value: int, order: str = "<") -> bytes:
    return struct.pack(f"{order}H", value if chance.random() < 0.98 else chance.choice((*EXTREMES, *_HUGE)) & 0xFFFF)


def _size(chance: random.Random) -> tuple[int, int]:
    return chance.choice(_SIDES), chance.choice(_SIDES)


def _maybe_damaged(chance: random.Random, nodes: list) -> Part:
    top = Part(nodes)
    return damaged(chance, top, chance.choice((1, 1, 2, 3))) if chance.random() < 0.35 else top


def _tga(chance: random.Random) -> Part:
    width, height = _size(chance)
    kind, depth = chance.choice(((1, 8), (2, 24), (2, 24), (2, 32), (2, 32), (3, 8)))
    packed = chance.random() < 0.5
    if chance.random() < 0.08:
        kind, depth = chance.choice((0, 1, 2, 3, 4, 32, 33, 255)), chance.choice((0, 1, 4, 8, 15, 16, 24, 32, 255))
    mapped = kind == 1 or chance.random() < 0.05
    map_depth = chance.choice((24, 24, 32)) if chance.random() < 0.95 else chance.choice((0, 8, 15, 16, 255))
    first, entries = chance.choice((0, 0, 0, 5)), chance.choice((256, 16, 250))
    title = chance.randbytes(chance.choice((0, 0, 0, 10, 255)))
    flags = chance.choice((0, 8, 8, 0x20, 0x28, 0x10, 0x30)) if chance.random() < 0.97 else chance.randrange(256)
    head = [bytes([len(title), int(mapped), kind | (8 if packed else 0)])]
    head += [struct.pack("<HHB", first, entries, map_depth) if mapped else bytes(5)]
    head += [bytes(4), _number(chance, width), _number(chance, height), bytes([depth, flags])]
    nodes = [Part(head), title] + ([chance.randbytes(entries * max(1, map_depth // 8))] if mapped else [])
    pixel = max(1, depth // 8)
    if chance.random() < 0.02:
        sides = struct.pack("<HH", *chance.choice(((4096, 4096), (65535, 65535), (65535, 1))))
        return Part([Part([head[0], head[1], bytes(4), sides, head[-1]]), b"\xff\0\0\0" * 9])
    rows = []
    for _ in range(height):
        row = bytes(chance.randrange(min(entries, 256)) if kind == 1 else chance.randrange(256) for _ in range(width * pixel))
        rows.append(_packets(chance, row, pixel) if packed else row)
    nodes.append(Part(rows))
    if chance.random() < 0.4:
        offset = struct.pack("<I", chance.choice((0, 0, 18, 1 << 31)))
        nodes.append(Part([offset, bytes(4), b"TRUEVISION-XFILE.\0"]))
    return _maybe_damaged(chance, nodes)


def _packets(chance: random.Random, row: bytes, pixel: int) -> Part:
    nodes, at, count = [], 0, len(row) // pixel
    while at < count:
        run = min(chance.choice((1, 2, 5, 128)), count - at)
        if chance.random() < 0.5:
            nodes.append(bytes([0x7F + run]) + row[at * pixel : (at + 1) * pixel])
        else:
            nodes.append(bytes([run - 1]) + row[at * pixel : (at + run) * pixel])
        at += run
    return Part(nodes)


def _pcx(chance: random.Random) -> Part:
    (width, height), (bits, planes) = _size(chance), chance.choice(((8, 1), (8, 1), (8, 3), (8, 3), (1, 1), (1, 4)))
    version = 5
    if chance.random() < 0.05:
        version, bits, planes = chance.choice((0, 2, 3, 5, 9)), chance.choice((1, 2, 4, 8, 24)), chance.choice((0, 1, 2, 3, 4, 5))
    stride = (width * bits + 7) // 8
    stride += stride % 2
    nodes = [Part([bytes([10, version, 1, bits]), bytes(4), _number(chance, width - 1), _number(chance, height - 1), bytes(4)])]
    nodes += [chance.randbytes(48), bytes([0, planes]), _number(chance, stride), bytes(60)]
    rows = []
    for _ in range(height * planes):
        row, at, packed = chance.randbytes(stride) if chance.random() < 0.5 else bytes([chance.randrange(256)]) * stride, 0, bytearray()
        while at < len(row):
            run = 1
            while at + run < len(row) and run < 63 and row[at + run] == row[at]:
                run += 1
            packed += bytes([0xC0 | run, row[at]]) if run > 1 or row[at] >= 0xC0 else row[at : at + 1]
            at += run
        rows.append(bytes(packed))
    nodes.append(Part(rows))
    if bits == 8 and planes == 1 and chance.random() < 0.9:
        nodes.append(Part([b"\x0c", chance.randbytes(768)]))
    return _maybe_damaged(chance, nodes)


def _ppm(chance: random.Random) -> Part:
    odd = ((4096, 4097), (1 << 31, 1), (10**9, 10**9), (0, 5), (8192, 8192))
    width, height = _size(chance) if chance.random() < 0.95 else chance.choice(odd)
    form = chance.choice((4, 5, 6, 6, 6)) if chance.random() < 0.85 else chance.randrange(10)
    most = chance.choice((255, 255, 255, 255, 255, 255, 1, 15, 65535, 0, 10**9))
    space = chance.choice((b" ", b"\n", b"\n# a remark\n", b"\t"))
    nodes = [b"P%d" % form, space, b"%d" % width, space, b"%d" % height, b"\n"] + ([b"%d\n" % most] if form not in (1, 4) else [])
    size = {4: -(-width // 8), 5: width}.get(form, 3 * width) * height
    nodes.append(chance.randbytes(min(size, 40_000)))
    return _maybe_damaged(chance, nodes)


def _drawn(chance: random.Random, mode: str) -> Image.Image:
    width, height = _size(chance)
    small = Image.frombytes("RGBA", (-(-width // 4), -(-height // 4)), chance.randbytes(4 * -(-width // 4) * -(-height // 4)))
    return small.resize((width, height), Image.Resampling.BILINEAR).convert(mode)


def _segment(marker: int, pieces: list[bytes]) -> bytes:
    data = b"".join(pieces)[:65533]
    return bytes([0xFF, marker]) + struct.pack(">H", len(data) + 2) + data


def _jpeg(chance: random.Random) -> Part:
    out = io.BytesIO()
    picture = _drawn(chance, chance.choice(("RGB", "RGB", "L", "CMYK")) if chance.random() < 0.3 else "RGB")
    options = {"quality": chance.choice((5, 75, 95)), "progressive": chance.random() < 0.5, "subsampling": chance.randrange(3)}
    picture.save(out, "JPEG", **options, restart_marker_rows=chance.choice((0, 0, 1)))
    data, at, nodes = out.getvalue(), 2, [b"\xff\xd8"]
    while at < len(data) - 2:
        marker, size = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        content = data[at + 4 : at + 2 + size]
        at += 2 + size
        part = Part([content[rank : rank + 16] for rank in range(0, len(content), 16)], functools.partial(_segment, marker))
        if marker == 0xDA:  # the bits of a scan go up to the next marker but the restarts
            end = at
            while data[end] != 0xFF or data[end + 1] == 0 or 0xD0 <= data[end + 1] <= 0xD7:
                end += 1
            nodes.append(Part([part, data[at:end]]))
            at = end
        else:
            nodes.append(part)
    if chance.random() < 0.1:
        exif = Part([b"Exif\0\0MM\0*\0\0\0\x08", chance.randbytes(40)], functools.partial(_segment, 0xE1))
        nodes.insert(1, chance.choice((exif, Part([b"ICC_PROFILE\0\1\1", bytes(9000)], functools.partial(_segment, 0xE2)), _multi(chance))))
    if chance.random() < 0.02:
        scans = [one for one in nodes if isinstance(one, Part) and one.rule is joined]
        nodes += scans[-1:] * 2000
    if chance.random() < 0.03:
        sides = struct.pack(">HH", *chance.choice(((4096, 4096), (65500, 65500), (0, 9), (4097, 4096))))
        for one in nodes:  # that of the frame begins with the precision
            if isinstance(one, Part) and one.nodes and isinstance(one.nodes[0], bytes) and one.nodes[0][:1] == b"\x08":
                one.nodes[0] = b"\x08" + sides + one.nodes[0][5:]
    return _maybe_damaged(chance, [*nodes, b"\xff\xd9" if chance.random() < 0.95 else b""])


def _multi(chance: random.Random) -> Part:
    return Part([b"MPF\0MM\0*\0\0\0\x08", chance.randbytes(60)], functools.partial(_segment, 0xE2))


def _chunk(kind: bytes, pieces: list[bytes]) -> bytes:
    data = b"".join(pieces)
    return kind + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)


def _webp(chance: random.Random) -> Part:
    out, picture = io.BytesIO(), _drawn(chance, chance.choice(("RGB", "RGBA")))
    more = [picture.rotate(180)] if chance.random() < 0.08 else []
    picture.save(out, "WEBP", lossless=chance.random() < 0.6, quality=60, method=0, save_all=bool(more), append_images=more)
    data, at, nodes = out.getvalue(), 12, []
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        content = data[at + 8 : at + 8 + size]
        pieces = [content[:4], content[4:10], *(content[rank : rank + 32] for rank in range(10, size, 32))]
        nodes.append(Part(pieces, functools.partial(_chunk, kind)))
        at += 8 + size + size % 2
    if chance.random() < 0.1:
        sides = (chance.choice((15, 4095, 1 << 23, (1 << 24) - 1)).to_bytes(3, "little") for _ in range(2))
        nodes.insert(0, Part([bytes([chance.choice((0, 2, 16, 255)), 0, 0, 0]), b"".join(sides)], functools.partial(_chunk, b"VP8X")))
    body = Part([b"WEBP", *nodes])
    return _maybe_damaged(chance, [Part([body], functools.partial(_chunk, b"RIFF"))])


def _prepare(folder: Path) -> None:
    (folder / "build/work").mkdir(parents=True)


def _run(ending: str, folder: Path, data: bytes) -> str:
    """Prepare a picture as a background and as a frame, and compare the frame with what Pillow decodes."""
    name, work = f"a.{ending}", folder / "build/work"
    sources, limits = Sources(folder, (name,)), SpriteLimits(max_width=65535, max_height=65535)
    prepare_background(sources, frame_files(work, "quay"), "quay", Background(file=name, palette="x"))
    prepare_sprite(sources, frame_files(work, "ada"), "ada", Sprite(frames=name, palette="x"), limits)
    made = PreparedFrames(frame_files(work, "ada"))
    if made.width * made.height <= 1 << 20:
        (frame,) = made
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data + bytes(26 if len(data) < 26 else 0)), formats=[_PILLOW[ending]]) as picture:
                wanted = np.asarray(picture.convert("RGBA"))
        solid = ending == "tga" and data[17] & 15 == 0 and not wanted[..., 3].any()
        wanted = np.dstack([wanted[..., :3], np.full_like(wanted[..., 3], 255)]) if solid else wanted
        if frame.tobytes() != np.ascontiguousarray(cut_alpha(wanted, 128)).tobytes():
            raise Wrong("the prepared frame has other pixels than Pillow decodes")
    return "accepted"


_PILLOW = {"tga": "TGA", "pcx": "PCX", "ppm": "PPM", "jpg": "JPEG", "webp": "WEBP"}
_MAKERS: dict[str, Callable[[random.Random], Part]] = {"tga": _tga, "pcx": _pcx, "ppm": _ppm, "jpg": _jpeg, "webp": _webp}
FORMATS = tuple(
    Format(ending, make, f"a.{ending}", _prepare, functools.partial(_run, ending), share=5) for ending, make in _MAKERS.items()
)
