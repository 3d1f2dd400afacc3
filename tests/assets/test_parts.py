"""Backgrounds put together from parts: where parts go at any scale, in which order, what is refused, and what depends on them."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.assets.backgrounds.prepare import prepare_background, sample_background
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.graph.places import with_lines
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import plain_arguments
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Background, Part
from pipeline.project.loading.load import load_project
from tests.makers import make_project, problems, run_steps

GROUND = (64, 48)
PARTS = """
[[background.quay.part]]
file = "art/lamp.png"
at = [10, 4]
scale = 0.5
key = "#ff00ff"

[[background.quay.part]]
file = "art/barrel.png"
name = "barrels"
at = [30, 30]
repeat = [3, 2]
every = [10, 8]
"""


@pytest.fixture
def folder(tmp_path) -> Path:
    """Art: an even ground, a lamp on magenta, a barrel whose four quarters differ."""
    art = tmp_path / "art"
    art.mkdir()
    Image.new("RGB", GROUND, (40, 60, 80)).save(art / "quay.png")
    lamp = Image.new("RGB", (16, 32), (255, 0, 255))
    lamp.paste((250, 240, 90), (4, 2, 12, 30))
    lamp.save(art / "lamp.png")
    barrel = Image.new("RGB", (6, 6), (200, 10, 10))
    barrel.paste((10, 200, 10), (3, 0, 6, 3))
    barrel.paste((10, 10, 200), (0, 3, 3, 6))
    barrel.paste((200, 200, 200), (3, 3, 6, 6))
    barrel.save(art / "barrel.png")
    return tmp_path


def composed(folder: Path, *parts: Part, **keys) -> np.ndarray:
    """Return the scaled picture of a background with parts: uint8, shape (height, width, 4)."""
    spec = Background(file="art/quay.png", part=list(parts), **keys)
    files = frame_files(folder, "quay")
    prepare_background(sources(folder, *parts), files, "quay", spec)
    return next(iter(PreparedFrames(files))).copy()


def sources(folder: Path, *parts: Part) -> Sources:
    return Sources(folder, ("art/quay.png", *(part.file for part in parts)))


def refusal(folder: Path, *parts: Part, **keys) -> str:
    """Return what is said, and check that nothing was written."""
    with pytest.raises(ProjectError) as refused:
        composed(folder, *parts, **keys)
    assert sorted(path.name for path in folder.iterdir()) == ["art"]
    return str(refused.value)


def test_parts_are_pasted_as_pillow_does(folder):
    """Source: Pillow's ``paste``, ``crop`` and ``transpose``; bit for bit at scale 1, of each mirror, with a box and copies."""
    art = Image.open(folder / "art/barrel.png").convert("RGBA")
    turns = {
        None: lambda one: one,
        "x": lambda one: one.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
        "y": lambda one: one.transpose(Image.Transpose.FLIP_TOP_BOTTOM),
        "both": lambda one: one.transpose(Image.Transpose.ROTATE_180),
    }
    for mirror, turned in turns.items():
        part = Part(file="art/barrel.png", at=(7, 9), box=(1, 2, 5, 3), mirror=mirror, repeat=(3, 2), every=(8, -4))
        wanted = Image.open(folder / "art/quay.png").convert("RGBA")
        for column in range(3):
            for row in range(2):
                wanted.paste(turned(art.crop((1, 2, 6, 5))), (7 + 8 * column, 9 - 4 * row))
        assert np.array_equal(composed(folder, part), np.asarray(wanted)), mirror


def test_later_parts_are_on_top(folder):
    """In the order of the file; common practice, no source."""
    one, two = Part(file="art/barrel.png", at=(5, 5)), Part(file="art/barrel.png", at=(5, 5), mirror="x")
    assert np.array_equal(composed(folder, one, two), composed(folder, two))
    assert np.array_equal(composed(folder, two, one), composed(folder, one))


def test_copies_stand_side_by_side_without_a_step(folder):
    """The placed size is the step that is taken where none is given."""
    near = Part(file="art/barrel.png", at=(4, 4), scale=1.5, repeat=(4, 2))
    told = Part(file="art/barrel.png", at=(4, 4), scale=1.5, repeat=(4, 2), every=(9, 9))
    assert np.array_equal(composed(folder, near), composed(folder, told))


