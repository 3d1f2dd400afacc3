"""Questions about memory: ``fit`` against converting at every scale, ``savings`` against doing it, a kit that is refused."""

from __future__ import annotations

import dataclasses
import json
import multiprocessing
import re
import shutil
import textwrap
from fractions import Fraction
from types import SimpleNamespace

import msgspec
import pytest
from PIL import Image, ImageDraw

from pipeline.assets.sprites import cut
from pipeline.graph.freshness.settings import flatten
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.assets import makers
from pipeline.joints.budget import read_budget_file
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import read_json, write_json
from pipeline.project.assets import Animation, Data
from pipeline.project.file import Issue
from pipeline.project.loading.load import load_project
from pipeline.project.model import Asset
from pipeline.questions.fit import Row, _table, at_scale, fit_rows, scaled_assets
from pipeline.questions.reductions import _least_shown, _Sizes, _slower_pieces, changes
from pipeline.questions.savings import savings, write_advice
from pipeline.questions.trial import Trials
from pipeline.target.kinds import calls_of
from pipeline.target.loading import shipped_targets
from tests.conftest import only_long
from tests.graph.builds import build, copy_built, make_project, outputs, run
from tests.makers import budget_json
from tests.makers import make_project as make_small
from tests.recorded import differing

TINY = 194  # KiB of memory, most of which the screen takes


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A small project whose two sprites do not fit a console of little memory at full size, built."""
    folder = make_project(tmp_path_factory.mktemp("questions") / "small")
    for name in ("one", "two"):
        for rank in range(4):
            picture = Image.new("RGBA", (90, 120))
            draw = ImageDraw.Draw(picture)
            draw.ellipse((20 + rank, 10, 60 + 5 * rank, 110), fill=(200, 60 + 40 * rank, 40, 255))
            draw.line((5, 5, 80, 110), fill=(30, 30, 40 * rank, 255), width=4)
            picture.save(folder / f"art/{name}/f{rank}.png")
    shutil.copy(folder / "art/one/f1.png", folder / "art/one/f3.png")
    target = shipped_targets()["basalt32"].read_text(encoding="utf-8")
    (folder / "little.toml").write_text(target.replace('size = "2 MiB"', 'size = "256 KiB"', 1), encoding="utf-8")
    text = (folder / "project.toml").read_text(encoding="utf-8")
    text = text.replace('target = "basalt32"', 'target = "little.toml"').replace("scale = 0.77", "scale = 0.5")
    (folder / "project.toml").write_text(text, encoding="utf-8")
    build(folder)
    return folder


def test_fit_agrees_with_converting_at_every_hundredth(built):
    """The largest scale that fits is that of a scan from 0.60 to 1.00, for sheets and for pieces."""
    only_long()
    project = load_project(built)
    for arrangement in ("sheet", "pieces"):
        assets = [_arranged(asset, arrangement) for asset in scaled_assets(project, "")]
        with Trials(project, built / "build/.state/trials", makers(late=False)) as trials:
            rows = fit_rows(project, assets, trials)
            best = max(at for at, row in rows.items() if row.look.fits)
            scan = {}
            for at in range(60, 101):
                budget = trials.change(at_scale(asset, at) for asset in assets).budget()
                scan[at] = budget.scenes["play"].margin >= 0
        fitting = [at for at, fits in scan.items() if fits]
        assert best == max(fitting, default=best), arrangement


def _arranged(asset, arrangement):
    return dataclasses.replace(asset, spec=msgspec.structs.replace(asset.spec, arrangement=arrangement))


def test_trials_share_what_is_known_of_frames(built, monkeypatch):
    """With other colours no frame's places are searched for again, and with nothing known the answer is the same."""
    state = built / "build/.state"

    def forget() -> None:
        for folder in ("cache", "trials"):
            shutil.rmtree(state / folder, ignore_errors=True)

    forget()
    covered, cover = [], cut.cover
    monkeypatch.setattr(cut, "cover", lambda *words: covered.append(words) or cover(*words))
    project = load_project(built)
    pieces = [_arranged(asset, "pieces") for asset in scaled_assets(project, "") if asset.kind == "sprite"]
    figures = project.assets["figures"]
    fewer = dataclasses.replace(figures, spec=msgspec.structs.replace(figures.spec, colours=7))
    with Trials(project, state / "trials", makers(late=False)) as trials:
        first = [trials.change(pieces).facts(asset.name).sha256 for asset in pieces]
        assert covered
        covered.clear()
        other = [trials.change([*pieces, fewer]).facts(asset.name).sha256 for asset in pieces]
    assert covered == []
    assert set(first).isdisjoint(other)
    forget()
    with Trials(project, state / "trials", makers(late=False)) as trials:
        assert [trials.change([*pieces, fewer]).facts(asset.name).sha256 for asset in pieces] == other


