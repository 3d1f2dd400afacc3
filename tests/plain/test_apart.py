"""Parts of a fork's answer: as they were given, and only those that are wanted. POSIX: a process that was killed leaves no child."""

from __future__ import annotations

import itertools
import os
import sys
import time
from pathlib import Path

import pytest

from pipeline.plain.apart import Bounds, TooMuch, parts_apart


def test_parts_come_as_they_were_given():
    """Empty ones, small ones and one larger than a pipe holds, in order and not joined."""
    parts = [b"", b"a", b"", b"x" * 3_000_000, b"end"]
    assert list(parts_apart(lambda: parts, Bounds())) == parts


def _children() -> set[str]:
    """Return the processes that this one has started and not waited for; see proc(5)."""
    return {child for tasks in Path("/proc/self/task").glob("*/children") for child in tasks.read_text().split()}


def test_the_rest_is_not_waited_for():
    """An endless answer that is closed ends its process at once."""
    before = _children()
    parts = parts_apart(lambda: itertools.repeat(b"part"), Bounds())
    assert [next(parts), next(parts)] == [b"part", b"part"]
    parts.close()
    assert _children() == before


def test_a_part_that_is_cut_off_does_not_come():
    """A process that ends in the middle gives its whole parts, then what ended it."""

    def function():
        yield b"first"
        os._exit(9)

    parts = parts_apart(function, Bounds())
    assert next(parts) == b"first"
    with pytest.raises(TooMuch, match="status 9"):
        next(parts)


def test_more_than_may_come_back():
    """The sum of all parts counts."""
    with pytest.raises(TooMuch, match="gives more than 1 MiB"):
        list(parts_apart(lambda: itertools.repeat(b"x" * 1000), Bounds(bytes=1 << 20)))


def test_its_words_are_dropped(capfd):
    """Neither a library's words nor Python's reach standard error."""

    def function():
        os.write(2, b"of a library")
        print("of Python", file=sys.stderr, flush=True)
        yield b"said"

    assert list(parts_apart(function, Bounds())) == [b"said"]
    assert capfd.readouterr().err == ""


def test_longer_than_it_may_take():
    """Time on the clock counts, where nothing comes back and no processor time is used."""
    with pytest.raises(TooMuch, match="takes more than 0.3 seconds"):
        list(parts_apart(lambda: [b"late"][time.sleep(60) or 0 :], Bounds(wall_seconds=0.3)))
