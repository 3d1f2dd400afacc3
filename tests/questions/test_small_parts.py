"""Parts of the answers by themselves, without a build: which scale is small, what is advised, which frames go, how much is kept of trials.

No outside source for what is recorded: if a change is meant, see ``tests.recorded``.
"""

from __future__ import annotations

import dataclasses
import io
import itertools
import os
import random
import wave
from typing import Any

import msgspec
import numpy as np
import pytest
from PIL import Image

from pipeline.joints import facts as records
from pipeline.joints.budget import Budget
from pipeline.memory.largest import Look
from pipeline.plain.errors import ProjectError
from pipeline.plain.rendering import find_template
from pipeline.project.assets import Animation
from pipeline.project.loading.load import load_project
from pipeline.project.model import LoadedProject
from pipeline.questions import fit, freeze, reductions, savings, trial, where
from pipeline.questions.growth import show_growth
from pipeline.questions.start import start_project
from pipeline.questions.why import show_reasons
from tests.limits import recorded
from tests.made_facts import made_facts
from tests.makers import as_budget, budget_json, make_project
from tests.recorded import differing


@pytest.fixture(scope="module")
def project(tmp_path_factory) -> LoadedProject:
    return load_project(make_project(tmp_path_factory.mktemp("questions") / "p"))


def changed(project: LoadedProject, name: str, **keys: Any):
    return reductions._with(project.assets[name], **keys)


def figure(name: str, height: int, source: int, size: int = 100) -> records.SpriteFacts:
    return made_facts(records.SpriteFacts, name, height=height, source_height=source, unpacked_bytes=size)


def row(over: int | None, *facts: records.Facts) -> fit.Row:
    size = sum(one.unpacked_bytes for one in facts)
    return fit.Row(Look(over, 10), size, "tight", "" if facts else "too large", {one.name: one for one in facts})


def small(project: LoadedProject, best: int, height: int, source: int) -> str:
    rows = {best: row(0, figure("ada", height, source), figure("ben", height - 1, source, 300)), best + 1: row(1)}
    return " ".join(fit._too_small(project, rows))


def test_what_is_too_small_to_play(project):
    """Lower than a tenth of 240 lines unless drawn so, or than a quarter at less than half of the size it was drawn at."""
    ramps = {
        "height at full size": (lambda high: small(project, 100, high, 200), 1, 90),
        "height at less than half": (lambda high: small(project, 49, high, 200), 1, 90),
        "height at half": (lambda high: small(project, 50, high, 200), 1, 90),
        "drawn height": (lambda high: small(project, 100, 5, high), 1, 60),
        "scale": (lambda best: small(project, best, 59, 200), 5, 100),
    }
    ramps = {name: (lambda at, result=result: bool(result(at)), first, last) for name, (result, first, last) in ramps.items()}
    assert recorded("limits of small figures", ramps) == set()
    assert fit._too_small(project, {100: row(5, figure("ada", 1, 200))}) == []
    assert small(project, 100, 5, 200) == (
        "That is small: ada is 5 of the screen's 240 lines high at scale 1.00. What costs most there is ben: 300 bytes of 400 bytes."
    )


def test_answers_of_fit(project):
    """Tables and lines to paste, for one factor, two, heights and defaults; where nothing fits and where all is said already."""
    ada = project.assets["ada"]
    cases = {
        "plain": [ada], "scaled": [changed(project, "ada", scale=0.6)],
        "two factors": [changed(project, "ada", scale=[0.5, 0.8])],
        "height": [changed(project, "ada", height=30)], "two": [ada, project.assets["quay"]],
        "as said": [changed(project, "ada", scale=0.5)],
        "enlarged": [changed(project, "ada", scale=2.0)], "thousandths": [changed(project, "ada", scale=0.555)],
        "hardly": [changed(project, "ada", scale=0.03)],
    }  # fmt: skip
    found = {}
    for name, assets in cases.items():
        rows = {50: row(-5, figure("ada", 30, 60)), 51: row(5, figure("ada", 31, 60)), 100: row(None)}
        for some, ran in ((rows, ["sprite:ada"]), ({51: rows[51]}, ["sprite:ada", "sprite:ada", "prepare:ada"]), ({100: rows[100]}, [])):
            found[f"{name}, {len(some)}, {len(ran)}"] = fit._answer(project, assets, some, "", ran, ["More."] if len(ran) > 1 else [])
        found[f"{name}, start"] = str(fit._start(project, assets))
        scaled = [fit.at_scale(one, 33).spec for one in assets]
        found[f"{name}, at 33"] = str([(one.scale, getattr(one, "height", None)) for one in scaled])
    for wanted in ("", "ada", " ada ,quay", "adda", "figures", "bell"):
        try:
            found[f"wanted {wanted!r}"] = " ".join(one.name for one in fit.scaled_assets(project, wanted))
        except ProjectError as error:
            found[f"wanted {wanted!r}"] = str(error)
    assert differing("answers of fit by rows", found) == set()


