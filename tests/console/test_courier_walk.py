"""Couriers in a harbour, picture by picture against the host's composition, under every button."""

from __future__ import annotations

import copy

import numpy as np
import pytest
from small_project import places, with_sums
from walk_model import Scene

from tests.conftest import need_library, only_long

need_library("unicorn")

from basalt_machine import LEFT, RIGHT, START, A, B, C, Machine, X, Y, Z  # noqa: E402
from comparing import IDLE, play_and_compare, rgb, same, wanted_rgb  # noqa: E402


def _act(scene: Scene, buttons: int) -> None:
    if buttons & START:
        scene.paused = not scene.paused
    if buttons & LEFT:
        scene.change(-1)
    if buttons & RIGHT:
        scene.change(1)
    if buttons & Z:
        scene.change(-scene.speed)


def test_left_and_right_choose_speed_direction_and_gait(full):
    slower, faster = [LEFT, 0, 0, 0], [RIGHT, 0, 0, 0]
    play_and_compare(full, [0] + faster * 4 + [0] * 5 + slower * 10 + faster * 5, _act)


def test_start_pauses_and_goes_on(full):
    play_and_compare(full, [0, 0, START, 0, 0, 0, START, 0, 0, 0], _act)


def test_walk_turns_round_at_both_ends(full):
    only_long()
    play_and_compare(full, [RIGHT, 0, RIGHT, 0] + [0] * 460, _act)


def test_slow_console_walks_as_far_with_fewer_pictures(full):
    play_and_compare(full, [0] * 12, _act, syncs=3)


def _change_all(full):
    pairs = iter([("isk", "wick"), ("wick", "pell"), ("pell", "isk")])
    harbours = iter(["palmsteps", "emberdock"])

    def act(scene: Scene, buttons: int) -> None:
        if buttons & B:
            scene.enter(full.assets[next(harbours)])
        if buttons & C:
            scene.cast([full.assets[name] for name in next(pairs)])

    return act


def test_buttons_change_harbour_and_couriers_past_missing_ones(full):
    play_and_compare(full, [0, C, 0, 0, B, 0, 0, C, 0, B, 0, C, 0, 0], _change_all(full))


def test_upper_row_goes_back_past_missing_ones_and_stands_still(full):
    pairs = iter([("wick", "pell"), ("isk", "wick"), ("pell", "isk")])
    harbours = iter(["palmsteps", "emberdock", "palmsteps"])

    def act(scene: Scene, buttons: int) -> None:
        if buttons & X:
            scene.enter(full.assets[next(harbours)])
        if buttons & Y:
            scene.cast([full.assets[name] for name in next(pairs)])
        _act(scene, buttons)

    play_and_compare(full, [0, Y, 0, X, 0, Y, 0, X, 0, Y, 0, X, 0, Z, 0, 0, 0, RIGHT, 0, 0], act)


def test_new_harbour_and_couriers_come_up_in_their_own_colours_and_not_before(full):
    shown = play_and_compare(full, [0, 0, B | C, 0, 0, 0], _change_all(full))
    for rank, picture in enumerate(shown):
        names = ("couriers", "emberdock_colours") if rank < 3 else ("couriers", "palmsteps_colours", "wick_colours")
        assert np.array_equal(rgb(full, picture), wanted_rgb(full, picture.pixels, names))


def test_missing_notice_harbour_and_animations_are_left_out(bare):
    scene = Scene(None, [bare.assets["tove"]])
    shown = Machine(bare.image, watch="nothing").play([0, B, C, 0, 0, 0])
    assert shown[1].pixels.any()
    same(shown[1], scene.picture(), "one courier on black")
    scene.advance(1)
    same(shown[2], scene.picture(), "one courier, moved on")


def _play_tiny(image: bytes, scene: Scene, buttons: list[int]) -> None:
    shown = Machine(image).play([0, A, *buttons, 0, 0])[IDLE:]
    same(shown[0], scene.picture(), "first picture")
    for rank, state in enumerate(buttons):
        _act(scene, state)
        scene.advance(1)
        same(shown[rank + 1], scene.picture(), f"picture {rank + 1}")


def test_harbour_smaller_than_the_screen(either):
    _play_tiny(either.image, Scene(either.assets["northpier"], [either.assets["tove"]]), [0] * 6)


def test_rows_that_start_at_odd_addresses(tiny):
    """The harbour's width in the image is made odd, and the machine stops at a word or long that is not even."""
    image, harbour = bytearray(tiny.image), copy.copy(tiny.assets["northpier"])
    blob = next(at for kind, _, at in places(image) if kind == 2)
    height, width = harbour.pixels[0].shape
    image[blob + 2 : blob + 4] = (width - 1).to_bytes(2, "big")
    harbour.pixels = harbour.pixels.reshape(-1)[: (width - 1) * height].reshape(1, height, width - 1)
    _play_tiny(with_sums(image), Scene(harbour, [tiny.assets["tove"]]), [0] * 2)


ANCHORS = [(150, 117), (184, 117), (-89, 117), (46, 230), (46, 180), (46, -100), (600, 117), (46, -600), (-32768, 32767)]


@pytest.mark.parametrize("anchor", ANCHORS)
def test_courier_is_cut_at_every_edge_both_ways_round(either, anchor):
    """The anchor is rewritten in the image, which moves the courier over an edge or off the screen."""
    image, sprite = bytearray(either.image), copy.copy(either.assets["tove"])
    blob = next(at for kind, _, at in places(image) if kind == 1)
    for part, value in zip((8, 10), anchor, strict=True):
        image[blob + part : blob + part + 2] = value.to_bytes(2, "big", signed=True)
    sprite.head = sprite.head | {"anchor_x": anchor[0], "anchor_y": anchor[1]}
    _play_tiny(with_sums(image), Scene(either.assets["northpier"], [sprite]), [0] + [LEFT, 0] * 3)
