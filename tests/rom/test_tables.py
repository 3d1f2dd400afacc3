"""``tables.h`` and ``tables.c``: constants and structures that say what a reader of the image finds."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.conftest import need_tool, some
from tests.makers import TARGETS, Built, build_here, make_project
from tests.reading.decoding import decode_blob
from tests.rom.reader_walk import WARNINGS, blob_of, every_kind

_MAIN = """
#include <stdio.h>
#include "assets.h"
#include "tables.h"
static void say(const RwTableSprite *sprite)
{
    unsigned int rank, at;

    printf("%u %u %d %d\\n", sprite->width, sprite->height, sprite->anchor_x, sprite->anchor_y);
    for (rank = 0; rank < sprite->frame_count; rank++) {
        printf("frame\\n");
        for (at = 0; at < sprite->frames[rank].piece_count; at++) {
            const RwTablePiece *piece = &sprite->pieces[sprite->frames[rank].first_piece + at];
            printf("%lu %u %d %d %u %u %u\\n", piece->pixels, piece->cell, piece->x, piece->y, piece->width, piece->height, piece->flips);
        }
    }
    for (rank = 0; rank < sprite->animation_count; rank++) {
        const RwTableAnimation *one = &sprite->animations[rank];
        printf("animation %u\\n", one->loop);
        for (at = 0; at < one->step_count; at++)
            printf("%u %u\\n", sprite->steps[one->first_step + at].frame, sprite->steps[one->first_step + at].ticks);
    }
}
int main(void)
{
    unsigned int rank;

    say(&table_ada); say(&table_bea); say(&table_dot);
    for (rank = 0; rank < sizeof table_figures / sizeof table_figures[0]; rank++)
        printf("%lu\\n", (unsigned long)table_figures[rank]);
    printf("%lu %lu %lu\\n", (unsigned long)BEA_PIXELS_AT, (unsigned long)PIER_MAP_AT, (unsigned long)WORDS_GLYPHS_AT);
    return 0;
}
"""


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def made(request, tmp_path_factory) -> Built:
    """Every kind of asset, with tables."""
    folder = tmp_path_factory.mktemp("tables") / "project"
    every_kind(folder, request.param)
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text.replace('[game]\n', "[game]\ntables = true\n"))
    return build_here(folder, "verify", "include", "tables")


def said(made: Built, folder: Path, compiler: str, *flags: str) -> list[str]:
    """Return what a program says that knows the image only from the tables."""
    include = made.project.folder / "build/include"
    (folder / "main.c").write_text(_MAIN)
    words = [flag for flag in WARNINGS if flag != "-std=c89" or "+" not in compiler]
    language = ["-x", "c++"] if "+" in compiler else []
    sources = [str(folder / "main.c"), str(include / "tables.c")]
    command = [need_tool(compiler), *language, *words, *flags, f"-I{include}", *sources, "-o", str(folder / "said")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return subprocess.run([folder / "said"], check=True, capture_output=True, text=True).stdout.splitlines()


def wanted(made: Built) -> list[str]:
    """Return the same from the image's own bytes."""
    order, target, lines = made.project.target.byte_order, made.project.target, []
    entries = {one["name"]: one for one in made.map["entries"]}

    def number(blob: bytes, at: int, size: int, signed: bool = False) -> int:
        return int.from_bytes(blob[at : at + size], order, signed=signed)

    heads = {}
    for name in ("ada", "bea", "dot"):
        blob = blob_of(made, entries[name])
        decoded = decode_blob("sprite", blob, target)
        head = heads[name] = decoded.head
        lines.append(f"{head['width']} {head['height']} {head['anchor_x']} {head['anchor_y']}")
        for rank in range(head["frame_count"]):
            lines.append("frame")
            if name == "ada":
                lines.append(f"{head['pixels'] + rank * head['frame_bytes']} {rank} 0 0 {head['width']} {head['height']} 0")
            elif name == "dot":
                at = head["boxes"] + 16 * rank
                x, y, width, height, flips = (number(blob, at + place, 2, place < 4) for place in (0, 2, 4, 6, 8))
                lines += [f"{number(blob, at + 12, 4)} {rank} {x} {y} {width} {height} {flips}"] if width else []
            else:
                first, count = number(blob, head["frames"] + 8 * rank, 4), number(blob, head["frames"] + 8 * rank + 4, 2)
                for at in range(head["pieces"] + 8 * first, head["pieces"] + 8 * (first + count), 8):
                    x, y, cell, flips = (number(blob, at + place, 2, place < 4) for place in (0, 2, 4, 6))
                    lines.append(f"0 {cell} {x} {y} 0 0 {flips}")
        for _, loop, steps in decoded.animations:
            lines += [f"animation {int(loop)}", *(f"{frame} {ticks}" for frame, ticks in steps)]
    blob = blob_of(made, entries["figures"])
    palette, size = decode_blob("palette", blob, target).head, target.palette.entry.bytes
    word_order = target.order_of(target.palette.byte_order)
    places = range(palette["entries"], palette["entries"] + palette["entry_count"] * size, size)
    lines += [str(int.from_bytes(blob[at : at + size], word_order)) for at in places]
    pier = decode_blob("background", blob_of(made, entries["pier"]), target).head
    words = decode_blob("font", blob_of(made, entries["words"]), target).head
    return [*lines, f"{heads['bea']['pixels']} {pier['map']} {words['glyphs']}"]


@pytest.mark.parametrize("compiler", ["gcc", "clang", "g++"])
def test_tables_say_what_the_image_holds(made, compiler, tmp_path):
    """Frames of a sheet, pieces and trimmed ones with a frame that shows nothing, animations, colours, offsets; in C89 and C++."""
    lines = wanted(made)
    assert len(lines) > 30
    assert said(made, tmp_path, compiler) == lines


def test_some_tables_alone(made, tmp_path):
    """Other assets leave nothing in the object file."""
    include = made.project.folder / "build/include"
    command = [need_tool("gcc"), *WARNINGS, "-DTABLES_SOME", "-DTABLE_BEA", "-c", str(include / "tables.c")]
    subprocess.run([*command, "-o", str(tmp_path / "tables.o")], check=True, capture_output=True)
    listed = subprocess.run(["nm", "-g", str(tmp_path / "tables.o")], check=True, capture_output=True, text=True).stdout
    assert [line.split()[-1] for line in listed.splitlines()] == ["table_bea"]


def test_only_who_asks_gets_tables(tmp_path):
    """Without the key no step writes them."""
    made = build_here(make_project(tmp_path / "project"), "verify", "include")
    assert not list((made.project.folder / "build/include").glob("tables.*"))