def budget(margin: int, limits: dict[str, tuple[int, int]], used: int = 100) -> Budget:
    scene = {
        "margin": margin, "margin_now": margin, "parts": [{"name": "always", "bytes": 9, "assets": ["ada", "x"], "estimated": []}],
        "limits": {key: {"used": one, "most": most, "chosen": []} for key, (one, most) in limits.items()},
    }  # fmt: skip
    return as_budget(budget_json({"play": scene}, image={"bytes": used, "planned": 7, "most": 4096}))


def test_what_is_tightest():
    """Memory first; where it fits, a passed limit as a share of what is scaled; the image with what is planned."""
    facts = {"ada": figure("ada", 1, 1, 400)}
    for margin, limits, over in (
        (5, {}, -5), (0, {}, 0), (-3, {}, 3), (5, {"cells": (10, 10)}, -5), (5, {"cells": (11, 10)}, 37), (0, {"cells": (20, 10)}, 201),
        (-3, {"cells": (20, 10)}, 3), (5, {"cells": (11, 10), "video": (800, 400)}, 201),
    ):  # fmt: skip
        scene = budget(margin, limits).scenes["play"]
        assert fit._scene_look("play", scene, facts)[:2] == (over, 400)
        assert scene.too_much == (margin < 0 or any(used > most for used, most in limits.values()))
    for used, words in ((4000, "89 bytes free"), (4089, "0 bytes free"), (4091, "2 bytes OVER")):
        assert fit._image_look(budget(1, {}, used), facts) == (used + 7 - 4096, facts["ada"].bytes, f"the image, {words}")
    assert savings.tightest(as_budget(budget_json({}))) is None
    assert savings.tightest(as_budget(budget_json({"a": {"margin": 4}, "b": {"margin": 3}, "c": {"margin": 3}}))) == "b"


def test_lists_and_colours_of_savings():
    """Six names, then how many more; means of what is drawn, none where one is not known."""
    assert [savings._listed([f"a{rank}" for rank in range(count)]) for count in (1, 6, 7)] == [
        "a0", "a0, a1, a2, a3, a4, a5", "a0, a1, a2, a3 and 3 more",
    ]  # fmt: skip
    lost = [msgspec.structs.replace(figure(str(mean), 8, 8), colour_error=records.ColourError(
        frames=1, pixels=1, mean=mean, p95=0.0, worst_frame=0, worst_mean=0.0)) for mean in (1.0, 2.0, None)]  # fmt: skip
    sound = made_facts(records.SoundFacts)
    assert savings._colours([lost[0], sound], [lost[1]]) == (1.0, 2.0)
    assert savings._colours(lost[:2], lost[:1]) == (1.5, 1.0)
    assert [savings._colours([sound], [lost[0]]), savings._colours(lost, lost[:1]), savings._colours(lost[:1], lost[1:])] == [None] * 3
    line = savings._line(savings.Saving("do it", 1234, -5, (1.0, 2.5), "time"))
    assert line == "        1,234          -5  1.00 -> 2.50 do it; lost: time"
    assert savings._line(savings.Saving("do it", 0, 0, None, "")) == "            0           0               do it"


def test_changes_that_are_tried(project):
    """Which, in which order, with which keys, for a small project whose assets are one way and another."""
    found = {}
    every = set(project.assets)
    for name, keys in {
        "plain": {}, "pieces": {"ada": {"arrangement": "pieces"}}, "frames": {"ada": {"arrangement": "frames"}},
        "tiles": {"quay": {"arrangement": "tiles"}},
        "rate of 8000": {"bell": {"rate": 8000}}, "rate of 7999": {"bell": {"rate": 7999}}, "few": {"figures": {"colours": 3}},
        "far": {"figures": {"first": 14}}, "farther": {"figures": {"first": 15}},
        "direct": {"ada": {"palette": None, "pixels": "direct15"}},
    }.items():  # fmt: skip
        assets = project.assets | {one: changed(project, one, **more) for one, more in keys.items()}
        some, concerned = dataclasses.replace(project, assets=assets), list(assets.values())
        made = [
            *reductions._arrangements(some, concerned), *reductions._fewer_bits(some, every), *reductions._rates(concerned),
            *reductions._kept_packed(some, concerned),
        ]  # fmt: skip
        said = [(one.words, one.lost, one.apart, one.packed, [(asset.name, _keys(asset)) for asset in one.assets]) for one in made]
        found[name] = "; ".join(map(str, said))
    assert differing("changes that are tried", found) == set()
    assert list(reductions._fewer_bits(project, {"bell"})) == []


