"""Effects, backgrounds and animations measured in one small game: what is shown, what testers and the author read, what preflight says.

Rates and areas are those of WCAG 2.2 as in ``tests/safety``; a target of 60 refreshes a second.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.findings.collect import collect
from pipeline.findings.effects import Play
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import plain_arguments
from pipeline.joints.found.findings import Finding, Findings, Looked, Said, read_cautions, read_findings
from pipeline.joints.found.flashes import Limit, Played, read_flashes, write_flashes
from pipeline.joints.places import Sources
from pipeline.packet.content.filled import Wording
from pipeline.packet.content.found import all_cautions
from pipeline.plain.errors import BadAnswer, ProjectError
from pipeline.plain.rendering import find_template
from pipeline.project.loading.load import load_project
from pipeline.project.wording import MessageFile, read_wording
from pipeline.release.checks import harm_checks
from pipeline.release.preflight import show_preflight
from pipeline.safety.clips import shown_at
from tests.makers import make_project, problems, run_steps
from tests.once import once

CAUTION = "Lightning on the third cliff flashes five times a second."
MORE = f"""
[background.striped]
file = "art/striped.png"
palette = "quay_colours"
[palette.quay_night]
variant_of = "quay_colours"
lightness = 0.1
[effect.fast]
over = "quay"
steps = [{{ fill = "#ffffff", hold = 7 }}, {{ fill = "#000000", hold = 7 }}]
loop = true
[effect.slow]
steps = [{{ fill = "#ffffff", hold = 10 }}, {{ hold = 10 }}]
loop = true
[effect.three]
steps = [{{ fill = "#ffffff", hold = 2 }}, {{ hold = 2 }}]
times = 3
[effect.four]
steps = [{{ fill = "#ffffff", hold = 2 }}, {{ hold = 2 }}]
times = 4
used = false
[effect.faint]
steps = [{{ fill = "#ffffff", share = 0.34, hold = 3 }}, {{ hold = 3 }}]
loop = true
[effect.fainter]
steps = [{{ fill = "#ffffff", share = 0.36, hold = 3 }}, {{ hold = 3 }}]
loop = true
[effect.night]
over = "quay"
steps = [{{ palette = "quay_night", hold = 3 }}, {{ hold = 3 }}]
loop = true
[effect.turning]
over = "quay"
cycle = {{ first = 0, last = 1, every = 4 }}
[effect.turning_slowly]
over = "quay"
cycle = {{ first = 0, last = 1, every = 10 }}
[effect.blink]
over = "#ffffff"
steps = [{{ frame = "ada/walk_0", at = [-8, 10], hold = 3 }}, {{ frame = "ada/1", hold = 3 }}, {{ frame = "quay", hold = 4 }}]
[[caution]]
of = "fast"
text = "{CAUTION}"
"""
EXPECTED = {
    "fast": "fail",  # 4.3 flashes a second
    "slow": "pass",  # 3
    "three": "pass",
    "four": "fail",
    "faint": "pass",  # 87 of 255: luminance 0.095
    "fainter": "fail",  # 92: 0.107
    "night": "fail",
    "turning": "fail",  # 7.5 a second, over the quay's 30 rows of sky
    "turning_slowly": "pass",  # 3
    "blink": "pass",  # once
    "quay": "pass",
    "ada": "pass",
    "striped": "fail",
}


def _make(folder: Path) -> Path:
    make_project(folder, more=MORE)
    picture = Image.new("RGB", (320, 240), (120, 180, 220))
    draw = ImageDraw.Draw(picture)
    for left in range(0, 320, 16):
        draw.rectangle((left, 0, left + 7, 239), fill=(0, 0, 0))
    picture.save(folder / "art/striped.png")
    quay = Image.new("RGB", (320, 240), (120, 180, 220))
    ImageDraw.Draw(quay).rectangle((0, 100, 319, 239), fill=(0, 0, 0))
    quay.save(folder / "art/quay.png")
    run_steps(load_project(folder), "checks", "notes", "page")
    return folder


@pytest.fixture(scope="module")
def game(tmp_path_factory):
    return once(f"findings of one game: {MORE}", lambda: _make(tmp_path_factory.mktemp("found") / "p"))


def _verdict(folder: Path, name: str) -> str:
    (played,) = read_flashes(folder / f"build/work/{name}.flashes.json").played
    return played.verdict


def test_each_thing_is_measured_by_itself(game):
    """Just under and just over three flashes, a tenth of white's light, and what a palette does."""
    found = {name: _verdict(game, name) for name in EXPECTED}
    assert found == EXPECTED


