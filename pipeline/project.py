"""What the author wrote: ``project.toml`` read, defaults applied, checked, and its files found."""

from __future__ import annotations

import datetime
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pipeline.project_file as pf
from pipeline.checked import Document, Record, build, check_part, read_document
from pipeline.errors import ProjectError
from pipeline.target import Target, find_target, load_target

PROJECT_FILE = "project.toml"
ASSET_RECORDS: dict[str, type[Record]] = {
    "sprite": pf.Sprite,
    "background": pf.Background,
    "palette": pf.Palette,
    "sound": pf.Sound,
    "screen": pf.Screen,
    "program": pf.Program,
    "data": pf.Data,
}


@dataclass(frozen=True)
class Asset:
    """One named asset as the project describes it.

    Attributes:
        name: identifier, unique in the project.
        kind: one of ``target.KINDS``.
        spec: the asset's record of ``project_file``.
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
        target: the records of the target file; ``target_file`` is its path.
        assets: name -> asset, in the order of kinds and then of the file.
    """

    folder: Path
    spec: pf.Project
    target: Target
    target_file: Path
    assets: dict[str, Asset] = field(default_factory=dict)

    def of_kind(self, *kinds: str) -> list[Asset]:
        """Return the assets of some kinds, in project order."""
        return [asset for asset in self.assets.values() if asset.kind in kinds]

    def users_of(self, palette: str) -> list[Asset]:
        """Return the sprites and backgrounds that name a palette."""
        return [asset for asset in self.of_kind("sprite", "background") if asset.spec.palette == palette]

    def pixel_format(self, asset: Asset) -> str:
        """Return the name of the pixel format of a sprite, background or screen."""
        return getattr(asset.spec, "pixels", None) or self.target.screen.pixels

    def alignment(self, asset: Asset) -> int:
        """Return the alignment of an asset in bytes."""
        return asset.spec.alignment or self.target.align(asset.kind)


def load_project(folder: Path) -> LoadedProject:
    """Read, check and complete the project in a folder.

    Raises:
        ProjectError: carries every problem of the project file, or of the target file.
    """
    folder = folder.resolve()
    document = read_document(folder / PROJECT_FILE, PROJECT_FILE)
    _apply_defaults(document)
    spec = build(document, (), document.data, pf.Project)
    _check_epoch(document)
    target_file, target = _load_target(document, folder, spec)
    if spec is None or target is None:
        document.finish()
        raise AssertionError("a project that could not be read has at least one problem")
    from pipeline.project_checks import check_project, find_files

    assets = find_files(document, folder, spec)
    project = LoadedProject(folder, spec, target, target_file, assets)
    check_project(document, project)
    document.finish()
    return project


def _apply_defaults(document: Document) -> None:
    """Complete every asset's raw table with the keys of its kind's defaults."""
    defaults = document.data.get("defaults")
    if not isinstance(defaults, dict):
        return
    for kind, given in defaults.items():
        assets = document.data.get(kind)
        if kind not in ASSET_RECORDS or not isinstance(given, dict):
            continue
        right = check_part(document, ("defaults", kind), given, ASSET_RECORDS[kind])
        for name, own in (assets or {}).items() if isinstance(assets, dict) else ():
            if isinstance(own, dict):
                assets[name] = {**right, **own}


def _load_target(document: Document, folder: Path, spec: pf.Project | None) -> tuple[Path | None, Target | None]:
    if spec is None:
        return None, None
    place = document.place(("game", "target"))
    try:
        path = find_target(spec.game.target, folder, document.shown, place)
        return path, load_target(path, spec.game.target if spec.game.target.endswith(".toml") else None)
    except ProjectError as error:
        document.problems.extend(error.problems)
        return None, None


def _check_epoch(document: Document) -> None:
    value = os.environ.get("SOURCE_DATE_EPOCH", "")
    if value and not re.fullmatch(r"[0-9]{1,11}", value):
        document.say((), f"the environment's SOURCE_DATE_EPOCH is {value!r}", "set it to whole seconds since 1970, or unset it")


def build_date(project: LoadedProject) -> datetime.date | None:
    """Return the date of the build: the project's, else SOURCE_DATE_EPOCH's (UTC), else None. Never the clock's."""
    if project.spec.game.date:
        return project.spec.game.date
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date() if epoch else None
