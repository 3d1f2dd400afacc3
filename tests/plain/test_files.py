"""Files are replaced whole or not at all."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

import pipeline
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import (
    FileRecord,
    read_json,
    read_record,
    refuse_links,
    remove_tree,
    replacing,
    write_bytes,
    write_json,
    write_record,
)

REMEDY = "free some room on the disk, or check permissions, and build again"


def test_new_file_and_its_folders(tmp_path):
    """A file is written with the folders it needs, and nothing is beside it."""
    path = tmp_path / "a" / "b" / "x.bin"
    write_bytes(path, b"whole")
    assert path.read_bytes() == b"whole"
    assert os.listdir(path.parent) == ["x.bin"]


def test_old_file_stays_until_the_block_ends(tmp_path):
    """While the new file is written the old one is still there whole; afterwards the new one is."""
    path = tmp_path / "x.bin"
    path.write_bytes(b"old")
    with replacing(path) as file:
        file.write(b"new")
        file.flush()
        assert path.read_bytes() == b"old"
    assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["x.bin"]


def write_half(path, failure):
    """Begin to replace a file and fail."""
    with replacing(path) as file:
        file.write(b"half of the new")
        raise failure


@pytest.mark.parametrize("failure", [ValueError("no"), KeyboardInterrupt(), SystemExit(2), FileNotFoundError(2, "gone", "other.png")])
def test_failure_leaves_the_old_file(tmp_path, failure):
    """An error of the block, an interruption too, passes on unchanged and leaves the old file and no other."""
    path = tmp_path / "x.bin"
    path.write_bytes(b"old")
    with pytest.raises(type(failure)) as seen:
        write_half(path, failure)
    assert seen.value is failure
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["x.bin"]


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_system_refusing_to_write_is_said(tmp_path, number):
    """What the system answers to a write (full disk, quota, broken disk; names of POSIX) is reported with a remedy."""
    path = tmp_path / "x.bin"
    path.write_bytes(b"old")
    with pytest.raises(ProjectError) as refusal:
        write_half(path, OSError(number, os.strerror(number)))
    assert str(refusal.value) == f"x.bin: cannot be written: {os.strerror(number)}\n    {REMEDY}"
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["x.bin"]


@pytest.mark.skipif(sys.platform == "win32", reason="no limit of this kind on Windows")
def test_no_room_left(tmp_path):
    """When the system stops the writing half way (RLIMIT_FSIZE of POSIX), the old file stays and the message says why."""
    path = tmp_path / "image.rom"
    path.write_bytes(b"old")
    script = (
        "import resource, sys; from pathlib import Path; from pipeline.plain.files import write_bytes\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (65536, 65536))\n"
        "try: write_bytes(Path(sys.argv[1]), bytes(1 << 20))\n"
        "except Exception as error: print(type(error).__name__, error, sep='|', end='')"
    )
    environment = os.environ | {"PYTHONPATH": str(Path(pipeline.__file__).parents[1]), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run([sys.executable, "-c", script, str(path)], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout == f"ProjectError|image.rom: cannot be written: {os.strerror(errno.EFBIG)}\n    {REMEDY}"
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["image.rom"]


def test_folder_in_the_way(tmp_path):
    """A folder that has the file's name is left alone, and the message names it."""
    (tmp_path / "map.json").mkdir()
    with pytest.raises(ProjectError) as refusal:
        write_bytes(tmp_path / "map.json", b"{}")
    assert str(refusal.value) == f"map.json: cannot be written: {os.strerror(errno.EISDIR)}\n    {REMEDY}"
    assert os.listdir(tmp_path) == ["map.json"]


@pytest.mark.parametrize(("inside", "number"), [("build/x.bin", errno.EEXIST), ("build/blobs/x.bin", errno.ENOTDIR)])
def test_file_where_a_folder_should_be(tmp_path, inside, number):
    """A file where a folder is needed is reported like any other failure to write."""
    (tmp_path / "build").write_bytes(b"no folder")
    with pytest.raises(ProjectError) as refusal:
        write_bytes(tmp_path / inside, b"new")
    assert str(refusal.value) == f"x.bin: cannot be written: {os.strerror(number)}\n    {REMEDY}"
    assert (tmp_path / "build").read_bytes() == b"no folder"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a symbolic link")
@pytest.mark.parametrize("inside", ["build/x.bin", "build/blobs/x.bin"])
def test_folder_that_leads_nowhere(tmp_path, inside):
    """A build folder that links to a disk which is not there is reported like any other failure to write."""
    (tmp_path / "build").symlink_to(tmp_path / "unplugged")
    with pytest.raises(ProjectError) as refusal:
        write_bytes(tmp_path / inside, b"new")
    assert str(refusal.value) == f"x.bin: cannot be written: {os.strerror(errno.EEXIST)}\n    {REMEDY}"


def test_json_is_written_for_people_and_read_back(tmp_path):
    """JSON (RFC 8259) keeps the keys' order, is indented, ends with one newline, and is plain UTF-8."""
    value = {"b": [1, 2.5, None, True], "a": "Łódź ♥"}
    path = tmp_path / "facts.json"
    write_json(path, value)
    text = path.read_bytes().decode("utf-8")
    assert list(json.loads(text)) == ["b", "a"]
    assert text.startswith('{\n  "b": [\n    1,')
    assert text.endswith('"Łódź ♥"\n}\n')
    assert read_json(path) == value


