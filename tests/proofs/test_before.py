"""Before and after: the frames as drawn, as scaled and as decoded, and what lies between the last two."""

from __future__ import annotations

import colorsys
import dataclasses
import itertools
import math
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.cache.results import Results
from pipeline.project.model import LoadedProject
from pipeline.proofs.canvas import ALARM, PAPER, aspect_size, board
from pipeline.proofs.kinds import before
from pipeline.proofs.kinds.before import before_after, chosen_view, panel, read_samples
from tests.conftest import some
from tests.makers import TARGETS, build_here, make_project, project_text, write_text
from tests.report.making import build, middles, pixels, subject

MOST = (300, 420)


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def project(request, tmp_path_factory) -> LoadedProject:
    """The small project for each shipped target."""
    return build(tmp_path_factory.mktemp("before") / request.param, target=request.param)


def test_samples_are_the_first_frame_and_the_worst(project):
    """Frame 0, and the one the facts call the worst; the source is that of the art's own file."""
    one = subject(project, "crowd")
    samples = read_samples(one)
    worst = one.facts.colour_error.worst_frame

    assert worst != 0, "the art does not test what it should"
    assert [sample.number for sample in samples] == [0, worst]
    with Image.open(project.folder / "art/crowd.png") as art:
        for sample in samples:
            left, top = sample.number % 5 * 30, sample.number // 5 * 28
            assert np.array_equal(sample.source, np.asarray(art)[top : top + 28, left : left + 30])
    frames = np.fromfile(project.folder / "build/work/crowd.rgba", dtype=np.uint8).reshape(10, 23, 24, 4)
    for sample in samples:
        assert np.array_equal(sample.scaled, frames[sample.number])
        assert np.array_equal(sample.image[..., :3][sample.image[..., 3] > 0], _decoded(one, sample.number)[sample.image[..., 3] > 0])


def _decoded(one, number: int) -> np.ndarray:
    return one.coloured()[0][number][:23, :24]


def test_the_difference_is_that_of_the_facts(project):
    """The mean over the worst frame's opaque pixels equals ``worst_mean``, which the conversion worked out."""
    for name in ("crowd", "quay"):
        one = subject(project, name)
        sample = read_samples(one)[-1]

        assert (sample.lost >= 0).all()
        assert sample.lost[sample.scaled[..., 3] > 0].mean() / 100 == pytest.approx(one.facts.colour_error.worst_mean, abs=0.006)


def test_panels_show_every_pixel_as_large(project):
    """Source and scaled frame fill the same box; where scaling is 1, both are exact copies."""
    one = subject(project, "quay")
    samples = read_samples(one)
    view = chosen_view(one, samples, MOST)
    inside = (view.box[2] - view.box[0], view.box[3] - view.box[1])
    size = aspect_size(*inside, view.times, one.pixel_aspect)

    box = np.s_[view.box[1] : view.box[3], view.box[0] : view.box[2]]
    for part in ("source", "scaled", "image"):
        shown = panel(one, samples[0], part, view, size)
        assert np.array_equal(middles(shown, inside), getattr(samples[0], part)[box][..., :3])


def test_scaled_figure_stands_where_the_drawn_one_does(project):
    """At 0.8, the box about what is opaque is the same in all panels but for the width of a scaled pixel."""
    one = subject(project, "crowd")
    samples = read_samples(one)
    view = chosen_view(one, samples, MOST)
    size = aspect_size(view.box[2] - view.box[0], view.box[3] - view.box[1], view.times, one.pixel_aspect)
    boxes = [_red_box(panel(one, samples[0], part, view, size)) for part in ("source", "scaled", "image")]

    assert all(abs(a - b) <= 2 * view.times for box in boxes[1:] for a, b in zip(boxes[0], box, strict=True))


def _red_box(shown: np.ndarray) -> tuple[int, ...]:
    warm = shown[..., 0].astype(int) - shown[..., 2] > 60
    rows, columns = np.flatnonzero(warm.any(axis=1)), np.flatnonzero(warm.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]), int(rows[-1])


def _changed(one, frame: int):
    """Return a subject with another pixel in one frame."""
    held = one.decoded.pixels.copy()
    row, column = np.argwhere(held[frame] != held[frame, 0, 0])[0]
    held[frame, row, column] = held[frame, 0, 0]
    return dataclasses.replace(one, decoded=dataclasses.replace(one.decoded, pixels=held))


