"""What comes of a build stays as it was looked at; no outside source, since taste has none. Other tests say what must be right about it."""

from __future__ import annotations

from tests.graph.looks import looks
from tests.recorded import differing


def test_nothing_looks_other_than_it_was_looked_at(tmp_path):
    """If this is meant: see ``tests.recorded``."""
    assert differing("every", looks(tmp_path)) == set()
