"""Art in a variant's colours beside its palette's own, both from the image's bytes, and which of its colours fall together."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.joints.map import read_map
from pipeline.joints.shown import write_worn
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted, listed
from pipeline.proofs.canvas import GAP, PAPER, SOFT, WIDE, aspect_size, largest, on_board, png, show_code, text_width, write
from pipeline.proofs.subject import coloured, take
from pipeline.reading.decoded import Decoded
from pipeline.target.calls import Call
from pipeline.target.records import Target, pixel_base

_MOST = (400, 400)  # screen pixels that one picture is magnified to
_FRAMES = 4  # of a sprite, spread over all that it has
_CAPTION, _HEAD = 24, 34
_GROUPS = 6  # sets of numbers named in a remark


@dataclass(frozen=True)
class Pair:
    """A frame in both palettes: uint8, shape (height, width, 3), its size in screen pixels, and what is written below."""

    own: np.ndarray
    other: np.ndarray
    size: tuple[int, int]
    captions: tuple[str, str]


def show_worn(
    image: Path,
    map_file: Path,
    picture: Path,
    record: Path,
    name: str,
    base: str,
    wearers: tuple[str, ...],
    decoders: dict[str, Call],
    target: Target,
    pixel_aspect: tuple[int, int],
) -> str:
    """Draw the art that wears a variant and write what falls together; return one line about it.

    Args:
        picture, record: files; see ``joints.shown``.
        name, base: of the variant and its palette.
        wearers: names of the art.
        decoders: see ``subject.take``.
        pixel_aspect: width and height of one console pixel.
    """
    entries = read_map(map_file).by_name()
    own, other = (take(image, one, entries, target, decoders) for one in (base, name))
    # Numbers count from the place of the palette that the art was made for.
    other = replace(other, head=own.head)
    pairs: list[Pair] = []
    remarks: list[str] = []
    for wearer in wearers:
        decoded = take(image, wearer, entries, target, decoders)
        pairs += _pairs(decoded, own, other, wearer, (base, name), pixel_aspect)
        remarks += fallen_together(decoded, own, other, wearer, name)
    write_bytes(picture, _drawn(pairs, f"{name}, a variant of {base}"))
    write_worn(record, remarks)
    return "; ".join([f"{counted(len(wearers), 'asset')} in {name}", *remarks])


def fallen_together(decoded: Decoded, own: Decoded, other: Decoded, wearer: str, name: str) -> list[str]:
    """Return a remark where entries that are used by the art, and differ in its own palette, are one colour in the variant."""
    held = decoded.pixels[~coloured(decoded, own)[1]]
    first = own.head["first"]
    numbers = np.unique(held).astype(np.int64) - (first if decoded.lines else pixel_base(first, decoded.pattern.width))
    together: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for number in numbers[(numbers >= 0) & (numbers < len(other.colours))].tolist():
        together[tuple(other.colours[number].tolist())].append(number)
    lost = [found for found in together.values() if len({tuple(own.colours[number].tolist()) for number in found}) > 1]
    if not lost:
        return []
    sets = [listed(list(map(str, found))) for found in lost[:_GROUPS]]
    if len(lost) > _GROUPS:
        sets.append(f"{len(lost) - _GROUPS} more sets")
    return [f"in {name}, colours of {wearer} fall together: entries {'; '.join(sets)}"]


def _pairs(
    decoded: Decoded, own: Decoded, other: Decoded, wearer: str, names: tuple[str, str], aspect: tuple[int, int]
) -> list[Pair]:
    (before, clear), (after, _) = coloured(decoded, own), coloured(decoded, other)
    count, height, width = clear.shape
    shown = sorted({rank * count // min(count, _FRAMES) for rank in range(min(count, _FRAMES))})
    size = aspect_size(width, height, largest(width, height, _MOST, aspect, limit=6), aspect)
    pairs = []
    for number in shown:
        frame = f" {show_code(decoded.glyphs[number][0])}" if decoded.glyphs else f" frame {number}" if count > 1 else ""
        captions = (f"{wearer}{frame} in {names[0]}", f"in {names[1]}")
        pictures = [on_board(colours[number], clear[number], size) for colours in (before, after)]
        pairs.append(Pair(pictures[0], pictures[1], size, captions))
    return pairs


def _drawn(pairs: list[Pair], title: str) -> bytes:
    """Return the pairs side by side, in as many rows as they take, as a PNG."""
    places, left, top, row, across = [], GAP, _HEAD, 0, text_width(title, 15, bold=True) + 2 * GAP
    for pair in pairs:
        width = sum(max(pair.size[0], text_width(text, 12) + 4) for text in pair.captions) + GAP
        if left > GAP and left + width + GAP > WIDE:
            left, top, row = GAP, top + row, 0
        places.append((left, top))
        left, row = left + width + 2 * GAP, max(row, pair.size[1] + _CAPTION + GAP)
        across = max(across, left)
    sheet = Image.new("RGB", (across, top + row), PAPER)
    draw = ImageDraw.Draw(sheet)
    write(draw, (GAP, 10), title, 15, across - GAP, bold=True)
    for (left, top), pair in zip(places, pairs, strict=True):
        for pixels, text in zip((pair.own, pair.other), pair.captions, strict=True):
            sheet.paste(Image.fromarray(pixels), (left, top))
            write(draw, (left, top + pair.size[1] + 7), text, 12, across - left, fill=SOFT)
            left += max(pair.size[0], text_width(text, 12) + 4) + GAP
    return png(sheet)
