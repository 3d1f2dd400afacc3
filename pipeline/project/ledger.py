"""The ledger: ``ledger.json`` beside the project file, the record of released builds that ``doit release`` writes.

    {"releases": [{"version", "phase", "date", "build_code",
                   "image": {"bytes", "used", "crc32", "sha256"},
                   "budget": {scene: bytes in its worst case},
                   "kit": {"file", "sha256", "notes"},
                   "assets": {name: {"kind", "bytes", "sha256", "drawn", "picture", "look", "frame"}},
                   "issues": {"open": [id], "fixed": [id]}}]}

Oldest first. ``date`` is ISO 8601 or empty. ``bytes`` of an asset are those in the image, ``sha256`` is of its unpacked
content, ``drawn`` of art's scaled pixels, before the palette, with its timing, and ``look`` of its pixels as they were shown;
``picture`` names ``ledger/PICTURE.png``, whose frames are each ``frame`` pixels wide and high. These four are only there for
kinds that have them. ``notes`` is the SHA-256 of the
kit's plain-text notes. ``fixed`` are the issues fixed in that version.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import Meta

from pipeline.joints.links import BUILD_DIGITS
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import JSON_BYTES
from pipeline.plain.crockford import ALPHABET
from pipeline.plain.errors import refuse
from pipeline.plain.strict_json import read_strictly
from pipeline.plain.versions import is_version, precedence

LEDGER = "ledger.json"
PICTURES = "ledger"  # folder of small pictures, each named by its content
_REMEDY = "doit release writes this file: take it back from your version control"


_Count = Annotated[int, Meta(ge=0)]
_Side = Annotated[int, Meta(ge=1)]
# Intake compares codes that testers typed with these, digit by digit.
_Code = Annotated[str, Meta(pattern=f"^[{ALPHABET}]{{{BUILD_DIGITS}}}$(?!\\n)")]
# A file of the ledger's folder and no other.
_Picture = Annotated[str, Meta(pattern="^[0-9a-f]*$(?!\\n)")]


class _Image(msgspec.Struct):
    bytes: _Count
    used: _Count
    crc32: str
    sha256: str


class _Kit(msgspec.Struct):
    file: str
    sha256: str
    notes: str = ""


class _Asset(msgspec.Struct):
    kind: str
    bytes: _Count
    sha256: str
    drawn: str = ""
    picture: _Picture = ""
    look: str = ""
    frame: tuple[_Side, _Side] | None = None


class _Issues(msgspec.Struct):
    open: list[str]
    fixed: list[str]


class _Release(msgspec.Struct):
    version: str
    phase: str
    date: str
    build_code: _Code
    image: _Image
    budget: dict[str, _Count]
    kit: _Kit
    assets: dict[str, _Asset]
    issues: _Issues


class _Ledger(msgspec.Struct):
    releases: list[_Release]


def read_ledger(folder: Path) -> list[dict[str, Any]]:
    """Return the releases of a project, oldest first; none without a ledger. Keys of later tools are kept.

    Raises:
        ProjectError: cannot be read, too large, not JSON, parts missing or of another kind, a version twice or out of order.
    """
    try:
        data = read_strictly(read_whole(folder / LEDGER, LEDGER, JSON_BYTES, folder), LEDGER, _REMEDY)
        known = msgspec.convert(data, _Ledger)
    except FileNotFoundError:
        return []
    except msgspec.ValidationError as error:
        wrong, _, place = str(error).partition(" - at ")
        raise refuse(LEDGER, place.strip("`").removeprefix("$."), wrong.replace("`", ""), _REMEDY) from None
    _check_order([release.version for release in known.releases])
    return data["releases"]


def _check_order(versions: list[str]) -> None:
    for rank, version in enumerate(versions):
        if not is_version(version):
            raise refuse(LEDGER, f"releases[{rank}].version", f"{version!r} is not a valid version", _REMEDY)
        if rank and precedence(version) <= precedence(versions[rank - 1]):
            raise refuse(LEDGER, f"releases[{rank}].version", f"{version} does not come after {versions[rank - 1]}", _REMEDY)


def released_before(releases: list[dict[str, Any]], version: str) -> dict[str, Any] | None:
    """Return the last release that comes before a version, or None.

    A release of the version itself does not count, so that recording it changes nothing that is said about it.
    """
    earlier = [release for release in releases if precedence(release["version"]) < precedence(version)]
    return earlier[-1] if earlier else None


def find_release(releases: list[dict[str, Any]], version: str) -> dict[str, Any]:
    """Return the release of a version.

    Raises:
        ProjectError: it was never released.
    """
    for release in releases:
        if release["version"] == version:
            return release
    known = ", ".join(release["version"] for release in releases)
    remedy = f"in the ledger are {known}" if known else "the ledger is empty; doit release records a build"
    raise refuse("since=", "", f"no version {version!r} was released", remedy)
