"""Assets of a release and of the current build: which look otherwise, move otherwise, or have only another name."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.facts import Animation, Facts, SpriteFacts, read_facts
from pipeline.joints.map import MapEntry
from pipeline.project.ledger import Release, ReleasedAnimation, ReleasedAsset
from pipeline.target.kinds import KINDS

_DRAWN = ("frames", "width", "height", "anchor", "animations")  # facts of art that do not hang on its palette
_SUM = 16  # hexadecimal digits of the sum of an animation


def assets_now(facts: dict[str, Path], entries: list[MapEntry], scaled: dict[str, Path], refresh: float) -> dict[str, ReleasedAsset]:
    """Return every asset by name as the ledger keeps it, without a picture.

    Args:
        facts: of every asset, by name.
        entries: of ``map.json``.
        scaled: art -> file of its scaled pixels before the palette.
        refresh: pictures a second.
    """
    found = {}
    for one in entries:
        known = read_facts(facts[one.name])
        drawn = _drawn(scaled[one.name], known) if one.name in scaled else ""
        moves: dict[str, Any] = {}
        if isinstance(known, SpriteFacts):
            moves = {"anchor": known.anchor, "timing": {part.name: _timing(part, refresh) for part in known.animations}}
        found[one.name] = ReleasedAsset(kind=one.kind, bytes=one.bytes, sha256=known.sha256, drawn=drawn, **moves)
    return found


def _drawn(scaled: Path, facts: Facts) -> str:
    """Return the SHA-256 of what was drawn: it stays while the palette changes."""
    drawn = hashlib.sha256(scaled.read_bytes())
    drawn.update(json.dumps([msgspec.to_builtins(getattr(facts, key, None)) for key in _DRAWN]).encode())
    return drawn.hexdigest()


def _timing(one: Animation, refresh: float) -> ReleasedAnimation:
    pictures = sum(count for _, count in one.steps)
    said = json.dumps([one.loop, one.steps]).encode()
    ms = round(1000 * pictures / Fraction(refresh))
    return ReleasedAnimation(frames=len(one.steps), ms=ms, sum=hashlib.sha256(said).hexdigest()[:_SUM])


def compare_looks(
    release: Release, assets: dict[str, ReleasedAsset], palettes: dict[str, str | None], look: Callable[[str], str]
) -> dict[str, str]:
    """Return how art is seen whose bytes or palette changed: "alike", "recoloured" (drawn as before) or "redrawn".

    A drawing is its timing and anchor too: what looks as before and moves otherwise is redrawn. What is of another kind now, or
    of which an old ledger does not say how it was drawn or looked, is left to its bytes.

    Args:
        assets: see ``assets_now``.
        palettes: asset -> its palette, or None.
        look: returns the SHA-256 of an asset's pixels as they are shown; asked only where something changed.
    """
    old, found = release.assets, {}
    for name, palette in palettes.items():
        before, now = old.get(name), assets[name]
        if before is None or not (before.look and before.drawn and now.drawn and before.kind == now.kind):
            continue
        if is_changed(name, old, now) or palette in assets and is_changed(palette, old, assets[palette]):
            as_drawn = before.drawn == now.drawn
            found[name] = "redrawn" if not as_drawn else "alike" if before.look == look(name) else "recoloured"
    return found


def is_changed(name: str, old: dict[str, ReleasedAsset], now: ReleasedAsset) -> bool:
    """Say whether an asset was in a release and is stored in other bytes now; a boot notice, which shows the code, never counts."""
    return name in old and not KINDS[now.kind].shows_code and _stored(old[name]) != _stored(now)


def _stored(one: ReleasedAsset) -> tuple[str, int, str]:
    return one.kind, one.bytes, one.sha256


def find_renamed(old: dict[str, ReleasedAsset], now: dict[str, ReleasedAsset], look: Callable[[str], str]) -> dict[str, str]:
    """Return new name -> old name of assets that only have another name: of the same kind, with the same unpacked bytes, or of art
    that is drawn and looks the same. An empty asset is never recognised.

    Args:
        look: as in ``compare_looks``.
    """
    gone, found = {name: one for name, one in old.items() if name not in now}, {}
    for same in (_same_bytes, _same_art):
        for name, one in now.items():
            if name in old or name in found or not one.bytes:
                continue
            was = next((other for other, before in gone.items() if before.kind == one.kind and same(before, one, name, look)), None)
            if was is not None:
                found[name] = was
                del gone[was]
    return found


def _same_bytes(before: ReleasedAsset, now: ReleasedAsset, name: str, look: Callable[[str], str]) -> bool:
    return before.sha256 == now.sha256


def _same_art(before: ReleasedAsset, now: ReleasedAsset, name: str, look: Callable[[str], str]) -> bool:
    return bool(before.drawn and before.look) and before.drawn == now.drawn and before.look == look(name)


def moved_otherwise(pairs: dict[str, tuple[ReleasedAsset, ReleasedAsset]]) -> dict[str, list[dict[str, Any]]]:
    """Return what is known to have changed of how sprites move, and of the places of their anchors.

    Args:
        pairs: name now -> the asset before and now.

    Returns:
        ``timing``: for each sprite ``name`` and ``animations``, each ``name``, ``before`` and ``now``: milliseconds, None where it was not
        there; the same where only frames or their pauses are other ones. ``anchors``: for each ``name``, ``before`` and ``now``.
    """
    timing, anchors = [], []
    for name, (before, now) in pairs.items():
        if before.anchor is None or now.anchor is None:  # an early ledger does not say
            continue
        if before.anchor != now.anchor:
            anchors.append({"name": name, "before": [*before.anchor], "now": [*now.anchor]})
        parts = [part for part in dict.fromkeys([*before.timing, *now.timing]) if before.timing.get(part) != now.timing.get(part)]
        if parts:
            timing.append({"name": name, "animations": [_animation(part, before, now) for part in parts]})
    return {"timing": timing, "anchors": anchors}


def _animation(name: str, before: ReleasedAsset, now: ReleasedAsset) -> dict[str, Any]:
    both = {"before": before.timing.get(name), "now": now.timing.get(name)}
    return {"name": name, **{key: one.ms if one else None for key, one in both.items()}}
