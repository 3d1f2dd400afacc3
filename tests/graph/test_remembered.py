"""What a build remembers of files and of the tool's code: right while nothing changed, noticed where it is not.

What shows that a file changed is the system's business (``marks``, ``test_unchanged``); that a damaged record is as good as none is
common practice, no source.
"""

from __future__ import annotations

import hashlib
import os
import time
from pathlib import Path

import pytest

from pipeline.cache import code
from pipeline.graph.freshness import digest, remembered
from pipeline.graph.freshness.digest import file_digest
from pipeline.graph.freshness.remembered import recall, remember
from pipeline.graph.freshness.unchanged import REMEMBERED, Look

TOOL = Look("as it is", 0)
CALL = "pipeline.plain.sizes:show_size"


@pytest.fixture(autouse=True)
def nothing_known(monkeypatch):
    """Begin like a new process, with a tool that stays as it is."""
    for module, names in ((digest, ("_known", "_seen")), (code, ("_digests", "_versions"))):
        for name in names:
            monkeypatch.setattr(module, name, {})
    monkeypatch.setattr(digest, "_asked", set())
    monkeypatch.setattr(remembered, "look_at_tool", lambda: TOOL)


def forget() -> None:
    """Become another process."""
    for known in (digest._known, digest._seen, digest._asked, code._digests, code._versions):
        known.clear()


def settled(path: Path, content: bytes) -> Path:
    """Write a file whose mark can be relied on."""
    path.write_bytes(content)
    time.sleep(0.03)
    return path


def test_digests_are_those_of_the_files(tmp_path, monkeypatch):
    """Against hashlib; a file that is the same is not read again, one that changed is, with its times set back too."""
    file = settled(tmp_path / "a.png", b"one")
    times = file.stat()
    assert file_digest(file) == hashlib.sha256(b"one").hexdigest()
    remember(tmp_path, TOOL)
    forget()
    recall(tmp_path, TOOL)
    with monkeypatch.context() as blind:
        blind.setattr(digest, "open_regular", lambda path: pytest.fail("read again"))
        assert file_digest(file) == hashlib.sha256(b"one").hexdigest()
    file.write_bytes(b"two")
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert file_digest(file) == hashlib.sha256(b"two").hexdigest()


def test_files_that_change_places_are_read_again(tmp_path):
    """Two files of one size, each renamed to the other: a rename sets the time of the last change."""
    one, two = (settled(tmp_path / name, name.encode()) for name in ("a.png", "b.png"))
    for file in (one, two):
        file_digest(file)
    remember(tmp_path, TOOL)
    forget()
    recall(tmp_path, TOOL)
    one.rename(tmp_path / "c.png")
    two.rename(one)
    (tmp_path / "c.png").rename(two)
    assert file_digest(one) == hashlib.sha256(b"b.png").hexdigest()
    assert file_digest(two) == hashlib.sha256(b"a.png").hexdigest()


def test_young_file_is_not_remembered(tmp_path):
    """Within a tick of its clock a file can change and keep its mark; one of the future, for longer than is known."""
    young = tmp_path / "young"
    young.write_bytes(b"one")
    file_digest(young)
    digest._asked.add((1, 1))
    digest._known[1, 1] = ((time.time_ns() + 10**12, 0, 3, 1, 1), "00" * 32)
    remember(tmp_path, TOOL)
    forget()
    recall(tmp_path, TOOL)
    assert digest._known == {}


def test_only_what_was_asked_for_is_kept(tmp_path):
    """What files were replaced by is not remembered for ever."""
    file = settled(tmp_path / "a.png", b"one")
    file_digest(file)
    remember(tmp_path, TOOL)
    forget()
    recall(tmp_path, TOOL)
    remember(tmp_path, TOOL)
    forget()
    recall(tmp_path, TOOL)
    assert digest._known == {}


def test_code_is_remembered_while_the_tool_is_the_same(tmp_path, monkeypatch):
    """Against what is found out without; of another tool nothing is believed, nor of one that changed meanwhile or just before."""
    found = code.code_digests(CALL), code.library_versions(CALL)
    for tool in (TOOL, Look("another", 0), None, Look(TOOL.sum, 5)):
        forget()
        code.code_digests(CALL), code.library_versions(CALL)  # noqa: B018
        remember(tmp_path, tool)
        forget()
        recall(tmp_path, TOOL)
        assert bool(code._digests) == bool(code._versions) == (tool == TOOL)
        if code._digests:
            with monkeypatch.context() as blind:
                blind.setattr(code, "_find_digests", lambda calls: pytest.fail("found out again"))
                assert (code.code_digests(CALL), code.library_versions(CALL)) == found
    forget()
    recall(tmp_path, Look("another", 0))
    assert code._digests == {}


def test_damage_is_noticed(tmp_path):
    """Any bit, a missing end, another format, no file."""
    file_digest(settled(tmp_path / "a.png", b"one"))
    code.code_digests(CALL)
    remember(tmp_path, TOOL)
    record = tmp_path / REMEMBERED
    data = record.read_bytes()
    damaged = [data[:at] + bytes([data[at] ^ 1 << at % 8]) + data[at + 1 :] for at in range(len(data))]
    damaged += [b"", data[:5], data[:43], data[:-1], data + b"0"]
    forget()
    for content in damaged:
        record.write_bytes(content)
        recall(tmp_path, TOOL)
        assert not digest._known
        assert not code._digests
    record.unlink()
    recall(tmp_path, TOOL)
    record.mkdir()
    recall(tmp_path, TOOL)
    remember(tmp_path, TOOL)  # cannot be written, and nothing fails
    assert not digest._known
