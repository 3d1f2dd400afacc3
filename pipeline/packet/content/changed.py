"""What changed since a release, as the lines of packet and notes: one reading of ``changes_content`` for both."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.joints.map import ASSETS
from pipeline.packet.content.content import clean
from pipeline.packet.content.filled import Wording

_LISTS = tuple((key, part) for key in ("included", "missing") for part in ("added", "removed"))


def changed_lines(changes: dict[str, Any], wording: Wording) -> list[tuple[str, str]]:
    """Return lines of a label and a text, assets first.

    Args:
        changes: see ``content.changes_content``.
    """
    lines = [*_assets(changes, wording), *_moved(changes, wording), *_told(changes, wording), *_issues(changes, wording)]
    return [(wording.text(f"changes.{key}"), text) for key, text in lines if text]


def _assets(changes: dict[str, Any], wording: Wording) -> Iterator[tuple[str, str]]:
    for key in ASSETS:
        yield key, ", ".join(_asset(one, wording) for one in changes[key])
    if not any(changes[key] for key in ASSETS):
        yield "changed", wording.text("changes.none")


def _asset(one: dict[str, str], wording: Wording) -> str:
    return wording.text("changes.was", name=one["name"], was=one["was"]) if one["was"] else one["name"]


def _moved(changes: dict[str, Any], wording: Wording) -> Iterator[tuple[str, str]]:
    moves = (
        wording.text("changes.moves", name=sprite["name"], animation=one["name"], **_lasting(one))
        for sprite in changes["timing"]
        for one in sprite["animations"]
    )
    yield "timing", "; ".join(moves)
    yield "anchors", ", ".join(one["name"] for one in changes["anchors"])


def _lasting(one: dict[str, Any]) -> dict[str, str]:
    """Return how long an animation lasts before and now, empty where it is not there."""
    return {key: "" if one[key] is None else str(one[key]) for key in ("before", "now")}


def _told(changes: dict[str, Any], wording: Wording) -> Iterator[tuple[str, str]]:
    controls = (
        wording.text("changes.control", action=clean(one["action"]), before=_buttons(one["before"]), now=_buttons(one["now"]))
        for one in changes["controls"]
    )
    yield "controls", "; ".join(controls)
    for key, part in _LISTS:
        yield f"{key}_{part}", "; ".join(clean(text) for text in changes["contents"][key][part])


def _buttons(buttons: dict[str, str] | None) -> str:
    return ", ".join(f"{clean(pad)} {clean(pressed)}" for pad, pressed in (buttons or {}).items())


def _issues(changes: dict[str, Any], wording: Wording) -> Iterator[tuple[str, str]]:
    if changes["fixed"]:
        yield "fixed", wording.text("changes.fixed_names", names=", ".join(changes["fixed"]))
    for key in ("new", "again"):
        yield key, ", ".join(changes[key])
    for key, status in (("by_design", "by design"), ("not_seen", "cannot reproduce")):
        yield key, ", ".join(one["id"] for one in changes["settled"] if one["status"] == status)
