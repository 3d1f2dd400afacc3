"""Issues, and what changed since the last release, as the report shows them."""

from __future__ import annotations

import base64
from typing import Any

from pipeline.joints.map import ASSETS
from pipeline.packet.content.changes_text import show_settled, without_sizes
from pipeline.plain.sizes import show_size
from pipeline.project.file import SEVERITIES, Issue
from pipeline.project.issues import open_issues, to_retest

_ISSUES = (
    ("fixed", "Issues fixed since, to be tested again"),
    ("new", "Issues not known then"),
    ("again", "Known earlier, and open again"),
    ("settled", "Open then, settled since"),
    ("gone", "Open then, no longer listed"),
)


def png_shown(data: bytes) -> dict[str, Any]:
    """Return a PNG file as text for a page, with its size: width and height follow the signature and a chunk's head."""
    from pipeline.plain.template_language import AsItIs

    width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    return {"uri": AsItIs(f"data:image/png;base64,{base64.b64encode(data).decode()}"), "width": width, "height": height}


def changes_shown(changes: dict[str, Any] | None) -> dict[str, Any] | None:
    """Return the content of ``changes.json`` as rows and pairs of pictures, or None where there is nothing to compare with."""
    if changes is None:
        return None
    assets = [(one, how) for how in ASSETS for one in changes[how]]
    rows = [_row("image, used", "", changes["image"])]
    rows += [_row(f"scene {one['name']}, at worst", "", one) for one in changes["scenes"]]
    rows += [_row(one["name"], f"{one['kind']}, {how}{' from ' + one['was'] if one['was'] else ''}", one) for one, how in assets]
    pictures = [_pair(one, how) for one, how in assets if any(one["pictures"].values())]
    issues = [(words, show_settled(changes) if key == "settled" else changes[key]) for key, words in _ISSUES]
    more = without_sizes(changes)
    return {"since": changes["since"], "words": changes["words"], "rows": rows, "more": more, "pictures": pictures, "issues": issues}


def _row(name: str, how: str, sizes: dict[str, int | None]) -> dict[str, Any]:
    before, now = sizes["before"], sizes["now"]
    more = "" if before is None or now is None else f"{now - before:+,}" if now != before else "0"
    return {"name": name, "how": how, "sizes": ["–" if count is None else show_size(count) for count in (before, now)] + [more]}


def _pair(one: dict[str, Any], how: str) -> dict[str, Any]:
    both = {key: png_shown(base64.b64decode(png)) if png else None for key, png in one["pictures"].items()}
    return {"name": one["name"], "kind": one["kind"], "how": how, **both}


def issue_tables(issues: list[Issue], version: str) -> dict[str, list[dict[str, str]]]:
    """Return the issues by what becomes of them: issues (open), retest (fixed in this version), settled (all others)."""
    still, again = open_issues(issues), to_retest(issues, version)
    rest = [issue for issue in issues if issue not in still and issue not in again]
    return {"issues": _table(still), "retest": _table(again), "settled": _table(rest)}


def _table(issues: list[Issue]) -> list[dict[str, str]]:
    rows = sorted(issues, key=lambda issue: (SEVERITIES.index(issue.severity), issue.id))
    return [_issue_row(issue) for issue in rows]


def _issue_row(issue: Issue) -> dict[str, str]:
    status = f"fixed in {issue.fixed_in}" if issue.fixed_in else issue.status
    texts = {key: getattr(issue, key) for key in ("id", "title", "severity", "where", "what")}
    return {**texts, "since": issue.since or "", "status": status}