def test_panels_are_kept_while_what_they_show_stays(project, tmp_path, monkeypatch):
    """A frame that is not shown changes nothing; one that is, another name and other pixels of the console draw them again."""
    drawn, draw = [], before._drawn_panels
    monkeypatch.setattr(before, "_drawn_panels", lambda *given: drawn.append(given) or draw(*given))

    def kept(one) -> bytes:
        drawn.clear()
        with Results(tmp_path / "proof.results") as results:
            return before_after(dataclasses.replace(one, results=results))

    one = subject(project, "crowd")
    hidden = next(number for number in range(10) if number not in {sample.number for sample in read_samples(one)})
    first = kept(one)
    assert drawn
    assert kept(_changed(one, hidden)) == first == before_after(one)
    assert not drawn[:-1], "only the last one, which keeps nothing, is drawn"
    wide, high = one.pixel_aspect
    for other in (_changed(one, 0), dataclasses.replace(one, name="mob"), dataclasses.replace(one, pixel_aspect=(2 * wide, 3 * high))):
        picture = kept(other)
        assert drawn
        assert picture != first
        assert picture == before_after(other)


def test_a_lost_limb_is_loud(project):
    """Where the image is clear and the scaled frame is not, the difference is magenta, and nowhere in a good build."""
    one = subject(project, "crowd")
    good = pixels(before_after(one))
    assert one.decoded.pixels.shape[1] >= 23
    clear = one.decoded.pixels[0, 0, 0]
    one.decoded.pixels[:, 15:] = clear

    harmed = pixels(before_after(dataclasses.replace(one)))  # which has not worked out its colours yet

    def loud(picture: np.ndarray) -> int:
        return int((picture == ALARM).all(axis=-1).sum())

    assert loud(harmed) > loud(good) + 200
    assert loud(good) < 14 * 14  # the sample in the key


def test_large_picture_is_cut_to_where_it_lost_most(tmp_path):
    """A background with one corner of many hues, the rest one colour: that corner is shown, at twice its size."""
    folder = make_project(tmp_path / "p")
    picture = Image.new("RGB", (640, 480), (120, 180, 220))
    draw = ImageDraw.Draw(picture)
    for x in range(100):
        for y in range(100):
            draw.point((530 + x, 370 + y), fill=tuple(round(255 * part) for part in colorsys.hsv_to_rgb(x / 100, y / 100, 0.8)))
    picture.save(folder / "art/quay.png")
    write_text(folder, project_text())
    project = build_here(folder, "verify", "proofs").project
    one = subject(project, "quay")

    view = chosen_view(one, read_samples(one), MOST)

    assert view.cut
    assert view.times == 2
    assert view.box[2] - view.box[0] == 150
    assert view.box[3] - view.box[1] == 210
    assert view.box[0] <= 535
    assert view.box[1] <= 375
    assert view.box[2] >= 625
    assert view.box[3] >= 465


def test_a_hole_is_shown_before_any_wrong_colour(tmp_path):
    """Of a figure too large for its panel, the part that the image lacks is shown."""
    folder = make_project(tmp_path / "p")
    for rank in range(2):
        picture = Image.new("RGBA", (500, 400), (200, 60, 40, 255))
        ImageDraw.Draw(picture).rectangle((0, 0, 100, 100), fill=(190, 90, 40, 255))
        picture.save(folder / f"art/ada/walk_{rank}.png")
    one = subject(build_here(folder, "verify", "proofs").project, "ada")
    one.decoded.pixels[:, 300:330, 450:480] = 0

    view = chosen_view(one, read_samples(one), MOST)

    assert view.cut
    assert view.box[0] <= 450
    assert view.box[1] <= 300
    assert view.box[2] >= 480
    assert view.box[3] >= 330


@pytest.mark.parametrize("scale", some([0.5, 0.77, 1.0, 1.5, 3.0], 3))
def test_any_scale_can_be_shown(tmp_path, scale):
    """Nothing in the image is shown smaller than it is, and no panel is left empty."""
    folder = make_project(tmp_path / "p", ('palette = "figures"', f'palette = "figures"\nscale = {scale}'))
    project = build_here(folder, "verify", "proofs").project
    one = subject(project, "ada")

    samples = read_samples(one)
    view = chosen_view(one, samples, MOST)

    assert view.times >= scale
    size = aspect_size(view.box[2] - view.box[0], view.box[3] - view.box[1], view.times, one.pixel_aspect)
    for part in ("source", "scaled", "image", "lost"):
        shown = panel(one, samples[0], part, view, size)
        assert not (shown == PAPER).all(axis=-1).any()


def test_animated_source_gives_the_frame_of_that_number(tmp_path):
    """A GIF is sampled by its frames, not by files."""
    folder = make_project(tmp_path / "p")
    hues = [(250, 60, 40), (240, 70, 40), (10, 200, 90), (40, 60, 200)]
    frames = [Image.new("RGB", (16, 16), hue) for hue in hues]
    frames[0].save(folder / "art/turn.gif", save_all=True, append_images=frames[1:], duration=50)
    more = '[sprite.turn]\nanimated = "art/turn.gif"\npalette = "turning"\n[palette.turning]\ncolours = 3\ntransparent = true\n'
    write_text(folder, project_text(more=more))
    project = build_here(folder, "verify", "proofs").project

    one = subject(project, "turn")
    samples = read_samples(one)

    for sample in samples:
        assert tuple(sample.source[3, 3]) == (*hues[sample.number], 255)
    assert len(samples) == 1 + (one.facts.colour_error.worst_frame != 0)
    assert Path(project.folder / "build/proofs/turn.anim.png").is_file()


