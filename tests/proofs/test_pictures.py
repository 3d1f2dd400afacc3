"""Proofs show what the image holds, pixel for pixel: letters, lines and margins taken away, the decoded frames are left."""

from __future__ import annotations

import dataclasses
import io
from fractions import Fraction

import msgspec
import numpy as np
import pytest
from PIL import Image

from pipeline.project.model import LoadedProject
from pipeline.proofs.canvas import ANCHOR_DARK, ANCHOR_LIGHT, BOARD_DARK, BOARD_LIGHT, WIDE
from pipeline.proofs.kinds import background as background_proof
from pipeline.proofs.kinds.animation import HELD, animation, place, play
from pipeline.proofs.kinds.background import background, placed
from pipeline.proofs.kinds.sprite import Group, arranged, contact_sheet, groups
from pipeline.proofs.looks.frames import background_picture, sprite_frames
from pipeline.proofs.subject import coloured
from pipeline.target.kinds import KINDS
from tests.conftest import some
from tests.graph.looks import looks_of
from tests.made_facts import stored_tiles
from tests.makers import TARGETS
from tests.proofs.test_looks import drawn
from tests.recorded import differing
from tests.report.making import CROWD, arguments, build, harmed, middles, pixels, subject

_BEHIND = {BOARD_LIGHT, BOARD_DARK, ANCHOR_LIGHT, ANCHOR_DARK}


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def project(request, tmp_path_factory) -> LoadedProject:
    """The small project for each shipped target; the pixels of one of them are not square (32:35)."""
    return build(tmp_path_factory.mktemp("proofs") / request.param, target=request.param)


def test_build_looks_as_it_was_looked_at(project):
    """All that a person and a program get; see ``tests.recorded``."""
    assert differing(f"build of a crowd, {project.spec.game.target}", looks_of(project.folder)) == set()


def _is_frame(shown: np.ndarray, rgb: np.ndarray, clear: np.ndarray) -> bool:
    """Whether a shown frame has the decoded colours where it is opaque and the board elsewhere, for every console pixel."""
    found = middles(shown, clear.shape[::-1])
    behind = {tuple(colour) for colour in found[clear].tolist()}
    return np.array_equal(found[~clear], rgb[~clear]) and behind <= _BEHIND


def test_contact_sheet_holds_every_frame_exactly(project):
    """Every frame is on the sheet where the layout says, as the console will show it; none is missing."""
    one = subject(project, "crowd")
    sheet, layout, (rgb, clear) = pixels(contact_sheet(one)), arranged(one), one.coloured()
    width, height = layout.shown

    assert sheet.shape[:2] == (layout.height, layout.width)
    assert {spot.frame for spot in layout.places} == set(range(10))
    for spot in layout.places:
        assert _is_frame(sheet[spot.top : spot.top + height, spot.left : spot.left + width], rgb[spot.frame], clear[spot.frame])


def test_a_sprite_in_pieces_is_shown_whole(tmp_path):
    """Put together from its pieces, every frame is on the sheet as on that of whole frames."""
    more = CROWD.replace("scale = 0.8", 'scale = 0.8\narrangement = "pieces"')
    one = subject(build(tmp_path / "p", more=more), "crowd")
    sheet, layout, (rgb, clear) = pixels(contact_sheet(one)), arranged(one), one.coloured()

    assert one.facts.arrangement == "pieces"
    assert clear.any(axis=(1, 2)).all()
    assert not clear.all(axis=(1, 2)).any()
    for spot in layout.places:
        shown = sheet[spot.top : spot.top + layout.shown[1], spot.left : spot.left + layout.shown[0]]
        assert _is_frame(shown, rgb[spot.frame], clear[spot.frame])


def test_shown_pixels_have_the_consoles_shape(project):
    """A frame of equal sides is shown as wide as high in the ratio of the target's pixels."""
    one = subject(project, "crowd")
    width, height = arranged(one).shown
    frame_height, frame_width = one.decoded.pixels.shape[1:]

    wanted = Fraction(*one.pixel_aspect) * Fraction(frame_width, frame_height)
    assert abs(width - height * wanted) <= max(1, wanted)
    if project.target.name == "Lattice 16":
        assert (width, height) == (96, 105)


