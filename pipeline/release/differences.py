"""What changed between a release of the ledger and the current build: assets, sizes, issues, and the author's words.

``changes.json``:
- ``since``: ``version``, ``phase``, ``date``, ``build_code`` of the release compared with;
- ``image``: ``before`` and ``now``, bytes used of the image;
- ``scenes``: for each ``name``, ``before`` and ``now``, bytes of its worst case, null where it was not there;
- ``added``, ``removed``, ``changed``, ``recoloured`` (drawn as before, in other colours): assets, each ``name``, ``kind``,
  ``before`` and ``now`` (bytes in the image, null where it was not there) and ``pictures``: ``before`` and ``now``, a PNG in
  base64, or null;
- ``fixed``, ``new``, ``again``, ``settled``, ``gone``: ids of issues fixed since, not known then, known then and open again,
  open then and settled otherwise since, open then and no longer listed at all;
- ``words``: ``text`` and ``line`` of every paragraph of ``changes.md`` about a version since.

A boot notice shows the build code and so differs in every build: it is never listed as changed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.facts import Facts, read_facts
from pipeline.joints.map import ASSETS, MapEntry
from pipeline.packet.content.content import by_number
from pipeline.plain.sizes import show_size
from pipeline.plain.versions import precedence
from pipeline.project.file import Issue
from pipeline.project.ledger import Release, ReleasedAsset, ReleasedIssues
from pipeline.target.kinds import KINDS

_DRAWN = ("frames", "width", "height", "anchor", "animations")  # facts of art that do not hang on its palette


def assets_now(facts: dict[str, Path], entries: list[MapEntry], scaled: dict[str, Path]) -> dict[str, ReleasedAsset]:
    """Return every asset by name as the ledger keeps it, without a picture.

    Args:
        facts: of every asset, by name.
        entries: of ``map.json``.
        scaled: art -> file of its scaled pixels before the palette.
    """
    found = {}
    for one in entries:
        known = read_facts(facts[one.name])
        drawn = _drawn(scaled[one.name], known) if one.name in scaled else ""
        found[one.name] = ReleasedAsset(kind=one.kind, bytes=one.bytes, sha256=known.sha256, drawn=drawn)
    return found


def _drawn(scaled: Path, facts: Facts) -> str:
    """Return the SHA-256 of what was drawn: it stays while the palette changes."""
    drawn = hashlib.sha256(scaled.read_bytes())
    drawn.update(json.dumps([msgspec.to_builtins(getattr(facts, key, None)) for key in _DRAWN]).encode())
    return drawn.hexdigest()


def differences(
    release: Release,
    used: int,
    scenes: dict[str, int],
    assets: dict[str, ReleasedAsset],
    issues: list[Issue],
    words: dict[str, list[dict[str, Any]]],
    version: str,
    looks: dict[str, str],
    listed: frozenset[str] = frozenset(),
) -> dict[str, Any]:
    """Return what changed, without pictures; see above.

    Args:
        release: of the ledger.
        used: bytes of the image up to the end of the last asset.
        scenes: bytes of each scene's worst case.
        assets: see ``assets_now``.
        words: version -> paragraphs, see ``project.words``.
        version: of the current build.
        looks: see ``compare_looks``. What looks as before and takes as many bytes has only been stored otherwise, and is not
            shown: the cells of a character move when another figure changes their pool or palette.
        listed: ids of the issues of all releases before that one, so that one which comes back is not called new.
    """
    old = release.assets

    def both(name: str) -> dict[str, Any]:
        return _asset(name, assets[name].kind, old[name].bytes, assets[name].bytes)

    between = sorted((one for one in words if _between(release.version, one, version)), key=precedence, reverse=True)
    return {
        "since": {"version": release.version, "phase": release.phase, "date": release.date, "build_code": release.build_code},
        "image": {"before": release.image.used, "now": used},
        "scenes": _scenes(release.budget, scenes),
        "added": [_asset(name, one.kind, None, one.bytes) for name, one in assets.items() if name not in old],
        "removed": [_asset(name, one.kind, one.bytes, None) for name, one in old.items() if name not in assets],
        "changed": [both(name) for name, one in assets.items() if _is_listed(name, old, one, looks)],
        "recoloured": [both(name) for name, how in looks.items() if how == "recoloured"],
        **_issues(release.issues, issues, release.version, version, listed),
        "words": [paragraph for one in between for paragraph in words[one]],
    }


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
        if _changed(name, old, now) or palette in assets and _changed(palette, old, assets[palette]):
            as_drawn = before.drawn == now.drawn
            found[name] = "redrawn" if not as_drawn else "alike" if before.look == look(name) else "recoloured"
    return found


def _between(old: str, version: str, now: str) -> bool:
    return precedence(old) < precedence(version) <= precedence(now)


def _scenes(before: dict[str, int], now: dict[str, int]) -> list[dict[str, Any]]:
    return [{"name": name, "before": before.get(name), "now": now.get(name)} for name in dict.fromkeys([*before, *now])]


def _changed(name: str, old: dict[str, ReleasedAsset], now: ReleasedAsset) -> bool:
    return name in old and not KINDS[now.kind].shows_code and _stored(old[name]) != _stored(now)


def _stored(one: ReleasedAsset) -> tuple[str, int, str]:
    return one.kind, one.bytes, one.sha256


def _is_listed(name: str, old: dict[str, ReleasedAsset], now: ReleasedAsset, looks: dict[str, str]) -> bool:
    if looks.get(name) == "alike":
        return old[name].bytes != now.bytes
    return looks[name] == "redrawn" if name in looks else _changed(name, old, now)


def _asset(name: str, kind: str, before: int | None, now: int | None) -> dict[str, Any]:
    return {"name": name, "kind": kind, "before": before, "now": now, "pictures": {"before": None, "now": None}}


def _issues(before: ReleasedIssues, issues: list[Issue], old: str, now: str, listed: frozenset[str]) -> dict[str, list[str]]:
    status = {issue.id: issue.status for issue in issues}
    known, still = listed | {*before.open, *before.fixed}, before.open
    return {
        "fixed": _sorted(issue.id for issue in issues if issue.fixed_in and _fixed_since(issue.id, issue.fixed_in, still, old, now)),
        "new": _sorted(name for name, state in status.items() if state == "open" and name not in known),
        "again": _sorted(name for name, state in status.items() if state == "open" and name in known - {*still}),
        "settled": _sorted(name for name in still if status.get(name) in ("cannot reproduce", "by design")),
        "gone": _sorted(name for name in still if name not in status),
    }


def _fixed_since(name: str, fixed_in: str, still: list[str], old: str, now: str) -> bool:
    """Say whether testers do not know it; an issue that a release listed as open, although it was fixed before, is news too."""
    return _between(old, fixed_in, now) or name in still and precedence(fixed_in) <= precedence(old)


def _sorted(ids: Iterable[str]) -> list[str]:
    return sorted(ids, key=by_number)


def show_differences(changes: dict[str, Any]) -> str:
    """Return what changed as lines for a person."""
    since, image = changes["since"], changes["image"]
    of = f" of {since['date']}" if since["date"] else ""
    lines = [f"Since {since['version']}{of}, build {since['build_code']}:", f"  image      {_sizes(image['before'], image['now'])}"]
    lines += [f"  scene      {scene['name']}: {_sizes(scene['before'], scene['now'])}" for scene in changes["scenes"]]
    for word in ASSETS:
        lines += [f"  {word:<10} {one['name']} ({one['kind']}): {_sizes(one['before'], one['now'])}" for one in changes[word]]
    if not any(changes[word] for word in ASSETS):
        lines.append("  No asset was added, removed or changed.")
    words = {"fixed": "fixed", "new": "new", "again": "open again", "settled": "settled", "gone": "no longer listed"}
    lines += [f"  issues     {word}: {', '.join(changes[key])}" for key, word in words.items() if changes[key]]
    return "\n".join(lines + [f"  {one['text']}" for one in changes["words"]])


def _sizes(before: int | None, now: int | None) -> str:
    if before is None or now is None:
        return show_size(before or now or 0)  # an asset or scene is there at least once
    return f"{show_size(now)} as before" if before == now else f"{before:,} bytes before, {now:,} now ({now - before:+,})"