def test_the_window_that_lost_most_is_found():
    """Every place in steps of 8 pixels and the last one, summed up on its own, by exact fractions; of equal ones the first."""
    random = np.random.default_rng(2)
    for factor, origin, size in (("0.77", "0", (40, 30)), ("5/3", "-7/2", (31, 64)), ("1", "3", (64, 64)), ("1/2", "1/3", (9, 9))):
        factors, origins = (Fraction(factor), Fraction("4/5")), (Fraction(origin), Fraction(origin) / 2)
        scaled = np.zeros((60, 70, 4), dtype=np.uint8)
        sample = before.Sample(0, np.zeros((64, 64, 4), dtype=np.uint8), scaled, scaled, origins)
        lost = random.integers(-1, 3, scaled.shape[:2]) if size[0] != 9 else np.ones(scaled.shape[:2], dtype=int)
        sample.__dict__["lost"] = lost  # where a cached property keeps its value
        weights, found = np.where(lost < 0, before._MISSING, lost), []
        for top, left in itertools.product(*({*range(0, 64 - side + 1, 8), 64 - side} for side in size[::-1])):
            (x0, x1), (y0, y1) = (
                [min(max(math.floor(at * by + start), 0), limit) for at in (first, first + side)]
                for first, side, by, start, limit in zip((left, top), size, factors, origins, lost.shape[::-1], strict=True)
            )
            found.append((-int(weights[y0:y1, x0:x1].sum()), top, left))
        assert before._worst_place(sample, factors, size) == min(found)[:0:-1]


def test_scaled_pixels_under_places_are_those_of_fractions():
    places = np.arange(-9, 40) / 2
    for factor, origin in ((Fraction(77, 100), Fraction(0)), (Fraction(9, 7), Fraction(-5, 3)), (Fraction(1), Fraction(1, 2))):
        wanted = [math.floor(Fraction(at) * factor + origin) for at in places]
        assert before._pixels_at(places, factor, origin).tolist() == wanted


@pytest.mark.parametrize("factor", ["3/4", "1/5"])
@pytest.mark.parametrize("aspect", [(1, 1), (8, 7), (3, 4)])
def test_a_panel_shows_what_is_in_its_box(aspect, factor):
    """Pixels say by their colour which column and row they are; of any box each is where a line of arithmetic puts it, to two pixels."""
    random, small = np.random.default_rng(3), Fraction(factor)
    source, scaled = _numbered(40, 6), _numbered(int(40 * small), 8)
    sample = before.Sample(0, source, scaled, scaled, (Fraction(0), Fraction(0)))
    for _ in range(20):
        first, span = random.integers(0, 20, 2).tolist(), random.integers(6, 20, 2).tolist()
        view = before.View((small, small), 6, (*first, first[0] + span[0], first[1] + span[1]))
        size = aspect_size(*span, view.times, aspect)
        for part, scale, step in (("source", 1, 6), ("scaled", small, 8), ("image", small, 8)):
            shown = panel(SimpleNamespace(pixel_aspect=aspect), sample, part, view, size)
            assert shown.shape == (size[1], size[0], 3)
            across, down = shown[: size[1] // 2, : size[0] - 2, 0].T, shown[: size[1] - 2, : size[0] // 2, 1]
            for found, start, wide, long in ((across, first[0], span[0], size[0]), (down, first[1], span[1], size[1])):
                least, most = (
                    [step * math.floor((start + Fraction((at + off) * wide, long)) * scale) for at in range(len(found))] for off in (-2, 3)
                )
                assert (found >= np.array(least)[:, None]).all(), (part, view.box)
                assert (found <= np.array(most)[:, None]).all(), (part, view.box)


def _numbered(side: int, step: int) -> np.ndarray:
    rows, columns = np.mgrid[:side, :side]
    return np.stack([columns * step, rows * step, 0 * rows, 0 * rows + 255], axis=-1).astype(np.uint8)


def test_half_transparent_art_is_mixed_with_the_board():
    """At one screen pixel a source pixel; against Pillow's alpha compositing, whose roundings may differ by one."""
    source = np.random.default_rng(4).integers(0, 256, (24, 20, 4), dtype=np.uint8)
    sample = before.Sample(0, source, source, source, (Fraction(0), Fraction(0)))
    view = before.View((Fraction(1), Fraction(1)), 1, (3, 5, 19, 22))
    shown = panel(SimpleNamespace(pixel_aspect=(1, 1)), sample, "source", view, (16, 17))
    ground = Image.fromarray(board(17, 16)).convert("RGBA")
    wanted = Image.alpha_composite(ground, Image.fromarray(source[5:22, 3:19])).convert("RGB")
    assert abs(shown.astype(int) - np.asarray(wanted)).max() <= 1