def test_fit_tells_the_line_to_paste_and_costs_nothing_again(built):
    """Pasted, the line makes the answer 'the project file says so'; asked again nothing is converted; the build is as before."""
    before = outputs(built)
    first = run(built, "fit")
    assert first.returncode == 0, first.stdout + first.stderr
    scale = re.search(r"\[defaults.sprite\]\n\s+scale = ([0-9.]+)", first.stdout)[1]
    assert differing("answer, fit", {"fit": first.stdout.rstrip().rpartition("\n\n")[0]}) == set()
    again = run(built, "fit")
    assert "Nothing had to be converted again." in again.stdout
    assert outputs(built) == before
    path = built / "project.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("scale = 0.5", f"scale = {scale}"), encoding="utf-8")
    assert f"The project file says so: scale = {scale}" in run(built, "fit").stdout
    path.write_text(text, encoding="utf-8")
    build(built)


def test_fit_keeps_the_ratio_of_two_factors_and_takes_the_place_of_a_height(built):
    """One sprite with two factors, one with a height: the lines to paste are those of the two tables, and what they say fits."""
    path = built / "project.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("[sprite.one]", "[sprite.one]\nscale = [0.4, 0.5]").replace("[sprite.two]", "[sprite.two]\nheight = 60"),
        encoding="utf-8",
    )
    answer = run(built, "fit")
    path.write_text(text, encoding="utf-8")
    found = re.search(r"\[sprite.one\]\n\s+scale = \[([0-9.]+), ([0-9.]+)\]", answer.stdout)
    other = re.search(r"\[sprite.two\]\n\s+scale = ([0-9.]+)    # in place of height", answer.stdout)
    assert found, answer.stdout + answer.stderr
    assert other, answer.stdout
    assert float(found[1]) == round(0.8 * float(found[2]), 4)
    assert float(other[1]) == float(found[2])
    build(built)


def test_fit_at_a_size_nobody_would_play_at_shows_what_else_helps(built, tmp_path):
    """In a memory that holds the sprites at a few lines' height: who is too small, what costs most, and the savings, measured again."""
    folder = tmp_path / "tiny"
    shutil.copytree(built, folder, ignore=shutil.ignore_patterns("build"))
    text = (folder / "little.toml").read_text(encoding="utf-8")
    (folder / "little.toml").write_text(text.replace('size = "256 KiB"', f'size = "{TINY} KiB"', 1), encoding="utf-8")
    run(folder, "memory")
    answer = run(folder, "fit").stdout
    small = re.search(r"That is small: (one|two) is (\d+) of the screen's (\d+) lines high at scale (0\.\d\d)\.", answer)
    assert small, answer
    assert int(small[2]) * 4 < int(small[3])
    assert float(small[4]) < 0.5
    assert re.search(r"What costs most there is (one|two): [\d.]+ KiB of [\d.]+ KiB\.", answer)
    advised = re.findall(r"^ +(\S.+) saves (\S+ \S+)$", answer, re.MULTILINE)
    assert 1 <= len(advised) <= 3, answer
    measured = run(folder, "savings").stdout
    assert all(words in measured for words, _ in advised)
    assert "That is small" not in run(built, "fit").stdout


def test_fit_of_an_unknown_name_is_refused(built):
    """With what was meant, or what there is."""
    assert "of=: there is no 'onne' to scale" in run(built, "fit", "of=onne").stdout
    assert "did you mean one?" in run(built, "fit", "of=onne").stdout


def test_where_is_asked_by_name_and_changes_nothing(built):
    """By the command as an author gives it: a table, one asset, and a name that is none."""
    before = outputs(built)
    table = run(built, "where")
    assert table.returncode == 0, table.stdout + table.stderr
    assert differing("answer, where", {"where": table.stdout}) == set()
    assert all(name in table.stdout for name in ("one", "two", "hill", "level", "main", "boot"))
    assert "sprite two\n" in run(built, "where", "name=two").stdout
    refused = run(built, "where", "name=twoo")
    assert refused.returncode != 0
    assert "name=: there is no asset 'twoo'\n    did you mean two?" in refused.stdout
    assert outputs(built) == before


