"""``map.json``: the finished image as a whole, and where every asset is in it. ``rom`` writes it, whatever comes after reads it.

Sizes and offsets are in bytes, offsets from the image's first byte, addresses as the console sees them, checksums lower-case
hexadecimal. Whether the numbers are true of the image is checked in ``reading.verify``; here only that they are such numbers.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, ClassVar

import msgspec
from msgspec import Meta

from pipeline.plain.files import FileRecord, decode_record, read_record, write_record

FORMAT = 1  # of the file; another one is refused
# How an asset can differ from an earlier release: keys of ``changes.json``, of the packet's and the notes' words, in their order.
ASSETS = ("added", "removed", "changed", "recoloured", "renamed")
_Count = Annotated[int, Meta(ge=0)]
_Crc32 = Annotated[str, Meta(pattern="^[0-9a-f]{8}$(?!\\n)")]
_Sha256 = Annotated[str, Meta(pattern="^[0-9a-f]{64}$(?!\\n)")]


class MappedImage(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The image as a whole.

    Attributes:
        bytes: of the padded image, at least 1.
        used: up to the end of the last asset; ``pad``: the rest.
        crc32, sha256: of all its bytes (CRC-32/ISO-HDLC).
        build_code: six characters, see ``release.build_code``.
    """

    bytes: Annotated[int, Meta(ge=1)]
    used: _Count
    pad: _Count
    crc32: _Crc32
    sha256: _Sha256
    build_code: str


class MapEntry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where one asset is.

    Attributes:
        name, kind: of the asset; the kinds are ``target.kinds.KINDS``.
        offset: of its first byte; ``address``: of the same byte.
        bytes: in the image; ``unpacked_bytes``: in memory.
        codec: one of ``target.fields.CODEC_NUMBERS``.
        alignment: that it was placed by, a power of two.
        crc32: of its bytes in the image.
    """

    name: str
    kind: str
    offset: _Count
    address: _Count
    bytes: _Count
    unpacked_bytes: _Count
    codec: str
    alignment: Annotated[int, Meta(ge=1)]
    crc32: _Crc32


class ImageMap(FileRecord, frozen=True, kw_only=True):
    """The content of the file.

    Attributes:
        entries: in image order, each name once.
    """

    image: MappedImage
    entries: list[MapEntry]

    def by_name(self) -> dict[str, MapEntry]:
        """Return the entries by the name of their asset."""
        return {one.name: one for one in self.entries}


class Mark(FileRecord, frozen=True, kw_only=True):
    """How a tester's image differs from everybody's.

    Attributes:
        number: of the tester.
        changed: offset and bytes in hexadecimal: the tester's number, and the checksums that cover it.
    """

    FORMAT: ClassVar[int] = 1
    number: Annotated[int, Meta(ge=1, le=999)]
    changed: list[tuple[_Count, Annotated[str, Meta(pattern="^([0-9a-f]{2})+$(?!\\n)")]]]


_MARK_DECODER = msgspec.json.Decoder(Mark)
_DECODER = msgspec.json.Decoder(ImageMap)


def write_map(path: Path, image: MappedImage, entries: list[MapEntry]) -> None:
    """Write a map; arguments as in ``ImageMap``."""
    write_record(path, ImageMap(version=FORMAT, image=image, entries=entries))


def read_map(path: Path) -> ImageMap:
    """Read a map.

    Raises:
        ProjectError: the file is missing, damaged or of another version.
    """
    return read_record(path, _DECODER, FORMAT)


def write_mark(path: Path, mark: Mark) -> None:
    """Write how a tester's image differs."""
    write_record(path, mark)


def read_mark(path: Path) -> Mark:
    """Read how a tester's image differs. Errors as ``read_map``."""
    return read_record(path, _MARK_DECODER, Mark.FORMAT)


def apply_mark(image: bytes, mark: Mark) -> bytes:
    """Return a tester's image, made of everybody's."""
    own = bytearray(image)
    for at, text in mark.changed:
        part = bytes.fromhex(text)
        own[at : at + len(part)] = part
    return bytes(own)


def decode_map(data: bytes, shown: str) -> ImageMap:
    """Return the map that the content of a file is; ``shown`` is the file's name in messages. Errors as ``read_map``."""
    return decode_record(data, shown, _DECODER, FORMAT)
