"""Code, stack and instructions of the generated readers. Run: ``python -m tests.bench.reader_size`` (needs m68k-linux-gnu-gcc, unicorn,
sdcc).

The reader of each shipped target is compiled for a 68000. ``sprites`` is what a linker keeps of it for a program that only
finds and draws sprites. Stack is the deepest a call went, by painting it, its return address included; instructions are
counted on an emulated processor, in the image of a small project with every kind of asset.
"""

from __future__ import annotations

import subprocess
import tempfile
import zlib
from pathlib import Path

from unicorn import UC_HOOK_CODE

from demo_project.program.build import COMPILE, CPU, PREFIX
from pipeline.target.kinds import KIND_NUMBERS
from tests.makers import TARGETS, Built
from tests.rom.reader_68000 import OUTPUT, Console, link_walk
from tests.rom.reader_walk import every_kind
from tests.rom.test_small_reader import GAME, STORED, parts_of, sdcc_bytes

SPRITES = (
    "rw_find", "rw_sprite", "rw_frame", "rw_frame_piece", "rw_animation", "rw_animation_step", "rw_next_step", "rw_palette", "rw_colour",
)  # fmt: skip
LEVELS = ("-Os", "-O2")
PREPARED = """
[sprite.eve]
frames = "art/bea/*.png"
palette = "figures"
arrangement = "pieces"
prepared = "cells"
"""


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        for target in TARGETS:
            folder = Path(scratch) / target
            made = every_kind(folder / "project", target, packing=PREPARED)
            for level in LEVELS:
                whole, sprites = code_bytes(made, folder, level, ()), code_bytes(made, folder, level, SPRITES)
                print(f"{target} {level}: {whole:,} bytes of code and tables, {sprites:,} for sprites alone")
                for name, stack, count in calls(made, folder, level):
                    print(f"  {name:18} {stack:4} bytes of stack, {count:6,} instructions")
            if made.project.target.cartridge.banks:
                eight_bits(made.project.folder / "build/include", folder)


def eight_bits(include: Path, folder: Path) -> None:
    """Print the bytes of the reader for eight bits on a Z80, part by part and together."""
    for name in (name for name in parts_of(include / "reader8.h") if name not in ("FRAMES", "STREAM")):
        print(f"  reader8.c, {name}: {sdcc_bytes(include, folder, name):,} bytes")
    print(f"  for a game: {sdcc_bytes(include, folder, *GAME):,} bytes")
    print(f"  for a game, with whole and trimmed frames: {sdcc_bytes(include, folder, *GAME, 'FRAMES'):,} bytes")
    print(f"  for a game, with single frames fetched: {sdcc_bytes(include, folder, *GAME, 'STREAM'):,} bytes")
    print(f"  both, without unpacking: {sdcc_bytes(include, folder, *STORED, 'FRAMES', 'STREAM'):,} bytes")


def code_bytes(made: Built, folder: Path, level: str, names: tuple[str, ...]) -> int:
    """Return the bytes of code and constants of the reader, or of what a linker keeps of it for some functions."""
    include, part, linked = made.project.folder / "build/include", folder / "part.o", folder / "part.elf"
    flags = [level if flag == "-Os" else flag for flag in COMPILE]
    sections = ("-ffunction-sections", "-fdata-sections") if names else ()
    _run(f"{PREFIX}gcc", *CPU, *flags, *sections, "-c", str(include / "reader.c"), "-o", str(part))
    if names:
        kept = [f"--undefined={name}" for name in names]
        _run(f"{PREFIX}ld", "--gc-sections", "-e", names[0], *kept, str(part), "-o", str(linked))
    sizes = _run(f"{PREFIX}size", str(linked if names else part)).splitlines()[1].split()
    return int(sizes[0]) + int(sizes[1])


def calls(made: Built, folder: Path, level: str):
    """Yield name, bytes of stack and instructions of calls that find and read one thing of each kind."""
    console = Console(link_walk(made.project.folder / "build/include", folder, level), made.image[: made.map["image"]["used"]], watch=False)
    count = [0]
    console.cpu.hook_add(UC_HOOK_CODE, lambda *_: count.__setitem__(0, count[0] + 1))
    asset, thing, frame, out = (OUTPUT + 0x1000 * place for place in range(4))

    def measured(name: str, *arguments: int) -> tuple[str, int, int]:
        count[0] = 0
        stack = console.stack_of(name, *arguments)
        return name, stack, count[0]

    def find(name: str, kind: str) -> tuple[str, int, int]:
        return measured("rw_find", console.at, len(console.image), zlib.crc32(name.encode()), KIND_NUMBERS[kind], asset)

    yield find("bea", "sprite")
    yield measured("rw_sprite", asset, thing)
    yield measured("rw_frame", thing, 2, frame)
    yield measured("rw_frame_piece", thing, frame, 0, out)
    yield measured("rw_animation", thing, 1, frame)
    yield measured("rw_animation_step", thing, frame, 2, out)
    find("eve", "sprite")
    measured("rw_sprite", asset, thing)
    yield measured("rw_draws", thing, 2, frame)
    yield measured("rw_next_draw", frame, out)
    find("figures", "palette")
    yield measured("rw_palette", asset, thing)
    yield measured("rw_colour", thing, 1, out)
    find("pier", "background")
    yield measured("rw_background", asset, thing)
    yield measured("rw_map", thing, 2, 2, out)
    yield measured("rw_tile", thing, 2, out)
    find("words", "font")
    yield measured("rw_font", asset, thing)
    yield measured("rw_glyph", thing, ord("f"), out)
    find("bell", "sound")
    yield measured("rw_sound", asset, thing)
    yield measured("rw_sample", thing, 1, out)


def _run(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


if __name__ == "__main__":
    main()
