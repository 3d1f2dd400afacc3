"""What changed, computed from a ledger's entry and what a build says of itself."""

from __future__ import annotations

from msgspec import convert

import pipeline.project.file as pf
from pipeline.joints.facts import Animation, SpriteFacts, StoredFrames, write_facts
from pipeline.joints.map import ASSETS
from pipeline.joints.places import facts_file
from pipeline.packet.content.content import changes_content
from pipeline.project.ledger import ReleasedAsset
from pipeline.release.differences import assets_now, compare_looks, differences, show_differences
from tests.made_facts import made_facts
from tests.makers import map_entry
from tests.project.test_ledger import kept

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
NONE = {"before": None, "now": None}  # pictures are added to what is compared
WORDS = {version: [{"text": f"Of {version}.", "line": rank}] for rank, version in enumerate(("0.3.1", "0.10.0", "0.3.0", "0.2.0", "0.1.0"))}


def _assets(values: dict[str, dict]) -> dict[str, ReleasedAsset]:
    return convert(values, dict[str, ReleasedAsset])


def issue(name: str, status: str = "open", fixed_in: str | None = None) -> pf.Issue:
    return pf.Issue(id=name, severity="minor", where="w", what="x", status=status, fixed_in=fixed_in)


def found(issues=(), looks=None, listed=frozenset()) -> dict:
    old = kept("0.2.0", assets=OLD, budget={"play": 500, "menu": 20}, issues={"open": ["A-1", "A-2", "A-3"], "fixed": ["A-0"]})
    scenes = {"play": 450, "race": 10}
    looks = {"ada": "recoloured"} if looks is None else looks
    return differences(old, 900, scenes, _assets(NOW), list(issues), WORDS, "0.3.1", looks, listed)


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
    """Fixed since, new, settled, and gone without a word; an issue that was fixed before is not one of them."""
    issues = [
        issue("A-0", "fixed", "0.2.0"), issue("A-1", "fixed", "0.3.1"), issue("A-2", "by design"), issue("A-10"), issue("A-9"),
        issue("A-4", "fixed", "0.3.1"),
    ]  # fmt: skip
    changes = found(issues)
    assert {key: changes[key] for key in ("fixed", "new", "settled", "gone")} == {
        "fixed": ["A-1", "A-4"], "new": ["A-9", "A-10"], "settled": ["A-2"], "gone": ["A-3"],
    }  # fmt: skip


def test_an_issue_that_comes_back_is_open_again_and_not_new():
    """Fixed in the release before (A-0), or only in one long before (A-7), which the ledger remembers."""
    issues = [issue("A-0"), issue("A-1"), issue("A-7"), issue("A-8")]
    changes = found(issues, listed=frozenset({"A-7", "A-1"}))
    assert (changes["again"], changes["new"]) == (["A-0", "A-7"], ["A-8"])
    assert "  issues     open again: A-0, A-7" in show_differences(changes)
    assert changes_content(changes)["again"] == ["A-0", "A-7"]


def test_words_are_those_of_every_version_since_newest_first():
    """Not of the release itself, nor of one that is still to come; by precedence, not by the file's order."""
    assert [one["text"] for one in found()["words"]] == ["Of 0.3.1.", "Of 0.3.0."]


def test_what_only_is_stored_otherwise_is_not_a_change():
    """The same drawing, looking the same, in as many bytes; in fewer it is listed for its size; a redrawn one with the same indices is."""
    names = {key: [one["name"] for one in found(looks={"ada": "redrawn", "ben": "alike", "bell": "alike"})[key]] for key in ASSETS}
    assert names["changed"] == ["ada", "bell", "colours"]
    assert names["recoloured"] == []
    assert [one["name"] for one in found(looks={"ben": "recoloured"})["recoloured"]] == ["ben"]


