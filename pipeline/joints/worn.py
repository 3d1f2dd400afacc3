"""What a variant makes of the art that wears it: ``work/NAME.worn.json``."""

from __future__ import annotations

from pathlib import Path

import msgspec

from pipeline.plain.files import FileRecord, read_record, write_record

FORMAT = 1


class Worn(FileRecord, frozen=True, kw_only=True):
    """What the author should know of art in a variant's colours, as a look at the image shows it.

    Attributes:
        remarks: a sentence without a full stop each.
    """

    remarks: list[str]


_DECODER = msgspec.json.Decoder(Worn)


def read_worn(file: Path) -> Worn:
    """Return what was found.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _DECODER, FORMAT)


def write_worn(file: Path, remarks: list[str]) -> None:
    """Write what was found."""
    write_record(file, Worn(version=FORMAT, remarks=remarks))
