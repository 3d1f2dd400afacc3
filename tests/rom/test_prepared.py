"""Sprites whose pieces are prepared for drawing: what a program reads, what verification finds, what drawing costs, what is refused."""

from __future__ import annotations

import zlib

import numpy as np
import pytest

from pipeline.assets.sprites.runs import one_run_each, runs_of
from pipeline.joints.layouts import PREPARED_VERSION
from pipeline.plain.errors import ProjectError
from pipeline.reading.decoded import BlobFault
from pipeline.report.page import _arranged
from pipeline.target.kinds import KIND_NUMBERS
from tests.conftest import need_library, need_tool, some, tries
from tests.makers import Built, make_project, problems, target_data, target_problems, toml_text
from tests.reading.decoding import decode_blob
from tests.rom.reader_walk import FAULT, blob_of, compile_native, compile_small, every_kind, expected, shared_kind, walk_native
from tests.rom.test_console_reader import PLAIN, assert_same, corrupt_cases, cut

_EVE = """
[sprite.eve]
frames = "art/bea/*.png"
palette = "figures"
arrangement = "pieces"
prepared = "{prepared}"
prefer = "{prefer}"
[sprite.fay]
frames = "art/cid/*.png"
palette = "figures"
arrangement = "pieces"
pool = "ferry_cells"
prepared = "{prepared}"
"""
# An invented sprite unit: place, then number and mirroring; then source in units of 16 bytes.
COMMANDS = ["YYYYYYYYXXXXXXXX", "VHNNNNNNNNNNNNNN", "xxxxSSSSSSSSSSSSSSSSSSSSLLLLLLLL"]


def made_for(target: str, prepared: str = "cells", prefer: str = "bytes") -> Built:
    """Return a project with every kind, and two sprites in prepared pieces, one of a pool."""
    data = target_data(target)
    data["sprites"] |= {"commands": COMMANDS, "command_unit": 16}
    return shared_kind(target, toml_text(data), _EVE.replace("{prepared}", prepared).replace("{prefer}", prefer))


def blob(made: Built, name: str) -> bytes:
    """Return an asset's bytes."""
    return blob_of(made, next(one for one in made.map["entries"] if one["name"] == name))


@pytest.mark.parametrize(
    ("target", "prepared"), some([("basalt32", "cells"), ("pebble8", "cells"), ("pebble8", "commands"), ("lattice16", "commands")], 2)
)
def test_program_reads_what_is_prepared(target, prepared, tmp_path):
    """Each prepared piece is compared with the piece by the walk; of commands every byte is read; corrupt images do no harm."""
    made = made_for(target, prepared)
    assert blob(made, "eve")[0] == blob(made, "fay")[0] == PREPARED_VERSION
    program, wanted = compile_native(made, tmp_path, *PLAIN), expected(made)
    assert FAULT not in wanted
    assert_same(walk_native(program, made, tmp_path), wanted)
    faults = walk_native(program, cut(made), tmp_path, corrupt_cases(made, 500))
    assert np.count_nonzero(faults) > 50


@pytest.mark.parametrize("prepared", ["cells", "commands"])
def test_eight_bits_read_what_is_prepared(prepared, tmp_path):
    """The small reader gives the same bytes, and the same pieces."""
    made = made_for("pebble8", prepared)
    program, wanted = compile_small(made, tmp_path, *PLAIN), expected(made, small=True)
    assert FAULT not in wanted
    assert_same(walk_native(program, made, tmp_path), wanted)
    faults = walk_native(program, cut(made), tmp_path, corrupt_cases(made, 300))
    assert np.count_nonzero(faults) > 30


def test_commands_say_what_the_patterns_say():
    """Put together here by hand from the pieces of the same sprite without them."""
    made = made_for("pebble8", "commands")
    whole, other = blob(made, "eve"), blob(made, "bea")
    pieces = int.from_bytes(other[44:48], "little")
    head = decode_blob("sprite", whole, made.project.target).head
    assert head["draw_bytes"] == 8
    count = (head["draws"] - head["pieces"]) // 8
    for rank in range(count):
        x, y, cell, flips = (int.from_bytes(other[pieces + 8 * rank + at :][:2], "little", signed=at < 4) for at in (0, 2, 4, 6))
        words = ((y & 0xFF) << 8 | x & 0xFF, (flips >> 1) << 15 | (flips & 1) << 14 | cell, cell << 8 | 1)
        wanted = b"".join(word.to_bytes(size, "little") for word, size in zip(words, (2, 2, 4), strict=True))
        at = head["draws"] + 8 * rank
        assert whole[at : at + 8] == wanted
    assert count > 5


@pytest.mark.parametrize("prepared", ["cells", "commands"])
def test_verification_finds_a_wrong_draw(prepared):
    """A bit of any field of a prepared piece differs from the piece."""
    made = made_for("pebble8", prepared)
    whole = bytearray(blob(made, "eve"))
    head = decode_blob("sprite", bytes(whole), made.project.target).head
    for at in range(head["draws"], head["draws"] + head["draw_bytes"]):
        if prepared == "commands" and at == head["draws"] + 7:
            continue  # bits that do not count
        whole[at] ^= 1
        with pytest.raises(BlobFault, match="prepared piece 0"):
            decode_blob("sprite", bytes(whole), made.project.target)
        whole[at] ^= 1


