"""Files of an asset that is packed in the image, beside those of its conversion.

``blobs/NAME.bin`` and ``NAME.json`` are always the blob as the program sees it in memory, and its facts. For a packed asset
``NAME.packed.bin`` is its form in the image, and ``NAME.packed.json`` the facts of that; ``facts`` documents and reads both.
"""

from __future__ import annotations

from pathlib import Path


def packed_facts_file(blobs: Path, name: str) -> Path:
    """Return the facts file of a packed asset's bytes in the image."""
    return blobs / f"{name}.packed.json"


def image_file(blobs: Path, name: str, packed: bool) -> Path:
    """Return the file of the bytes in the image."""
    return blobs / (f"{name}.packed.bin" if packed else f"{name}.bin")