def test_all_are_in_one_list(game):
    """The worst first; what the game does not show comes last, and the author's caution is with what it is of."""
    known = read_findings(game / "build/findings.json")
    failed = {name for name, verdict in EXPECTED.items() if verdict == "fail"}
    assert {one.of for one in known.findings} == failed
    assert known.findings[-1].of == "four"
    assert [one.of for one in known.findings if not one.used] == ["four"]
    assert {one.of: one.caution for one in known.findings if one.caution} == {"fast": CAUTION}
    assert known.looked[0].counts == {"animation": 1, "effect": 10, "background": 2, "scene": 1}
    assert next(one for one in known.findings if one.of == "fast").remedy.startswith("each frame 2 times as long passes")
    assert next(one for one in known.findings if one.of == "striped").remedy.startswith("let stripes cover less than 20% of the screen")


def test_a_release_is_refused_without_a_caution(game):
    """One cross for all that fails, shown and without a caution; with it, a tick that says so."""
    with pytest.raises(ProjectError) as caught:
        show_preflight(game / "build/work/checks.json", Sources(game, ()))
    page = str(caught.value)
    assert "✗ flashes  " in page
    for name, verdict in EXPECTED.items():
        refused = verdict == "fail" and name not in ("fast", "four")
        assert (f"{name} fails: " in page) == refused
    assert "write a [[caution]] of it, which testers read before they play" in page


@pytest.mark.parametrize(
    ("verdicts", "good", "said"),
    [
        ({}, True, "2 effects measured, nothing beyond a limit"),
        ({"near": ""}, True, "2 effects measured, nothing fails\nwarning: storm is near a limit, see doit flashes"),
        ({"open": ""}, True, "2 effects measured, nothing fails\nwarning: nothing shows that storm passes, see doit flashes"),
        ({"fail": CAUTION}, True, f"2 effects measured, what fails has a caution\nstorm fails, and testers read: {CAUTION}"),
        ({"fail": ""}, False, "storm fails: too often"),
    ],
)
def test_what_preflight_says(verdicts, good, said):
    """A tick with its warnings, or a cross; what the game does not show counts for nothing."""
    found = [
        Finding(about="flashes", of="storm", verdict=verdict, said=[f"{verdict}  too often"], remedy="", caution=caution)
        for verdict, caution in verdicts.items()
    ]
    unused = Finding(about="flashes", of="old", verdict="fail", said=["fail  too often"], remedy="", used=False)
    looked = [Looked(about="flashes", counts={"animation": 0, "effect": 2}, method="")]
    (check,) = harm_checks(Findings(version=1, looked=looked, findings=[*found, unused]))
    assert (check["name"], check["good"], check["finding"]) == ("flashes", good, said)
    assert bool(check["remedy"]) != good


def test_testers_are_told(game):
    """On the page and in the notes: what fails by name, the author's words, and nothing of what the game does not show."""
    for name in ("packet.html", "work/NOTES.txt"):
        said = " ".join((game / "build" / name).read_text(encoding="utf-8").split())
        (names,) = re.findall(r"Measured, these go beyond published limits for flashing or stripes: (.*?)\.", said)
        assert set(re.split(", | and ", names)) == {"fainter", "fast", "night", "striped", "turning"}
        assert CAUTION in said
        assert "not a medical certificate" in said
        assert "four" not in said.partition("these go beyond published limits")[2].partition("medical")[0]


