"""A checked project as every later room sees it: its records, target, assets and releases."""

from __future__ import annotations

import datetime
import functools
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pipeline.project.assets as pa
import pipeline.project.file as pf
from pipeline.plain.bounds import asset_room
from pipeline.plain.written import Record
from pipeline.project.art import is_picture
from pipeline.project.boxes import named_boxes, read_boxes
from pipeline.project.ledger import Release
from pipeline.target.alignment import align
from pipeline.target.kinds import KINDS, kinds_with
from pipeline.target.records import MAIN_AREA, Target

PROJECT_FILE = "project.toml"
ASSET_RECORDS: dict[str, type[Record]] = {kind: getattr(pa, kind.capitalize()) for kind in KINDS}


@dataclass(frozen=True)
class Asset:
    """One named asset as the project describes it.

    Attributes:
        name: identifier, unique in the project.
        kind: one of ``target.kinds.KINDS``.
        spec: the asset's record of ``project.file``.
        files: its source files, relative to the project folder, in the order used.
    """

    name: str
    kind: str
    spec: Any
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class LoadedProject:
    """A checked project; nothing downstream checks it again.

    Attributes:
        folder: absolute path of the project folder.
        spec: the records of the project file.
        target: the records of the target file; ``target_sha256`` is of the bytes they were read from.
        assets: name -> asset, in the order of kinds and then of the file.
        releases: of the ledger, oldest first; see ``project.ledger``.
    """

    folder: Path
    spec: pf.Project
    target: Target
    target_sha256: str
    assets: dict[str, Asset] = field(default_factory=dict)
    releases: tuple[Release, ...] = ()
    _boxed: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False, compare=False)  # names of frames by boxes file

    def frame_names(self, asset: Asset, named: bool = False) -> tuple[str, ...]:
        """Return the names by which animations and notes may name a sprite's frames: of its files, or of its boxes where their file
        is there and an animation uses them, or ``named`` is true.

        A boxes file is read once: what was checked is what is built.

        Raises:
            ProjectError: the boxes file cannot be read, or something in it is wrong.
        """
        name = named_boxes(self.folder, asset.spec, named)
        if name is None:
            return asset.files
        if name not in self._boxed:
            self._boxed[name] = tuple(frame.name for frame in read_boxes(self.folder / name, name, self.folder)[1].frame)
        return self._boxed[name]

    def of_kind(self, *kinds: str) -> list[Asset]:
        """Return the assets of some kinds, in project order."""
        return [asset for asset in self.assets.values() if asset.kind in kinds]

    def users_of(self, palette: str) -> list[Asset]:
        """Return the sprites, backgrounds and fonts that name a palette."""
        return [asset for asset in self.of_kind(*kinds_with("art")) if asset.spec.palette == palette]

    def sprites_in(self, pool: str) -> list[Asset]:
        """Return the sprites whose cells a pool holds."""
        return [asset for asset in self.of_kind("sprite") if asset.spec.pool == pool]

    def notes_of(self, sprite: str) -> list[Asset]:
        """Return the notes on a sprite's frames."""
        return [asset for asset in self.of_kind("notes") if asset.spec.of == sprite]

    def about(self, asset: Asset) -> str | None:
        """Return the name of the asset that an asset is about: the sprite of notes, the font of texts; None where there is none."""
        key = KINDS[asset.kind].about
        return getattr(asset.spec, key) if key else None

    def said_in(self, font: Asset) -> tuple[str, ...]:
        """Return the files of texts whose characters a font must have: none for a strip that is taken whole."""
        if is_picture(font.spec.file) and not (font.spec.characters or font.spec.texts):
            return ()
        return tuple(dict.fromkeys(name for asset in self.of_kind("text") if asset.spec.font == font.name for name in asset.files))

    def header_program(self) -> str | None:
        """Return the name of the program that the header's program values are about; None where there is none, or no choice is made."""
        names = [asset.name for asset in self.of_kind("program")]
        if self.spec.game.program:
            return self.spec.game.program
        return self.target.header.program if self.target.header.program in names else names[0] if len(names) == 1 else None

    def pixel_format(self, asset: Asset) -> str:
        """Return the name of the pixel format of a sprite, background, font or screen."""
        tiles = self.target.tiles if self.arrangement(asset) == "tiles" else None
        return getattr(asset.spec, "pixels", None) or (tiles and tiles.pixels) or self.target.screen.pixels

    def arrangement(self, asset: Asset) -> str | None:
        """Return the arrangement of an asset; None of a kind that has none.

        A boot notice whose record says nothing is made of tiles where the target's screen has the pixels of its tiles.
        """
        said, unit = getattr(asset.spec, "arrangement", None), self.target.tiles
        if asset.kind != "screen" or said:
            return said
        return "tiles" if unit is not None and unit.pixels in (None, self.target.screen.pixels) else "bitmap"

    def room(self) -> int:
        """Return the most bytes that one asset may unpack to."""
        return asset_room(self.target.cartridge.sizes, self.target.memory.size)

    def area(self, asset: Asset) -> str:
        """Return the name of the memory an asset is loaded to: an area of the target, or ``main``."""
        return asset.spec.area or self.area_of(asset.kind)

    def area_of(self, kind: str) -> str:
        """Return the name of the memory that a kind is loaded to where an asset does not say."""
        return next((name for name, area in self.target.memory.area.items() if kind in area.kinds), MAIN_AREA)

    def alignment(self, asset: Asset) -> int:
        """Return the alignment of an asset in bytes."""
        return asset.spec.alignment or align(self.target, asset.kind)

    def placed_by(self, asset: Asset) -> int:
        """Return the alignment of an asset in the image: in a contiguous bundle that of memory too, so that one copy will do."""
        alignment = self.alignment(asset)
        return alignment if self.run_of(asset) is None else max(alignment, self.target.memory.granularity)

    def run_of(self, asset: Asset) -> tuple[str, int] | None:
        """Return the contiguous bundle that holds an asset, and the asset's rank there; None for none."""
        return self._runs.get(asset.name)

    @functools.cached_property
    def _runs(self) -> dict[str, tuple[str, int]]:
        return {name: (run, rank) for run, members in self.spec.runs.items() for rank, name in enumerate(members)}


def build_date(project: LoadedProject) -> datetime.date | None:
    """Return the date of the build: the project's, else SOURCE_DATE_EPOCH's (UTC), else None. Never the clock's."""
    if project.spec.game.date:
        return project.spec.game.date
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date() if epoch else None