def test_frames_in_runs_need_one_transfer_each():
    """With prefer = "transfers" every frame's cells are consecutive, drawn as before; the facts say what it costs."""
    made = made_for("pebble8", "cells", "transfers")
    eve, bea = (decode_blob("sprite", blob(made, name), made.project.target) for name in ("eve", "bea"))
    assert np.array_equal(eve.pixels, bea.pixels)
    trade = made.facts["eve"].stored.trade
    assert trade.cells == eve.head["cell_count"]
    assert trade.shared_cells == bea.head["cell_count"]
    assert trade.runs == len(eve.pixels) <= trade.shared_runs
    assert f"for {trade.runs} runs of cells instead of {trade.shared_runs}" in _arranged(made.facts["eve"])


def test_runs_of_any_frames():
    """Random frames of few cells, so that runs are shared: each frame's cells become one run that holds just them, at the old places."""
    chance = np.random.default_rng(7)
    for _ in range(tries(60, 2000)):
        frames = [chance.integers(0, 9, (chance.integers(0, 7), 4)).astype("<i4") for _ in range(chance.integers(1, 9))]
        order, moved = one_run_each(frames)
        for before, after in zip(frames, moved, strict=True):
            assert np.array_equal(before[:, [0, 1, 3]], after[:, [0, 1, 3]])
            assert [order[cell] for cell in after[:, 2]] == before[:, 2].tolist()
            used = np.unique(after[:, 2])
            assert len(used) == len(np.unique(before[:, 2]))
            assert not len(used) or used[-1] - used[0] == len(used) - 1
        assert runs_of(moved) == sum(len(one) > 0 for one in frames)
        assert len(order) <= sum(len(np.unique(one[:, 2])) for one in frames)


def test_runs_that_are_there_are_used_again():
    """A frame of the same cells in another order, one inside another, and one that begins with the last of another store less."""
    frames = [np.array([[0, 0, cell, 0] for cell in cells], dtype="<i4") for cells in ((1, 2, 3), (3, 2, 1), (2, 3), (3, 4))]
    order, moved = one_run_each(frames)
    assert order == [1, 2, 3, 4]
    assert [one[:, 2].tolist() for one in moved] == [[0, 1, 2], [2, 1, 0], [1, 2], [2, 3]]
    assert runs_of(frames) == 4
    assert runs_of([np.array([[0, 0, 1, 0], [0, 0, 3, 0], [0, 0, 4, 0]])]) == 2


def test_a_prepared_piece_costs_sixty_instructions_at_most(tmp_path):
    """On an emulated 68000; a piece of the table costs more than four times that. Every read of the image is a single byte inside it."""
    need_library("unicorn")
    need_tool("m68k-linux-gnu-gcc")
    from unicorn import UC_HOOK_CODE

    from tests.rom.reader_68000 import OUTPUT, Console, link_walk

    made = made_for("basalt32")
    code = link_walk(made.project.folder / "build/include", tmp_path, "-Os")
    console, counted = Console(code, made.image[: made.map["image"]["used"]], watch=False), [0]
    console.cpu.hook_add(UC_HOOK_CODE, lambda *_: counted.__setitem__(0, counted[0] + 1))
    asset, sprite, frame, out = (OUTPUT + 0x1000 * place for place in range(4))

    def cost(name: str, *arguments: int) -> int:
        counted[0] = 0
        assert console.call(name, *arguments) == 1
        return counted[0]

    cost("rw_find", console.at, len(console.image), zlib.crc32(b"eve"), KIND_NUMBERS["sprite"], asset)
    cost("rw_sprite", asset, sprite)
    cost("rw_frame", sprite, 1, frame)
    slow = cost("rw_frame_piece", sprite, frame, 0, out)
    cost("rw_draws", sprite, 1, frame)
    quick = cost("rw_next_draw", frame, out)
    assert quick <= 60
    assert slow > 4 * quick
    wanted = expected(made)
    said = Console(code, made.image[: made.map["image"]["used"]], watch=True).walk(made)
    assert said[: len(wanted)].tolist() == wanted.tolist()


def test_what_cannot_be_prepared_is_refused(tmp_path):
    """A sheet, a console that says nothing of commands, cells of a pool in runs."""
    asked = 'palette = "figures"\nprepared = "cells"\nprefer = "transfers"\n[sprite'
    folder = make_project(tmp_path, ('palette = "figures"\n[sprite', asked))
    assert [one for one in problems(folder) if "has no pieces" in one]
    text = (folder / "project.toml").read_text().replace('prepared = "cells"', 'prepared = "commands"\narrangement = "pieces"')
    (folder / "project.toml").write_text(text)
    assert any("says nothing about commands" in one for one in problems(folder))


@pytest.mark.parametrize(
    ("commands", "wrong"),
    [
        (["YYYYYYY"], "has 7 bits"),
        (["YYYYYYYYXXXXXXXX"], "which cell is drawn"),
        (["HVNNNNNN", "HNxxxxxx"], "two numbers of a command hold"),
        (["xVNNNNNN"], "no bit H says so"),
        (["HHVNNNNN"], "2 bits H"),
    ],
)
def test_patterns_that_cannot_draw(commands, wrong, tmp_path):
    """The handheld mirrors both ways."""
    data = target_data("pebble8")
    data["sprites"]["commands"] = commands
    assert any(wrong in one for one in target_problems(tmp_path, toml_text(data)))


def test_a_place_that_does_not_fit_its_bits(tmp_path):
    """The refusal names letter, value and room."""
    global_commands = ["YYYYYYYYXXXXxxxx", "VHNNNNNNNNNNNNNN"]
    data = target_data("pebble8")
    data["sprites"] |= {"commands": global_commands}
    text = _EVE.replace("{prepared}", "commands").replace("{prefer}", "bytes")
    with pytest.raises(ProjectError, match=r"X of a command is \d+, its 4 bits of YYYYYYYYXXXXxxxx hold -8 to 7"):
        every_kind(tmp_path / "project", "pebble8", toml_text(data), text)
