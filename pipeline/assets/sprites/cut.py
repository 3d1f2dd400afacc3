"""A sprite's frames cut into cells, and the files that carry them to the pool they share with other sprites.

Numbers in these files are 32 bits, signed, least significant byte first.

- ``work/NAME.cells``: the sprite's distinct cells one after another, a byte a pixel: entries of its palette, 0 transparent.
- ``work/NAME.pieces``: for each piece of each frame, in the order they are drawn, four numbers: x, y, cell, flips.
- ``work/NAME.cut.json``: a ``CutFacts``.
- ``work/NAME.index``, written by the pool: how many cells the pool has; then for each cell of ``NAME.cells`` its number in
  the pool, and how it is mirrored there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from pipeline.assets.art import Artwork
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.assets.sprites.sizes import Found, SpriteSizes, found
from pipeline.cache.results import Results, key_of
from pipeline.joints.facts import ColourError, Count, IntentFacts
from pipeline.joints.places import CutFiles, FrameFiles
from pipeline.joints.views import PaletteView
from pipeline.pixels.pieces.pieces import cover, cut_pieces, pool
from pipeline.plain.files import FileRecord, read_record, replacing, write_bytes, write_record
from pipeline.target.records import PictureRules

_NUMBER = "<i4"


FORMAT = 1


class CutFacts(FileRecord, frozen=True, kw_only=True):
    """What cutting a sprite that shares a pool leaves for the pool and for the sprite's blob.

    Attributes:
        base: what a transparent pixel holds in the image, and what is added to every entry there.
        piece_counts: pieces of each frame.
        sheet_bytes, frames_bytes, opaque_bytes, intent, colour_error: see ``joints.facts.SpriteFacts``.
    """

    base: Count
    piece_counts: list[Count]
    sheet_bytes: Count
    frames_bytes: Count
    opaque_bytes: Count
    intent: IntentFacts
    colour_error: ColourError


_DECODER = msgspec.json.Decoder(CutFacts)


def read_cut(file: Path) -> CutFacts:
    """Return what cutting a sprite has left.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _DECODER, FORMAT)


@dataclass(frozen=True)
class Cut:
    """Frames as pieces.

    Attributes:
        base: what a transparent pixel holds in the image.
        frames: for each frame its pieces, x, y, cell, flips: int32, shape (pieces, 4).
        cell_count: distinct cells.
        found: what a sprite's facts say of its conversion.
    """

    base: int
    frames: list[np.ndarray]
    cell_count: int
    found: Found


def cut_art(art: Artwork, rules: PictureRules, flips: tuple[bool, bool], store: Callable[[np.ndarray], Any]) -> Cut:
    """Cut frames into cells and store equal ones once, mirrored ones too where ``flips`` allow. Takes one frame at a time.

    Args:
        store: is given each distinct cell: palette entries, uint8, shape (cell height, cell width).
    """
    places: list[np.ndarray] = []
    sizes = SpriteSizes(rules, flips)
    cells = pool(_cut_frames(art, rules, places, sizes), *flips, store)
    frames = []
    for rank, standing in enumerate(places):
        shown = slice(cells.starts[rank], cells.starts[rank + 1])
        frames.append(np.column_stack([standing, cells.index[shown], cells.flips[shown]]).astype(_NUMBER))
    return Cut(art.base, frames, cells.count, found(art, sizes))


def _cut_frames(art: Artwork, rules: PictureRules, places: list[np.ndarray], sizes: SpriteSizes) -> Iterator[np.ndarray]:
    """Yield the cells of each frame; their places are added to ``places``."""
    for pixels in art.entries():
        entries = pixels.astype(np.uint8)  # a pixel that names a palette's entry has at most 8 bits
        sizes.add(entries, 0)
        places.append(_covered(entries > 0, rules.cell, art.results))
        yield cut_pieces(entries, places[-1], *rules.cell)


def _covered(mask: np.ndarray, cell: tuple[int, int], results: Results) -> np.ndarray:
    """Return ``cover`` of a mask, which is not searched for again when colours change, or for a frame that is there twice."""
    key = key_of("pipeline.pixels.pieces.pieces:cover", repr((mask.shape, cell)).encode(), np.packbits(mask).tobytes())
    known = results.get(key)
    if known is not None:
        return np.frombuffer(known, dtype="<i2").reshape(-1, 2)
    places = cover(mask, *cell)
    results.put(key, places.astype("<i2").tobytes())
    return places


def cut_sprite(
    prepared: FrameFiles,
    palette: PaletteView,
    out: CutFiles,
    name: str,
    dither: str,
    rules: PictureRules,
    flips: tuple[bool, bool],
    cache: Path | None = None,
) -> str:
    """Cut a sprite that shares a pool and write its work files; return one line about it.

    Args:
        cache: where results of its frames are kept; see ``cache.results``.
    """
    with Results(cache) as results, replacing(out.cells) as file:
        art = Artwork(PreparedFrames(prepared), palette, rules, name, dither, results)
        cut = cut_art(art, rules, flips, lambda cell: file.write(cell.tobytes()))
    write_bytes(out.pieces, b"".join(pieces.tobytes() for pieces in cut.frames))
    counts = [len(pieces) for pieces in cut.frames]
    write_record(out.described, CutFacts(version=FORMAT, base=cut.base, piece_counts=counts, **cut.found))
    return f"{sum(counts)} pieces of {cut.cell_count} cells"


def read_cells(file: Path, cell: tuple[int, int]) -> np.ndarray:
    """Return the cells of a sprite: uint8, shape (cells, height, width)."""
    return np.fromfile(file, dtype=np.uint8).reshape(-1, cell[1], cell[0])


def write_index(file: Path, pool_cells: int, numbers: np.ndarray, flips: np.ndarray) -> None:
    """Write where a sprite's cells are in a pool of ``pool_cells`` cells: integers, one for each of its own cells."""
    pairs = np.column_stack([numbers, flips]).astype(_NUMBER)
    write_bytes(file, np.array([pool_cells], dtype=_NUMBER).tobytes() + pairs.tobytes())


def read_pooled(cut_file: Path, pieces_file: Path, index_file: Path) -> tuple[Cut, int]:
    """Return a sprite's pieces with the numbers and flips of its pool's cells, and how many cells the pool has.

    ``cell_count`` is that of its own. Mirroring a mirrored cell again undoes it, and left to right does not disturb top to bottom, so
    flips combine by exclusive or.
    """
    described = read_cut(cut_file)
    index = np.fromfile(index_file, dtype=_NUMBER)
    pool_cells, pairs = int(index[0]), index[1:].reshape(-1, 2)
    pieces = np.fromfile(pieces_file, dtype=_NUMBER).reshape(-1, 4)
    own = pieces[:, 2]
    pieces = np.column_stack([pieces[:, :2], pairs[own, 0], pieces[:, 3] ^ pairs[own, 1]])
    frames = np.split(pieces, np.cumsum(described.piece_counts)[:-1])
    known = Found(
        sheet_bytes=described.sheet_bytes,
        frames_bytes=described.frames_bytes,
        opaque_bytes=described.opaque_bytes,
        intent=described.intent,
        colour_error=described.colour_error,
    )
    return Cut(described.base, frames, len(pairs), known), pool_cells