def test_key_clears_only_the_part(folder):
    """What the key clears shows the ground; without it the colour is drawn."""
    keyed = composed(folder, Part(file="art/lamp.png", at=(10, 4), key=("#ff00ff",)))
    assert (keyed[4:36, 10:26][:2] == [40, 60, 80, 255]).all()
    assert (keyed[6:34, 14:22] == [250, 240, 90, 255]).all()
    assert (composed(folder, Part(file="art/lamp.png", at=(10, 4)))[4, 10] == [255, 0, 255, 255]).all()


def test_a_copy_of_the_ground_changes_nothing(folder):
    """A part taken from the background itself, put where it came from, is not seen: at scale 1, or in even colours, whatever the blend."""
    rng = np.random.default_rng(2)
    Image.fromarray(rng.integers(0, 256, (*GROUND[::-1], 3), dtype=np.uint8)).save(folder / "art/quay.png")
    plain = composed(folder)
    for blend in (0, 3, 5.5):
        part = Part(file="art/quay.png", box=(8, 6, 20, 12), at=(8, 6), blend=blend)
        assert np.array_equal(composed(folder, part), plain)
    whole = Part(file="art/quay.png", at=(0, 0))
    for resample in ("nearest", "area", "dominant"):
        keys = {"resample": resample, "scale": 0.77}  # 49.28 x 36.96: of the last column and row the background has a part
        one, other = composed(folder, whole, **keys), composed(folder, **keys)
        assert np.array_equal(one[:-1, :-1], other[:-1, :-1]), resample


SCALES = [round(0.2 + 0.073 * rank, 3) for rank in range(18)] + [2.3, 4]


