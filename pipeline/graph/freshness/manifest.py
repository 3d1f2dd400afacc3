"""Reading a manifest: the file by which a step names further files that it wrote."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

import msgspec

from pipeline.graph.freshness.state_folder import read_record


class _Manifest(msgspec.Struct):
    files: dict[str, str]


def listed_files(manifest: Path) -> list[Path] | None:
    """Return the files that a manifest names, all of them below its folder, or None if it is not a manifest (any more)."""
    found = read_record(manifest, _Manifest)
    if found is None:
        return None
    names = [PurePosixPath(name) for name in found.files]
    return [manifest.parent / name for name in names if not name.is_absolute() and ".." not in name.parts]
