"""What changed, computed from a ledger's entry and what a build says of itself."""

from __future__ import annotations

from msgspec import convert

import pipeline.project.file as pf
from pipeline.joints.facts import Animation, SpriteFacts, StoredFrames, write_facts
from pipeline.joints.map import ASSETS
from pipeline.joints.places import facts_file
from pipeline.packet.content.changes_text import show_differences
from pipeline.packet.content.content import changes_content
from pipeline.project.ledger import ReleasedAsset
from pipeline.release.assets_compared import assets_now, compare_looks, find_renamed
from pipeline.release.differences import Said, differences
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


def said(issues=(), controls=(), included=(), missing=()) -> Said:
    pads = {"two": "Two-button pad", "gun": "Light gun"}
    return Said(list(issues), list(controls), pads, pf.Contents(included=list(included), missing=list(missing)))


def issue(name: str, status: str = "open", fixed_in: str | None = None) -> pf.Issue:
    return pf.Issue(id=name, severity="minor", where="w", what="x", status=status, fixed_in=fixed_in)


def found(issues=(), looks=None, listed=frozenset()) -> dict:
    old = kept("0.2.0", assets=OLD, budget={"play": 500, "menu": 20}, issues={"open": ["A-1", "A-2", "A-3"], "fixed": ["A-0"]})
    scenes = {"play": 450, "race": 10}
    looks = {"ada": "recoloured"} if looks is None else looks
    return differences(old, 900, scenes, _assets(NOW), said(list(issues)), WORDS, "0.3.1", looks, None, listed)