class _Tide(FileRecord, frozen=True, kw_only=True):
    harbour: str
    metres: tuple[float, float]


def test_record_is_written_and_read_back(tmp_path):
    """A record's file is JSON (RFC 8259) whose keys are the fields, the version first; what is read is what was written."""
    tide = _Tide(version=3, harbour="Łódź", metres=(0.1, 2.5))
    write_record(tmp_path / "tide.json", tide)
    assert list(json.loads((tmp_path / "tide.json").read_bytes()).items()) == [("version", 3), ("harbour", "Łódź"), ("metres", [0.1, 2.5])]
    assert read_record(tmp_path / "tide.json", msgspec.json.Decoder(_Tide), 3) == tide


AGAIN = "delete it and build again; only the tool writes this file"
BAD_RECORDS = [
    (b'{"version": 2, "harbour": "a", "metres": [1, 2]}', ", version: is 2, this version of the tool reads 3"),
    (b'{"version": 4, "other": []}', ", version: is 4, this version of the tool reads 3"),
    (b'{"version": "x", "harbour": "a", "metres": [1, 2]}', ", version: is x, this version of the tool reads 3"),
    (b'{"harbour": "a", "metres": [1, 2]}', ": is damaged: Object missing required field version"),
    (b'{"version": 3, "harbour": "a", "metres": [1]}', ", metres: is damaged: Expected array of length 2"),
    (b'{"version": 3, "harbour": "a", "metres": [1, 2], "b": 0}', ": is damaged: Object contains unknown field b"),
    (b'{"version": 3, "harb', ": is damaged: Input data was truncated"),
    (b"[3]", ": is damaged: Expected object, got array"),
    (b'{"version": 3, "harbour": "\xff", "metres": [1, 2]}', ": is damaged: "),
    (b"[" * 100_000, ": is damaged: "),
]


@pytest.mark.parametrize(("data", "said"), BAD_RECORDS, ids=[str(rank) for rank in range(len(BAD_RECORDS))])
def test_damaged_record_and_another_format_are_refused(tmp_path, data, said):
    """Whatever is not the record of today is refused in words; common practice, no source."""
    (tmp_path / "work").mkdir()
    path = tmp_path / "work/tide.json"
    path.write_bytes(data)
    with pytest.raises(ProjectError) as refusal:
        read_record(path, msgspec.json.Decoder(_Tide), 3)
    message, remedy = str(refusal.value).split("\n    ")
    assert message.startswith(f"work/tide.json{said}")
    assert remedy == AGAIN


def test_record_that_is_missing_is_refused(tmp_path):
    """So is one that the system will not read."""
    with pytest.raises(ProjectError, match="tide.json: cannot be read: No such file or directory"):
        read_record(tmp_path / "tide.json", msgspec.json.Decoder(_Tide), 3)


def test_links_are_replaced_and_never_followed(tmp_path):
    """Neither one that bears the file's name nor one planted under the temporary name is written through."""
    other = tmp_path / "other"
    other.write_bytes(b"mine")
    path = tmp_path / "x.bin"
    for planted in (path, tmp_path / f"x.bin.{os.getpid()}.part"):
        planted.symlink_to(other)
    write_bytes(path, b"new")
    assert (path.read_bytes(), path.is_symlink(), other.read_bytes()) == (b"new", False, b"mine")
    assert sorted(os.listdir(tmp_path)) == ["other", "x.bin"]


def test_links_in_place_of_folders_are_refused(tmp_path):
    """Each on the way to a folder is reported, with where it leads; what is not there yet is fine, and so is a top that is a link."""
    (tmp_path / "real/a").mkdir(parents=True)
    (tmp_path / "real/a/b").symlink_to("/nowhere")
    (tmp_path / "real/c").write_bytes(b"")
    top = tmp_path / "top"
    top.symlink_to(tmp_path / "real")
    refuse_links(top, [top / "a", top / "new/deeper", top])
    with pytest.raises(ProjectError) as refusal:
        refuse_links(top, [top / "a/b/deep", top / "c/d"])
    assert str(refusal.value) == (
        "a/b: is a link to /nowhere; what is written and removed there would be outside this folder\n"
        "    remove the link (what it leads to stays as it is) and start again\n"
        "c: is in place of a folder\n    move it away and start again"
    )


def test_a_tree_is_removed_without_following_links(tmp_path):
    """However deep (deeper than Python calls nest), and nothing where there is nothing."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine").write_bytes(b"mine")
    deep = tmp_path / "tree"
    for _ in range(1200):
        deep.mkdir()
        deep = deep / "a"
    deep.mkdir()
    (deep / "link").symlink_to(other)
    (tmp_path / "tree/link").symlink_to(other)
    for name in ("tree", "tree", "not there"):
        remove_tree(tmp_path / name)
    (tmp_path / "link").symlink_to(other)
    remove_tree(tmp_path / "link")
    assert os.listdir(tmp_path) == ["other"]
    assert (other / "mine").read_bytes() == b"mine"
