"""TrueType fonts as trees of tables with right checksums (OpenType specification, ISO/IEC 14496-22).

The tables come from fonts that fontTools writes; the table of characters is written here, so that its segments can be odd.
No character of a font that is accepted is drawn as the substitute for characters that the font does not have.
"""

from __future__ import annotations

import functools
import io
import random
import struct
from pathlib import Path

import freetype
from PIL import ImageFont

from pipeline.assets.fonts.font import prepare_font
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.project.assets import Font
from tests.assets.fonts import made_font, made_otf
from tests.bench.fuzzing.formats import Format, Wrong
from tests.bench.fuzzing.parts import EXTREMES, Part, damaged

_CHARACTERS = "AB09"
_SUBSTITUTED = "\ufffe"  # for ever no character (Unicode Standard, 23.7)
_CODES = [ord(char) for char in "AB0129 xyz\u00e9\u0416"] + [0x1F600]


@functools.cache
def _tables(which: int) -> tuple[bytes, tuple[tuple[bytes, bytes], ...]]:
    """Return the first four bytes and the tables of a good font."""
    shapes = {code: (0, 0, 300, 400 + 20 * rank) for rank, code in enumerate(_CODES)}  # other than the substitute's
    if which == 1:
        shapes |= {ord("A"): (0, 0, 500, 700), ord("B"): (-200, -100, 900, 800)}
    data = made_otf(shapes) if which == 2 else made_font(_CODES, shapes=shapes)
    found = []
    for rank in range(struct.unpack_from(">H", data, 4)[0]):
        tag, _, offset, length = struct.unpack_from(">4sLLL", data, 12 + 16 * rank)
        found.append((tag, data[offset : offset + length]))
    return data[:4], tuple(found)


def _font_file(start: bytes, tags: tuple[bytes, ...], lies: dict[int, tuple[int, int]], pieces: list[bytes]) -> bytes:
    """Return a font of some tables: directory, checksums, and the sum over all in head."""
    pairs = list(zip(tags, pieces, strict=False))
    at = 12 + 16 * len(pairs)
    directory, body, head_at = b"", b"", None
    for rank, (tag, data) in enumerate(pairs):
        if tag == b"head" and len(data) >= 12:
            data, head_at = data[:8] + bytes(4) + data[12:], at + len(body)
        offset, length = at + len(body), len(data)
        if rank in lies:
            offset, length = (offset + lies[rank][0]) & 0xFFFFFFFF, (length + lies[rank][1]) & 0xFFFFFFFF
        padded = data + bytes(-len(data) % 4)
        directory += struct.pack(">4sLLL", tag, _sum(padded), offset, length)
        body += padded
    head = start + struct.pack(">HHHH", len(pairs), 128, 3, max(0, 16 * len(pairs) - 128))
    whole = head + directory + body
    if head_at is not None:
        whole = (
            whole[: head_at + 8]
            + struct.pack(">L", (0xB1B0AFBA - _sum(whole + bytes(-len(whole) % 4))) & 0xFFFFFFFF)
            + whole[head_at + 12 :]
        )
    return whole


def _sum(data: bytes) -> int:
    return sum(struct.unpack(f">{len(data) // 4}L", data)) & 0xFFFFFFFF


def _ttf(chance: random.Random) -> Part:
    start, tables = _tables(chance.choice((0, 0, 1, 1, 2)))
    if chance.random() < 0.03:
        start = chance.choice((b"true", b"ttcf", b"wOFF", b"OTTO", b"\0\0\0\0"))
    nodes, tags = [], []
    for tag, data in tables:
        if chance.random() < 0.01:
            continue
        tags.append(tag)
        made = _cmap(chance) if tag == b"cmap" and chance.random() < 0.7 else _fields(data)
        if chance.random() < 0.06:
            made = damaged(chance, made, chance.choice((1, 1, 2, 5)))
        nodes.append(made)
    lies = (
        {chance.randrange(len(tags)): chance.choice(((0, 4), (0, -4), (2, 0), (1 << 31, 0), (0, 1 << 31), (-40, 40)))}
        if tags and chance.random() < 0.05
        else {}
    )
    top = Part(nodes, functools.partial(_font_file, start, tuple(tags), lies))
    return damaged(chance, top, 1) if chance.random() < 0.12 else top


def _fields(data: bytes) -> Part:
    """Return a table as numbers of two bytes, rows of eight of them together."""
    rows = [data[at : at + 16] for at in range(0, len(data), 16)]
    return Part([Part([row[at : at + 2] for at in range(0, len(row), 2)]) for row in rows])


def _cmap(chance: random.Random) -> Part:
    kinds = chance.choice((((3, 1),), ((3, 1), (3, 10)), ((0, 3),), ((1, 0), (3, 1)), ((0, 4), (0, 3)), ((3, 0),)))
    tables = [_format_12(chance) if key in ((3, 10), (0, 4)) else _format_4(chance) for key in kinds]
    return Part(tables, functools.partial(_cmap_table, kinds, chance.random() < 0.03))