def test_animation_shows_the_frames_for_their_time(project):
    """Each step of each animation is there for its ticks, loops twice, read by Pillow; only the caption is added."""
    one = subject(project, "crowd")
    rgb, clear = one.coloured()
    left, top, width, height = place(one)
    steps = _merged(play(one.animations()))

    with Image.open(io.BytesIO(animation(one))) as file:
        assert file.n_frames == len(steps)
        for rank, (_, frame, ticks) in enumerate(steps):
            file.seek(rank)
            shown = np.asarray(file.convert("RGB"))[top : top + height, left : left + width]
            assert _is_frame(shown, rgb[frame], clear[frame])
            assert file.info["duration"] == pytest.approx(float(ticks * 1000 / Fraction(str(project.target.screen.refresh))))


def _merged(steps):
    found = []
    for name, frame, ticks in steps:
        if found and found[-1][:2] == (name, frame):
            found[-1] = (name, frame, found[-1][2] + ticks)
        else:
            found.append((name, frame, ticks))
    return found


def test_loops_play_twice_and_ends_are_held():
    """What plays once holds its last step; with very many steps a loop is played once."""
    assert play([("a", True, [(0, 5), (1, 6)]), ("b", False, [(2, 7)])]) == [
        ("a", 0, 5), ("a", 1, 6), ("a", 0, 5), ("a", 1, 6), ("b", 2, 7), ("b", 2, HELD),
    ]  # fmt: skip
    assert len(play([("a", True, [(0, 1)] * 201)])) == 201


def test_an_animation_without_steps_is_reported(project):
    """A pattern may name no frame yet: the picture is there, with the first frame and the words."""
    one = subject(project, "crowd")
    one.decoded.animations = [(1, True, [])]

    with Image.open(io.BytesIO(animation(one))) as file:
        assert getattr(file, "n_frames", 1) == 1
        assert file.size == (max(place(one)[2], 220), place(one)[3] + 44)


def test_steps_come_from_the_facts_as_the_project_says(project):
    """The order and ticks that the proof plays are those worked out from the project file: milliseconds times refresh."""
    refresh = project.target.screen.refresh

    assert subject(project, "crowd").animations() == [
        ("stand", True, [(frame, round(120 * refresh / 1000)) for frame in (0, 1, 2, 1)]),
        ("wave", False, [(1, round(900 * refresh / 1000)), (2, round(33 * refresh / 1000))]),
        ("walk", True, [(frame, round(70 * refresh / 1000)) for frame in (3, 4, 4, 6)]),
    ]


def test_frames_are_grouped_by_animation():
    """Repeats are drawn once in an animation, one whose frames are all above is named, frames of none come last."""
    stand, wave, walk = [(0, 7), (1, 7), (2, 7), (1, 7)], [(1, 9), (2, 2)], [(5, 4), (2, 4)]

    found = groups(8, [("stand", True, stand), ("wave", False, wave), ("walk", True, walk)])

    assert [(group.title, group.frames) for group in found] == [
        ("stand", (0, 1, 2)), ("wave", ()), ("walk", (5, 2)), ("In no animation", (3, 4, 6, 7)),
    ]  # fmt: skip
    assert found[0].note == "3 frames, 7 ticks each, looped; order 0–2 1"
    assert found[1].note == "2 frames, 2 to 9 ticks each, once; frames 1 2, see stand"
    assert groups(1, [])[0].title == "Frames"
    assert groups(2, [], "cell") == [Group("Cells", "2 cells", (0, 1))]  # a pool has no frames


@pytest.mark.parametrize("count", [1, 12, 13, 300])
def test_frames_do_not_overlap_and_the_sheet_is_not_too_wide(project, count):
    """However many frames: each has its own place inside the sheet with room for its number."""
    one = subject(project, "crowd")
    one.decoded.pixels, kept = np.repeat(one.decoded.pixels[:1], count, axis=0), one.decoded.animations
    one.decoded.animations = [(crc, loop, [(frame % count, ticks) for frame, ticks in steps]) for crc, loop, steps in kept]

    layout = arranged(one)

    taken = np.zeros((layout.height, layout.width), dtype=int)
    for spot in layout.places:
        taken[spot.top : spot.top + layout.shown[1] + 16, spot.left : spot.left + layout.shown[0]] += 1
    for _, left, top, width in layout.heads:
        taken[top + 2 : top + 20, left : left + width] += 1
        assert left + width <= layout.width
    assert taken.max() == 1
    assert taken.sum() >= count * (layout.shown[1] + 16) * layout.shown[0]
    assert layout.width <= WIDE