def _keys(asset: Any) -> dict[str, Any]:
    return {key: getattr(asset.spec, key, None) for key in ("arrangement", "pixels", "colours", "rate", "packing")}


def test_frames_that_go(project):
    """The tenth that is shown for the shortest time, never two in a row, none at an end; what replaces them; names of what is gone."""
    found = {}
    for seed in range(16):
        chance = random.Random(seed)
        count = chance.choice((9, 10, 11, 19, 20, 30))
        files = tuple(f"art/f{rank:02}.png" for rank in range(count))
        steps = {name: [chance.randrange(count) for _ in range(chance.randint(2, 9))] for name in ("walk", "run", "sit")}
        ms = {name: chance.choice((80, [chance.randint(1, 5) * 10 for _ in frames])) for name, frames in steps.items()}
        animations = {name: Animation(frames=frames, ms=ms[name]) for name, frames in steps.items()}
        asset = dataclasses.replace(changed(project, "ada", animations=animations), files=files)
        rare = reductions._least_shown(asset, steps, list(range(count)))
        times = dict.fromkeys(range(count), 0.0)
        for name, frames in steps.items():
            for frame, one in zip(frames, ms[name] if isinstance(ms[name], list) else itertools.repeat(ms[name]), strict=False):
                times[frame] += one
        ends = {frame for frames in steps.values() for frame in (frames[0], frames[-1])}
        expected: list[int] = []
        for frame in sorted((one for one in times if times[one] and one not in ends), key=lambda one: (times[one], one)):
            if len(expected) < count // 10 and frame - 1 not in expected and frame + 1 not in expected:
                expected.append(frame)
        assert rare == expected
        sizes = reductions._Sizes(list(range(count)), [1] * count)
        stands = reductions._neighbours(steps, rare, list(range(count)))
        made = reductions._kept(asset, steps, stands, sizes, "words", "lost")
        equal = [rank if chance.random() < 0.6 else max(0, rank - 1) for rank in range(count)]
        equal = [equal[one] if equal[one] == equal[equal[one]] else rank for rank, one in enumerate(equal)]
        replaced = [one.words for one in reductions._replaced(asset, steps, equal, sizes, "same", "nothing")]
        (kept,) = made.assets
        found[f"{seed}"] = f"{rare} {stands} {kept.files} {[one.frames for one in kept.spec.animations.values()]} {replaced}"
    assert list(reductions._replaced(asset, steps, list(range(count)), sizes, "same", "nothing")) == []
    assert differing("frames that go", found) == set()


