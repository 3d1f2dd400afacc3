"""Boxes and points over the couriers: the program draws them where the notes say, in every direction, and at the press of a button."""

from __future__ import annotations

import numpy as np
import pytest
from small_project import Built, places, with_sums
from walk_model import APART, GROUND, HEIGHT, WIDTH, Scene

from tests.conftest import need_library

need_library("unicorn")

from basalt_machine import LEFT, RIGHT, START, A, Machine  # noqa: E402
from comparing import IDLE, same  # noqa: E402

ARM = 3  # of a point's cross, as the program's README says


def colours_of(built: Built) -> tuple[int, int]:
    """Return the pixels of the lightest and of the darkest colour of the courier's palette: of equal ones the first."""
    palette = built.assets["couriers"]
    sums = (palette.colours >> 3).astype(int).sum(axis=1)[1:]  # entry 0 is transparent
    first = palette.head["first"] + 1
    return first + int(sums.argmax()), first + int(sums.argmin())


def with_notes(built: Built, scene: Scene) -> np.ndarray:
    """Return the picture with the notes of the frame that the courier shows over it, from what the image's reader decodes."""
    canvas, light, dark = scene.picture(), *colours_of(built)
    head = built.assets["tove"].head
    shown = scene.pair[0].frame()
    rank = next(rank for rank, one in enumerate(built.assets["tove"].pixels) if one is shown or np.array_equal(one, shown))
    height, width = scene.ground.shape
    left = max(min(scene.x // 2 - APART // 2 - WIDTH // 2, width - WIDTH), 0)
    x, y = scene.x // 2 - left, height - max(height - HEIGHT, 0) - GROUND

    def put(column: int, row: int, kind: int, along: int) -> None:
        across = column - head["anchor_x"]
        column, row = x + (-across if scene.mirrored else across), y + row - head["anchor_y"]
        dash = {0: 0, 1: along // 4, 2: along // 2, 3: along}[kind % 4]
        if 0 <= column < WIDTH and 0 <= row < HEIGHT:
            canvas[row, column] = dark if dash % 2 else light

    noted = built.assets["tove_notes"].noted[rank]
    for kind, first, top, wide, high in noted.boxes:
        columns = range(first, first + wide)
        for along, column in enumerate(reversed(columns) if scene.mirrored else columns):
            put(column, top, kind, along)
            put(column, top + high - 1, kind, along)
        for along, row in enumerate(range(top, top + high)):
            put(first, row, kind, along)
            put(first + wide - 1, row, kind, along)
    for kind, column, row in noted.points:
        for along in range(-ARM, ARM + 1):
            put(column + (-along if scene.mirrored else along), row, kind, along + ARM)
        for along in range(-ARM, ARM + 1):
            put(column, row + along, kind, along + ARM)
    return canvas


def play(built: Built, buttons: list[int]) -> None:
    """Play pad states after the notice and compare every picture with the host's."""
    scene, noted, before = Scene(built.assets["northpier"], [built.assets["tove"]]), False, START
    shown = Machine(built.image).play([0, START, *buttons, 0, 0])[IDLE:]
    same(shown[0], scene.picture(), "first picture")
    for rank, state in enumerate(buttons):
        fresh, before = state & ~before, state
        noted ^= bool(fresh & A)
        for button, change in ((LEFT, -1), (RIGHT, 1)):
            if fresh & button:
                scene.change(change)
        scene.advance(1)
        plain, wanted = scene.picture(), with_notes(built, scene)
        assert np.count_nonzero(plain != wanted) > 100
        same(shown[rank + 1], wanted if noted else plain, f"picture {rank + 1}")


def test_button_shows_boxes_and_points_of_every_frame_and_hides_them(noted):
    """Both frames pass, each with its own boxes; the figure is near the screen's edge, where boxes are cut."""
    ranks = {len(one.boxes) for one in noted.assets["tove_notes"].noted}
    assert ranks == {3, 4}
    play(noted, [0, A, 0, 0, 0, 0, 0, A, 0, 0])


def test_boxes_of_a_mirrored_courier_are_mirrored(noted):
    """Walking left, boxes and points go to the other side of the anchor with the pixels."""
    play(noted, [A, *[LEFT, 0] * 4, *[0] * 6])


@pytest.mark.parametrize("change", [(0, 2), (2, 9), (4, 1), (8, 0xFF), (16, 0xFF), (20, 0xFF), (23, 1), (27, 0xFE)])
def test_notes_that_are_not_consistent_are_left_out(noted, change):
    """A byte of the record is changed: version, frames, sprite, number of boxes, offsets. The rest of the game goes on."""
    image = bytearray(noted.image)
    blob = next(at for kind, _, at in places(image) if kind == 12)
    image[blob + change[0]] = change[1]
    scene = Scene(noted.assets["northpier"], [noted.assets["tove"]])
    shown = Machine(with_sums(image)).play([0, START, A, 0, 0, 0])[IDLE:]
    scene.advance(1)
    same(shown[1], scene.picture(), "with the button pressed")
