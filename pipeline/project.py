"""What the author wrote: ``project.toml`` read, defaults applied, checked, and its files found."""

from __future__ import annotations

import copy
import datetime
import os
import re
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pipeline.project_assets as pa
import pipeline.project_file as pf
from pipeline.bounds import asset_room
from pipeline.checked import Document, Record, build, check_part, read_document
from pipeline.errors import ProjectError
from pipeline.project_ledger import LEDGER, read_ledger
from pipeline.target import Target, find_target, load_target

PROJECT_FILE = "project.toml"
ASSET_RECORDS: dict[str, type[Record]] = {
    "sprite": pa.Sprite,
    "pool": pa.Pool,
    "background": pa.Background,
    "palette": pa.Palette,
    "sound": pa.Sound,
    "screen": pa.Screen,
    "program": pa.Program,
    "data": pa.Data,
    "font": pa.Font,
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
        releases: of the ledger, oldest first; see ``project_ledger``.
    """

    folder: Path
    spec: pf.Project
    target: Target
    target_file: Path
    assets: dict[str, Asset] = field(default_factory=dict)
    releases: tuple[dict[str, Any], ...] = ()

    def of_kind(self, *kinds: str) -> list[Asset]:
        """Return the assets of some kinds, in project order."""
        return [asset for asset in self.assets.values() if asset.kind in kinds]

    def users_of(self, palette: str) -> list[Asset]:
        """Return the sprites, backgrounds and fonts that name a palette."""
        return [asset for asset in self.of_kind("sprite", "background", "font") if asset.spec.palette == palette]

    def sprites_in(self, pool: str) -> list[Asset]:
        """Return the sprites whose cells a pool holds."""
        return [asset for asset in self.of_kind("sprite") if asset.spec.pool == pool]

    def pixel_format(self, asset: Asset) -> str:
        """Return the name of the pixel format of a sprite, background, font or screen."""
        tiled = getattr(asset.spec, "arrangement", None) == "tiles" and self.target.tiles
        return getattr(asset.spec, "pixels", None) or (tiled and self.target.tiles.pixels) or self.target.screen.pixels

    def room(self) -> int:
        """Return the most bytes that one asset may unpack to."""
        return asset_room(self.target.cartridge.sizes, self.target.memory.size)

    def alignment(self, asset: Asset) -> int:
        """Return the alignment of an asset in bytes."""
        return asset.spec.alignment or self.target.align(asset.kind)


def load_project(folder: Path) -> LoadedProject:
    """Read, check and complete the project in a folder.

    Raises:
        ProjectError: carries every problem of the project file, or of the target file.
    """
    folder = folder.resolve()
    document = read_document(folder / PROJECT_FILE, PROJECT_FILE, folder)
    _apply_defaults(document)
    spec = build(document, (), document.data, pf.Project) or _salvage(document)
    _check_epoch(document)
    from pipeline.project_checks import check_project
    from pipeline.project_issues import check_issues, take_issues
    from pipeline.project_sources import find_files

    issues, spec = take_issues(document, folder, spec) if spec else (document, None)
    releases = _releases(document, folder)
    assets = find_files(document, folder, spec) if spec else {}
    target_file, target = _load_target(document, folder, spec)
    if spec is None or target is None:
        document.finish()
        raise AssertionError("a project that could not be read has at least one problem")
    project = LoadedProject(folder, spec, target, target_file, assets, releases)
    check_project(document, project)
    check_issues(issues, spec.issue, _known_versions(document, project))
    document.finish()
    return project


# What stands in for a part that has problems of its own; only so far as to let the checks of the others run.
_PLACEHOLDERS = {
    "format": 1,
    "game": {"title": "?", "code": "XX", "version": "0.0.0", "phase": "alpha", "target": "basalt32"},
    "links": {"feedback": "https://example.org/f/{build}", "bugs": "https://example.org/b/{build}"},
    "control": {"action": "?", "buttons": {}},
    "issue": {"id": "?", "severity": "minor", "where": "?", "what": "?"},
}


def _salvage(document: Document) -> pf.Project | None:
    """Return the project without what has problems, so that the rest of the file is checked too.

    First only the wrong keys are left out; where that is not enough, the table they stand in.
    """
    data, paths = copy.deepcopy(document.data), document.paths
    for whole in (False, True):
        for path in paths:
            _leave_out(data, path, whole, document.broken)
        probe = Document(document.shown, data, {})
        probe.most = sys.maxsize  # what it finds is never told, so it must not end the reading
        spec = build(probe, (), data, pf.Project)
        if spec is not None:
            return spec
        paths = probe.paths
    return None


def _leave_out(data: dict[str, Any], path: tuple, whole: bool, broken: set[str]) -> None:
    head, *rest = path
    part, name = data.get(head), rest[0] if rest else None
    if head in ("format", "game", "links"):
        known = part if isinstance(part, dict) else {}
        kept = {key: value for key, value in known.items() if key != name and not whole and head != "format"}
        data[head] = _PLACEHOLDERS[head] | kept if head != "format" else 1
    elif isinstance(part, list) and isinstance(name, int) and head in _PLACEHOLDERS:
        # In its place, so that the others keep theirs; an id of its own, so that it is no duplicate.
        part[name] = _PLACEHOLDERS[head] | ({"id": f"?{name}"} if head == "issue" else {})
    elif isinstance(part, dict) and name is not None:
        broken.add(str(name))
        if not whole and len(rest) > 1 and isinstance(part.get(name), dict):
            part[name].pop(rest[1], None)
        else:
            part.pop(name, None)
    else:
        data.pop(head, None)


SIZES = {"scale", "height"}  # two ways to say how large art becomes; one of them is given


def check_sizes(document: Document, path: tuple, given: dict[str, Any]) -> bool:
    """Note when a raw table gives both keys that say how large art becomes; return whether it does."""
    both = given.keys() >= SIZES
    if both:
        document.say((*path, "height"), "scale is given as well", "give scale or height, not both")
    return both


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
        if check_sizes(document, ("defaults", kind), right):
            right = {key: value for key, value in right.items() if key not in SIZES}
        for name, own in (assets or {}).items() if isinstance(assets, dict) else ():
            if isinstance(own, dict):
                # One key of a pair an asset gives itself stands for the pair.
                taken = SIZES if SIZES & own.keys() else set()
                assets[name] = {**{key: value for key, value in right.items() if key not in taken}, **own}


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


def _known_versions(document: Document, project: LoadedProject) -> list[str]:
    """Return the versions an issue may be fixed in; none where what says so has problems, which are told already."""
    own = project.spec.game.version
    unsure = {("game",), ("game", "version")} & set(document.paths) or any(problem.file == LEDGER for problem in document.problems)
    return [*(release["version"] for release in project.releases), own] if not unsure else []


def _releases(document: Document, folder: Path) -> tuple[dict[str, Any], ...]:
    try:
        return tuple(read_ledger(folder))
    except ProjectError as error:
        document.problems.extend(error.problems)
        return ()


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
