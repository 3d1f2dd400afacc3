"""What a person sees stays as it was looked at; no outside source, since taste has none. Other tests say what must be right about it."""

from __future__ import annotations

import json

from tests.graph.looks import KNOWN, looks


def test_nothing_looks_other_than_it_was_looked_at(tmp_path):
    """If this is meant: look at what differs, then record it with ``python -m tests.graph.looks``."""
    known, found = json.loads(KNOWN.read_text(encoding="utf-8")), looks(tmp_path)
    assert {name for name in known | found if known.get(name) != found.get(name)} == set()
