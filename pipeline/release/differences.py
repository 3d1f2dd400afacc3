"""What changed between a release of the ledger and the current build: assets, sizes, controls, contents, issues, and the author's words.

``changes.json``:
- ``since``: ``version``, ``phase``, ``date``, ``build_code`` of the release compared with;
- ``image``: ``before`` and ``now``, bytes used of the image;
- ``scenes``: for each ``name``, ``before`` and ``now``, bytes of its worst case, null where it was not there;
- ``added``, ``removed``, ``changed``, ``recoloured`` (drawn as before, in colours that are seen to be others), ``renamed`` (the same bytes
  or the same art under another name): assets, each ``name``, ``was`` (its name before), ``kind``, ``before`` and ``now`` (bytes in the
  image, null where it was not there) and ``pictures``: ``before`` and ``now``, a PNG in base64, or null;
- ``unseen``: names of art that is drawn as before, in colours too near to those before to be seen (``proofs.seen``);
- ``timing``, ``anchors``: of sprites that are there as before; see ``assets_compared.moved_otherwise``;
- ``controls``: for each ``action``, ``before`` and ``now``: pad -> buttons, null where there was none;
- ``contents``: ``included`` and ``missing``, each ``added`` and ``removed``: the author's texts;
- ``fixed``, ``new``, ``again``, ``settled``, ``gone``: ids of issues fixed since, not known then, known then and open again,
  open then and settled otherwise since (each ``id`` and ``status``), open then and no longer listed at all;
- ``words``: ``text`` and ``line`` of every paragraph of ``changes.md`` about a version since.

What an early ledger does not say of a release is not compared. A boot notice shows the build code and so differs in every build: it is
never listed as changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from pipeline.packet.content.content import by_number
from pipeline.plain.versions import precedence
from pipeline.project.file import Contents, Control, Issue
from pipeline.project.ledger import Release, ReleasedAsset, ReleasedContents, ReleasedIssues
from pipeline.release.assets_compared import is_changed, moved_otherwise


class Said(NamedTuple):
    """What a project says to testers beside its art; ``pads``: name in the project file -> as testers know it."""

    issues: list[Issue]
    controls: list[Control]
    pads: dict[str, str]
    contents: Contents


def differences(
    release: Release,
    used: int,
    scenes: dict[str, int],
    assets: dict[str, ReleasedAsset],
    said: Said,
    words: dict[str, list[dict[str, Any]]],
    version: str,
    looks: dict[str, str],
    renamed: dict[str, str] | None = None,
    listed: frozenset[str] = frozenset(),
) -> dict[str, Any]:
    """Return what changed, without pictures; see above. What is recoloured may still turn out not to be seen.

    Args:
        release: of the ledger.
        used: bytes of the image up to the end of the last asset.
        scenes: bytes of each scene's worst case.
        assets: see ``assets_compared.assets_now``.
        words: version -> paragraphs, see ``project.words``.
        version: of the current build.
        looks: see ``compare_looks``. What looks as before and takes as many bytes has only been stored otherwise, and is not
            shown: the cells of a character move when another figure changes their pool or palette.
        renamed: see ``find_renamed``.
        listed: ids of the issues of all releases before that one, so that one which comes back is not called new.
    """
    old, renamed = release.assets, renamed or {}
    olds = {*renamed.values()}

    def both(name: str, was: str = "") -> dict[str, Any]:
        return _asset(name, assets[name].kind, old[was or name].bytes, assets[name].bytes, was)

    between = sorted((one for one in words if _between(release.version, one, version)), key=precedence, reverse=True)
    pairs = {name: (old[renamed.get(name, name)], one) for name, one in assets.items() if renamed.get(name, name) in old}
    return {
        "since": {"version": release.version, "phase": release.phase, "date": release.date, "build_code": release.build_code},
        "image": {"before": release.image.used, "now": used},
        "scenes": _scenes(release.budget, scenes),
        "added": [_asset(name, one.kind, None, one.bytes) for name, one in assets.items() if name not in old and name not in renamed],
        "removed": [_asset(name, one.kind, one.bytes, None) for name, one in old.items() if name not in assets and name not in olds],
        "changed": [both(name) for name, one in assets.items() if _is_listed(name, old, one, looks)],
        "recoloured": [both(name) for name, how in looks.items() if how == "recoloured"],
        "renamed": [both(name, was) for name, was in renamed.items()],
        "unseen": [],
        **moved_otherwise(pairs),
        "controls": _controls(release.controls, controls_of(said.controls, said.pads)),
        "contents": _contents(release.contents, contents_of(said.contents)),
        **_issues(release.issues, said.issues, release.version, version, listed),
        "words": [paragraph for one in between for paragraph in words[one]],
    }


def _between(old: str, version: str, now: str) -> bool:
    return precedence(old) < precedence(version) <= precedence(now)


def _scenes(before: dict[str, int], now: dict[str, int]) -> list[dict[str, Any]]:
    return [{"name": name, "before": before.get(name), "now": now.get(name)} for name in dict.fromkeys([*before, *now])]


def _is_listed(name: str, old: dict[str, ReleasedAsset], now: ReleasedAsset, looks: dict[str, str]) -> bool:
    if looks.get(name) == "alike":
        return old[name].bytes != now.bytes
    return looks[name] == "redrawn" if name in looks else is_changed(name, old, now)


def _asset(name: str, kind: str, before: int | None, now: int | None, was: str = "") -> dict[str, Any]:
    return {"name": name, "was": was, "kind": kind, "before": before, "now": now, "pictures": {"before": None, "now": None}}


def controls_of(controls: list[Control], pads: dict[str, str]) -> dict[str, dict[str, str]]:
    """Return action -> pad as testers know it -> its buttons, as the ledger keeps it; an action in several places is one."""
    found: dict[str, dict[str, str]] = {}
    for one in controls:
        known = {pads[pad]: buttons for pad, buttons in one.buttons.items() if pad in pads}
        found.setdefault(one.action, {}).update(known)
    return {action: dict(sorted(buttons.items())) for action, buttons in found.items()}


def _controls(before: dict[str, dict[str, str]] | None, now: dict[str, dict[str, str]]) -> list[dict[str, Any]]:
    if before is None:
        return []
    actions = [action for action in dict.fromkeys([*before, *now]) if before.get(action) != now.get(action)]
    return [{"action": action, "before": before.get(action), "now": now.get(action)} for action in actions]


def contents_of(contents: Contents) -> ReleasedContents:
    """Return what the ledger keeps of the lists of what is in a build and what is not."""
    return ReleasedContents(included=[*contents.included], missing=[*contents.missing])


def _contents(before: ReleasedContents | None, now: ReleasedContents) -> dict[str, dict[str, list[str]]]:
    old = before or now
    lists = {"included": (old.included, now.included), "missing": (old.missing, now.missing)}
    return {
        key: {"added": [text for text in new if text not in known], "removed": [text for text in known if text not in new]}
        for key, (known, new) in lists.items()
    }


def _issues(before: ReleasedIssues, issues: list[Issue], old: str, now: str, listed: frozenset[str]) -> dict[str, list]:
    status = {issue.id: issue.status for issue in issues}
    known, still = listed | {*before.open, *before.fixed}, before.open
    settled = _sorted(name for name in still if status.get(name) in ("cannot reproduce", "by design"))
    return {
        "fixed": _sorted(issue.id for issue in issues if issue.fixed_in and _fixed_since(issue.id, issue.fixed_in, still, old, now)),
        "new": _sorted(name for name, state in status.items() if state == "open" and name not in known),
        "again": _sorted(name for name, state in status.items() if state == "open" and name in known - {*still}),
        "settled": [{"id": name, "status": status[name]} for name in settled],
        "gone": _sorted(name for name in still if name not in status),
    }


def _fixed_since(name: str, fixed_in: str, still: list[str], old: str, now: str) -> bool:
    """Say whether testers do not know it; an issue that a release listed as open, although it was fixed before, is news too."""
    return _between(old, fixed_in, now) or name in still and precedence(fixed_in) <= precedence(old)


def _sorted(ids: Iterable[str]) -> list[str]:
    return sorted(ids, key=by_number)