def test_palettes_drawn_by_number():
    """A swatch of 8 pixels for each entry, 16 a row or a line of the palette, and no further number; entries without a colour are clear."""
    for count, line, used, transparent in (
        (5, 0, [5], False), (16, 0, [16], True), (17, 0, [15], False), (12, 4, [4, 2, 0], True), (256, 0, [256], False),
    ):  # fmt: skip
        colours = [(rank, 255 - rank, 7) for rank in range(count)]
        keys = {"entry_count": count, "line_entries": line, "line_used": used, "transparent": transparent, "colours": colours}
        facts = made_facts(records.PaletteFacts, **keys)
        with Image.open(io.BytesIO(freeze.draw_palette(facts))) as picture:
            across, size = min(line or 16, 16), line or count
            numbers = np.asarray(picture)
            assert numbers.shape == (8 * -(-count // across), 8 * across)
            for rank in range(numbers.size // 64):
                part = numbers[8 * (rank // across) : 8 * (rank // across) + 8, 8 * (rank % across) : 8 * (rank % across) + 8]
                assert (part == min(rank, count - 1)).all()
            rgba = np.asarray(picture.convert("RGBA"))[::8, ::8].reshape(-1, 4)[:count]
        assert rgba[:, :3].tolist() == [list(one) for one in colours]
        clear = [rank % size >= used[rank // size] or (transparent and rank % size == 0) for rank in range(count)]
        assert (rgba[:, 3] == 0).tolist() == clear


def test_project_to_start_with(tmp_path):
    """What is said of it; the same again changes nothing; another file in the way is refused and left alone."""
    said = "13 files in game; next: build it with project=game"
    assert [start_project(tmp_path / "game", "game") for _ in range(2)] == [said, said]
    started = load_project(tmp_path / "game")
    frames = [np.asarray(Image.open(tmp_path / "game" / name)) for name in started.assets["hopper"].files]
    assert [frame.shape for frame in frames] == [(64, 64, 4)] * 8
    assert all(frame[..., 3].any() and not frame[63:, :, 3].any() for frame in frames)
    lowest = [int(np.flatnonzero(frame[..., 3].any(axis=1))[-1]) for frame in frames]
    assert lowest[0] == max(lowest)
    assert lowest[2] == min(lowest) < lowest[0] - 8  # a quarter of the way it is highest
    with wave.open(str(tmp_path / "game/sound/pop.wav")) as sound:
        assert sound.getparams()[:4] == (1, 2, 22050, 22050 // 6)
        levels = np.frombuffer(sound.readframes(5000), dtype="<i2")
    assert 10_000 < abs(levels.astype(int)).max() <= 14_000
    assert abs(levels[-50:].astype(int)).max() < 20
    (tmp_path / "game/art/backdrop.png").write_bytes(b"mine")
    with pytest.raises(ProjectError, match=r"art/backdrop\.png: is already in game"):
        start_project(tmp_path / "game", "game")
    assert (tmp_path / "game/art/backdrop.png").read_bytes() == b"mine"


def test_lines_about_bytes_and_builds(tmp_path):
    """Dumps as xxd writes them; long values cut; builds of the last twenty; reasons."""
    for size in (0, 1, 2, 15, 16, 17, 40):
        data = bytes(range(24, 24 + size))
        lines = where.hex_dump(data, 0x1F0)
        assert len(lines) == -(-size // 16)
        assert b"".join(bytes.fromhex(line[10:49]) for line in lines) == data
        assert [int(line[:8], 16) for line in lines] == [0x1F0 + 16 * rank for rank in range(len(lines))]
        assert "".join(line[51:] for line in lines) == "".join(chr(one) if 32 <= one <= 126 else "." for one in data)
    assert where.hex_dump(b"\x1f\x20\x7e\x7f", 0)[0].endswith("  . ~.")
    ramps = {
        "length of a fact": (lambda long: len(where._short("x" * long)), 90, 100),
        "items of a fact": (lambda many: where._short(["ab"] * many), 20, 30),
    }
    assert recorded("limits of facts in a line", ramps) == set()
    template = find_template(tmp_path, "growth.svg.j2")
    entry = {"version": "1.0.0", "used": 1000, "most": 4096, "memory": 2048}
    found = {}
    for count in (0, 1, 2, 20, 21):
        scenes = [{"play": rank, **({"end": 5} if rank % 3 else {})} for rank in range(count)]
        entries = [entry | {"build_code": f"B{rank:05}", "scenes": some} for rank, some in enumerate(scenes)]
        (tmp_path / "growth.json").write_text(msgspec.json.encode(entries).decode())
        found[f"{count} builds"] = show_growth(tmp_path / "growth.json", template, tmp_path / "growth.svg")
    (tmp_path / "why.json").write_text('{"sprite:ada": ["file changed: a"], "kit": []}')
    found["reasons"] = show_reasons(tmp_path / "why.json")
    found["no reasons"] = show_reasons(tmp_path / "none.json")
    assert differing("lines of builds", found) == set()


def test_what_trials_leave_is_bounded(tmp_path):
    """The longest unused goes first, until at most that many bytes are left; what is not a folder goes at once."""
    for most, kept in ((0, ""), (99, ""), (100, "c"), (199, "c"), (200, "bc"), (300, "abc"), (999, "abc")):
        folder = tmp_path / f"{most}"
        for rank, name in enumerate("abc"):
            (folder / name).mkdir(parents=True)
            (folder / name / "one").write_bytes(bytes(60))
            (folder / name / "two").write_bytes(bytes(40))
            os.utime(folder / name, (1000 + rank, 1000 + rank))
        (folder / "odd").write_bytes(b"x")
        trial._trim(folder, most)
        assert "".join(sorted(path.name for path in folder.iterdir())) == kept, most
    trial._trim(tmp_path / "none", 5)
    kept_file = tmp_path / "999/a/one"
    kept_file.write_bytes(trial._packed(b"content", "key", "one"))
    assert trial._content(kept_file, "key") == b"content"
    others = ((kept_file, "other"), (kept_file.with_name("two"), "key"), (tmp_path / "none/x", "key"))
    assert [trial._content(*one) for one in others] == [None] * 3
    damaged = bytearray(kept_file.read_bytes())
    damaged[-1] ^= 1
    kept_file.write_bytes(damaged)
    assert trial._content(kept_file, "key") is None