def test_backgrounds_alone_are_reported_too(tmp_path):
    """Stripes need no animation to be worth a sentence; what passes is said of what was measured, whatever it was."""
    for verdict, key in (("fail", "flashes_fail"), ("near", "flashes_near"), ("pass", "flashes_pass")):
        limit = Limit(limit="stripes", verdict=verdict, transitions=0, area=1.2)
        played = Played(name="", ground="", limits=[limit] if verdict != "pass" else [], remedy="", reach={})
        write_flashes(tmp_path / "quay.json", "background", "quay", 60, [played])
        collect({"quay": tmp_path / "quay.json"}, {}, (), [], (320, 240), tmp_path / "findings.json", tmp_path / "cautions.json")
        (said,) = read_cautions(tmp_path / "cautions.json")
        assert (said.key, said.names, said.good) == (key, ["quay"] if verdict != "pass" else [], verdict == "pass")


def test_what_is_good_comes_after_the_warnings():
    """A sentence that nothing was found must not be read in place of the caution about flashing pictures."""
    words = Wording(read_wording(MessageFile(find_template(Path(), "packet.en.toml"), None)), {"phase": "alpha"})
    said = [Said(key="flashes_pass", names=[], good=True), Said(key="flashes_near", names=["ada/blink"])]
    names = [name for name, _ in all_cautions(["Mind the gap."], said, words)]
    assert names == ["In this build", "Measured", "Flashing pictures", "Volume", "Power", "Failures", "Rights", "Measured"]
    assert "near a published limit: ada (blink)." in all_cautions([], said, words)[0][1]


def test_the_question_shows_it_as_a_still_picture(game):
    """Refused as preflight refuses it; one picture, which does not move."""
    (step,) = (step for step in plan_project(load_project(game)).steps if step.name == "flashes")
    with pytest.raises(BadAnswer) as caught:
        step.run()
    said = str(caught.value)
    assert f"testers read: {CAUTION}" in said
    assert "the game does not show it, so no release is refused" in said
    assert "1 animation, 10 effects, 2 backgrounds and 1 scene: 6 do not pass." in said
    with Image.open(game / "build/flashes.png") as worst:
        assert worst.size == (320, 240)
        assert getattr(worst, "n_frames", 1) == 1


def test_frames_are_put_where_they_are_asked_for(game):
    """Left of the screen's edge a frame is cut; without a place it is in the middle; a background is shown whole."""
    project = load_project(game)
    (step,) = (step for step in plan_project(project).steps if step.name == "flashing:blink")
    given = plain_arguments(step.arguments)
    play = Play(**{key: given[key] for key in ("image", "map_file", "name", "effect", "drawn", "decoders", "target")})
    pictures = {rank: play.picture(rank) for rank in (0, 1, 2, None)}
    (across, down), frame = Image.open(game / "art/ada/walk_0.png").size, pictures[0]
    changed = (frame != 255).any(axis=2)
    rows, columns = np.flatnonzero(changed.any(axis=1)), np.flatnonzero(changed.any(axis=0))
    assert rows[0] >= 10
    assert rows[-1] < 10 + down
    assert columns[-1] < across - 8
    middle = np.flatnonzero((pictures[1] != 255).any(axis=(0, 2)))
    assert 160 - across // 2 - 8 <= middle[0] <= middle[-1] < 160 + across // 2 + 8  # a frame is brought to whole cells of 8
    assert len(np.unique(pictures[2].reshape(-1, 3), axis=0)) == 2
    assert (pictures[None] == 255).all()


def test_what_is_shown_in_a_tick():
    """By hand."""
    played = [(None, 2), (4, 3), (5, 1)]
    assert [shown_at(played, tick) for tick in range(8)] == [None, None, 4, 4, 4, 5, 5, 5]


