"""Recording a release: what a build was, as an entry of the ledger; see ``project.ledger`` for its layout."""

from __future__ import annotations

import datetime
import hashlib
from pathlib import Path
from typing import Any

import msgspec

from pipeline.joints.budget import Budget
from pipeline.joints.map import MappedImage
from pipeline.packet.content.content import by_number
from pipeline.plain.files import refuse_links
from pipeline.project.file import Game
from pipeline.project.issues import open_issues, to_retest
from pipeline.project.ledger import LEDGER, PICTURES, Release, ReleasedAsset, ReleasedImage, ReleasedIssues, ReleasedKit, ledger_with
from pipeline.release.differences import Said, contents_of, controls_of
from pipeline.release.together import Together

_NAME = 16  # hexadecimal digits of a picture's SHA-256 that name its file


def make_entry(
    game: Game,
    date: datetime.date | None,
    image: MappedImage,
    budget: Budget,
    kit: ReleasedKit,
    assets: dict[str, ReleasedAsset],
    pictures: dict[str, dict[str, Any]],
    said: Said,
) -> Release:
    """Return the entry of a build.

    Args:
        image: as ``map.json`` describes it.
        budget: ``budget.json``.
        assets: see ``assets_compared.assets_now``.
        pictures: name -> picture, look and frame of the assets that have something to look at, as the ledger keeps them; see
            ``picture_facts``.
    """
    return Release(
        version=game.version,
        phase=game.phase,
        date=date.isoformat() if date else "",
        build_code=image.build_code,
        image=ReleasedImage(bytes=image.bytes, used=image.used, crc32=image.crc32, sha256=image.sha256),
        budget={name: scene.bytes for name, scene in budget.scenes.items()},
        kit=kit,
        assets={name: msgspec.structs.replace(one, **pictures.get(name, {})) for name, one in assets.items()},
        issues=ReleasedIssues(
            open=sorted((one.id for one in open_issues(said.issues)), key=by_number),
            fixed=sorted((one.id for one in to_retest(said.issues, game.version)), key=by_number),
        ),
        controls=controls_of(said.controls, said.pads),
        contents=contents_of(said.contents),
    )


def picture_facts(png: bytes, look: str, frame: tuple[int, int] | None) -> dict[str, Any]:
    """Return what the ledger keeps of a picture; see ``proofs.thumbnail.Thumbnail``."""
    facts = {"picture": picture_name(png), "look": look, "frame": frame}
    return {key: value for key, value in facts.items() if value}


def picture_name(png: bytes) -> str:
    """Return the name of a picture's file: its content's, so that releases share what did not change."""
    return hashlib.sha256(png).hexdigest()[:_NAME]


def picture_file(folder: Path, name: str) -> Path:
    """Return the file of a picture of the ledger."""
    return folder / PICTURES / f"{name}.png"


def add_release(folder: Path, entry: Release, pictures: list[bytes]) -> None:
    """Write the pictures that are not there yet and the ledger with the entry at its end: all of it, or, if a write fails, nothing.

    Raises:
        ProjectError: the folder of pictures is a link, or something cannot be written.
    """
    refuse_links(folder, [folder / PICTURES])
    ledger = ledger_with(folder, entry)
    fresh = {path: png for png in pictures if not (path := picture_file(folder, picture_name(png))).is_file()}
    with Together() as files:
        for path, png in fresh.items():
            files.write(path, png)
        files.write(folder / LEDGER, ledger)
