"""Results as they were last looked at, in ``tests/recorded``: a test that compares with them finds a change that nobody meant.

Where nothing outside can say what is right, such as a layout or a choice between good answers, this is what a test has. A change that
is meant: look at what differs, then run the test with ``ROMWRIGHT_RECORD=yes``, which writes it down. Common practice, no source.
"""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

FOLDER = Path(__file__).with_name("recorded")


def hash_of(*parts: bytes) -> str:
    """Return a short hash of what parts hold together."""
    return hashlib.sha256(b"".join(parts)).hexdigest()[:16]


def differing(record: str, found: dict[str, str], known_only: bool = False) -> set[str]:
    """Return the names under which something else is recorded, or nothing on one side; record what was found if that is asked for.

    Args:
        record: what it is of; with hyphens the name of a file of ``tests/recorded``.
        found: name -> text or hash.
        known_only: leave out names that are on one side alone, as where a name holds the hash of an input that a library packs.
    """
    path = FOLDER / f"{record.replace(', ', '-').replace(' ', '-')}.json"
    if os.environ.get("ROMWRIGHT_RECORD") == "yes":
        path.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    known = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    names = known.keys() & found.keys() if known_only else known.keys() | found.keys()
    return {name for name in names if known.get(name) != found.get(name)}
