"""The ledger: ``ledger.json`` beside the project file, the record of released builds that ``doit release`` writes.

It holds ``version``, of its format (a ledger without one has 1), and ``releases``, oldest first, each a ``Release``. Authors keep it:
keys that this tool does not know stay in the file, and every ledger that was ever written is read.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import Meta

from pipeline.joints.links import BUILD_DIGITS
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import JSON_BYTES
from pipeline.plain.crockford import ALPHABET
from pipeline.plain.errors import refuse
from pipeline.plain.files import json_bytes
from pipeline.plain.strict_json import read_strictly
from pipeline.plain.versions import is_version, precedence

LEDGER = "ledger.json"
FORMAT = 1  # of the file; another one is refused
PICTURES = "ledger"  # folder of small pictures, each named by its content
_REMEDY = "doit release writes this file: take it back from your version control"


_Count = Annotated[int, Meta(ge=0)]
_Side = Annotated[int, Meta(ge=1)]
# Intake compares codes that testers typed with these, digit by digit.
_Code = Annotated[str, Meta(pattern=f"^[{ALPHABET}]{{{BUILD_DIGITS}}}$(?!\\n)")]
# A file of the ledger's folder and no other.
_Picture = Annotated[str, Meta(pattern="^[0-9a-f]*$(?!\\n)")]


class ReleasedImage(msgspec.Struct, frozen=True, kw_only=True):
    """The image of a release: bytes of the padded image and up to the end of its last asset, its sums in lower-case hexadecimal."""

    bytes: _Count
    used: _Count
    crc32: str
    sha256: str


class ReleasedKit(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The kit of a release: its file's name and SHA-256, and the SHA-256 of its plain-text notes, empty in early ledgers.

    ``images``: with marked images, the SHA-256 of each by the number of its tester, such as T3. No name is in it.
    """

    file: str
    sha256: str
    notes: str = ""
    images: dict[str, str] = {}


class ReleasedAnimation(msgspec.Struct, frozen=True, kw_only=True):
    """An animation of a release: its frames in a row, how long it lasts in milliseconds, and a sum of all that it says."""

    frames: _Count
    ms: _Count
    sum: str


