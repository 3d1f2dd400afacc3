"""A change of packing packs again and places again; nothing is converted or drawn again, and a clean build gives the same."""

from __future__ import annotations

from pathlib import Path

from tests.conftest import only_long
from tests.graph.builds import build, clean_outputs, make_project, outputs, reasons
from tests.graph.test_incremental import TAIL

PLACED = {"memory", "advice", "author", "layout", "include"} | TAIL - {"proof:boot"}


def set_packing(project: Path, old: str | None, new: str | None) -> None:
    """Change the packing of the sprite ``two``; None removes the key."""
    path = project / "project.toml"
    before, after = ("" if value is None else f'packing = "{value}"\n' for value in (old, new))
    anchor = '[sprite.two]\nframes = "art/two/*.png"\n'
    text = path.read_text()
    assert text.count(anchor + before) == 1
    path.write_text(text.replace(anchor + before, anchor + after))


def test_change_of_packing_only_packs_again(tmp_path):
    """From stored to packed and back: conversion and proofs of the asset keep what they have."""
    only_long()
    project = make_project(tmp_path / "project")
    build(project)
    stored = outputs(project)

    set_packing(project, None, "best")
    ran = set(build(project))
    assert {"pack:two", "unpackers", "image", "verify"} <= ran <= {"pack:two", "unpackers", "proof:boot"} | PLACED, reasons(project)
    assert outputs(project) == clean_outputs(project, tmp_path)
    assert {"blobs/two.packed.bin", "blobs/two.packed.json", "include/unpack.c", "include/unpack.h"} < set(outputs(project))

    set_packing(project, "best", "packbits")
    ran = set(build(project))
    assert {"pack:two", "image"} <= ran <= {"pack:two", "proof:boot"} | PLACED, reasons(project)
    assert outputs(project) == clean_outputs(project, tmp_path)

    set_packing(project, "packbits", None)
    assert not {one for one in build(project) if one.startswith(("pack:", "sprite", "prepare", "palette"))}
    assert outputs(project) == stored


def test_change_that_leaves_the_blob_does_not_pack_again(tmp_path):
    """The packed files depend on the blob's bytes, the packing asked for and the codecs, and on nothing else."""
    project = make_project(tmp_path / "project")
    set_packing(project, None, "best")
    build(project)
    path = project / "project.toml"
    path.write_text(path.read_text().replace("[sprite.two]\n", '[sprite.two]\norigin = "Drawn for the test."\n'))
    ran = build(project)
    assert "sprite:two" in ran
    assert "pack:two" not in ran


def test_altered_packed_file_is_made_again(tmp_path):
    """A packed file that somebody changed is not shipped."""
    project = make_project(tmp_path / "project")
    set_packing(project, None, "lz4")
    build(project)
    whole = outputs(project)
    (project / "build/blobs/two.packed.bin").write_bytes(b"other")
    assert build(project) == ["pack:two"]
    assert outputs(project) == whole
