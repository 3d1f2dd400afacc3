"""What sprites and backgrounds share: prepared frames turned into the pixels that the image will hold."""

from __future__ import annotations

import functools
from collections.abc import Iterator

import msgspec
import numpy as np

from pipeline.assets.converted import ConvertedFrame, pack_frame, unpack_frame
from pipeline.assets.intent import Intent
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.cache.results import Results, key_of
from pipeline.joints.facts import ColourError, SeenError
from pipeline.joints.views import PaletteEntries, PaletteView
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.colours.apply import Converter, EntryFinder
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.colours.difference import METRIC_UNIT, ErrorFacts, FrameLoss
from pipeline.pixels.colours.dither import Plain, dithered
from pipeline.pixels.colours.mixture import WhereNeeded
from pipeline.plain.errors import refuse
from pipeline.target.records import PictureRules, pixel_base


class Artwork:
    """Prepared frames as the image will store them, and what that cost.

    Args:
        frames: of one sprite or background.
        palette: its palette; None for direct colour.
        rules: what the target says of the pixel format.
        asset: name, for messages.
        dithering: ``none``, ``ordered`` or ``diffusion``, whose pattern starts at the anchor, so that it does not crawl; for a single
            picture ``where needed``, too.
        results: in which what was made of frames is kept; none for a picture whose pixels are mixed ``where needed``.

    Attributes:
        palette: its name; None for direct colour.
        base: what a pixel of the palette's first entry holds.
        results: see there.
        intent: filled while iterating.
        errors: CIEDE2000 between the scaled art and what the console shows, filled while iterating.

    Raises:
        ProjectError: the palette has no colour for opaque pixels, or its entries do not fit the pixel's bits.
    """

    def __init__(
        self,
        frames: PreparedFrames,
        palette: PaletteView | None,
        rules: PictureRules,
        asset: str,
        dithering: str,
        results: Results | None = None,
    ) -> None:
        self.frames, self.rules, self.asset, self.dithering, self.results = frames, rules, asset, dithering, results or Results(None)
        self.intent, self.errors = Intent(), ErrorFacts()
        self._where_needed: WhereNeeded | None = None
        self._entries = palette.read() if palette else None
        self.palette = self._entries.name if self._entries else None
        self.base = _pixel_base(self._entries, rules, asset) if self._entries else 0

    def __iter__(self) -> Iterator[np.ndarray]:
        """Yield the pixels of each frame, padded to whole cells: indices into the console's palette, or direct words."""
        fill = 0 if self._entries else self.rules.pixel_format.pixel.fixed
        for pixels in self._converted():
            for stored in pad_to_cells(pixels, *self.rules.cell, fill=fill) + np.uint32(self.base):
                self.intent.add(stored)
                yield stored

    def entries(self) -> Iterator[np.ndarray]:
        """Yield the palette's own entry numbers of each frame, 0 transparent, or the words of direct colour; not padded."""
        for pixels in self._converted():
            for stored, own in zip(pixels + np.uint32(self.base), pixels, strict=True):
                self.intent.add(stored)
                yield own

    def colour_error(self) -> ColourError:
        """Return ``errors`` for the facts."""
        return ColourError(**self.errors.facts())

    def seen_error(self) -> SeenError | None:
        """Return what a blur leaves of the error, for the facts; None where no mixture was looked for."""
        if self._where_needed is None or not self._where_needed.seen.pixels:
            return None
        seen = self._where_needed.seen
        nearest, stored = (round(total / METRIC_UNIT / seen.pixels, 3) for total in (seen.nearest, seen.stored))
        return SeenError(nearest=nearest, stored=stored, mixed=seen.mixed)

    def _converted(self) -> Iterator[np.ndarray]:
        """Yield a few frames at a time."""
        for frames, numbers in zip(self.frames.stacks(), self.frames.number_stacks(), strict=False):  # the second may be endless
            if not self.results.keeps:
                pixels, micro, sizes = self._converter.convert(frames, self._kept(frames, numbers))
                self.errors.add_micro(micro, sizes)
                yield pixels
            else:
                yield self._found(self.results, frames, numbers)

    def _found(self, results: Results, frames: np.ndarray, numbers: np.ndarray | None) -> np.ndarray:
        """Convert a few frames, but for those whose result is known."""
        keys = [self._key(frame, None if numbers is None else numbers[rank]) for rank, frame in enumerate(frames)]
        known = {rank: unpack_frame(kept) for rank, key in enumerate(keys) if (kept := results.get(key)) is not None}
        missing = [rank for rank in range(len(frames)) if rank not in known]
        if missing:
            own = None if numbers is None else numbers[missing]
            pixels, micro, sizes = self._converter.convert(frames[missing], self._kept(frames[missing], own))
            losses = np.split(micro, np.cumsum(sizes)[:-1])
            for rank, held, lost in zip(missing, pixels, losses, strict=True):
                known[rank] = ConvertedFrame(held, FrameLoss.of(lost))
                results.put(keys[rank], pack_frame(known[rank]))
        for rank in range(len(frames)):
            self.errors.add_loss(known[rank].loss)
        return np.stack([known[rank].pixels for rank in range(len(frames))])

    def _key(self, frame: np.ndarray, numbers: np.ndarray | None) -> bytes:
        return key_of("pipeline.assets.art:Artwork", self._given, frame.tobytes(), b"" if numbers is None else numbers.tobytes())

    @functools.cached_property
    def _given(self) -> bytes:
        """All that the pixels of a frame depend on, apart from the frame."""
        patterns = self.rules.pixel_format.pixel.text, self.rules.entry.text
        return msgspec.json.encode((self._entries, *patterns, self.dithering, self.frames.facts.anchor, self.frames.width))

    @functools.cached_property
    def _converter(self) -> Converter:
        return self._indexed(self._entries) if self._entries else self._direct()

    def _kept(self, frames: np.ndarray, numbers: np.ndarray | None) -> np.ndarray | None:
        """Return the entries that pixels keep from their picture, int64; -1 where its number has another colour in the palette's file."""
        if numbers is None or self._entries is None or not self._entries.drawn:
            return None
        own, count = int(self._entries.transparent), len(self._entries.drawn)
        drawn = np.zeros((256, 3), dtype=np.uint8)
        drawn[:count] = self._entries.drawn[:256]
        same = (numbers >= own) & (numbers < count) & (drawn[numbers] == frames[..., :3]).all(axis=-1)
        return np.where(same, numbers.astype(np.int64) - own, -1)

    def _direct(self) -> Converter:
        pattern = self.rules.pixel_format.pixel
        nothing = np.zeros((1, 3), dtype=np.uint8)
        clear = int(to_words(nothing, pattern, nothing[:, 0])[0])
        return Converter(Plain(lambda rgb: to_words(rgb, pattern), lambda words: to_rgb(words, pattern)), clear)

    def _indexed(self, palette: PaletteEntries) -> Converter:
        own = int(palette.transparent)
        entries = np.array(palette.colours[own:], dtype=np.uint8).reshape(-1, 3)
        if not len(entries):
            return Converter(Plain(self._no_colour, self._no_colour), 0)
        if palette.exact and self.dithering in ("none", "where needed"):
            finder = EntryFinder(entries, self.rules.entry)
            return Converter(Plain(finder.find, lambda found: entries[found]), 0, own)
        if self.dithering == "where needed":
            self._where_needed = WhereNeeded(entries)
            return Converter(self._where_needed, 0, own)
        return Converter(dithered(entries, self.dithering, self.frames.facts.anchor), 0, own)

    def _no_colour(self, _: np.ndarray) -> np.ndarray:
        wrong = f"has no colour, {self.asset!r} has opaque pixels"
        remedy = "allow at least one colour in addition to the transparent entry"
        raise refuse("project.toml", f"[palette.{self.palette}]", wrong, remedy)


def _pixel_base(palette: PaletteEntries, rules: PictureRules, asset: str) -> int:
    """Return what a pixel of the palette's first entry holds; see ``target.records.pixel_base``."""
    bits = rules.pixel_format.pixel.width
    base = pixel_base(palette.first, bits)
    if base + palette.entry_count > 1 << bits:
        wrong = f"{palette.entry_count} entries from {palette.first} do not fit pixels of {bits} bits"
        raise refuse("project.toml", f"[palette.{palette.name}]", wrong, f"lower first or colours, or give {asset!r} wider pixels")
    return base
