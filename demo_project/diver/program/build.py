"""Makes ``diver.bin`` from the sources beside this file and the C that the build writes into ``build/include``.

Usage: python demo_project/diver/program/build.py [OUTPUT [INCLUDE]]

It holds no address of an asset, but the sizes to which packed ones are unpacked, and ranks of animations: make it again when
those change. The same sources, includes and compiler give the same bytes.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from pathlib import Path

from demo_project.building import ProgramError, main, put, run

HERE = Path(__file__).resolve().parent
OUTPUT, INCLUDE = HERE / "diver.bin", HERE.parent / "build/include"
START, MEMORY = 0x0400, 0xC000  # ``address`` in project.toml; the target's memory
PARTS = ("SHOW", "FIND", "SPRITE", "FRAMES", "ANIMATION", "PALETTE", "BACKGROUND", "SCREEN", "UNPACK")
OWN, GENERATED = ("main.c", "creatures.c", "console.c"), "reader8.c"
COMPILE = ("-mz80", "--std-c89", "--opt-code-size", "--max-allocs-per-node", "500", '-DRW_CONFIG="hardware.h"')
LINK = ("-mz80", "--no-std-crt0", "--code-loc", f"{START:#x}", "--data-loc", f"{MEMORY:#x}")


def compiler() -> str | None:
    """Return the compiler's path, or None when it is not installed."""
    return shutil.which("sdcc")


def build(output: Path = OUTPUT, include: Path = INCLUDE) -> int:
    """Compile, link and write the program; return its size in bytes.

    Raises:
        ProgramError: the compiler or the generated C is missing, or the compiler complains.
    """
    if compiler() is None:
        raise ProgramError("sdcc is not in PATH; install SDCC")
    missing = [name for name in (GENERATED, "reader8.h", "assets.h") if not (include / name).is_file()]
    if missing:
        raise ProgramError(f"no {', '.join(missing)} in {include}; build the project first: python -m doit project=demo_project/diver")
    numbers = dict(re.findall(r"#define RW8_PART_(\w+) (\d+)", (include / "reader8.h").read_text(encoding="utf-8")))
    parts = f"-DRW8_PARTS={sum(int(numbers[name]) for name in PARTS)}"
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        for path in (*include.iterdir(), *HERE.iterdir()):
            if path.suffix in (".c", ".h", ".s"):
                shutil.copyfile(path, work / path.name)  # named without a path
        run(["sdasz80", "-o", "start.rel", "start.s"], work, warnings=False)
        for name in (*OWN, GENERATED):
            run(["sdcc", *COMPILE, parts, "-c", name], work, warnings=False)
        objects = ["start.rel", *(name.replace(".c", ".rel") for name in (*OWN, GENERATED))]
        run(["sdcc", *LINK, *objects, "-o", "linked.ihx"], work, warnings=False)
        run(["makebin", "-p", "-s", "65536", "-o", str(START), "linked.ihx", "made"], work, warnings=False)
        return put(work / "made", output)


if __name__ == "__main__":
    sys.exit(main(build, OUTPUT, sys.argv[1:]))
