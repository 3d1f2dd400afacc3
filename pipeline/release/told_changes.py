"""What a tester is told of the changes since the last release, as plain values."""

from __future__ import annotations

from typing import Any

from pipeline.sizes import ENGLISH, Numbers

_KEYS = ("added", "removed", "changed", "recoloured")
_UNSEEN = ("palette", "pool")  # a tester sees them only in the pictures that use them, which are told


def told_changes(changes: dict[str, Any], numbers: Numbers = ENGLISH) -> dict[str, Any]:
    """Return the changes for packet, notes and report.

    Args:
        changes: content of ``changes.json``; see ``release.differences``.
        numbers: how sizes are written.

    Returns:
        since, date, build: of the release compared with; words: texts; image: before and now, as sizes; added, removed,
        changed, recoloured: for each asset name, kind, before and now, as sizes or empty, and pictures, as ``changes.json`` has
        them; fixed, new, again: ids.
    """
    since = changes["since"]
    return {
        "since": since["version"],
        "date": since["date"],
        "build": since["build_code"],
        "words": [one["text"] for one in changes["words"]],
        "image": {key: numbers.size(changes["image"][key]) for key in ("before", "now")},
        **{key: [_asset(one, numbers) for one in changes[key] if one["kind"] not in _UNSEEN] for key in _KEYS},
        "fixed": changes["fixed"],
        "new": changes["new"],
        "again": changes["again"],
    }


def _asset(one: dict[str, Any], numbers: Numbers) -> dict[str, Any]:
    before, now = (numbers.size(one[key]) if one[key] is not None else "" for key in ("before", "now"))
    if before == now and one["before"] != one["now"]:
        before, now = (numbers.exact(one[key]) for key in ("before", "now"))
    return {"name": one["name"], "kind": one["kind"], "before": before, "now": now, "pictures": one["pictures"]}