class ReleasedAsset(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """An asset of a release; all after its sum are only there for kinds that have them, and not in early ledgers.

    Attributes:
        bytes: in the image.
        sha256: of its unpacked content.
        drawn: of art's scaled pixels, before the palette, with its timing: a SHA-256.
        anchor: of a sprite, in its scaled pixels; ``timing``: its animations by name.
        picture: names ``ledger/PICTURE.png``.
        look: SHA-256 of its pixels as they were shown.
        frame: width and height in pixels of each frame of the picture.
    """

    kind: str
    bytes: _Count
    sha256: str
    drawn: str = ""
    anchor: tuple[int, int] | None = None
    timing: dict[str, ReleasedAnimation] = {}
    picture: _Picture = ""
    look: str = ""
    frame: tuple[_Side, _Side] | None = None


class ReleasedIssues(msgspec.Struct, frozen=True, kw_only=True):
    """Ids of the issues that were open in a release, and of those fixed in that version."""

    open: list[str]
    fixed: list[str]


class ReleasedContents(msgspec.Struct, frozen=True, kw_only=True):
    """What testers read is in a release, and what is not."""

    included: list[str]
    missing: list[str]


class Release(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One release; what early ledgers do not say is None.

    Attributes:
        version: Semantic Versioning 2.0.0; ``phase``: as the project file named it.
        date: ISO 8601, or empty.
        build_code: six characters of Crockford's base 32.
        budget: scene -> bytes in its worst case.
        assets: by name.
        controls: action -> pad as testers know it -> its buttons.
    """

    version: str
    phase: str
    date: str
    build_code: _Code
    image: ReleasedImage
    budget: dict[str, _Count]
    kit: ReleasedKit
    assets: dict[str, ReleasedAsset]
    issues: ReleasedIssues
    controls: dict[str, dict[str, str]] | None = None
    contents: ReleasedContents | None = None


class _Ledger(msgspec.Struct, frozen=True, kw_only=True):
    releases: list[Release]
    version: int = FORMAT


def read_ledger(folder: Path) -> list[Release]:
    """Return the releases of a project, oldest first; none without a ledger.

    Raises:
        ProjectError: cannot be read, too large, not JSON, parts missing or of another kind, of another format, a version twice or
            out of order.
    """
    return _read(folder)[0]


def ledger_with(folder: Path, release: Release) -> bytes:
    """Return the content of the ledger with a release at its end.

    Raises:
        ProjectError: as ``read_ledger``.
    """
    _, data = _read(folder)
    releases = [*data.get("releases", []), msgspec.to_builtins(release)]
    return json_bytes({"version": FORMAT, **data, "releases": releases})


def _read(folder: Path) -> tuple[list[Release], dict[str, Any]]:
    """Return the releases, and the content of the file with what this tool does not know."""
    try:
        data = read_strictly(read_whole(folder / LEDGER, LEDGER, JSON_BYTES, folder), LEDGER, _REMEDY)
    except FileNotFoundError:
        return [], {}
    version = data.get("version", FORMAT) if isinstance(data, dict) else FORMAT
    if version != FORMAT or isinstance(version, bool):
        wrong = f"is {json.dumps(version)[:20]}, this version of the tool reads the number {FORMAT}"
        raise refuse(LEDGER, "version", wrong, "use the version of the tool that wrote it, or take the file back from your version control")
    try:
        known = msgspec.convert(data, _Ledger)
    except msgspec.ValidationError as error:
        wrong, _, place = str(error).partition(" - at ")
        raise refuse(LEDGER, place.strip("`").removeprefix("$."), wrong.replace("`", ""), _REMEDY) from None
    _check_order([release.version for release in known.releases])
    return known.releases, data


def _check_order(versions: list[str]) -> None:
    for rank, version in enumerate(versions):
        if not is_version(version):
            raise refuse(LEDGER, f"releases[{rank}].version", f"{version!r} is not a valid version", _REMEDY)
        if rank and precedence(version) <= precedence(versions[rank - 1]):
            raise refuse(LEDGER, f"releases[{rank}].version", f"{version} does not come after {versions[rank - 1]}", _REMEDY)


def released_before(releases: Sequence[Release], version: str) -> Release | None:
    """Return the last release that comes before a version, or None.

    A release of the version itself does not count, so that recording it changes nothing that is said about it.
    """
    earlier = [release for release in releases if precedence(release.version) < precedence(version)]
    return earlier[-1] if earlier else None


def versions_before(releases: Sequence[Release], version: str) -> list[str]:
    """Return the versions of all releases that come before a version, oldest first."""
    return [release.version for release in releases if precedence(release.version) < precedence(version)]


def unreleased(version: str, released: Collection[str]) -> tuple[str, str]:
    """Return what is wrong with a version to compare with that no release before this version has, and the remedy."""
    known = f"name one of {', '.join(released)}, or leave it out" if released else "leave it out"
    return f"{version} was not released before this version", known


def release_since(releases: Sequence[Release], version: str, since: str = "") -> Release | None:
    """Return the release that a version is compared with: the one named, else the last before it, None without one.

    Raises:
        ProjectError: the one named was never released.
    """
    return find_release(releases, since) if since else released_before(releases, version)


def find_release(releases: Sequence[Release], version: str) -> Release:
    """Return the release of a version.

    Raises:
        ProjectError: it was never released.
    """
    for release in releases:
        if release.version == version:
            return release
    known = ", ".join(release.version for release in releases)
    remedy = f"in the ledger are {known}" if known else "the ledger is empty; doit release records a build"
    raise refuse("since=", "", f"no version {version!r} was released", remedy)
