"""The build code: six characters, computed from content, that name one build everywhere."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pipeline.joints.facts import Facts, image_facts
from pipeline.joints.links import BUILD_DIGITS
from pipeline.joints.places import FactsFiles
from pipeline.plain.crockford import encode
from pipeline.plain.files import write_json
from pipeline.target.kinds import KINDS


def build_code(version: str, target_sha256: str, settings: dict[str, str], assets: list[Facts]) -> str:
    """Return six Crockford digits: the first 30 bits of a SHA-256 over the content.

    Args:
        version: of the game.
        target_sha256: of the target file's content.
        settings: what else of the project file reaches the image: header texts, words and links of the boot notice, places.
        assets: facts (name, kind, codec, sha256) of every blob as it is in the image; not of boot notices, which show
            the code themselves.
    """
    content = hashlib.sha256()
    setting_lines = sorted(f"setting {key} {value}" for key, value in settings.items())
    lines = sorted(_line(one) for one in assets if not KINDS[one.kind].shows_code)
    for line in (f"version {version}", f"target {target_sha256}", *setting_lines, *lines):
        content.update(line.encode() + b"\n")
    number = int.from_bytes(content.digest()[:4], "big") >> 2
    return encode(number, BUILD_DIGITS)


def _line(facts: Facts) -> str:
    """Return what counts of an asset. The codec does: two bytes FF are the same stored and packed with PackBits."""
    packed = "" if facts.codec == "stored" else f" {facts.codec}"
    return f"{facts.kind} {facts.name} {facts.sha256}{packed}"


def write_build_code(
    facts: dict[str, FactsFiles], out: Path, version: str, target_sha256: str, settings: dict[str, str]
) -> str:
    """Compute the code from the facts of all assets but boot notices and write it to a JSON file; return it."""
    code = build_code(version, target_sha256, settings, [image_facts(files) for files in facts.values()])
    write_json(out, {"build_code": code})
    return code
