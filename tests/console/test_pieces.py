"""Frames in pieces, drawn as they are and mirrored by the program, against what the image's reader puts together."""

from __future__ import annotations

import random

import pytest
from pieced import Pieced
from small_project import Built, with_sums
from walk_model import Scene

from tests.conftest import need_library

need_library("unicorn")

from basalt_machine import LEFT, A, Machine  # noqa: E402
from comparing import IDLE, same  # noqa: E402

TURN = [0, LEFT, 0, LEFT, 0, LEFT, 0, 0]


def _play_and_compare(built: Built, sprite: Pieced) -> None:
    """Walk both ways, every picture compared."""
    scene = Scene(built.assets["northpier"], [sprite.decoded()])
    shown = Machine(with_sums(sprite.image)).play([0, A, *TURN, 0, 0])[IDLE:]
    same(shown[0], scene.picture(), "first picture")
    ways = {scene.mirrored}
    for rank, state in enumerate(TURN):
        scene.change(-1 if state else 0)
        scene.advance(1)
        same(shown[rank + 1], scene.picture(), f"picture {rank + 1}")
        ways.add(scene.mirrored)
    assert ways == {False, True}


def test_model_with_room_is_the_frame_itself(tiny_pieced):
    whole, wide = tiny_pieced.assets["tove"], Pieced(tiny_pieced, "tove").decoded()
    down, across = (wide.head[side] - whole.head[side] for side in ("anchor_y", "anchor_x"))
    height, width = whole.pixels.shape[1:]
    assert (wide.pixels[:, down : down + height, across : across + width] == whole.pixels).all()
    assert (wide.pixels != wide.head["clear"]).sum() == (whole.pixels != whole.head["clear"]).sum() > 1000


@pytest.mark.parametrize("flips", [0, 1, 2, 3])
def test_every_mirroring_of_a_piece(tiny_pieced, flips):
    sprite = Pieced(tiny_pieced, "tove")
    for rank in range(sprite.piece_count):
        sprite.put(sprite.piece(rank) + 6, 2, flips)
    _play_and_compare(tiny_pieced, sprite)


@pytest.mark.parametrize("seed", range(6))
def test_pieces_anywhere_over_each_other_and_over_the_edges(tiny_pieced, seed):
    """Cells, places and mirroring by chance; later pieces are drawn over earlier ones."""
    chance, sprite = random.Random(seed), Pieced(tiny_pieced, "tove")
    for rank in range(sprite.piece_count):
        values = (chance.randint(-150, 200), chance.randint(-90, 200), chance.randrange(sprite.head["cell_count"]), chance.randrange(4))
        for part, value in enumerate(values):
            sprite.put(sprite.piece(rank) + 2 * part, 2, value)
    _play_and_compare(tiny_pieced, sprite)


@pytest.mark.parametrize("anchor", [0, 46, 0x7FFF, -0x8000])
@pytest.mark.parametrize("part", [0, 2])
@pytest.mark.parametrize("place", [0x7FFF, -0x8000, 3000, -3000])
def test_pieces_far_outside_are_not_seen(tiny_pieced, part, place, anchor):
    """Nor where place and anchor together leave 16 bits; with both far away on the same side they are seen."""
    sprite = Pieced(tiny_pieced, "tove")
    for rank in range(sprite.piece_count):
        sprite.put(sprite.piece(rank) + part, 2, place)
    sprite.put(8 + part, 2, anchor)
    assert _seen(tiny_pieced, sprite) == (place == anchor)


def _seen(built: Built, sprite: Pieced) -> bool:
    """Return whether anything is shown but the harbour."""
    shown = Machine(with_sums(sprite.image)).play([0, A, 0, LEFT, 0, LEFT, 0, LEFT, 0, 0])[IDLE:]
    alone = Scene(built.assets["northpier"], []).picture()
    return any((picture.pixels != alone).any() for picture in shown)


def test_seen_can_tell(tiny_pieced):
    assert _seen(tiny_pieced, Pieced(tiny_pieced, "tove"))


@pytest.mark.parametrize("table", ["frames", "pieces", "animations", "steps"])
def test_table_that_ends_with_the_blob_is_taken(tiny_pieced, table):
    """The last cell is overwritten by the table and looks like it; nothing else changes."""
    sprite = Pieced(tiny_pieced, "tove")
    place, count = sprite.table(table)
    sprite.put(place, 4, sprite.copy_to_end(sprite.head[table], count))
    _play_and_compare(tiny_pieced, sprite)


def test_frames_may_share_pieces_and_have_none(tiny_pieced):
    sprite = Pieced(tiny_pieced, "tove")
    sprite.put(sprite.frame(1), 4, 2)
    sprite.put(sprite.frame(0) + 4, 2, 0)
    _play_and_compare(tiny_pieced, sprite)


@pytest.mark.parametrize("clear", [1, 20, 63, 255])
def test_what_a_clear_pixel_holds_is_what_the_record_says(tiny_pieced, clear):
    """Another than the first entry of its palette: that colour is left out, and what was clear is drawn."""
    sprite = Pieced(tiny_pieced, "tove")
    sprite.put(24, 4, clear)
    _play_and_compare(tiny_pieced, sprite)