def test_a_cycle_of_more_entries_than_the_palette_has_is_refused(tmp_path):
    """Only the finished palette shows it."""
    more = '[effect.water]\nover = "quay"\ncycle = { first = 0, last = 7, every = 4 }\n'
    make_project(tmp_path / "p", more=more)
    with pytest.raises(ProjectError, match=r"\[effect.water\] cycle: quay_colours has \d entries, the last is \d"):
        run_steps(load_project(tmp_path / "p"), "flashing:water")


def test_a_frame_that_the_sprite_does_not_have_is_refused(tmp_path):
    """By its number, which only the finished sprite shows to be too large."""
    make_project(tmp_path / "p", more='[effect.blink]\nsteps = [{ frame = "ada/2", hold = 4 }]\n')
    with pytest.raises(ProjectError, match=r"\[effect.blink\] steps: ada has 2 frames, the last is 1"):
        run_steps(load_project(tmp_path / "p"), "flashing:blink")


def test_nothing_is_said_where_nothing_was_measured(tmp_path):
    """Without animations, effects and backgrounds there is no measurement, so no word about one: a promise would be made up."""
    collect({}, {}, (), [], (320, 240), tmp_path / "findings.json", tmp_path / "cautions.json")
    assert json.loads((tmp_path / "findings.json").read_bytes()) == {"version": 1, "looked": [], "findings": []}
    assert json.loads((tmp_path / "cautions.json").read_bytes()) == {"version": 1, "said": []}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("[effect.Storm]\nsteps = [{ hold = 1 }]", "'Storm' is not a valid name"),
        ("[effect.ada]\nsteps = [{ hold = 1 }]", "'ada' is also a sprite"),
        ("[effect.storm]\n", "has neither steps nor a cycle"),
        ('[effect.storm]\nover = "quya"\nsteps = [{ hold = 1 }]', "there is no background 'quya'\n    did you mean quay?"),
        ('[effect.storm]\nover = "quay"\nsteps = [{ hold = 1 }]\ncycle = { first = 0, last = 1, every = 1 }', "has steps and a cycle"),
        ("[effect.storm]\ncycle = { first = 0, last = 1, every = 1 }", "is not over a background with a palette"),
        ('[effect.storm]\nover = "quay"\ncycle = { first = 3, last = 3, every = 1 }', "entry 3 does not come after entry 3"),
        ('[effect.storm]\nsteps = [{ hold = 1, fill = "#000000", frame = "ada/0" }]', "has fill and frame"),
        ("[effect.storm]\nsteps = [{ hold = 1, share = 0.5 }]", "share says nothing without fill"),
        ("[effect.storm]\nsteps = [{ hold = 1, at = [0, 0] }]", "at says nothing without frame"),
        ('[effect.storm]\nover = "quay"\nsteps = [{ hold = 1, palette = "figures" }]', "'figures' is not a variant of 'quay_colours'"),
        ('[effect.storm]\nsteps = [{ hold = 1, frame = "ada/hop" }]', "there is no frame 'ada/hop'"),
        ("[effect.storm]\ntimes = 100\nsteps = [{ hold = 37 }]", "takes 3,700 refreshes, at most 3,600 are measured"),
        ('[[caution]]\nof = "ada/run"\ntext = "x"', "there is no animation 'ada/run'"),
        ('[effect.old]\nused = false\nsteps = [{ hold = 1 }]\n[[caution]]\nof = "old"\ntext = "x"', "'old' has used = false"),
        ('[[caution]]\nof = "bell"\ntext = "x"', "there is no 'bell'"),
        ('[[caution]]\nof = "ada"\ntext = "x"\n[[caution]]\nof = "ada"\ntext = "y"', "'ada' has a caution already"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path, more, said):
    """Each with its line and what to do."""
    make_project(tmp_path / "p", more=more + "\n")
    found = problems(tmp_path / "p")
    assert len(found) == 1
    assert said in found[0]
    assert "project.toml, line " in found[0]
