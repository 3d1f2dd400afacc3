"""Where a project's files are during a build, and small things that steps of every room need."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.step import Step
from pipeline.joints.notice import TELEVISION_LINES
from pipeline.joints.packed import image_file, packed_facts_file
from pipeline.plain.rendering import template_file
from pipeline.project.model import Asset, LoadedProject
from pipeline.project.wording import wording_name
from pipeline.target.calls import Call
from pipeline.target.kinds import KINDS, calls_of, kinds_with

INCLUDE_FILES = ("assets.h", "assets.inc", "assets_equ.inc")


class Site:
    """A project and the places of its build: the folder ``build`` of the project, or another for a trial.

    Attributes:
        folder, build, work, blobs: folders.
        image, map, draft, draft_map, layout, code, verified, budget, advice, layers: files; see DESIGN and DEVELOPERS.md.
        banks: the file of what banks hold; None for a target without banks.
    """

    def __init__(self, project: LoadedProject, build: Path | None = None) -> None:
        self.project = project
        self.folder = project.folder
        self.build = build or project.folder / "build"
        self.work, self.blobs = self.build / "work", self.build / "blobs"
        self.layout, self.code = self.work / "layout.json", self.work / "build_code.json"
        self.image = self.build / "rom" / f"{project.spec.game.code.lower()}.rom"
        self.map = self.build / "map.json"
        # What is not verified yet is kept separately, under the same names.
        self.draft, self.draft_map = self.work / self.image.name, self.work / self.map.name
        self.verified = self.work / "verified.json"
        self.budget, self.layers = self.build / "budget.json", self.build / "backgrounds.json"
        self.advice = self.work / "advice.json"
        self.banks = self.work / "banks.json" if project.target.cartridge.banks else None

    def sources(self, asset: Asset) -> tuple[Path, ...]:
        """Return the source files of an asset."""
        return _inside(self.folder, asset.files)

    def prepared(self, name: str) -> tuple[Path, Path]:
        """Return the files of scaled art; see ``assets.sources.prepare``."""
        return self.work / f"{name}.rgba", self.work / f"{name}.frames.json"

    def tile_map(self, name: str) -> Path:
        """Return the file of a background's map of tiles; see ``assets.backgrounds.forms``."""
        return self.work / f"{name}.map"

    def facts(self, name: str) -> Path:
        """Return the facts file of an asset."""
        return self.blobs / f"{name}.json"

    def packed(self) -> tuple[str, ...]:
        """Return the names of the assets that are packed, or looked at for packing; sorted, since steps only look them up."""
        return tuple(sorted(name for name, asset in self.project.assets.items() if getattr(asset.spec, "packing", "stored") != "stored"))

    def image_facts(self, *names: str) -> tuple[Path, ...]:
        """Return the files that describe some assets' bytes in the image."""
        packed = (packed_facts_file(self.blobs, name) for name in self.packed() if name in names)
        return (*(self.facts(name) for name in names), *packed)

    def proof(self, name: str) -> Path:
        """Return the proof of an asset."""
        return self.build / "proofs" / f"{name}.png"

    def before(self, name: str) -> Path:
        """Return the file of sampled frames before the palette; see ``assets.sources.sample``."""
        return self.work / f"{name}.before.png"

    def proofs(self, asset: Asset) -> dict[str, Path]:
        """Return every proof of an asset, by the part of the file name after its own; see ``target.kinds``."""
        without = set()
        if asset.kind == "sprite" and not (asset.spec.animations or asset.spec.animated):
            without.add("anim")
        if asset.kind == "screen" and self.project.target.screen.height > TELEVISION_LINES:
            without.add("tv")
        parts = [part for part in KINDS[asset.kind].proofs if part not in without]
        return {part: self.proof(f"{asset.name}.{part}" if part else asset.name) for part in parts}

    def decoders(self, *kinds: str) -> dict[str, Call]:
        """Return kind -> what decodes it, of some kinds and of those that showing them takes: pools of sprites, palettes of art."""
        more = [trait for trait, users in (("pool", ("sprite",)), ("palette", kinds_with("art"))) if {*kinds} & {*users}]
        return calls_of("decode", *kinds, *more)

    def all_proofs(self) -> tuple[Path, ...]:
        """Return the proofs of every asset."""
        return tuple(path for asset in self.project.assets.values() for path in self.proofs(asset).values())

    def all_facts(self) -> tuple[Path, ...]:
        """Return the facts of every asset."""
        return self.image_facts(*self.project.assets)

    def all_blobs(self) -> tuple[Path, ...]:
        """Return facts and bytes in the image of every asset."""
        packed = self.packed()
        return (*self.all_facts(), *(image_file(self.blobs, name, name in packed) for name in self.project.assets))

    def include_files(self) -> tuple[Path, ...]:
        """Return the generated include files."""
        return tuple(self.build / "include" / name for name in INCLUDE_FILES)

    def unpackers(self) -> tuple[Path, ...]:
        """Return the sources that unpack on the console; none where nothing is packed."""
        return tuple(self.build / "include" / name for name in ("unpack.h", "unpack.c") if self.packed())

    def readers(self) -> tuple[Path, Path]:
        """Return the sources that read assets on the console."""
        return self.build / "include" / "reader.h", self.build / "include" / "reader.c"

    def templates(self, *names: str) -> tuple[Path, ...]:
        """Return the template files used, the project's own where it has one."""
        return tuple(template_file(self.folder, name) for name in names)

    def wording(self) -> Path:
        """Return the message file of the project's language."""
        language = self.project.spec.game.language
        name = wording_name(self.folder, language)
        if name is None:
            raise AssertionError(f"a checked project has a message file for its language, here {language}")
        return template_file(self.folder, name)

    def cell(self) -> tuple[int, int]:
        """Return width and height of the target's cell in pixels."""
        return self.project.target.cells.width, self.project.target.cells.height

    def flips(self) -> tuple[bool, bool]:
        """Return whether the target mirrors cells left to right, and top to bottom."""
        return self.project.target.sprites.flip_x, self.project.target.sprites.flip_y

    def bare(self, asset: Asset) -> Any:
        """Return an asset's record without what only packing and placement look at."""
        unpacked = {"packing": "stored"} if hasattr(asset.spec, "packing") else {}
        return msgspec.structs.replace(asset.spec, address=None, alignment=None, **unpacked)

    def asset_step(self, asset: Asset, call: str, arguments: dict, reads: tuple[Path, ...], more: tuple[Path, ...] = ()) -> Step:
        """Return the step that makes an asset's blob and facts, and the further files of ``more``."""
        writes = (self.blobs / f"{asset.name}.bin", self.facts(asset.name), *more)
        return Step(f"{asset.kind}:{asset.name}", call, arguments, reads, writes, doc=f"convert {asset.kind} {asset.name}")


@functools.cache
def _inside(folder: Path, names: tuple[str, ...]) -> tuple[Path, ...]:
    # Several steps name the same hundreds of files, and trials again.
    return tuple(folder / name for name in names)