def test_assets_scenes_and_image():
    """Another size alone is a change; a boot notice, which always differs, is none."""
    changes = found()
    names = {key: [(one["name"], one["before"], one["now"]) for one in changes[key]] for key in ASSETS}
    assert names == {
        "added": [("fresh", None, 9)],
        "removed": [("gone", 7, None)],
        "changed": [("ben", 100, 100), ("bell", 4000, 2000), ("colours", 32, 32)],
        "recoloured": [("ada", 100, 100)],
        "renamed": [],
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
        "fixed": ["A-1", "A-4"], "new": ["A-9", "A-10"], "settled": [{"id": "A-2", "status": "by design"}], "gone": ["A-3"],
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
    changes = differences(kept("0.2.0", assets=old), 9, {}, _assets(now), said(), {}, "0.3.1", looks)
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
        return assets_now({"ada": facts_file(tmp_path, "ada")}, entries, {"ada": tmp_path / "ada.rgba"}, 60)["ada"].drawn

    def walk(ticks: int) -> Animation:
        return Animation(name="walk", loop=True, steps=[(0, ticks)])

    one = drawn(b"1234")
    assert drawn(b"1234", sha256="b" * 64, stored=StoredFrames(stored_frames=1, stored_cells=9)) == one
    assert len({one, drawn(b"1235"), drawn(b"1234", animations=[walk(9)]), drawn(b"1234", anchor=(1, 0))}) == 4


def test_words_for_a_tester_and_for_a_person():
    """Sizes that would read the same are shown in bytes; palettes are seen only in what they colour."""
    changes = found() | {"image": {"before": 204_800, "now": 204_801}}
    assert changes_content(changes)["changed"] == [
        {"name": "ben", "was": "", "kind": "sprite", "before": "100 bytes", "now": "100 bytes", "pictures": NONE},
        {"name": "bell", "was": "", "kind": "sound", "before": "3.9 KiB", "now": "2.0 KiB", "pictures": NONE},
    ]
    lines = show_differences(changes).splitlines()
    assert lines[:2] == ["Since 0.2.0 of 2031-04-09, build 7K3Q0Z:", "  image      204,800 bytes before, 204,801 now (+1)"]
    assert "  removed    gone (data): 7 bytes" in lines
    assert "  recoloured ada (sprite): 100 bytes as before" in lines
    assert "  issues     no longer listed: A-1, A-2, A-3" in lines
    assert lines[-2:] == ["  Of 0.3.1.", "  Of 0.3.0."]


def test_a_renamed_asset_is_recognised_by_its_bytes():
    """Of one kind; an empty one is not, nor one whose old name is still there; two alike make one pair each; art also by its look."""
    drawn = {"kind": "sprite", "bytes": 70, "sha256": "o", "drawn": "1", "look": "brown"}
    old = {"horn": OLD["bell"], "blank": OLD["gone"] | {"bytes": 0, "sha256": "0"}, "twin": OLD["ben"], "double": OLD["ben"]}
    old |= {"stays": OLD["gone"], "owl": drawn}
    now = {"foghorn": OLD["bell"], "empty": old["blank"], "cat": OLD["ben"], "dog": OLD["ben"], "ape": OLD["ben"], "stays": OLD["gone"]}
    now |= {"copy": OLD["gone"], "tune": OLD["bell"] | {"kind": "data"}}
    now["hibou"] = drawn | {"bytes": 71, "sha256": "h", "look": ""}
    found = find_renamed(_assets(old), _assets(now), lambda name: "brown")
    assert found == {"foghorn": "horn", "cat": "twin", "dog": "double", "hibou": "owl"}
    assert "hibou" not in find_renamed(_assets(old), _assets(now), lambda name: "white")
    changes = differences(kept("0.2.0", assets=old), 9, {}, _assets(now), said(), {}, "0.3.1", {}, found)
    names = {key: [one["name"] for one in changes[key]] for key in ASSETS}
    assert names == {
        "added": ["empty", "ape", "copy", "tune"], "removed": ["blank"], "changed": [], "recoloured": [],
        "renamed": ["foghorn", "cat", "dog", "hibou"],
    }  # fmt: skip
    assert "  renamed    hibou (sprite, was owl): 70 bytes before, 71 now (+1)" in show_differences(changes).splitlines()


def test_timing_and_anchors_of_sprites_there_before():
    """Also of one that has another name now; not of a ledger that says nothing of them. 10 and 12 pictures of 60 a second, hand-worked."""

    def sprite(anchor=(4, 9), sum_="x", **timing) -> dict:
        parts = {name: {"frames": 2, "ms": ms, "sum": sum_} for name, ms in timing.items()}
        return {"kind": "sprite", "bytes": 9, "sha256": str(timing), "anchor": anchor, "timing": parts}

    old = {"ada": sprite(walk=167, run=100, sit=50), "ben": sprite(), "cat": {"kind": "sprite", "bytes": 9, "sha256": "c"}}
    now = {"ada": sprite(walk=200, run=100, hop=83), "dan": sprite((4, 8)), "cat": sprite(walk=1)}
    changes = differences(kept("0.2.0", assets=old), 9, {}, _assets(now), said(), {}, "0.3.1", {}, {"dan": "ben"})
    assert changes["timing"] == [{"name": "ada", "animations": [
        {"name": "walk", "before": 167, "now": 200}, {"name": "sit", "before": 50, "now": None}, {"name": "hop", "before": None, "now": 83},
    ]}]  # fmt: skip
    assert changes["anchors"] == [{"name": "dan", "before": [4, 9], "now": [4, 8]}]
    lines = show_differences(changes).splitlines()
    assert [line for line in lines if line.startswith("  timing")] == [
        "  timing     ada, walk: 167 ms before, 200 ms now", "  timing     ada, sit: no longer there", "  timing     ada, hop: new, 83 ms",
    ]  # fmt: skip
    assert "  anchor     dan: (4, 9) before, (4, 8) now" in lines
    now["ada"] = sprite(walk=167, run=100, sit=50, sum_="y")
    changes = differences(kept("0.2.0", assets=old), 9, {}, _assets(now), said(), {}, "0.3.1", {}, {"dan": "ben"})
    assert "  timing     ada, run: 100 ms as before, its frames shown otherwise" in show_differences(changes)


def test_a_timing_is_frames_milliseconds_and_a_sum(tmp_path):
    """12 pictures at 60 a second are 200 ms, at 50 a second 240 ms."""
    (tmp_path / "ada.rgba").write_bytes(b"1")
    walk = Animation(name="walk", loop=True, steps=[(0, 8), (1, 4)])
    write_facts(facts_file(tmp_path, "ada"), made_facts(SpriteFacts, "ada", frames=2, animations=[walk], anchor=(3, 7)))
    given = {"ada": facts_file(tmp_path, "ada")}, [map_entry("ada", kind="sprite", bytes=5)], {"ada": tmp_path / "ada.rgba"}
    fast, slow = (assets_now(*given, rate)["ada"] for rate in (60.0, 50.0))
    assert fast.anchor == (3, 7)
    assert [(one.timing["walk"].frames, one.timing["walk"].ms) for one in (fast, slow)] == [(2, 200), (2, 240)]
    assert fast.timing["walk"].sum == slow.timing["walk"].sum


def test_controls_and_contents_are_compared_where_the_ledger_has_them():
    """An action that is new, gone, or on other buttons; texts of both lists that came and went; an early ledger says neither."""
    keys = {"Dive": {"two": "A", "gun": "Trigger"}, "Aim": {}, "Hoot": {"two": "B"}}
    now = said(
        controls=[pf.Control(action=action, buttons=buttons) for action, buttons in keys.items()],
        included=["Three cliffs", "Rain"],
        missing=["Snow"],
    )
    before = {"Dive": {"Two-button pad": "B"}, "Hoot": {"Two-button pad": "B"}, "Sing": {"Light gun": "Trigger"}}
    old = kept("0.2.0", assets={}, controls=before, contents={"included": ["Three cliffs"], "missing": ["Rain", "Snow"]})
    changes = differences(old, 9, {}, {}, now, {}, "0.3.1", {})
    assert changes["controls"] == [
        {"action": "Dive", "before": {"Two-button pad": "B"}, "now": {"Light gun": "Trigger", "Two-button pad": "A"}},
        {"action": "Sing", "before": {"Light gun": "Trigger"}, "now": None},
        {"action": "Aim", "before": None, "now": {}},
    ]
    assert changes["contents"] == {"included": {"added": ["Rain"], "removed": []}, "missing": {"added": [], "removed": ["Rain"]}}
    lines = show_differences(changes).splitlines()
    for line in (
        "  controls   Dive: Light gun Trigger, Two-button pad A; before: Two-button pad B", "  controls   Sing: no longer there",
        "  controls   Aim: no button", "  contents   now in: Rain", "  contents   no longer missing: Rain",
    ):  # fmt: skip
        assert line in lines
    early = differences(kept("0.2.0", assets={}), 9, {}, {}, now, {}, "0.3.1", {})
    assert early["controls"] == []
    assert not any(part for lists in early["contents"].values() for part in lists.values())
