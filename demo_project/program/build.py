"""Makes ``harbour.bin`` from the sources beside this file; the same sources and compiler give the same bytes.

Usage: python demo_project/program/build.py [OUTPUT]
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from demo_project.building import ProgramError, main, put, run
from pipeline.plain.rendering import find_template
from pipeline.rom.console_loader import loader_values, write_loader
from pipeline.rom.console_reader import READER_PARTS, reader_values, write_reader
from pipeline.target.loading import load_target, shipped_targets

HERE = Path(__file__).resolve().parent
OUTPUT = HERE / "harbour.bin"
PREFIX = "m68k-linux-gnu-"
SOURCES = (
    "start.s", "crc32.s", "assets_reader.c", "art.c", "boxes.c", "draw.c", "display.c", "walk.c", "loads.c", "streams.c", "harbour.c",
    "main.c",
)  # fmt: skip
GENERATED = ("load.c", "reader.c")  # of the files that every build writes for programs on this console; nothing in them depends on the art
READER, LOADER = ("reader.h", "reader.c", *READER_PARTS), ("load.h", "load.c")  # templates
PARTS = 4 + 16 + 4096  # of reader.c: RW_PART_SPRITE, RW_PART_BACKGROUND, RW_PART_STREAM
CPU = ("-m68000", "-DRW_COPY=copy_bytes")
COMPILE = (
    "-std=c89", "-pedantic", "-Wall", "-Wextra", "-Werror", "-Os", "-ffreestanding", "-fno-pic", "-fno-common",
    "-fno-strict-aliasing", "-fomit-frame-pointer", "-fno-asynchronous-unwind-tables", "-fno-ident", "-g0", "-ffunction-sections",
    "-fno-tree-loop-distribute-patterns",  # no calls of memset and memcpy, which are not there
)  # fmt: skip
LINK = (
    "-nostdlib", "-static", "-Wl,--gc-sections", "-no-pie", "-Wl,--build-id=none", "-Wl,-z,noexecstack", "-Wl,--orphan-handling=error",
    "-Wl,--fatal-warnings", "-Wl,-T,link.ld",
)  # fmt: skip


def compiler() -> str | None:
    """Return the compiler's path, or None when it is not installed."""
    return shutil.which(f"{PREFIX}gcc")


def build(output: Path = OUTPUT) -> int:
    """Compile, link and write the program; return its size in bytes.

    Raises:
        ProgramError: the compiler is missing, or complains.
    """
    if compiler() is None:
        raise ProgramError(f"{PREFIX}gcc is not in PATH; install a GNU cross compiler and binutils for m68k")
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        _generate(work)
        objects = [_compile(work, source) for source in SOURCES]
        made = _link(work, [*objects, *(_compile(work, source, work) for source in GENERATED)])
        return put(made, output)


def _generate(work: Path) -> None:
    """Write reader and loader as the demo's build writes them."""
    target = load_target(shipped_targets()["basalt32"])
    readers, loaders = ({name: find_template(HERE, f"console/{name}.j2") for name in names} for names in (READER, LOADER))
    write_reader(readers, {name: work / name for name in ("reader.h", "reader.c")}, reader_values(target))
    write_loader(loaders, {name: work / name for name in loaders}, loader_values(target, packed=False))


def _compile(work: Path, source: str, folder: Path = HERE) -> str:
    made = str(work / f"{source}.o")
    flags = (*COMPILE, f"-I{os.path.relpath(work, HERE)}") if source.endswith(".c") else ()
    flags += (f"-DRW_PARTS={PARTS}",) if source == "reader.c" else ()
    run([f"{PREFIX}gcc", *CPU, *flags, "-c", os.path.relpath(folder / source, HERE), "-o", made], HERE)
    return made


def _link(work: Path, objects: list[str]) -> Path:
    linked, made = work / "linked", work / "made"
    run([f"{PREFIX}gcc", *CPU, *LINK, *objects, "-o", str(linked)], HERE)
    run([f"{PREFIX}objcopy", "-O", "binary", "-j", ".text", str(linked), str(made)], HERE)
    return made


if __name__ == "__main__":
    sys.exit(main(build, OUTPUT, sys.argv[1:]))