def test_looks_are_compared_where_bytes_or_palette_changed():
    """New art is a change anyway; what did not change, nor its palette, is not looked at."""
    asked = []

    def look(name: str) -> str:
        asked.append(name)
        return "same"

    drawn = {"drawn": "1", "look": "same"}
    old = OLD | {"ada": OLD["ada"] | drawn, "ben": OLD["ben"] | drawn, "cat": OLD["ada"] | drawn}
    old |= {"dan": OLD["ada"] | drawn | {"look": "x"}, "eve": OLD["ben"] | drawn | {"kind": "background"}}
    now = NOW | {"ada": NOW["ada"] | {"drawn": "1"}, "ben": NOW["ben"] | {"drawn": "2"}, "cat": OLD["ada"] | {"drawn": "1"}}
    now |= {"dan": NOW["ada"] | {"drawn": "1"}, "eve": NOW["ben"] | {"drawn": "2"}, "fresh": NOW["fresh"] | {"drawn": "1"}}
    palettes = {"ada": "colours", "ben": "colours", "cat": None, "dan": "colours", "eve": None, "fresh": "colours"}
    looks = compare_looks(kept(assets=old), _assets(now), palettes, look)
    assert looks == {"ada": "alike", "ben": "redrawn", "dan": "recoloured"}
    assert asked == ["ada", "dan"]
    # Listed: ben, who looks as before in other timing or from another anchor, and eve, who is of another kind.
    changes = differences(kept("0.2.0", assets=old), 9, {}, _assets(now), [], {}, "0.3.1", looks)
    assert [one["name"] for one in changes["changed"]] == ["ben", "bell", "colours", "eve"]


def test_fixed_before_a_release_that_listed_it_as_open():
    """The release said open; said now to have been fixed in it, or before it, it is listed as fixed, and not lost between two lists."""
    issues = [issue("A-1", "fixed", "0.2.0"), issue("A-2", "fixed", "0.1.0"), issue("A-3")]
    changes = found(issues)
    assert {key: changes[key] for key in ("fixed", "new", "settled", "gone")} == {
        "fixed": ["A-1", "A-2"], "new": [], "settled": [], "gone": [],
    }  # fmt: skip


def test_a_drawing_is_its_pixels_and_timing(tmp_path):
    """Not its colours' places, nor how it is stored."""
    entries = [map_entry("ada", kind="sprite", bytes=5)]

    def drawn(pixels: bytes, **facts) -> str:
        (tmp_path / "ada.rgba").write_bytes(pixels)
        write_facts(facts_file(tmp_path, "ada"), made_facts(SpriteFacts, "ada", **{"frames": 2, "animations": [walk(8)]} | facts))
        return assets_now({"ada": facts_file(tmp_path, "ada")}, entries, {"ada": tmp_path / "ada.rgba"})["ada"].drawn

    def walk(ticks: int) -> Animation:
        return Animation(name="walk", loop=True, steps=[(0, ticks)])

    one = drawn(b"1234")
    assert drawn(b"1234", sha256="b" * 64, stored=StoredFrames(stored_frames=1, stored_cells=9)) == one
    assert len({one, drawn(b"1235"), drawn(b"1234", animations=[walk(9)]), drawn(b"1234", anchor=(1, 0))}) == 4


def test_words_for_a_tester_and_for_a_person():
    """Sizes that would read the same are shown in bytes; palettes are seen only in what they colour."""
    changes = found() | {"image": {"before": 204_800, "now": 204_801}}
    assert changes_content(changes)["changed"] == [
        {"name": "ben", "kind": "sprite", "before": "100 bytes", "now": "100 bytes", "pictures": NONE},
        {"name": "bell", "kind": "sound", "before": "3.9 KiB", "now": "2.0 KiB", "pictures": NONE},
    ]
    lines = show_differences(changes).splitlines()
    assert lines[:2] == ["Since 0.2.0 of 2031-04-09, build 7K3Q0Z:", "  image      204,800 bytes before, 204,801 now (+1)"]
    assert "  removed    gone (data): 7 bytes" in lines
    assert "  recoloured ada (sprite): 100 bytes as before" in lines
    assert "  issues     no longer listed: A-1, A-2, A-3" in lines
    assert lines[-2:] == ["  Of 0.3.1.", "  Of 0.3.0."]
