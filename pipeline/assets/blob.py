"""Writing a blob and its facts."""

from __future__ import annotations

import hashlib
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, TypedDict

from pipeline.joints.facts import FORMAT, Facts, write_facts
from pipeline.joints.layouts import Part
from pipeline.plain.bits import ByteOrder
from pipeline.plain.errors import refuse
from pipeline.plain.files import replacing
from pipeline.target.records import PictureRules

_PART = 1 << 18  # bytes of a body read at once


def put_record(record: tuple[Part, ...], byte_order: ByteOrder, **values: int) -> bytes:
    """Return a record's bytes; parts not given are 0.

    Raises:
        OverflowError: a value does not fit its part.
    """
    parts = (values.get(part.name, 0).to_bytes(part.bytes, byte_order, signed=part.signed) for part in record)
    return b"".join(parts)


def entry_bytes(words: Iterable[int], rules: PictureRules) -> bytes:
    """Return words of palette entries as bytes, one after another, in the byte order of the console's entries."""
    return b"".join(word.to_bytes(rules.entry.bytes, rules.entry_order) for word in words)


class Saved(TypedDict):
    """What the facts of every kind say of a blob that was written; see ``joints.facts.Facts``."""

    version: int
    name: str
    bytes: int
    unpacked_bytes: int
    codec: str
    crc32: str
    sha256: str
    origin: str


def save_blob(file: Path, name: str, parts: Iterable[bytes | bytearray], origin: str) -> Saved:
    """Write a blob, part after part, so that it need not be held whole; return what its facts begin with."""
    size, crc, digest = 0, 0, hashlib.sha256()
    with replacing(file) as out:
        for part in parts:
            out.write(part)
            size, crc = size + len(part), zlib.crc32(part, crc)
            digest.update(part)
    return {
        "version": FORMAT,
        "name": name,
        "bytes": size,
        "unpacked_bytes": size,
        "codec": "stored",
        "crc32": f"{crc:08x}",
        "sha256": digest.hexdigest(),
        "origin": origin,
    }


def save_facts(file: Path, facts: Facts) -> str:
    """Write the facts of a blob that was saved; return its size for a person."""
    write_facts(file, facts)
    return f"{facts.bytes:,} bytes"


def show_padding(facts: Facts) -> str:
    """Return what a blob loses so that its parts start where the target says, for a step's line; empty where it is nothing."""
    return f", {facts.padding:,} of them so that parts start where the target says" if facts.padding else ""


@contextmanager
def body_file(blob: Path) -> Iterator[BinaryIO]:
    """Open a file beside a blob, gone when the block ends, for what comes in it after tables that are complete only after that.

    Raises:
        ProjectError: the system would not write it.
    """
    folder = blob.parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as file:
            yield file
    except OSError as error:
        if error.filename is not None and not str(error.filename).startswith(str(folder)):
            raise  # about another file, which the block was reading
        wrong = f"cannot be written: {error.strerror or error}"
        raise refuse(blob.name, "", wrong, "free some room on the disk, or check permissions, and build again") from None


def body_parts(head: bytes, body: BinaryIO) -> Iterator[bytes]:
    """Yield a blob's tables and then all of its ``body_file``, for ``save_blob``."""
    yield head
    body.seek(0)
    while part := body.read(_PART):
        yield part
