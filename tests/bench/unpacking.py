"""What packing saves and what unpacking costs. Run: ``python -m tests.bench.unpacking`` (needs m68k-linux-gnu-gcc).

Blobs: some of the demo's, converted. The C decoders of ``templates/console`` run on an emulated 68000, which counts
instructions; cycles are instructions times the published times (``cycles_68000``), with memory that never makes it wait.
``ratio`` is packed bytes / unpacked bytes.
"""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from pipeline.codec.choose import pack
from pipeline.project.loading.load import load_project
from tests.bench.cycles_68000 import cycles
from tests.codec.unpack_68000 import Code, Unpacker, compile_decoders
from tests.makers import run_steps

ROOT = Path(__file__).parent.parent.parent
_SHOWN = ("sprite:pell", "sprite:wick", "background:slatequay", "background:northpier", "palette:couriers", "sound:bell", "sound:splash")
_CODECS = ("packbits", "lz4")


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        blobs = dict(_blobs(Path(scratch)))
        for level in ("-Os", "-O2"):
            code = compile_decoders(Path(scratch), level)
            print(f"\nCompiled with {level}")
            for codec in _CODECS:
                print(f"  {codec:8} {code.functions[codec][1]:4} bytes of code, {code.stack[codec]} of stack")
            totals: Counter = Counter()
            for name, blob in blobs.items():
                _measure(name, blob, code, totals)
            for codec in _CODECS:
                _say("all together", codec, *(totals[codec, part] for part in ("blob", "packed", "instructions", "cycles")))


def _blobs(scratch: Path) -> Iterator[tuple[str, bytes]]:
    folder = scratch / "project"
    shutil.copytree(ROOT / "demo_project", folder, ignore=shutil.ignore_patterns("build", "make"))
    run_steps(load_project(folder), *_SHOWN)
    for step in _SHOWN:
        name = step.partition(":")[2]
        yield step.replace(":", " "), (folder / f"build/blobs/{name}.bin").read_bytes()


def _measure(name: str, blob: bytes, code: Code, totals: Counter) -> None:
    for codec in _CODECS:
        packed = pack(blob, codec, ()).data
        unpacker = Unpacker(code, watch=False)
        assert unpacker(codec, packed, len(blob)) == blob
        numbers = (len(blob), len(packed), *_counts(code, unpacker))
        for part, number in zip(("blob", "packed", "instructions", "cycles"), numbers, strict=True):
            totals[codec, part] += number
        _say(name, codec, *numbers)


def _counts(code: Code, unpacker: Unpacker) -> tuple[int, int]:
    """Return instructions and cycles of all that an unpacker ran."""
    addresses = sorted(code.listing)
    instructions = taken = 0
    for ((start, size), (behind, _)), times in unpacker.steps.items():
        inside = [address for address in addresses if start <= address < start + size]
        instructions += times * len(inside)
        for address in inside:
            jumps = address == inside[-1] and behind != start + size
            taken += times * cycles(code.listing[address], jumps)
    return instructions, taken


def _say(name: str, codec: str, blob: int, packed: int, instructions: int, taken: int) -> None:
    ratio, each, cost = packed / blob, instructions / blob, taken / blob
    print(f"  {name:22} {codec:8} {blob:>9,} bytes, ratio {ratio:5.3f}, {each:5.2f} instructions and {cost:5.1f} cycles a byte made")


if __name__ == "__main__":
    main()
