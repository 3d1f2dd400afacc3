"""Files of an asset that is packed in the image, beside those of its conversion.

``blobs/NAME.bin`` and ``NAME.json`` are always the blob as the program sees it in memory, and its facts. For a packed asset
``NAME.packed.bin`` is its form in the image, and ``NAME.packed.json`` the facts of that: codec, bytes, unpacked_bytes,
crc32, sha256, unpacked_sha256, and tried: codec -> bytes it makes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.plain.files import read_json


def packed_facts_file(blobs: Path, name: str) -> Path:
    """Return the facts file of a packed asset's bytes in the image."""
    return blobs / f"{name}.packed.json"


def image_file(blobs: Path, name: str, packed: bool) -> Path:
    """Return the file of the bytes in the image."""
    return blobs / (f"{name}.packed.bin" if packed else f"{name}.bin")


def image_facts(blobs: Path, name: str, packed: bool) -> dict[str, Any]:
    """Return an asset's facts, where bytes, codec, crc32 and sha256 are those of its form in the image."""
    facts = read_json(blobs / f"{name}.json")
    return facts | read_json(packed_facts_file(blobs, name)) if packed else facts
