"""Zip archives (APPNOTE.TXT 6.3.10) whose bytes are the same on every machine.

Python's zlib is the system's, and other builds of zlib deflate to other bytes. libdeflate, which the package ``deflate`` carries within
itself, is pinned to one release, uses no floating-point arithmetic and chooses no code by the processor when it compresses; its notes say
of version 0.8 that it makes the same output on all architectures. ``zipfile`` does not take what is deflated already, so the records around
it are written here.
"""

from __future__ import annotations

import datetime
import hashlib
import struct
import zlib
from dataclasses import dataclass
from typing import BinaryIO

import deflate

_LEVEL = 6  # of 12: beyond it an image shrinks by half a percent more for four times the time
_STORED, _DEFLATED = 0, 8  # APPNOTE 4.4.5
_NEEDED = 20  # version 2.0, for folders and deflate, 4.4.3
_MADE_BY = 3 << 8 | _NEEDED  # on Unix, so that the rights count, 4.4.2
_MODE = 0o100644 << 16  # a plain file, readable by all
_EARLIEST, _LATEST = datetime.date(1980, 1, 1), datetime.date(2107, 12, 31)  # dates as in MS-DOS, 4.4.6
_LOCAL, _CENTRAL, _END = struct.Struct("<4s5H3L2H"), struct.Struct("<4s6H3L5H2L"), struct.Struct("<4s4H2LH")  # 4.3.7, 4.3.12, 4.3.16


@dataclass(frozen=True)
class Packed:
    """A file as an archive holds it: how it is stored, its bytes there, and of its own bytes the number, CRC-32 and SHA-256 in hex."""

    method: int
    data: bytes
    bytes: int
    crc32: int
    sha256: str


def packed(data: bytes) -> Packed:
    """Return a file deflated, or stored where that is not larger."""
    small = deflate.deflate_compress(data, _LEVEL)
    is_smaller = len(small) < len(data)
    method, stored = (_DEFLATED, bytes(small)) if is_smaller else (_STORED, data)
    return Packed(method, stored, len(data), zlib.crc32(data), hashlib.sha256(data).hexdigest())


def write_archive(file: BinaryIO, files: dict[str, Packed], date: datetime.date | None) -> None:
    """Write an archive.

    Args:
        file: open for writing, at its beginning.
        files: by their names in the archive, ASCII, with slashes; in this order.
        date: of all of them; None for the earliest that an archive can hold.
    """
    day = min(max(date or _EARLIEST, _EARLIEST), _LATEST)
    stamp = day.year - 1980 << 9 | day.month << 5 | day.day
    central, offset = b"", 0
    for name, one in files.items():
        encoded = name.encode("ascii")
        # Version, no flags, method, time 0:00, date; what follows is in both records.
        common = (_NEEDED, 0, one.method, 0, stamp, one.crc32, len(one.data), one.bytes, len(encoded), 0)
        file.write(_LOCAL.pack(b"PK\3\4", *common) + encoded)
        file.write(one.data)
        central += _CENTRAL.pack(b"PK\1\2", _MADE_BY, *common, 0, 0, 0, _MODE, offset) + encoded
        offset += _LOCAL.size + len(encoded) + len(one.data)
    file.write(central + _END.pack(b"PK\5\6", 0, 0, len(files), len(files), len(central), offset, 0))
