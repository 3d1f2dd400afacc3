"""Packing: a converted blob to its bytes in the image."""

from __future__ import annotations

import hashlib
import zlib
from pathlib import Path

from pipeline.codec.choose import pack
from pipeline.joints.facts import FORMAT, PackedFacts, write_packed_facts
from pipeline.joints.places import BlobFiles
from pipeline.plain.files import write_bytes


def pack_asset(blob_file: Path, out: BlobFiles, packing: str, codecs: tuple[str, ...]) -> str:
    """Write the form in the image of a blob that has been converted, and the facts of that; return one line about it.

    Args:
        packing: ``packbits``, ``lz4`` or ``best``.
        codecs: what ``best`` may choose in addition to ``stored``.
    """
    blob = blob_file.read_bytes()
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
    write_bytes(out.content, made.data)
    write_packed_facts(out.facts, facts)
    return f"{made.codec}, {len(made.data):,} of {len(blob):,} bytes ({len(made.data) / len(blob):.0%})"
