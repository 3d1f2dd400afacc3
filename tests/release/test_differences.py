"""What changed, computed from a ledger's entry and what a build says of itself."""

from __future__ import annotations

import pipeline.project_file as pf
from pipeline.release.differences import ASSETS, differences, maybe_recoloured, tell_differences
from pipeline.release.told_changes import told_changes
from tests.test_project_ledger import release

OLD = {
    "ada": {"kind": "sprite", "bytes": 100, "sha256": "a"},
    "ben": {"kind": "sprite", "bytes": 100, "sha256": "b"},
    "bell": {"kind": "sound", "bytes": 4000, "sha256": "c"},
    "boot": {"kind": "screen", "bytes": 50, "sha256": "d"},
    "colours": {"kind": "palette", "bytes": 32, "sha256": "e"},
    "gone": {"kind": "data", "bytes": 7, "sha256": "f"},
}
NOW = {
    "ada": OLD["ada"],
    "ben": {"kind": "sprite", "bytes": 100, "sha256": "B"},
    "bell": {"kind": "sound", "bytes": 2000, "sha256": "c"},
    "boot": {"kind": "screen", "bytes": 60, "sha256": "D"},
    "colours": {"kind": "palette", "bytes": 32, "sha256": "E"},
    "fresh": {"kind": "data", "bytes": 9, "sha256": "g"},
}
WORDS = {version: [{"text": f"Of {version}.", "line": rank}] for rank, version in enumerate(("0.3.1", "0.10.0", "0.3.0", "0.2.0", "0.1.0"))}


def issue(name: str, status: str = "open", fixed_in: str | None = None) -> pf.Issue:
    return pf.Issue(id=name, severity="minor", where="w", what="x", status=status, fixed_in=fixed_in)


def found(issues=(), recoloured=("ada",)) -> dict:
    old = release("0.2.0", assets=OLD, budget={"play": 500, "menu": 20}, issues={"open": ["A-1", "A-2", "A-3"], "fixed": ["A-0"]})
    scenes = {"play": {"bytes": 450}, "race": {"bytes": 10}}
    return differences(old, {"used": 900}, scenes, NOW, list(issues), WORDS, "0.3.1", list(recoloured))


def test_assets_scenes_and_image():
    """Another size alone is a change; a boot notice, which always differs, is none."""
    changes = found()
    names = {key: [(one["name"], one["before"], one["now"]) for one in changes[key]] for key in ASSETS}
    assert names == {
        "added": [("fresh", None, 9)],
        "removed": [("gone", 7, None)],
        "changed": [("ben", 100, 100), ("bell", 4000, 2000), ("colours", 32, 32)],
        "recoloured": [("ada", 100, 100)],
    }
    assert changes["image"] == {"before": 1000, "now": 900}
    scenes = [(one["name"], one["before"], one["now"]) for one in changes["scenes"]]
    assert scenes == [("play", 500, 450), ("menu", 20, None), ("race", None, 10)]
    assert changes["since"] == {"version": "0.2.0", "phase": "alpha", "date": "2031-04-09", "build_code": "7K3Q0Z"}


def test_issues_by_what_became_of_them():
    """Fixed since, new, settled, and gone without a word; an issue that was fixed before is none of them."""
    issues = [
        issue("A-0", "fixed", "0.2.0"), issue("A-1", "fixed", "0.3.1"), issue("A-2", "by design"), issue("A-10"), issue("A-9"),
        issue("A-4", "fixed", "0.3.1"),
    ]  # fmt: skip
    changes = found(issues)
    assert {key: changes[key] for key in ("fixed", "new", "settled", "gone")} == {
        "fixed": ["A-1", "A-4"], "new": ["A-9", "A-10"], "settled": ["A-2"], "gone": ["A-3"],
    }  # fmt: skip


def test_words_are_those_of_every_version_since_newest_first():
    """Not of the release itself, nor of one that is still to come; by precedence, not by the file's order."""
    assert [one["text"] for one in found()["words"]] == ["Of 0.3.1.", "Of 0.3.0."]


def test_only_what_keeps_its_bytes_while_its_palette_changes_may_be_recoloured():
    """Changed, new and uncoloured assets are not asked again."""
    palettes = {"ada": "colours", "ben": "colours", "bell": None, "fresh": "colours"}
    assert maybe_recoloured(release(assets=OLD), NOW, palettes) == ["ada"]
    assert maybe_recoloured(release(assets=NOW), NOW, palettes) == []


def test_told_to_a_tester_and_to_a_person():
    """Sizes that would read the same are told in bytes; palettes are seen only in what they colour."""
    changes = found() | {"image": {"before": 204_800, "now": 204_801}}
    assert told_changes(changes)["changed"] == [
        {"name": "ben", "kind": "sprite", "before": "100 bytes", "now": "100 bytes"},
        {"name": "bell", "kind": "sound", "before": "3.9 KiB", "now": "2.0 KiB"},
    ]
    lines = tell_differences(changes).splitlines()
    assert lines[:2] == ["Since 0.2.0 of 2031-04-09, build 7K3Q0Z:", "  image      204,800 bytes before, 204,801 now (+1)"]
    assert "  removed    gone (data): 7 bytes" in lines
    assert "  recoloured ada (sprite): 100 bytes as before" in lines
    assert "  issues     no longer told: A-1, A-2, A-3" in lines
    assert lines[-2:] == ["  Of 0.3.1.", "  Of 0.3.0."]
