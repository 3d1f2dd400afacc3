"""The example of ``guide/program.md`` is compiled as it is there and run on an image of a small project."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import need_tool
from tests.makers import Built, build_here, make_project
from tests.reading.decoding import decode_blob
from tests.rom.reader_walk import SANITIZERS, WARNINGS

GUIDE = Path(__file__).parent.parent.parent / "pipeline/guide/program.md"
PICTURES = 23
_AROUND = """
#include <stdio.h>
int show_ada(const unsigned char *image, unsigned long image_bytes, unsigned char *screen, unsigned int pictures);
void set_colour(unsigned int index, unsigned long word);
void show_screen(void);
static unsigned char image[1 << 20], screen[320 * 240];
void set_colour(unsigned int index, unsigned long word)
{
    fprintf(stderr, "%u %lu\\n", index, word);
}
void show_screen(void)
{
    fwrite(screen, 1, sizeof screen, stdout);
}
int main(int argc, char **argv)
{
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (file == NULL)
        return 2;
    return !show_ada(image, (unsigned long)fread(image, 1, sizeof image, file), screen, PICTURES);
}
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Built:
    """A project as the example says: a sprite of pieces on the console with a linear screen, its anchor inside."""
    change = ('palette = "figures"\n[sprite', 'palette = "figures"\narrangement = "pieces"\nanchor = [9, 20]\n[sprite')
    return build_here(make_project(tmp_path_factory.mktemp("guide") / "project", change), "verify", "include", "reader")


