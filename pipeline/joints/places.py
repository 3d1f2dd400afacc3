"""The names of the files that one step leaves and another takes up, put together here and nowhere else.

``blobs/NAME.bin`` and ``NAME.json`` are always an asset's blob as the program sees it in memory, and its facts. For a packed asset
``NAME.packed.bin`` is its form in the image, and ``NAME.packed.json`` the facts of that; ``facts`` documents and reads both.
``work/NAME.originals.png`` and ``.json`` show a background with parts at full detail (``originals``).
``work/NAME.rgba``, ``NAME.numbers`` and ``NAME.frames.json`` are scaled art (``assets.sources.prepared``); ``NAME.cells``, ``NAME.pieces``,
``NAME.cut.json`` and ``NAME.index`` a sprite cut into cells for a pool (``assets.sprites.cut``); ``NAME.fetched.json`` and
``NAME.windows.json`` what a scene fetches of an asset that it holds in part (``fetched``); ``NAME.shown.json`` with ``NAME.shown.png`` or
``NAME.shown.wav`` what the report's script draws and plays (``shown``).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

from pipeline.plain.rendering import Template


@dataclass(frozen=True)
class BlobFiles:
    """What a conversion leaves of an asset: its blob, or its form in the image, and the facts of that."""

    content: Path
    facts: Path


@dataclass(frozen=True)
class FactsFiles:
    """What describes an asset's bytes in the image: its facts, and those of packing; None where it is not packed."""

    facts: Path
    packed: Path | None = None


@dataclass(frozen=True)
class FrameFiles:
    """Scaled art: pixels and their description; ``numbers`` where its palette keeps a file's own numbers, else None."""

    pixels: Path
    described: Path
    numbers: Path | None = None


@dataclass(frozen=True)
class OriginalFiles:
    """A background with parts as its art would show it at full detail: pictures and their description; see ``originals``."""

    pixels: Path
    described: Path


@dataclass(frozen=True)
class ShownFiles:
    """What the report's script shows of an asset: its description, and a picture or recording, None without one; see ``shown``."""

    described: Path
    content: Path | None = None


@dataclass(frozen=True)
class CutFiles:
    """A sprite cut into cells for a pool: cells, pieces and their description."""

    cells: Path
    pieces: Path
    described: Path


@dataclass(frozen=True)
class Sources:
    """An asset's source files.

    Attributes:
        folder: of the project, which a name must not lead out of.
        names: relative to it, in the order used.
    """

    folder: Path
    names: tuple[str, ...]

    @property
    def paths(self) -> tuple[Path, ...]:
        """All of them as paths."""
        return _inside(self.folder, self.names)


@functools.cache  # several steps name the same hundreds of files, and trials again
def _inside(folder: Path, names: tuple[str, ...]) -> tuple[Path, ...]:
    return tuple(folder / name for name in names)


def facts_file(blobs: Path, name: str) -> Path:
    """Return the facts file of an asset."""
    return blobs / f"{name}.json"


def blob_files(blobs: Path, name: str) -> BlobFiles:
    """Return the files of an asset's conversion."""
    return BlobFiles(blobs / f"{name}.bin", facts_file(blobs, name))


def packed_files(blobs: Path, name: str) -> BlobFiles:
    """Return the files of a packed asset's form in the image."""
    return BlobFiles(blobs / f"{name}.packed.bin", blobs / f"{name}.packed.json")


def facts_files(blobs: Path, name: str, packed: bool) -> FactsFiles:
    """Return what describes an asset's bytes in the image."""
    return FactsFiles(facts_file(blobs, name), packed_files(blobs, name).facts if packed else None)


def image_file(blobs: Path, name: str, packed: bool) -> Path:
    """Return the file of an asset's bytes in the image."""
    return (packed_files if packed else blob_files)(blobs, name).content


def frame_files(work: Path, name: str, numbered: bool = False) -> FrameFiles:
    """Return the files of an asset's scaled art."""
    return FrameFiles(work / f"{name}.rgba", work / f"{name}.frames.json", work / f"{name}.numbers" if numbered else None)


def original_files(work: Path, name: str) -> OriginalFiles:
    """Return the files of a background's originals."""
    return OriginalFiles(work / f"{name}.originals.png", work / f"{name}.originals.json")


def shown_files(work: Path, name: str, ending: str) -> ShownFiles:
    """Return the files of what the report's script shows of an asset; ``ending``: of the picture or recording, empty for none."""
    return ShownFiles(work / f"{name}.shown.json", work / f"{name}.shown.{ending}" if ending else None)


def cut_files(work: Path, name: str) -> CutFiles:
    """Return the files of a sprite that is cut for its pool."""
    return CutFiles(work / f"{name}.cells", work / f"{name}.pieces", work / f"{name}.cut.json")


def index_file(work: Path, name: str) -> Path:
    """Return the file in which a pool says where a sprite's cells are."""
    return work / f"{name}.index"


@dataclass(frozen=True)
class OwnFiles:
    """What one tester gets in place of what everybody gets; None where they get the same.

    Attributes:
        packet, page: with their number, name and share, as PDF and as HTML.
        notes: with what changed since the release that they had last, or about an image of their own.
        map: of an image of their own; ``mark``: how it differs from everybody's (``joints.map.Mark``).
    """

    packet: Path
    notes: Path | None = None
    map: Path | None = None
    mark: Path | None = None
    page: Path | None = None


@dataclass(frozen=True)
class ReportPages:
    """What is written about testers' reports, again with every answer.

    Attributes:
        page: for a browser; ``table``: the same as CSV.
        template: of the page; ``script``: what it runs in the browser.
    """

    page: Path
    table: Path
    template: Template
    script: Path