def test_frames_shown_for_the_shortest_time_go():
    """A tenth of twenty: by the times of all animations, never their ends, nor two in a row. Worked out by hand."""
    walk = Animation(frames=list(range(20)), ms=[100, 40, 30, 50, 30, *[100] * 10, 60, 20, 100, 10, 100])
    turn = Animation(frames=[0, 16, 19], ms=70)
    asset = SimpleNamespace(spec=SimpleNamespace(animations={"walk": walk, "turn": turn}))
    steps = {"walk": walk.frames, "turn": turn.frames}
    assert _least_shown(asset, steps, list(range(20))) == [18, 2]  # 10, 30; frame 16 is shown for 20 + 70
    walk.ms[17] = 15
    assert _least_shown(asset, steps, list(range(20))) == [18, 2]  # 17 is beside 18


def test_savings_are_what_doing_it_saves(built, tmp_path):
    """The first change listed, done in a copy, makes the scene smaller by just the bytes listed."""
    answer = run(built, "savings").stdout
    assert differing("answer, savings", {"savings": answer}) == set()
    line = next(line for line in answer.splitlines() if 'arrangement = "pieces" for one, two' in line)
    saved = int(line.split()[0].replace(",", ""))
    assert "one file for equal frames: 1 fewer (f3)" in answer
    copy = tmp_path / "copy"
    shutil.copytree(built, copy, ignore=shutil.ignore_patterns("build"))
    path = copy / "project.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("scale = 0.5", 'scale = 0.5\narrangement = "pieces"'), encoding="utf-8")
    build(copy)
    needs = [json.loads((one / "build/budget.json").read_bytes())["scenes"]["play"]["bytes"] for one in (built, copy)]
    assert needs[0] - needs[1] == saved > 0


def test_savings_are_measured_until_no_other_can_be_among_those_wanted(built, tmp_path):
    """The largest saving alone is the same as among all, and is found by converting less."""
    project, budget = load_project(built), read_budget_file(built / "build/budget.json")
    checks = calls_of("check", *(asset.kind for asset in project.assets.values()))
    ran = []
    for wanted in (100, 1):
        with Trials(project, tmp_path / f"trials-{wanted}", makers(late=False)) as trials:
            found, left = savings(trials, budget, checks, wanted)
            ran.append((len(trials.ran), found[0], left))
    assert ran[0][1:] == (ran[1][1], False)
    assert ran[1][0] < ran[0][0] // 2
    assert ran[1][2]


def test_share_of_frames_counts_what_is_stored():
    """Frames 0 and 2 are stored once: to drop 2 saves nothing, to drop 1 a fourth; of frames that are stored one by one each counts."""
    stored = _Sizes([0, 1, 0, 3], [5, 3, 5, 4])
    assert stored.share([0, 1, 3]) == 0
    assert stored.share([0, 2, 3]) == Fraction(1, 4)
    assert _Sizes([0, 1, 2, 3], [1] * 4).share([0, 1, 3]) == Fraction(1, 4)


def test_kit_over_budget_is_refused_with_what_would_help_and_fits_when_it_is_done(built, tmp_path):
    """At full scale it is over; the first change listed is made, and the kit is there."""
    copy = tmp_path / "copy"
    shutil.copytree(built, copy, ignore=shutil.ignore_patterns("build"))
    path = copy / "project.toml"
    text = path.read_text(encoding="utf-8").replace("scale = 0.5", "scale = 1.0")
    path.write_text(text, encoding="utf-8")
    done = run(copy)
    assert done.returncode != 0
    assert re.search(r"play needs .* at worst, .* OVER", done.stdout)
    measured = re.search(r"what would help most, measured: (.*)\. See also", done.stdout)[1].split("; ")
    assert len(measured) == 3
    helps = next(one for one in measured if "pieces" in one).partition(" for one, two saves ")[0]
    asked = run(copy, "budget")
    assert asked.returncode != 0
    assert all(f"  {one}" in asked.stdout.splitlines() for one in measured)
    path.write_text(text.replace("scale = 1.0", "scale = 1.0\n" + helps), encoding="utf-8")
    assert run(copy).returncode == 0
    assert run(copy, "budget").returncode == 0


