"""Sizes of a project's source files, looked at before any is read or hashed; each kind has its own most."""

from __future__ import annotations

import os
from collections.abc import Iterator

from pipeline.plain import bounds
from pipeline.plain.bounded import size_problem
from pipeline.plain.bounds import COMMAND_BYTES, PICTURE_BYTES, TEXT_BYTES
from pipeline.plain.checked import Document
from pipeline.project.art import PICTURES
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.kinds import KINDS

_PICTURES = tuple(PICTURES)


def check_sizes_of_files(document: Document, project: LoadedProject) -> None:
    """Note every source file that is larger than what is read of its kind."""
    for asset in project.assets.values():
        if asset.name in document.broken:
            continue
        for file, most in _bounds(project, asset):
            size = _size(os.path.join(project.folder, file))
            if size > most:
                wrong, remedy = size_problem(size, most)
                document.say((asset.kind, asset.name), f"{file!r} {wrong}", remedy)
    _check_texts(document, project)


def _bounds(project: LoadedProject, asset: Asset) -> Iterator[tuple[str, int]]:
    """Yield the source files of an asset, each with the most bytes it may have."""
    for rank, file in enumerate(asset.files):
        if asset.kind == "font" and rank:
            yield file, TEXT_BYTES
        elif asset.kind == "program":
            yield file, COMMAND_BYTES if asset.spec.command else max(project.target.cartridge.sizes)
        elif file.lower().endswith(_PICTURES) and KINDS[asset.kind].bound:
            yield file, PICTURE_BYTES
        else:
            yield file, getattr(bounds, KINDS[asset.kind].bound) if KINDS[asset.kind].bound else project.room()


def _check_texts(document: Document, project: LoadedProject) -> None:
    for asset in project.of_kind("font"):
        size = sum(_size(os.path.join(project.folder, file)) for file in asset.files[1:])
        if size > TEXT_BYTES and len(asset.files) > 2:
            wrong, remedy = size_problem(size, TEXT_BYTES)
            document.say((asset.kind, asset.name, "texts"), f"the {len(asset.files) - 1:,} files together {wrong}", remedy)


def _size(path: str) -> int:
    try:
        return os.stat(path).st_size
    except OSError:
        return 0  # said where it is looked for, or where it is read