def _cmap_table(kinds: tuple[tuple[int, int], ...], lie: bool, pieces: list[bytes]) -> bytes:
    at = 4 + 8 * len(kinds)
    head, body = struct.pack(">HH", 0, len(kinds)), b""
    for key, piece in zip(kinds, pieces, strict=False):
        head += struct.pack(">HHL", *key, (at + len(body)) ^ (0x7FFF0000 if lie else 0))
        body += piece
    return head + body


def _format_4(chance: random.Random) -> Part:
    """Segments, now and then ones that run backwards, over each other, or whose glyph numbers are beyond the table."""
    segments = [[48, 57, (1 - 48) & 0xFFFF, 0], [65, 66, (2 - 65) & 0xFFFF, 0], [120, 122, 0xFFFF & (4 - 120), 0]]
    if chance.random() < 0.3:
        segment = chance.choice(segments)
        segment[chance.randrange(4)] = chance.choice((0, 1, 2, 64, 65, 0x7F, 0xFF, 0x100, 0xFFFE, 0xFFFF, 2, 4, 6, 8))
    if chance.random() < 0.05:
        segments = segments * chance.choice((5, 500))
    return Part(
        [struct.pack(">HHHH", *one) for one in [*segments, [0xFFFF, 0xFFFF, 1, 0]]], functools.partial(_table_4, chance.random() < 0.02)
    )


def _table_4(lie: bool, pieces: list[bytes]) -> bytes:
    rows = [struct.unpack(">HHHH", piece) for piece in pieces if len(piece) == 8]
    count = len(rows)
    starts, ends, shifts, places = ([row[rank] for row in rows] for rank in range(4))
    columns = [struct.pack(f">{count}H", *column) for column in (ends, starts, shifts, places)]
    body = (
        struct.pack(">HHHH", (2 * count ^ (0x7FFE if lie else 0)) & 0xFFFF, 2, 0, 0)
        + columns[0]
        + b"\0\0"
        + b"".join(columns[1:])
        + bytes(range(16))
    )
    return struct.pack(">HHH", 4, (6 + len(body)) & 0xFFFF, 0) + body


def _format_12(chance: random.Random) -> Part:
    groups = [[48, 57, 1], [65, 90, 2], [0x1F600, 0x1F601, 3]]
    if chance.random() < 0.3:
        chance.choice(groups)[chance.randrange(3)] = chance.choice((*EXTREMES, 0x10FFFF, 0x110000, 60, 0x20000))
    if chance.random() < 0.05:
        groups = groups * 200
    return Part([struct.pack(">LLL", *one) for one in groups], functools.partial(_table_12, chance.random() < 0.02))


def _table_12(lie: bool, pieces: list[bytes]) -> bytes:
    body = b"".join(pieces)
    return struct.pack(">HHLLL", 12, 0, 16 + len(body), 0, (len(body) // 12) ^ (0x7FFFFFFF if lie else 0)) + body


def _run(folder: Path, data: bytes) -> str:
    size = (4, 8, 16, 40, 256)[len(data) // 4 % 5]
    spec = Font(file="a.ttf", size=size, characters=_CHARACTERS, palette="x", spacing=("proportional", "fixed")[len(data) % 2])
    prepare_font(Sources(folder, ("a.ttf",)), frame_files(folder / "build/work", "small"), "small", spec)
    made = PreparedFrames(frame_files(folder / "build/work", "small"))
    frames = list(made)
    glyphs = made.facts.table.glyphs
    if len(frames) != len(_CHARACTERS) or [code for code, _ in glyphs] != sorted(map(ord, _CHARACTERS)):
        raise Wrong("the glyphs are not those asked for")
    for character in _CHARACTERS:
        if _drawn(data, character) == _drawn(data, _SUBSTITUTED) != b"" and not _damaged_outline(data, character):
            raise Wrong(f"{character} is drawn as the substitute for characters that the font does not have")
    return "accepted"


def _damaged_outline(data: bytes, character: str) -> bool:
    """Say whether the character's own glyph has the substitute's outline, as no font has here that is whole."""
    face, outlines = freetype.Face(io.BytesIO(data)), []
    for glyph in (face.get_char_index(character), 0):
        face.load_glyph(glyph, freetype.FT_LOAD_NO_SCALE)
        outlines.append(face.glyph.outline.points)
    return face.get_char_index(character) != 0 and outlines[0] == outlines[1]


def _drawn(data: bytes, character: str) -> bytes:
    """Return the pixels of a character as Pillow draws it, large enough to see that glyphs differ; empty where it cannot."""
    try:
        return bytes(ImageFont.truetype(io.BytesIO(data), 64).getmask(character))
    except (OSError, ValueError):
        return b""


def _prepare(folder: Path) -> None:
    (folder / "build/work").mkdir(parents=True)


FORMATS = (Format("ttf", _ttf, "a.ttf", _prepare, _run, 512 << 20, share=4),)
