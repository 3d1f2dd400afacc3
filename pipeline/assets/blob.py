"""Writing a blob and its facts."""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path
from typing import Any

from pipeline.files import write_bytes, write_json
from pipeline.records import Part


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
    common = {
        "name": name,
        "kind": kind,
        "bytes": len(blob),
        "unpacked_bytes": len(blob),
        "codec": "stored",
        "crc32": f"{zlib.crc32(blob):08x}",
        "sha256": hashlib.sha256(blob).hexdigest(),
    }
    write_bytes(folder / f"{name}.bin", blob)
    write_json(folder / f"{name}.json", common | facts)
    return f"{len(blob):,} bytes"
