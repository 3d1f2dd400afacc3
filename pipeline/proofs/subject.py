"""What is drawn in a proof: one asset decoded from the image, with its colours and facts."""

from __future__ import annotations

import functools
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pipeline.cache.results import Results
from pipeline.joints.facts import BackgroundFacts, Facts, SpriteFacts
from pipeline.joints.map import MapEntry
from pipeline.joints.places import OriginalFiles
from pipeline.reading.decoded import Decoded, decode_blob
from pipeline.reading.show import clear_mask, frames_rgb
from pipeline.reading.unpack import unpack
from pipeline.target.calls import Call
from pipeline.target.records import Target


@dataclass(frozen=True)
class Subject:
    """An asset as the image holds it.

    Attributes:
        name: of the asset.
        decoded: from its bytes in the image.
        colours: its palette, from the image too; None for direct colour, or a kind without.
        facts: its facts file. Names and captions come from there, pixels and timing do not.
        target: without header and directory.
        pixel_aspect: width and height of one console pixel.
        before: the source and scaled frames to compare with (see ``assets.sources.sample``); None for kinds without.
        originals: a background with parts at full detail; see ``joints.originals``. None for others.
        about: of notes the sprite that they are about, of texts their font; None for others.
        results: where pictures are kept that stay the same while others of the asset change.
    """

    name: str
    decoded: Decoded
    colours: Decoded | None
    facts: Facts
    target: Target
    pixel_aspect: tuple[int, int]
    before: Path | None = None
    originals: OriginalFiles | None = None
    about: Subject | None = None
    results: Results = field(default_factory=lambda: Results(None))

    def coloured(self) -> tuple[np.ndarray, np.ndarray]:
        """Return all frames as uint8, shape (frames, height, width, 3), and where they are clear, bool without the last axis."""
        return self._coloured

    @functools.cached_property
    def _coloured(self) -> tuple[np.ndarray, np.ndarray]:
        return coloured(self.decoded, self.colours)

    def animations(self) -> list[tuple[str, bool, list[tuple[int, int]]]]:
        """Return (name, loop, [(frame, ticks), ...]) of every animation; steps from the image, names from the facts."""
        known = self.facts.animations if isinstance(self.facts, SpriteFacts) else []
        names = {zlib.crc32(one.name.encode("ascii")): one.name for one in known}
        return [(names.get(number, f"{number:08x}"), loop, steps) for number, loop, steps in self.decoded.animations if steps]

    def cell_size(self) -> tuple[int, int]:
        """Return width and height of what a grid shows: a background's own tiles, else the target's cells."""
        if isinstance(self.facts, BackgroundFacts) and self.facts.arrangement == "tiles":
            return self.facts.tile
        return self.target.cells.width, self.target.cells.height

    def anchor(self) -> tuple[int, int] | None:
        """Return the point that stays in place, in pixels from a frame's top left, or None where the blob has none."""
        head = self.decoded.head
        return (head["anchor_x"], head["anchor_y"]) if "anchor_x" in head else None


def take(image: Path, name: str, entries: dict[str, MapEntry], target: Target, decoders: Mapping[str, Call]) -> Decoded:
    """Return what the image holds of an asset; a sprite's pool is found among the entries of ``map.json``, by name.

    Args:
        decoders: kind -> what decodes it, of the asset's own kind and of pools where it is a sprite; see ``target.kinds``.
    """

    def find_pool(name_hash: int) -> Decoded | None:
        pools = [one.name for one in entries.values() if one.kind == "pool" and zlib.crc32(one.name.encode()) == name_hash]
        return take(image, pools[0], entries, target, decoders) if pools else None

    entry = entries[name]
    with open(image, "rb") as file:
        file.seek(entry.offset)
        data = file.read(entry.bytes)
    content = unpack(entry.codec, data, entry.unpacked_bytes)
    return decode_blob(entry.kind, content, target, decoders, find_pool)


def take_both(
    image: Path, name: str, palette: str | None, entries: dict[str, MapEntry], target: Target, decoders: Mapping[str, Call]
) -> tuple[Decoded, Decoded | None]:
    """Return what the image holds of an asset and of the palette that colours it; None for direct colour, or a kind without one."""
    decoded = take(image, name, entries, target, decoders)
    return decoded, take(image, palette, entries, target, decoders) if palette else None


def coloured(decoded: Decoded, colours: Decoded | None) -> tuple[np.ndarray, np.ndarray]:
    """Return the colours and the clear pixels of decoded frames; see ``Subject.coloured``."""
    first = colours.head["first"] if colours else 0
    transparent = bool(colours.head["transparent"]) if colours else False
    rgb = frames_rgb(decoded, colours.colours if colours else None, first)
    return rgb, clear_mask(decoded, first, transparent)