def test_background_is_shown_plain_and_with_lines_between_cells(project):
    """The first picture is the decoded one; the second differs from it on the lines between cells, and there only."""
    one = subject(project, "quay")
    rgb, size, second = one.coloured()[0][0], *placed(one)[:2]
    sheet, (across, down) = pixels(background(one)), one.cell_size()
    plain = sheet[: size[1], : size[0]]
    lined = sheet[second[1] : second[1] + size[1], second[0] : second[0] + size[0]]

    assert np.array_equal(middles(plain, rgb.shape[1::-1]), rgb)
    differs = (plain != lined).any(axis=-1)
    wanted = np.zeros_like(differs)
    wanted[np.arange(down, rgb.shape[0], down) * size[1] // rgb.shape[0]] = True
    wanted[:, np.arange(across, rgb.shape[1], across) * size[0] // rgb.shape[1]] = True
    assert np.array_equal(differs, wanted)


@pytest.mark.parametrize("more", [0, 1])
def test_backgrounds_are_side_by_side_up_to_a_width(project, monkeypatch, more):
    one = subject(project, "quay")
    _, second, whole = placed(one)
    assert second[1] == 0
    monkeypatch.setattr(background_proof, "_ABREAST", whole[0] - more)
    assert (placed(one)[1][1] == 0) == (more == 0)


def test_grid_is_that_of_the_backgrounds_own_tiles(project):
    """Where it is stored as tiles, lines are between tiles; a bitmap shows the console's cells."""
    one = subject(project, "quay")
    facts = msgspec.structs.replace(one.facts, tile=(32, 24))
    one = dataclasses.replace(one, facts=facts)
    assert one.cell_size() == (project.target.cells.width, project.target.cells.height)

    one = dataclasses.replace(one, facts=msgspec.structs.replace(facts, stored=stored_tiles(9)))
    assert one.cell_size() == (32, 24)


@pytest.mark.parametrize(
    ("name", "part"), [("crowd", ""), ("crowd", "before-after"), ("crowd", "anim"), ("quay", ""), ("quay", "before-after")]
)
def test_one_changed_byte_in_the_image_changes_the_proof(project, tmp_path, name, part):
    """No proof is drawn from anything but the image: another byte there, another picture."""
    given = arguments(project, name)
    draw = KINDS[project.assets[name].kind].proofs[part]

    assert draw(subject(project, name)) == given["outs"][part].read_bytes()
    assert draw(subject(project, name, harmed(project, name, tmp_path / "other.rom"))) != given["outs"][part].read_bytes()


def test_another_palette_in_the_image_changes_every_picture_that_uses_it(project, tmp_path):
    """A wrong colour is seen: the palette is taken from the image as well."""
    other = harmed(project, "figures", tmp_path / "other.rom")

    assert not np.array_equal(pixels(contact_sheet(subject(project, "crowd"))), pixels(contact_sheet(subject(project, "crowd", other))))


def test_frames_for_the_report_are_those_of_the_image(project):
    """Every pixel that is not clear has its colour, every other is clear; animations are those of the proofs."""
    one = subject(project, "crowd")
    look, data = sprite_frames(one, {})
    (rgb, clear), shown = one.coloured(), drawn(look, data)
    assert np.array_equal(shown[..., 3] == 0, clear)
    assert np.array_equal(shown[..., :3][~clear], rgb[~clear])
    assert [(played.name, played.loop, played.steps) for played in look.animations] == one.animations()


def test_variant_is_another_palette_of_the_same_file(project):
    """Entries in reverse order, two of which are one colour in the variant: no pixel changes its entry. Direct colour has none."""
    one = subject(project, "crowd")
    if one.colours is None:
        assert sprite_frames(one, {"night": one.decoded})[0].variants == {}
        return
    other = dataclasses.replace(one.colours, colours=one.colours.colours[::-1].copy())
    other.colours[1] = other.colours[2]
    look, data = sprite_frames(one, {"night": other})
    rgb, clear = coloured(one.decoded, other)
    assert np.array_equal(drawn(look, data, look.variants["night"])[..., :3][~clear], rgb[~clear])


def test_background_for_the_report_is_one_picture(project):
    """The whole of it, with the window that the facts say."""
    one = subject(project, "quay")
    look, data = background_picture(one, {})
    assert np.array_equal(drawn(look, data)[0, ..., :3], one.coloured()[0][0])
    assert look.window == one.facts.window