@pytest.mark.parametrize("resample", ["nearest", "area", "lanczos", "dominant"])
def test_centre_stays_where_the_scale_puts_it(folder, resample):
    """At 20 scales the middle of what a part changes is within half a pixel of where the background's scale puts the part's middle."""
    Image.new("RGB", (160, 80), (0, 0, 0)).save(folder / "art/quay.png")
    Image.new("RGB", (24, 40), (255, 255, 255)).save(folder / "art/lamp.png")
    part = Part(file="art/lamp.png", at=(51, 27.5), scale=0.37)
    middle = np.array([51 + 24 * 0.37 / 2, 27.5 + 40 * 0.37 / 2])
    assert len(SCALES) == 20
    for scale in SCALES:
        made = composed(folder, part, resample=resample, scale=scale)[..., 0].astype(float) / 255
        light = np.where(made <= 0.04045, made / 12.92, ((made + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
        found = [(light.sum(axis=axis) * (np.arange(light.shape[1 - axis]) + 0.5)).sum() / light.sum() for axis in (0, 1)]
        assert abs(np.array(found) - middle * scale).max() <= 0.5, scale


def test_height_moves_parts_as_a_scale_does(folder):
    """``height`` is another way to say the scale."""
    part = Part(file="art/barrel.png", at=(20, 20))
    assert np.array_equal(composed(folder, part, height=24), composed(folder, part, scale=0.5))


def test_original_is_composed_at_the_size_of_its_file(folder):
    """What the proof shows as drawn has the parts too, at the size of the background's own file."""
    part = Part(file="art/barrel.png", at=(20, 20))
    drawn = composed(folder, part)
    composed(folder, part, scale=0.5)
    spec = Background(file="-", part=[part])
    sample_background(sources(folder, part), frame_files(folder, "quay"), folder / "before.png", "quay", spec)
    with Image.open(folder / "before.png") as before:
        assert np.array_equal(np.asarray(before.convert("RGBA"))[:48, :64], drawn)


def test_drawn_harbours_are_pasted_as_pillow_does(tmp_path):
    """Source: Pillow's ``paste`` and ``crop``. The input is the demo's art, painted before there were parts; a lamp of one harbour
    on another, and at half the size the mean of four pixels, which Pillow's BOX filter takes, but for a code."""
    harbours = Path(__file__).parents[2] / "demo_project/art/harbours"
    names = ("palmsteps.png", "slatequay.png")
    part = Part(file=names[1], box=(584, 100, 36, 190), at=(310, 92))
    wanted = Image.open(harbours / names[0]).convert("RGBA")
    wanted.paste(Image.open(harbours / names[1]).convert("RGBA").crop((584, 100, 620, 290)), (310, 92))
    for scale, shown, off in ((1, wanted, 0), (0.5, wanted.resize((320, 160), Image.Resampling.BOX), 1)):
        files = frame_files(tmp_path, "quay")
        prepare_background(Sources(harbours, names), files, "quay", Background(file=names[0], part=[part], scale=scale))
        made = next(iter(PreparedFrames(files))).astype(int)
        assert abs(made - np.asarray(shown).astype(int)).max() <= off


PLACE = "project.toml, [[background.quay.part]] number "
# parts, what is said
REFUSED = [
    (
        [Part(file="art/lamp.png", at=(1, 1)), Part(file="art/barrel.png", at=(64, 3))],
        f"{PLACE}2 at: art/barrel.png is put from 64, 3 to 70, 9, which is outside the background's 64 x 48 pixels\n"
        "    correct its place, in pixels of the background's file, or leave the part out",
    ),
    (
        [Part(file="art/barrel.png", at=(60.5, -2), clip=False)],
        f"{PLACE}1 at: art/barrel.png is put from 60.5, -2 to 66.5, 4, which reaches beyond the background's 64 x 48 pixels\n"
        "    move it, or write clip = true to cut off what reaches beyond",
    ),
    (
        [Part(file="art/barrel.png", at=(2, 2), repeat=(12, 1))],
        f"{PLACE}1 repeat: copy 12 of 12 of art/barrel.png is put from 68, 2 to 74, 8, which is outside the background's 64 x 48 pixels\n"
        "    10 of 12 copies fit: correct repeat, every or at",
    ),
    (
        [Part(file="art/barrel.png", at=(2, 2), repeat=(11, 1))],
        f"{PLACE}1 repeat: copy 11 of 11 of art/barrel.png is put from 62, 2 to 68, 8, which reaches beyond the background's 64 x 48 "
        "pixels\n    10 of 11 copies fit whole: correct repeat, every or at, or write clip = true",
    ),
    (
        [Part(file="art/lamp.png", at=(1, 1), box=(10, 0, 7, 4))],
        f"{PLACE}1 box: [10, 0, 7, 4] reaches to 17, 4; art/lamp.png has 16 x 32 pixels\n"
        "    write left, top, width and height inside the file",
    ),
    (
        [Part(file="art/barrel.png", at=(1, 1), scale=0.5, blend=2)],
        f"{PLACE}1 blend: 2 pixels at each edge of art/barrel.png, which takes 3 x 3 pixels of the background\n"
        "    blend over at most 1.5, so that both edges leave room for each other",
    ),
    (
        [Part(file="art/text.png", at=(1, 1)), Part(file="art/barrel.png", at=(90, 1)), Part(file="art/cut.png", at=(1, 1))],
        "art/text.png, part 1 of quay: is not a picture that can be read\n    save it as PNG\n"
        f"{PLACE}2 at: art/barrel.png is put from 90, 1 to 96, 7, which is outside the background's 64 x 48 pixels\n"
        "    correct its place, in pixels of the background's file, or leave the part out\n"
        "art/cut.png, part 3 of quay: is damaged or cut short: it ends too early, after 60 bytes\n"
        "    save it again from the paint program",
    ),
]


@pytest.mark.parametrize(("parts", "said"), REFUSED, ids=[one[1].partition(": ")[2][:40] for one in REFUSED])
def test_what_cannot_be_laid_is_refused(folder, parts, said):
    """With the part's number and file, all of them together; nothing is written."""
    (folder / "art/text.png").write_text("no picture")
    (folder / "art/cut.png").write_bytes((folder / "art/lamp.png").read_bytes()[:60])
    assert refusal(folder, *parts) == said


def test_what_reaches_beyond_is_cut_off_when_asked(folder):
    """Source: Pillow's ``paste``, which cuts."""
    part = Part(file="art/barrel.png", at=(-2, 45), clip=True, repeat=(12, 1))
    wanted = Image.open(folder / "art/quay.png").convert("RGBA")
    for column in range(12 - 1):
        wanted.paste(Image.open(folder / "art/barrel.png").convert("RGBA"), (-2 + 6 * column, 45))
    assert np.array_equal(composed(folder, Part(file="art/barrel.png", at=(-2, 45), clip=True, repeat=(11, 1))), np.asarray(wanted))
    (folder / "quay.rgba").unlink()
    (folder / "quay.frames.json").unlink()
    assert "copy 12 of 12 of art/barrel.png is put from 64, 45 to 70, 51, which is outside" in refusal(folder, part)


def test_key_that_no_pixel_has_is_noted(folder):
    """A warning in the step's line, with number and file."""
    parts = Part(file="art/lamp.png", at=(1, 1)), Part(file="art/barrel.png", at=(1, 1), key=("#0ac80a", "#00ff00"))
    spec = Background(file="art/quay.png", part=list(parts))
    line = prepare_background(sources(folder, *parts), frame_files(folder, "quay"), "quay", spec)
    assert line == "64 x 48 pixels; part 2 (art/barrel.png) has no pixel of its key colour #00ff00"


def test_part_of_which_nothing_is_seen_is_noted(folder):
    """A part drawn clear, and one that is all key colour; where one pixel is left there is no note."""
    whole = Image.new("RGBA", (6, 6), (255, 0, 255, 0))
    whole.save(folder / "art/clear.png")
    whole.putalpha(255)
    whole.save(folder / "art/key.png")
    whole.putpixel((2, 3), (0, 0, 0, 255))
    whole.save(folder / "art/dot.png")
    keys = {"clear": None, "key": ("#ff00ff",), "dot": ("#ff00ff",)}
    parts = [Part(file=f"art/{name}.png", at=(1, 1), key=key) for name, key in keys.items()]
    line = prepare_background(sources(folder, *parts), frame_files(folder, "quay"), "quay", Background(file="art/quay.png", part=parts))
    seen = "is wholly transparent, so it is not seen"
    assert line == f"64 x 48 pixels; part 1 (art/clear.png) {seen}; part 2 (art/key.png) {seen}"


def test_lossy_part_is_noted_once(folder):
    Image.open(folder / "art/lamp.png").convert("RGB").save(folder / "art/lamp.jpg")
    parts = [Part(file="art/lamp.jpg", at=(x, 1)) for x in (1, 20)]
    line = prepare_background(sources(folder, *parts), frame_files(folder, "quay"), "quay", Background(file="art/quay.png", part=parts))
    assert line.startswith("64 x 48 pixels; art/lamp.jpg is in a format that changes colours")
    assert line.count("lamp.jpg") == 1


# change of the second part, what is said
LOADED = [
    ("box = [0, 0, 0, 4]", "box: takes 0 x 4 pixels of art/barrel.png"),
    ("box = [0, 0, -1, 4]", "box: expected a list of 4: "),
    ("at = [nan, 2]", "at: [nan, 2.0] of art/barrel.png is not a place in a picture"),
    ("at = [1e9, 2]", "at: [1000000000.0, 2.0] of art/barrel.png is not a place in a picture"),
    ("blend = inf", "blend: expected a number, 0 to 65535, saw inf"),
    ("blend = nan", "blend: expected a number, 0 to 65535, saw nan"),
    ("repeat = [0, 2]", "repeat: expected a list of 2: "),
    ("repeat = [1, 1]", "every: there is one copy of art/barrel.png"),
    ("every = [0, 8]", "every: [0.0, 8.0] puts 3 copies of art/barrel.png across in one place"),
    ("tolerance = 4", "tolerance: there is no key colour"),
    ("mirror = 'z'", "mirror: expected \"x\" or \"y\" or \"both\", saw 'z'"),
    ("file = 'art/barel.png'", "file: there is no file 'art/barel.png'"),
    ('name = "bar\\nrel"', "name: 'bar\\nrel' has a line break or another control character"),
    ("scale = 0", "scale: expected a number, 0.01 to 8, or two of them, saw 0"),
]


@pytest.mark.parametrize(("line", "said"), LOADED)
def test_what_cannot_be_is_refused_before_anything_runs(tmp_path, line, said):
    """With its line in the project file, the part's number, and its file where the value alone does not say it."""
    make(tmp_path)
    key = line.split(" =")[0]
    kept = [one for one in PARTS.strip().splitlines()[7:] if not one.startswith(f"{key} =")]
    text = (tmp_path / "project.toml").read_text(encoding="utf-8")
    text = text.replace("\n".join(PARTS.strip().splitlines()[7:]), "\n".join([*kept, line]))
    (tmp_path / "project.toml").write_text(text, encoding="utf-8")
    found = problems(tmp_path)
    assert len(found) == 1
    assert f"[[background.quay.part]] number 2 {said}" in found[0]
    assert found[0].startswith("project.toml, line ")


def make(folder: Path) -> None:
    """Make the small project with two parts."""
    make_project(folder, ('file = "art/quay.png"\npalette = "quay_colours"', f'file = "art/quay.png"\npalette = "quay_colours"\n{PARTS}'))
    lamp = Image.new("RGB", (16, 32), (255, 0, 255))
    lamp.paste((250, 240, 90), (4, 2, 12, 30))
    lamp.save(folder / "art/lamp.png")
    Image.new("RGB", (6, 6), (200, 10, 10)).save(folder / "art/barrel.png")


def test_part_s_file_is_among_what_its_background_alone_depends_on(tmp_path):
    """A change of a part's picture reaches the steps that read art of its background, and no other art's."""
    make(tmp_path)
    project = load_project(tmp_path)
    assert project.assets["quay"].files == ("art/quay.png", "art/lamp.png", "art/barrel.png")
    readers = {step.name for step in plan_project(project).steps if step.call and tmp_path / "art/barrel.png" in step.reads}
    assert {name for name in readers if ":" in name} == {"prepare:quay", "sample:quay", "originals:quay"}


def test_name_of_a_part_changes_only_what_shows_it(tmp_path):
    """No step but the one whose pictures the proof captions is handed the name."""
    make(tmp_path)

    def handed() -> dict[str, str]:
        return {step.name: repr(plain_arguments(step.arguments)) for step in plan_project(load_project(tmp_path)).steps}

    before = handed()
    text = (tmp_path / "project.toml").read_text(encoding="utf-8")
    (tmp_path / "project.toml").write_text(text.replace('name = "barrels"', 'name = "tubs"'), encoding="utf-8")
    after = handed()
    assert [name for name in before if before[name] != after[name] and ":" in name] == ["originals:quay"]


def test_refusal_of_a_step_gets_the_line_of_its_part(tmp_path):
    """Lines counted here by hand."""
    (tmp_path / "project.toml").write_text('format = 1\n[background.quay]\nfile = "a"\n' + PARTS)
    said = with_lines(f"{PLACE}2 at: wrong\n    do\n{PLACE}1 box: wrong\n    do", tmp_path)
    assert said == (
        "project.toml, line 14, [[background.quay.part]] number 2 at: wrong\n    do\n"
        "project.toml, line 5, [[background.quay.part]] number 1 box: wrong\n    do"
    )


def test_the_guide_s_example_is_made(tmp_path):
    """What ``parts.md`` shows loads and is laid, with art of the sizes it speaks of."""
    text = (Path(__file__).parents[2] / "pipeline/guide/parts.md").read_text(encoding="utf-8")
    example = re.search(r"```toml\n(.*?)```", text, re.DOTALL)[1]
    make_project(tmp_path, ('[background.quay]\nfile = "art/quay.png"\npalette = "quay_colours"\n', example))
    Image.new("RGB", (640, 320), (90, 100, 110)).save(tmp_path / "art/quay.png")
    details = Image.new("RGB", (320, 500), (255, 0, 255))
    details.paste((250, 240, 90), (60, 30, 140, 460))
    details.paste((120, 70, 30), (208, 308, 288, 420))
    details.save(tmp_path / "art/details.png")
    Image.new("RGB", (320, 200), (10, 200, 10)).save(tmp_path / "art/old_quay.png")
    run_steps(load_project(tmp_path), "prepare:quay")
    made = next(iter(PreparedFrames(frame_files(tmp_path / "build/work", "quay"))))
    assert made.shape == (160, 320, 4)
    assert (made[100, 246] == [10, 200, 10, 255]).all()
    assert (made[118, 35] == [120, 70, 30, 255]).all()
    assert (made[75, 162] == [250, 240, 90, 255]).all()
    assert (made[60, 140] == [90, 100, 110, 255]).all()
    assert (made[..., 1] >= 70).all(), "nothing of the ground of the details is seen"


def test_every_form_has_the_parts(tmp_path):
    """A bitmap and tiles hold the parts: both show the lamp where it was put, and a lamp's colour is in the palette."""
    for arrangement in ("bitmap", "tiles"):
        make(tmp_path / arrangement)
        text = (tmp_path / arrangement / "project.toml").read_text(encoding="utf-8")
        more = 'palette = "quay_colours"\narrangement = "tiles"\nmap_entry = "HVtttttttttttttt"\n'
        if arrangement == "tiles":
            text = text.replace('palette = "quay_colours"\n', more, 1)
        (tmp_path / arrangement / "project.toml").write_text(text, encoding="utf-8")
        run_steps(load_project(tmp_path / arrangement), "verify", "proof:quay")
        with Image.open(tmp_path / arrangement / "build/proofs/quay.png") as proof:
            shown = np.asarray(proof.convert("RGB"))[: 48 * 4, : 64 * 4].astype(int)
        at = shown[4 * 12, 4 * 14]
        assert abs(at - [250, 240, 90]).max() < 12, arrangement
        assert Fraction(*shown.shape[:2]) == Fraction(48, 64)