def test_advice_depends_on_what_trials_look_at_and_on_nothing_else(built):
    """What the console unpacks, a sprite's settings and a source's bytes measure again; words for testers, and the title, do not."""
    project = load_project(built)

    def depends(spec=project.spec, target=project.target):
        changed = dataclasses.replace(project, spec=spec, target=target)
        step = next(step for step in plan_project(changed).steps if step.name == "advice")
        return flatten(step.arguments, built), step.reads

    issue = Issue(id="X-1", severity="minor", where="Hill", what="Too steep.")
    game = msgspec.structs.replace(project.spec.game, title="Another", author="Nobody")
    assert depends(spec=msgspec.structs.replace(project.spec, issue=[issue], game=game)) == depends()
    assert depends(target=msgspec.structs.replace(project.target, codecs=["packbits"])) != depends()
    scenes = {name: msgspec.structs.replace(scene, always=scene.always[:-1]) for name, scene in project.spec.scene.items()}
    assert depends(spec=msgspec.structs.replace(project.spec, scene=scenes)) != depends()
    assert {built / "art/one/f0.png", built / "art/hill.png"} <= set(depends()[1])


def test_no_bytes_are_advised_where_only_limits_are_passed(tmp_path):
    """Too many palette entries with memory to spare: no saving of memory is called a help, and nothing is converted to find one."""
    scenes = {"play": {"margin": 4}, "title": {"margin": 900}}
    write_json(tmp_path / "budget.json", budget_json(scenes, over=["play"]))
    write_advice(None, tmp_path / "trials", {}, tmp_path / "budget.json", {}, tmp_path / "advice.json")
    assert read_json(tmp_path / "advice.json") == {"changes": []}


def test_two_questions_at_once_leave_each_others_work_alone(built, tmp_path):
    """As doit starts them side by side with -n 2: what one has in work is there, whole, when another begins and ends."""
    project, kept = load_project(built), tmp_path / "trials"

    def ask() -> None:
        with Trials(project, kept, makers(late=False)):
            pass

    with Trials(project, kept, makers(late=False)) as trials:
        stage = trials.keyed(project).site.build
        write_json(stage / "work/one.frames.json", {})
        other = multiprocessing.get_context("fork").Process(target=ask)
        other.start()
        other.join()
        assert other.exitcode == 0
        assert read_json(stage / "work/one.frames.json") == {}


def test_what_changes_while_a_question_is_answered_is_not_kept(built, tmp_path):
    """It would be found again under the key of what the file was before."""
    project, kept = load_project(copy_built(built, tmp_path / "copy")), tmp_path / "trials"
    with Trials(project, kept, makers(late=False)) as trials:
        Image.new("RGBA", (90, 120), (1, 2, 3, 255)).save(project.folder / "art/one/f2.png")
        asked = trials.change([at_scale(project.assets["one"], 0.5)])
        with pytest.raises(ProjectError, match=r"art/one/f2.png: changed while the question was answered\n    ask again"):
            asked.facts("one")
    assert not [path for path in kept.iterdir() if (path / "one.frames.json").exists()]


def test_savings_offer_packing_to_whatever_can_be_packed(built):
    """Data as well as art: every kind whose record has the key."""
    project = load_project(built)
    data = Asset("words", "data", Data(file="words.txt"))
    offered = [one for one in changes(dataclasses.replace(project, assets=project.assets | {"words": data}), {"words"}) if one.packed]
    assert [asset.name for one in offered for asset in one.assets] == ["words"]


def test_table_of_scales_gives_bytes_where_something_was_measured():
    """The second column: bytes as measured, or a dash where a scale could not be converted; the third by the square of the scale."""
    rows = {100: Row(None, 4000, "race"), 50: Row(None, 1100, "race"), 25: Row(None, 0, "", "a frame is empty")}
    lines = [line.split() for line in _table(rows, 50)]
    assert [line[1] for line in lines[1:]] == ["4,000", "1,100", "–"]
    assert [line[2] for line in lines[1:]] == ["4,000", "1,000", "250"]
    assert lines[3][3:] == ["a", "frame", "is", "empty"]
    assert [line[-1] == "fits" for line in lines[1:]] == [False, True, False]


STREAMED = "stream one, two with 2 buffers of a frame each (4 frames of "


