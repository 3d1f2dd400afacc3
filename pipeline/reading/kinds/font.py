"""Fonts back to glyphs."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import FontFacts
from pipeline.joints.layouts import FONT, GLYPH
from pipeline.reading.compare import name_hash, size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.reading.pixels import check_start, format_of, read_picture, start_of
from pipeline.target.records import Target


def decode_font(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a font, a frame for each glyph, whether or not it shares its picture; see ``decoded.decode_blob``."""
    head = read_record(FONT, blob, 0, target.byte_order)
    pixel_format, before, frames, glyphs = format_of(head, target), -1, [], []
    size, count = head["picture_bytes"], head["picture_count"]
    for rank in range(count):
        check_start(head["pixels"] + rank * size, start_of("glyph", target), f"picture {rank}")
    pictures = [read_picture(blob, head["pixels"] + rank * size, head, pixel_format, target) for rank in range(count)]
    for rank in range(head["glyph_count"]):
        one = read_record(GLYPH, blob, head["glyphs"] + 8 * rank, target.byte_order)
        if one["code"] <= before or one["code"] > 0x10FFFF:
            raise BlobFault(f"glyph {rank} is of U+{one['code']:04X}, which does not follow U+{max(before, 0):04X}")
        if one["picture"] >= count:
            raise BlobFault(f"glyph {rank} shows picture {one['picture']} of {count}")
        if head["advance"] not in (0, one["advance"]):
            raise BlobFault(f"glyph {rank} advances {one['advance']}, all should {head['advance']}")
        frames.append(pictures[one["picture"]])
        glyphs.append((one["code"], one["advance"]))
        before = one["code"]
    if not frames:
        raise BlobFault("a font of no glyphs")
    return Decoded(head, np.stack(frames), pixel_format=pixel_format, glyphs=glyphs)


def compare_font(decoded: Decoded, facts: FontFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    head = {key: getattr(facts, key) for key in ("left", "baseline", "line_height", "advance", "picture_count")}
    head |= {"glyph_count": len(facts.characters), **size_of(facts.intent), "palette": name_hash(facts.palette)}
    faults = wrong_head(decoded, head) + wrong_pixels(decoded, facts.intent)
    if decoded.glyphs != facts.characters:
        faults.append("its characters or widths are not the project's")
    return faults
