"""Packing: a converted blob to its bytes in the image."""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path

from pipeline.codec.choose import pack
from pipeline.joints.facts import FORMAT, PackedFacts, write_packed_facts
from pipeline.joints.packed import image_file
from pipeline.plain.files import write_bytes


def pack_asset(blobs: Path, name: str, packing: str, codecs: tuple[str, ...]) -> str:
    """Write the files of ``joints.packed`` for an asset whose blob has been converted; return one line about it.

    Args:
        packing: ``packbits``, ``lz4`` or ``best``.
        codecs: what ``best`` may choose in addition to ``stored``.
    """
    blob = (blobs / f"{name}.bin").read_bytes()
    made = pack(blob, packing, codecs)
    facts = PackedFacts(
        version=FORMAT,
        codec=made.codec,
        bytes=len(made.data),
        unpacked_bytes=len(blob),
        crc32=f"{zlib.crc32(made.data):08x}",
        sha256=hashlib.sha256(made.data).hexdigest(),
        unpacked_sha256=hashlib.sha256(blob).hexdigest(),
        tried=made.tried,
    )
    write_bytes(image_file(blobs, name, packed=True), made.data)
    write_packed_facts(blobs, name, facts)
    return f"{made.codec}, {len(made.data):,} of {len(blob):,} bytes ({len(made.data) / len(blob):.0%})"