def test_savings_propose_streaming_with_its_lines_and_what_the_console_carries(built, tmp_path):
    """Pasted, the lines make the scene smaller by just the bytes listed, and use as much of a blank as was said."""
    copy = tmp_path / "copy"
    shutil.copytree(built, copy, ignore=shutil.ignore_patterns("build"))
    carry(copy, 8192, 16)
    before = budget_of(copy)["scenes"]["play"]
    answer = run(copy, "savings").stdout
    line = next(line for line in answer.splitlines() if STREAMED in line)
    saved, used = int(line.split()[0].replace(",", "")), re.search(r"([\d.]+) of 8 KiB of a blank used\)$", line)[1]
    lines = re.search(r"To stream one, two .*, write into project.toml:\n((?:    .+\n)+)", answer)[1]
    path = copy / "project.toml"
    path.write_text(path.read_text(encoding="utf-8") + "\n" + textwrap.dedent(lines), encoding="utf-8")
    after = budget_of(copy)["scenes"]["play"]
    assert before["bytes"] - after["bytes"] == saved > 0
    assert used == f"{after['limits']['blank']['used'] / 1024:.1f}"
    assert STREAMED not in run(copy, "savings").stdout, "what is streamed already is not proposed again"


def test_streaming_is_not_advised_beyond_what_the_console_carries(built, tmp_path):
    """A blank of a fifth of what is fetched: spread over as many pictures as frames are shown; without that time not at all."""
    copy = tmp_path / "copy"
    shutil.copytree(built, copy, ignore=shutil.ignore_patterns("build"))
    carry(copy, 1300, 0)
    run(copy, "memory")
    answer = run(copy, "savings").stdout
    assert "one = { buffers = 2, within = 5 }" in answer  # 6,144 bytes at once, 1,230 a picture; frames are shown for 5
    carry(copy, 1200, 0)
    run(copy, "memory")
    assert "stream one" not in run(copy, "savings").stdout


def carry(folder, blank: int, start: int) -> None:
    """Make a project's console carry this many bytes in a blank, where starting a transfer costs so many."""
    path = folder / "little.toml"
    changed = re.sub(r"(?m)^blank = .*\nstart = .*$", f"blank = {blank}\nstart = {start}", path.read_text(encoding="utf-8"))
    path.write_text(changed, encoding="utf-8")


def budget_of(folder) -> dict:
    """Make a project's budget and return it."""
    run(folder, "memory")
    return json.loads((folder / "build/budget.json").read_bytes())


def test_fit_stays_within_what_a_blank_carries(built, tmp_path):
    """Streamed sprites whose frames fill a blank before they fill memory: the largest scale is that of converting around it."""
    copy = tmp_path / "copy"
    shutil.copytree(built, copy, ignore=shutil.ignore_patterns("build"))
    carry(copy, 9000, 8)
    with (copy / "project.toml").open("a", encoding="utf-8") as text:
        text.write("\n[scene.play.streamed]\none = { buffers = 2 }\ntwo = { buffers = 2 }\n")
    run(copy, "memory")
    project = load_project(copy)
    assets = scaled_assets(project, "")
    with Trials(project, copy / "build/.state/trials", makers(late=False)) as trials:
        rows = fit_rows(project, assets, trials)
        best = max(at for at, row in rows.items() if row.look.fits)
        seen = {at: trials.change(at_scale(asset, at) for asset in assets).budget().scenes["play"] for at in range(best - 1, best + 5)}
    assert [scene.too_much for scene in seen.values()] == [at > best for at in seen]
    assert all(scene.margin > 0 for scene in seen.values()), "only the blank is passed"
    assert "bytes of a blank OVER" in rows[min(at for at, row in rows.items() if not row.look.fits)].tightest


def test_savings_offer_what_makes_pieces_quick(tmp_path):
    """Prepared pieces and cells in runs take bytes that a tight scene may want back; other sprites are left alone."""
    asked = 'palette = "figures"\narrangement = "pieces"\nprepared = "cells"\nprefer = "transfers"\n[sprite'
    project = load_project(make_small(tmp_path, ('palette = "figures"\n[sprite', asked)))
    found = {one.words: one.assets for one in _slower_pieces(list(project.assets.values()))}
    (shared,), (plain,) = found['prefer = "bytes"'], found['prepared = "none"']
    assert (shared.spec.prefer, shared.spec.prepared) == ("bytes", "cells")
    assert (plain.spec.prefer, plain.spec.prepared) == ("transfers", "none")
    usual = load_project(make_small(tmp_path / "usual"))
    assert not list(_slower_pieces(list(usual.assets.values())))
