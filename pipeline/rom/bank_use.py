"""What each bank of an image holds, and what is lost because nothing may cross a bank's end."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.joints.map import MapEntry, read_map
from pipeline.plain.files import write_json
from pipeline.plain.sizes import show_size
from pipeline.rom.banks.bound import fewest_banks
from pipeline.target.fields import directory_place
from pipeline.target.records import Target


def write_banks(map_file: Path, out: Path, target: Target) -> str:
    """Write ``work/banks.json`` (see ``bank_use``); return one line about it. Only for a target with banks."""
    use = bank_use(read_map(map_file).entries, target)
    write_json(out, use)
    return show_banks(use)


def bank_use(entries: list[MapEntry], target: Target) -> dict[str, Any]:
    """Return what banks hold.

    Args:
        entries: of ``map.json``.

    Returns:
        ``size`` of a bank; ``banks``: for each up to the last that holds something ``bank``, ``used`` (bytes of header, directory
        and assets), ``between`` (free before the last of them) and ``end`` (free after it); ``lost``: all free bytes but the
        last bank's end, which can still grow; ``fixed`` banks, where there are several; ``fewest``: a lower bound of the banks needed
        (``banks.bound``).

    Raises:
        ValueError: the target has no banks.
    """
    if target.cartridge.banks is None:
        raise ValueError(f"{target.name} has no banks to fill")
    size = target.cartridge.banks.size
    taken = [(target.header.offset, target.header.offset + target.header.size)]
    directory = directory_place(target, len(entries))
    if directory is not None:
        taken.append((directory.start, directory.stop))
    taken += [(one.offset, one.offset + one.bytes) for one in entries]
    banks = [_bank(number, taken, size) for number in range((max(end for _, end in taken) - 1) // size + 1)]
    lost = sum(one["between"] + one["end"] for one in banks) - banks[-1]["end"]
    fixed = {"fixed": target.cartridge.banks.fixed} if target.cartridge.banks.fixed > 1 else {}
    return {"size": size, **fixed, "banks": banks, "lost": lost, "fewest": fewest_banks(target, size, [one.bytes for one in entries])}


def _bank(number: int, taken: list[tuple[int, int]], size: int) -> dict[str, int]:
    low, high = number * size, (number + 1) * size
    inside = [(max(start, low), min(end, high)) for start, end in taken if start < high and end > low]
    used, behind = sum(end - start for start, end in inside), max((end for _, end in inside), default=low)
    return {"bank": number, "used": used, "between": behind - low - used, "end": high - behind}


def show_banks(use: dict[str, Any]) -> str:
    """Return how well banks are filled as one sentence without a full stop."""
    count, bound = len(use["banks"]), use["fewest"]
    best = "no placement needs fewer" if count <= bound else f"at least {bound} are needed"
    size = f"{count} bank{'s' if count > 1 else ''} of {show_size(use['size'])}"
    return f"{size}, {best}; {use['lost']:,} bytes lost at their ends and between"
