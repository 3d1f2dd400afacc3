"""The page that is served: the report as it is on the disk, with what refreshes it and says how the build is doing."""

from __future__ import annotations

import html
import os
import re
from pathlib import Path

from pipeline.plain.shipped import TEMPLATES
from pipeline.watching.known import BUILDING, FAILED, GOOD, WAITING, State

_EMPTY = """<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><title>No report yet</title></head>
<body><main><h1>No report yet</h1><p>It is shown here after the first good build.</p></main></body>
</html>
"""
_WORDS = {
    BUILDING: "Building …",
    WAITING: "Another build of this project is running. This one waits for it.",
    FAILED: "The build failed. The page shows the last report that was made.",
    GOOD: "Up to date.",
}


# The answer has a policy of its own, which allows the page's script by the nonce of this answer.
_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>\n?')
_SCRIPT = '<script id="live">'


def name_of(report: Path) -> str:
    """Return a name for the report on the disk, which another report has not; empty where there is none."""
    try:
        known = report.stat()
    except OSError:
        return ""
    return _name(known)


def _name(known: os.stat_result) -> str:
    return f"{known.st_ino}-{known.st_mtime_ns}-{known.st_size}"


def show_state(state: State) -> str:
    """Return what is said of a build in a line."""
    before = " The text below is about the build before." if state.said and state.build in (BUILDING, WAITING) else ""
    return _WORDS[state.build] + before


def make_page(report: Path, state: State, nonce: str) -> bytes:
    """Return the page as UTF-8: the report, or a page without one, with the state and the script.

    Args:
        nonce: of this answer; the browser runs only a script that has it.
    """
    try:
        with report.open("rb") as file:
            name, text = _name(os.fstat(file.fileno())), file.read().decode("utf-8", "replace")
    except OSError:
        name, text = "", _EMPTY
    head, _, rest = text.partition("</head>")
    body, _, tail = rest.rpartition("</body>")
    head, body = _POLICY.sub("", head, count=1), body.replace(_SCRIPT, f'<script id="live" nonce="{nonce}">', 1)
    look = _shipped("watch.css")
    data = f'data-build="{state.build}" data-report="{name}" data-said="{"yes" if state.said else ""}"'
    said = f"<pre{'' if state.said else ' hidden'}>{html.escape(state.said)}</pre>"
    panel = f'<aside id="watch" {data} aria-live="polite" aria-label="The build"><p>{show_state(state)}</p>{said}</aside>\n'
    script = f'<script nonce="{nonce}">\n{_shipped("watch.js")}</script>\n'
    icon = '<link rel="icon" href="data:,">'
    return f"{head}{icon}<style>\n{look}</style></head>{body}{panel}{script}</body>{tail}".encode()


def _shipped(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")
