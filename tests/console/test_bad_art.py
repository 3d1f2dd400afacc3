"""Art that cannot be what it says, in images whose sums are right: it is left out, and nothing outside is touched."""

from __future__ import annotations

import copy
import random

import numpy as np
import pytest
from pieced import Pieced
from small_project import CARTRIDGE, Built, places, with_sums
from walk_model import Scene

from tests.conftest import need_library, some

need_library("unicorn")

from basalt_machine import LEFT, A, B, C, Machine, Shown  # noqa: E402
from comparing import same  # noqa: E402

SPRITE, BACKGROUND, PALETTE, PROGRAM, SCREEN = 1, 2, 3, 6, 5
FAR = 0xFFFF_FFF0
# What is changed, where in the record, its bytes, and the value.
RECORDS = {
    "sprite of another version": (SPRITE, 0, 1, 3),
    "sprite of pieces that are none": (SPRITE, 0, 1, 2),
    "sprite of another pixel format": (SPRITE, 1, 1, 1),
    "sprite of no frames": (SPRITE, 2, 2, 0),
    "sprite with more frames than bytes": (SPRITE, 2, 2, 200),
    "sprite of so many rows that 16 bits overflow": (SPRITE, 2, 2, 65536 // 128 + 2),
    "sprite wider than its frames": (SPRITE, 4, 2, 112),
    "sprite with animations far away": (SPRITE, 24, 4, FAR),
    "sprite with animations at an odd place": (SPRITE, 24, 4, 37),
    "sprite with more animations than bytes": (SPRITE, 12, 2, 0xFFFF),
    "sprite with steps far away": (SPRITE, 28, 4, FAR),
    "sprite with steps at an odd place": (SPRITE, 28, 4, 49),
    "sprite with more steps than bytes": (SPRITE, 14, 2, 0xFFFF),
    "sprite with pixels far away": (SPRITE, 32, 4, FAR),
    "background of another pixel format": (BACKGROUND, 1, 1, 2),
    "background without width": (BACKGROUND, 2, 2, 0),
    "background larger than its pixels": (BACKGROUND, 4, 2, 5000),
    "background with pixels far away": (BACKGROUND, 12, 4, FAR),
    "screen of another pixel format": (SCREEN, 1, 1, 1),
    "screen with entries far away": (SCREEN, 8, 4, FAR),
    "screen with entries at an odd place": (SCREEN, 8, 4, 17),
    "screen with more entries than colours": (SCREEN, 6, 2, 257),
    "screen with pixels far away": (SCREEN, 12, 4, FAR),
    "palette with entries far away": (PALETTE, 8, 4, FAR),
    "palette with entries at an odd place": (PALETTE, 8, 4, 13),
    "palette after the last colour": (PALETTE, 2, 2, 250),
    "palette with more entries than colours": (PALETTE, 4, 2, 0x8000),
}
# The same for the record of a sprite in pieces.
PIECED_RECORDS = {
    "of another version": (0, 1, 3),
    "a sheet that is none": (0, 1, 1),
    "of another pixel format": (1, 1, 1),
    "no frames": (2, 2, 0),
    "more frames than bytes": (2, 2, 0xFFFF),
    "cells in a pool of others": (20, 4, 1),
    "a clear pixel no byte holds": (24, 4, 0x100),
    "no cells": (28, 4, 0),
    "more cells than can be distinguished": (28, 4, 0x1_0001),
    "cells whose bytes leave 32 bits": (28, 4, 0x0100_0001),
    "animations far away": (32, 4, FAR),
    "animations at an odd place": (32, 4, 53),
    "more animations than bytes": (12, 2, 0xFFFF),
    "steps far away": (36, 4, FAR),
    "steps at an odd place": (36, 4, 65),
    "more steps than bytes": (14, 2, 0xFFFF),
    "frames far away": (40, 4, FAR),
    "frames at an odd place": (40, 4, 73),
    "pieces far away": (44, 4, FAR),
    "pieces at an odd place": (44, 4, 89),
    "cells far away": (48, 4, FAR),
}
# The same for the last frame and the last piece; None means the number of cells.
LAST = {
    "frame of pieces far away": ("frame", 0, 4, FAR),
    "frame of pieces so far away that their place is near again": ("frame", 0, 4, 0x2000_0000),
    "frame of more pieces than bytes": ("frame", 4, 2, 0xFFFF),
    "piece of a cell after the last": ("piece", 4, 2, None),
    "piece of a cell far away": ("piece", 4, 2, 0xFFFF),
    "piece mirrored in no known way": ("piece", 6, 2, 4),
    "piece mirrored in many ways": ("piece", 6, 2, 0xFFFF),
}
ENTRIES = {
    "odd address": (8, CARTRIDGE + 0x1235),
    "address not of whole longs": (8, CARTRIDGE + 0x1236),
    "address in front of the cartridge": (8, CARTRIDGE - 0x1000),
    "address after the image": (8, CARTRIDGE + 0x100_0000),
    "more bytes than the image": (12, FAR),
    "no bytes": (12, 0),
}


def _put(image: bytearray, at: int, count: int, value: int) -> None:
    image[at : at + count] = value.to_bytes(count, "big")


def _play(image: bytearray, watch: str = "drawing") -> list[Shown]:
    """Run to the harbour; A leaves the notice and does nothing in the harbour."""
    return Machine(with_sums(image), watch=watch).play([0, A, 0, 0, 0, 0])


def _without(tiny: Built, kind: int, shown: list[Shown]) -> None:
    """Assert what is to be seen when everything of a kind is left out."""
    scene = Scene(
        None if kind == BACKGROUND else tiny.assets["northpier"],
        [] if kind == SPRITE else [tiny.assets["tove"]],
    )
    if kind != SCREEN:
        same(shown[1], tiny.assets["boot"].pixels[0], "notice")
    first = 1 if kind == SCREEN else 3
    for picture in shown[first : first + 3]:
        same(picture, scene.picture(), "harbour")
        scene.advance(1)
    changed = not np.array_equal(shown[-1].palette, shown[1].palette)
    assert changed == (kind not in (PALETTE, SCREEN))


@pytest.mark.parametrize("what", some(RECORDS, 9))
def test_bad_record_is_left_out(tiny, what):
    kind, place, count, value = RECORDS[what]
    image = bytearray(tiny.image)
    for found, _, blob in places(image):
        if found == kind:
            _put(image, blob + place, count, value)
    _without(tiny, kind, _play(image))


@pytest.mark.parametrize("what", some(PIECED_RECORDS, 7))
def test_bad_record_of_a_sprite_in_pieces_is_left_out(tiny_pieced, what):
    sprite = Pieced(tiny_pieced, "tove")
    sprite.put(*PIECED_RECORDS[what])
    _without(tiny_pieced, SPRITE, _play(sprite.image))


@pytest.mark.parametrize("what", LAST)
def test_sprite_with_one_bad_frame_or_piece_is_left_out(tiny_pieced, what):
    table, part, count, value = LAST[what]
    sprite = Pieced(tiny_pieced, "tove")
    place = sprite.frame(sprite.head["frame_count"] - 1) if table == "frame" else sprite.piece(sprite.piece_count - 1)
    sprite.put(place + part, count, sprite.head["cell_count"] if value is None else value)
    _without(tiny_pieced, SPRITE, _play(sprite.image))


@pytest.mark.parametrize("table", ["frames", "pieces", "animations", "steps"])
def test_sprite_with_a_table_cut_short_is_left_out(tiny_pieced, table):
    """Its last two bytes are after the blob, where the image goes on; without that it is taken, as test_pieces shows."""
    sprite = Pieced(tiny_pieced, "tove")
    place, count = sprite.table(table)
    sprite.put(place, 4, sprite.copy_to_end(sprite.head[table], count, beyond=2))
    _without(tiny_pieced, SPRITE, _play(sprite.image))


@pytest.mark.parametrize("left", [0, 35, 51, 52, 300, -1])
def test_sprite_in_pieces_cut_short_is_left_out(tiny_pieced, left):
    sprite = Pieced(tiny_pieced, "tove")
    _put(sprite.image, sprite.entry + 12, 4, left if left >= 0 else sprite.bytes + left)
    _without(tiny_pieced, SPRITE, _play(sprite.image))


@pytest.mark.parametrize("kind", [SPRITE, BACKGROUND, PALETTE, SCREEN])
@pytest.mark.parametrize("what", ENTRIES)
def test_bad_directory_entry_is_left_out(tiny, kind, what):
    place, value = ENTRIES[what]
    image = bytearray(tiny.image)
    for found, entry, _ in places(image):
        if found == kind:
            _put(image, entry + place, 4, value)
    _without(tiny, kind, _play(image))


def test_good_palette_at_an_odd_address_is_left_out(tiny):
    image = bytearray(tiny.image)
    for rank, (kind, entry, blob) in enumerate(places(tiny.image)):
        if kind == PALETTE:
            away, count = len(image) - 1001 - 400 * rank, int.from_bytes(image[entry + 12 : entry + 16], "big")
            image[away : away + count] = image[blob : blob + count]
            _put(image, entry + 8, 4, CARTRIDGE + away)
    _without(tiny, PALETTE, _play(image))


@pytest.mark.parametrize(("kind", "version"), [(SPRITE, 1), (SPRITE, 2), (BACKGROUND, 1), (PALETTE, 1), (SCREEN, 1)])
def test_record_cut_by_the_end_of_the_image_is_left_out(tiny, kind, version):
    """Eight bytes: the machine stops at a read behind them."""
    image = bytearray(tiny.image)
    image[-8:] = bytes([version]) + bytes(7)
    for found, entry, _ in places(image):
        if found == kind:
            _put(image, entry + 8, 4, CARTRIDGE + len(image) - 8)
            _put(image, entry + 12, 4, 8)
    _without(tiny, kind, _play(image))


@pytest.mark.parametrize("kind", [SPRITE, BACKGROUND, PALETTE, SCREEN])
def test_packed_asset_is_left_out(tiny, kind):
    image = bytearray(tiny.image)
    for found, entry, _ in places(image):
        if found == kind:
            image[entry + 5] = 1
    _without(tiny, kind, _play(image))


@pytest.mark.parametrize(("place", "value"), [(0x58, CARTRIDGE + 0x101), (0x58, 0), (0x58, FAR), (0x5C, 0)])
def test_directory_that_is_none_leaves_a_black_screen(tiny, place, value):
    image = bytearray(tiny.image)
    _put(image, place, 4, value)
    assert not any(picture.pixels.any() for picture in _play(image, watch="all")[1:])


def test_endless_directory_is_read_to_the_end_of_the_image(tiny):
    image = bytearray(tiny.image)
    _put(image, 0x5C, 4, 0xFFFF_FFFF)
    _without(tiny, 0, _play(image))


@pytest.mark.parametrize(("part", "value"), [(4, 60000), (6, 0), (6, 60000)])
def test_animation_of_steps_that_are_not_there_stands_still(tiny, part, value):
    image, sprite = bytearray(tiny.image), copy.copy(tiny.assets["tove"])
    blob = next(at for kind, _, at in places(image) if kind == SPRITE)
    _put(image, blob + sprite.head["animations"] + part, 2, value)
    sprite.animations = []
    _compare_steps(tiny, sprite, image)


@pytest.mark.parametrize(("part", "value", "step"), [(0, 60000, (0, 2)), (2, 0, (1, 1))])
def test_step_of_no_frame_or_no_time_does_no_harm(tiny, part, value, step):
    """The second step: a frame that is not there shows frame 0, no time counts as one picture."""
    image, sprite = bytearray(tiny.image), copy.copy(tiny.assets["tove"])
    blob = next(at for kind, _, at in places(image) if kind == SPRITE)
    name, loops, steps = sprite.animations[0]
    assert steps == [(0, 2), (1, 2)]
    _put(image, blob + sprite.head["steps"] + 4 + part, 2, value)
    sprite.animations = [(name, loops, [steps[0], step])]
    _compare_steps(tiny, sprite, image)


def _compare_steps(tiny: Built, sprite, image: bytearray) -> None:
    scene = Scene(tiny.assets["northpier"], [sprite])
    shown = Machine(with_sums(image)).play([0, A] + [0] * 8)
    for rank, picture in enumerate(shown[3:]):
        same(picture, scene.picture(), f"picture {rank}")
        scene.advance(1)


@pytest.mark.parametrize("seed", some(range(12), 4))
def test_nonsense_by_chance_touches_nothing_it_should_not(either, seed):
    """A few bytes of directory, records and tables replaced; the machine stops at any access a console would stop at."""
    chance, image = random.Random(seed), bytearray(either.image)
    spots = []
    for kind, entry, blob in places(image):
        if kind != PROGRAM:
            spots += [*range(entry + 4, entry + 16), *range(blob, blob + (110 if kind == SPRITE else 52))]
    for _ in range(chance.randint(1, 6)):
        image[chance.choice(spots)] = chance.choice((0, 1, 3, 0x7F, 0x80, 0xFF, chance.randrange(256)))
    shown = Machine(with_sums(image)).play([0, A, 0, C, 0, B, LEFT, 0])
    assert len(shown) == 8
