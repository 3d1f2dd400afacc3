"""Makes ``lueurs.bin`` from the sources beside this file and the C that the build writes into ``build/include``.

Usage: python demo_project/veillee/program/build.py [OUTPUT [INCLUDE]]

It holds no address of an asset, so that it stays valid whatever happens to the art; ``RW_`` constants and offsets in it
are the target's. The same sources, includes and compiler give the same bytes.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from demo_project.building import ProgramError, main, put, run

HERE = Path(__file__).resolve().parent
OUTPUT, INCLUDE = HERE / "lueurs.bin", HERE.parent / "build/include"
PREFIX = "m68k-linux-gnu-"
OWN, GENERATED = ("start.s", "main.c", "round.c", "assets_load.c"), ("reader.c", "unpack.c")
COMPILE = (
    "-m68000", "-std=c89", "-pedantic", "-Wall", "-Wextra", "-Werror", "-Os", "-ffreestanding", "-fno-pic", "-fno-common",
    "-fno-strict-aliasing", "-fomit-frame-pointer", "-fno-asynchronous-unwind-tables", "-fno-ident", "-g0",
    "-ffunction-sections", "-fno-tree-loop-distribute-patterns",  # no calls of memset and memcpy, which are not there
)  # fmt: skip
LINK = (
    "-m68000", "-nostdlib", "-static", "-no-pie", "-Wl,--build-id=none", "-Wl,-z,noexecstack", "-Wl,--gc-sections",
    "-Wl,--orphan-handling=error", "-Wl,--fatal-warnings", "-Wl,-T,link.ld",
)  # fmt: skip


def compiler() -> str | None:
    """Return the compiler's path, or None when it is not installed."""
    return shutil.which(f"{PREFIX}gcc")


def build(output: Path = OUTPUT, include: Path = INCLUDE) -> int:
    """Compile, link and write the program; return its size in bytes.

    Raises:
        ProgramError: the compiler or the generated C is missing, or the compiler complains.
    """
    if compiler() is None:
        raise ProgramError(f"{PREFIX}gcc is not in PATH; install a GNU cross compiler and binutils for m68k")
    missing = [name for name in (*GENERATED, "assets.h") if not (include / name).is_file()]
    if missing:
        raise ProgramError(f"no {', '.join(missing)} in {include}; build the project first: python -m doit project=demo_project/veillee")
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        for name in include.iterdir():
            shutil.copyfile(name, work / name.name)  # named without a path
        for name in HERE.iterdir():
            if name.suffix in (".c", ".h", ".s", ".ld"):
                shutil.copyfile(name, work / name.name)
        objects = [f"{name}.o" for name in (*OWN, *GENERATED)]
        for name, made in zip((*OWN, *GENERATED), objects, strict=True):
            run([f"{PREFIX}gcc", *(COMPILE if name.endswith(".c") else ("-m68000",)), "-I.", "-c", name, "-o", made], work)
        run([f"{PREFIX}gcc", *LINK, *objects, "-lgcc", "-o", "linked"], work)
        run([f"{PREFIX}objcopy", "-O", "binary", "-j", ".text", "linked", "made"], work)
        return put(work / "made", output)


if __name__ == "__main__":
    sys.exit(main(build, OUTPUT, sys.argv[1:]))
