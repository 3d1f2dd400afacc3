"""Writing a blob and its facts."""

from __future__ import annotations

import hashlib
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from pipeline.joints.layouts import Part
from pipeline.plain.errors import refuse
from pipeline.plain.files import replacing, write_json

_PART = 1 << 18  # bytes of a body read at once


def put_record(record: tuple[Part, ...], byte_order: str, **values: int) -> bytes:
    """Return a record's bytes; parts not given are 0.

    Raises:
        OverflowError: a value does not fit its part.
    """
    parts = (values.get(part.name, 0).to_bytes(part.bytes, byte_order, signed=part.signed) for part in record)
    return b"".join(parts)


def name_hash(name: str) -> int:
    """Return the number by which a program knows a name: CRC-32/ISO-HDLC of its ASCII."""
    return zlib.crc32(name.encode("ascii"))


def save_blob(folder: Path, name: str, kind: str, blob: bytes, facts: dict[str, Any]) -> str:
    """Write ``NAME.bin`` and ``NAME.json`` into a folder; return one line about it for a person.

    The facts always hold name, kind, bytes, unpacked_bytes, codec, crc32 and sha256; each kind adds its own.
    """
    return save_parts(folder, name, kind, [blob], facts)


def save_parts(folder: Path, name: str, kind: str, parts: Iterable[bytes], facts: dict[str, Any]) -> str:
    """Write a blob as ``save_blob`` does, part after part, so that it is never held whole."""
    size, crc, digest = 0, 0, hashlib.sha256()
    with replacing(folder / f"{name}.bin") as file:
        for part in parts:
            file.write(part)
            size, crc = size + len(part), zlib.crc32(part, crc)
            digest.update(part)
    common = {
        "name": name,
        "kind": kind,
        "bytes": size,
        "unpacked_bytes": size,
        "codec": "stored",
        "crc32": f"{crc:08x}",
        "sha256": digest.hexdigest(),
    }
    write_json(folder / f"{name}.json", common | facts)
    return f"{size:,} bytes"


@contextmanager
def body_file(folder: Path, name: str) -> Iterator[BinaryIO]:
    """Open a file, gone when the block ends, for what comes in a blob after tables that are complete only after it.

    Raises:
        ProjectError: the system would not write it.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as file:
            yield file
    except OSError as error:
        if error.filename is not None and not str(error.filename).startswith(str(folder)):
            raise  # about another file, which the block was reading
        wrong = f"cannot be written: {error.strerror or error}"
        raise refuse(f"{name}.bin", "", wrong, "free some room on the disk, or check permissions, and build again") from None


def body_parts(head: bytes, body: BinaryIO) -> Iterator[bytes]:
    """Yield a blob's tables and then all of its ``body_file``, for ``save_parts``."""
    yield head
    body.seek(0)
    while part := body.read(_PART):
        yield part
