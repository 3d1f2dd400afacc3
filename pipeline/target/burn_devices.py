"""Sizes of the EPROMs an image is burnt into, and which of them a part of an image needs."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.plain.sizes import show_size

_KIB = 1024
# Customary name -> bytes, and widths of the data bus in bits; both where a pin chooses. Sizes of the names 27C256 to 27C080 are
# those of their makers' data sheets (the number is kibibits); those of 16-bit devices are common practice.
KNOWN: dict[str, tuple[int, tuple[int, ...]]] = {
    "27C256": (32 * _KIB, (8,)),
    "27C512": (64 * _KIB, (8,)),
    "27C010": (128 * _KIB, (8,)),
    "27C1024": (128 * _KIB, (16,)),
    "27C020": (256 * _KIB, (8,)),
    "27C2048": (256 * _KIB, (16,)),
    "27C040": (512 * _KIB, (8,)),
    "27C4096": (512 * _KIB, (16,)),
    "27C400": (512 * _KIB, (8, 16)),
    "27C080": (1024 * _KIB, (8,)),
    "27C800": (1024 * _KIB, (8, 16)),
    "27C160": (2048 * _KIB, (8, 16)),
    "27C322": (4096 * _KIB, (16,)),
}
# Form -> widths a device may have that takes one of its files, the first preferred.
WIDTHS = {
    "whole": (8, 16),
    "swapped": (16,),
    "even-odd": (8,),
    "four-way": (8,),
    "s-record": (8, 16),
    "intel-hex": (8, 16),
}
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True)
class Devices:
    """What a form needs: ``count`` devices of ``bytes``, ``width`` bits wide."""

    count: int
    bytes: int
    width: int

    @property
    def names(self) -> tuple[str, ...]:
        """Customary names of such a device."""
        return tuple(name for name, (size, widths) in KNOWN.items() if size == self.bytes and self.width in widths)

    def __str__(self) -> str:
        count = _NUMBERS[self.count] if self.count < len(_NUMBERS) else str(self.count)
        return f"{count} of {show_size(self.bytes)}, {self.width} bits wide"


def device_sizes(form: str) -> list[int]:
    """Return the sizes a device for a form can have, the smallest first."""
    return sorted({size for size, widths in KNOWN.values() if set(widths) & set(WIDTHS[form])})


def choose_devices(form: str, sizes: list[int], wanted: int | None = None) -> Devices:
    """Return the devices for the files of a form.

    Args:
        sizes: bytes of each part of the image; all are alike.
        wanted: size of a device in bytes, one of ``device_sizes``; None for the smallest that holds a part whole, or the largest
            there is, of which a part then needs several.
    """
    known = device_sizes(form)
    size = wanted or next((one for one in known if one >= max(sizes)), known[-1])
    width = next(one for one in WIDTHS[form] if any(known == size and one in widths for known, widths in KNOWN.values()))
    return Devices(sum(-(-one // size) for one in sizes), size, width)