def compiled(made: Built, folder: Path) -> Path:
    """Compile the page's block of C and what is around it."""
    include = made.project.folder / "build/include"
    (folder / "example.c").write_text(_examples()[0])
    (folder / "around.c").write_text(_AROUND)
    sources = [folder / "example.c", folder / "around.c", include / "reader.c"]
    flags = [flag for flag in (*WARNINGS, *SANITIZERS) if flag != "-Wconversion"]
    command = [need_tool("gcc"), *flags, f"-DPICTURES={PICTURES}", f"-I{include}", *map(str, sources), "-o", str(folder / "example")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return folder / "example"


def _examples() -> list[str]:
    """Return the page's blocks of C: showing a sprite, loading a scene, fetching a frame."""
    example, loading, fetching = re.findall(r"^```c\n(.*?)^```$", GUIDE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    return [example, loading, fetching]


_RACE = """
[sprite.pell]
frames = "art/ada/*.png"
palette = "figures"
[sprite.bram]
frames = "art/ada/*.png"
palette = "figures"
[bundle.pell_pack]
members = ["pell", "figures"]
[bundle.bram_pack]
members = ["bram", "figures"]
[bundle.slatequay_pack]
members = ["quay", "quay_colours"]
contiguous = true
[lists.load]
[scene.race]
[[scene.race.choose]]
count = 2
of = ["pell_pack", "bram_pack", "crew"]
[[scene.race.choose]]
count = 1
of = ["slatequay_pack", "level"]
"""
_LOADING = """
#include <stdio.h>
#include <sys/mman.h>
int start_race(const unsigned char *image, unsigned long image_bytes, RwSprite *leader);
static unsigned char image[1 << 20];
int main(int argc, char **argv)
{
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    int kind = MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED_NOREPLACE;
    void *memory = mmap((void *)MEMORY_ADDRESS, MEMORY_BYTES, PROT_READ | PROT_WRITE, kind, -1, 0);
    RwSprite leader;
    if (file == NULL || memory != (void *)MEMORY_ADDRESS)
        return 2;
    if (!start_race(image, (unsigned long)fread(image, 1, sizeof image, file), &leader))
        return 1;
    printf("%lu", (unsigned long)leader.at);
    return 0;
}
"""


def test_example_loads_a_scene(tmp_path):
    """As it is on the page, with memory at the console's own address: the leader is in the first slot."""
    made = build_here(make_project(tmp_path / "project", more=_RACE), "verify", "include", "reader", "loader")
    include = tmp_path / "project/build/include"
    (tmp_path / "loading.c").write_text(_examples()[1] + _LOADING)
    (tmp_path / "image").write_bytes(made.image)
    sources = [tmp_path / "loading.c", include / "load.c", include / "reader.c"]
    command = [need_tool("gcc"), "-D_GNU_SOURCE", "-Wall", f"-I{include}", *map(str, sources), "-o", str(tmp_path / "loading")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    done = subprocess.run([tmp_path / "loading", tmp_path / "image"], capture_output=True, text=True)
    assert done.returncode == 0
    (address,) = re.findall(r"SCENE_RACE_SLOT_0_ADDRESS (0x[0-9a-f]+)ul", (include / "assets.h").read_text())
    assert int(done.stdout) == int(address, 16)


_WICK = """
[sprite.wick]
frames = "art/ada/*.png"
palette = "figures"
arrangement = "pieces"
[lists.load]
[scene.race]
always = ["figures"]
[scene.race.streamed]
wick = { buffers = 2 }
[[scene.race.choose]]
count = 2
of = ["wick", "ada", "quay"]
"""
_FETCHING = """
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
static unsigned char image[1 << 20], screen[64 * 64];
void copy(unsigned char *to, const unsigned char *from, unsigned long bytes)
{
    memcpy(to, from, bytes);
}
void draw(const RwPiece *piece, const RwSprite *sprite)
{
    int row, column;
    for (row = 0; row < (int)piece->picture.height; row++) {
        for (column = 0; column < (int)piece->picture.width; column++) {
            int x = piece->flips & RW_FLIP_X ? (int)piece->picture.width - 1 - column : column;
            int y = piece->flips & RW_FLIP_Y ? (int)piece->picture.height - 1 - row : row;
            unsigned char pixel = piece->picture.pixels[y * (int)piece->picture.width + x];
            if (pixel != sprite->clear)
                screen[64 * (piece->y + row) + piece->x + column] = pixel;
        }
    }
}
int main(int argc, char **argv)
{
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    unsigned long bytes = file ? (unsigned long)fread(image, 1, sizeof image, file) : 0;
    static unsigned char memory[MEMORY_BYTES];
    unsigned long chosen[2] = {ADA_HASH, WICK_HASH};
    unsigned int rank;
    RwAsset asset;
    RwLists lists;
    RwScene race;
    if (!rw_find(image, bytes, LOAD_HASH, RW_KIND_LISTS, &asset) || !rw_lists(&asset, image, bytes, memory, MEMORY_BYTES, &lists)
        || !rw_scene(&lists, SCENE_RACE_HASH, &race) || !rw_load(&lists, 0, 0, &race, chosen))
        return 2;
    for (rank = 0; rank < 2; rank++) {
        memset(screen, 0, sizeof screen);
        if (!show_frame(&lists, &race, chosen, 1, rank, rank & 1))
            return 3;
        fwrite(screen, 1, sizeof screen, stdout);
    }
    return 0;
}
"""


def test_example_fetches_a_frame(tmp_path):
    """As it is on the page: each frame, fetched into one of two buffers of its slot, is what the image's own bytes decode to."""
    made = build_here(make_project(tmp_path / "project", more=_WICK), "verify", "include", "reader", "loader")
    include = tmp_path / "project/build/include"
    (tmp_path / "fetching.c").write_text(_examples()[2] + _FETCHING)
    (tmp_path / "image").write_bytes(made.image)
    sources = [tmp_path / "fetching.c", include / "load.c", include / "reader.c"]
    flags = [flag for flag in (*WARNINGS, *SANITIZERS) if flag != "-Wconversion"]
    command = [need_tool("gcc"), *flags, f"-I{include}", *map(str, sources), "-o", str(tmp_path / "fetching")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    done = subprocess.run([tmp_path / "fetching", tmp_path / "image"], capture_output=True)
    assert done.returncode == 0, done.stderr
    wick, _ = asset(made, "wick")
    for screen, pixels in zip(np.frombuffer(done.stdout, dtype=np.uint8).reshape(2, 64, 64), wick.pixels, strict=True):
        wanted = np.zeros((64, 64), dtype=np.uint8)
        wanted[: pixels.shape[0], : pixels.shape[1]][pixels != wick.head["clear"]] = pixels[pixels != wick.head["clear"]]
        assert wanted.any()
        assert np.array_equal(screen, wanted)


def asset(made: Built, name: str):
    """Return an asset decoded, and its blob."""
    (entry,) = [one for one in made.map["entries"] if one["name"] == name]
    blob = made.image[entry["offset"] : entry["offset"] + entry["bytes"]]
    return decode_blob(entry["kind"], blob, made.project.target), blob


def test_example_shows_the_sprite(made, tmp_path):
    """Every picture of the run is the frame of its time, decoded, with the anchor in the middle of the screen; colours as stored."""
    (tmp_path / "image").write_bytes(made.image)
    done = subprocess.run([compiled(made, tmp_path), tmp_path / "image"], capture_output=True, check=True)
    screens = np.frombuffer(done.stdout, dtype=np.uint8).reshape(PICTURES, 240, 320)
    ada, _ = asset(made, "ada")
    ((_, loop, steps),) = ada.animations
    assert loop
    timeline = [frame for frame, ticks in steps for _ in range(ticks)] * PICTURES
    assert len(set(timeline[:PICTURES])) == 2
    for screen, frame in zip(screens, timeline[:PICTURES], strict=True):
        wanted = np.zeros((240, 320), dtype=np.uint8)
        left, top = 160 - 9, 120 - 20
        height, width = ada.pixels[frame].shape
        pixels = ada.pixels[frame]
        wanted[top : top + height, left : left + width][pixels != ada.head["clear"]] = pixels[pixels != ada.head["clear"]]
        assert wanted.any()
        assert np.array_equal(screen, wanted)
    palette, blob = asset(made, "figures")
    at, first, count = (palette.head[key] for key in ("entries", "first", "entry_count"))
    words = [int.from_bytes(blob[at + 2 * rank : at + 2 * rank + 2], "big") for rank in range(count)]
    lines = [tuple(map(int, line.split())) for line in done.stderr.decode().splitlines()]
    assert lines == [(first + rank, word) for rank, word in enumerate(words)]


def test_example_notices_a_corrupt_sprite(made, tmp_path):
    """A sprite of another layout is not drawn."""
    (entry,) = [one for one in made.map["entries"] if one["name"] == "ada"]
    image = bytearray(made.image)
    image[entry["offset"]] = 9
    (tmp_path / "image").write_bytes(image)
    assert subprocess.run([compiled(made, tmp_path), tmp_path / "image"], capture_output=True).returncode == 1
