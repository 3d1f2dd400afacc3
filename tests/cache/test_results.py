"""Results kept between builds: found again, bounded, and never believed when damaged. Common practice, no source."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from pipeline.cache import results as module
from pipeline.cache.results import Results, key_of


@pytest.fixture
def file(tmp_path) -> Path:
    return tmp_path / "cache" / "pell.results"


def keep(file: Path | None, *pairs: tuple[bytes, bytes]) -> None:
    with Results(file) as results:
        for key, result in pairs:
            results.put(key, result)


def test_what_was_kept_is_found(file):
    """In the same run, in the next, and by nobody who asks for something else; counts say how often."""
    with Results(file) as results:
        assert results.get(b"a") is None
        results.put(b"a", b"one")
        assert results.get(b"a") == b"one"
        assert (results.found, results.made) == (1, 1)
    again = Results(file)
    assert (again.get(b"a"), again.get(b"b"), again.found, again.made) == (b"one", None, 1, 0)


def test_nothing_is_kept_without_a_file_or_after_an_error(file):
    """A step that fails may have made something wrong."""
    keep(None, (b"a", b"one"))

    def fail() -> None:
        with Results(file) as results:
            results.put(b"a", b"one")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert Results(file).get(b"a") is None
    assert not file.exists()


def test_every_flipped_bit_and_every_cut_is_noticed(file):
    """The file is as good as none then, wherever it is damaged."""
    keep(file, (b"a", b"one"), (b"b", b"two"))
    data = file.read_bytes()
    for at in range(len(data) * 8):
        damaged = bytearray(data)
        damaged[at // 8] ^= 1 << at % 8
        file.write_bytes(damaged)
        assert Results(file).get(b"a") is None, at
    for length in range(len(data)):
        file.write_bytes(data[:length])
        assert Results(file).get(b"a") is None, length
    file.write_bytes(data + b"\0")
    assert Results(file).get(b"a") is None


@pytest.mark.parametrize("odd", ["folder", "nothing to write into"])
def test_place_that_cannot_be_written_does_not_matter(file, odd):
    """A full disk, no permission: the build goes on."""
    if odd == "folder":
        file.mkdir(parents=True)
    else:
        file.parent.write_bytes(b"")
    keep(file, (b"a", b"one"))
    assert Results(file).get(b"a") is None


def test_result_that_nobody_asks_for_goes_after_some_runs(file):
    """An edit that is taken back soon finds what was known before it."""
    keep(file, (b"old", b"one"))
    for run in range(6):
        assert Results(file).get(b"old") == b"one", run
        module._saved.clear()
        for trial in range(9):  # of one question, which is one run
            keep(file, (b"new %d %d" % (run, trial), b"two"))
    module._saved.clear()
    keep(file, (b"last", b"two"))
    assert Results(file).get(b"old") is None


def test_file_is_bounded_and_keeps_what_was_asked_for(file, monkeypatch):
    """What does not fit is not kept; what was asked for in this run goes before what was not."""
    monkeypatch.setattr(module, "MOST_OF_ONE", 100)
    keep(file, (b"a", bytes(40)), (b"b", bytes(40)))
    with Results(file) as results:
        assert results.get(b"b")
        for key in (b"c", b"d", b"e"):
            results.put(key, bytes(30))
    assert file.stat().st_size < 300
    assert [key for key in (b"a", b"b", b"c", b"d", b"e") if Results(file).get(key)] == [b"b", b"c", b"d"]


def test_result_that_does_not_fit_leaves_room_for_others(file, monkeypatch):
    """Neither one that is too large, nor one that is made twice, takes the room of what comes after it."""
    monkeypatch.setattr(module, "MOST_OF_ONE", 100)
    keep(file, (b"large", bytes(101)), (b"a", bytes(60)), (b"a", bytes(60)), (b"b", bytes(40)))
    known = Results(file)
    assert [key for key in (b"large", b"a", b"b") if known.get(key) is not None] == [b"a", b"b"]


def test_odd_thing_in_the_folder_protects_nothing_older(tmp_path, monkeypatch):
    """The tool makes no folder and no link there: they are removed, and what a link leads to stays."""
    monkeypatch.setattr(module, "MOST", 1000)
    outside = tmp_path / "outside"
    outside.write_bytes(b"art")
    folder = tmp_path / "cache"
    (folder / "odd").mkdir(parents=True)
    (folder / "odd" / "inside").write_bytes(b"")
    (folder / "link").symlink_to(outside)
    for rank in range(4):
        (folder / f"{rank}.results").write_bytes(bytes(400))
        os.utime(folder / f"{rank}.results", (rank, rank))
    os.utime(folder / "odd", (1, 1))
    module.trim(folder)
    assert sorted(path.name for path in folder.iterdir()) == ["2.results", "3.results"]
    assert outside.read_bytes() == b"art"
    module.trim(tmp_path / "nothing there")


def test_folder_is_bounded_and_loses_what_is_oldest(tmp_path, monkeypatch):
    """Files are written one after another."""
    monkeypatch.setattr(module, "MOST", 1000)
    for rank in range(6):
        keep(tmp_path / f"{rank}.results", (b"a", random.Random(rank).randbytes(300)))
    module.trim(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["4.results", "5.results"]


def test_key_follows_function_code_and_all_that_is_given(monkeypatch):
    """Parts are kept apart; another version of the tool or of a library has other keys."""
    call = "pipeline.pixels.pieces.pieces:cover"
    keys = [key_of(call), key_of(call, b""), key_of(call, b"ab"), key_of(call, b"a", b"b"), key_of("pipeline.pixels.feet:feet", b"ab")]
    for name in ("code_digests", "library_versions"):
        module._code_of.cache_clear()
        with monkeypatch.context() as other:
            other.setattr(module, name, lambda call: {"other": "version"})
            keys.append(key_of(call, b"ab"))
    module._code_of.cache_clear()
    assert len(set(keys)) == len(keys)
    assert key_of(call, b"ab") == keys[2]
