"""Releases: what changed since the last one, and recording the next in the ledger."""

from __future__ import annotations

import base64
import datetime
import functools
from pathlib import Path
from typing import Any

from pipeline.joints.budget import read_budget_file
from pipeline.joints.map import ASSETS, read_map
from pipeline.joints.places import Sources
from pipeline.packet.content.changes_text import show_differences
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import LEDGER_PICTURE, PICTURE_PIXELS
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import read_json, sha256_of, write_json
from pipeline.project.file import Game
from pipeline.project.ledger import Release, ReleasedAsset, ReleasedKit, read_ledger, release_since
from pipeline.project.words import read_words
from pipeline.release.assets_compared import assets_now, compare_looks, find_renamed
from pipeline.release.differences import Said, differences
from pipeline.release.preflight import show_preflight
from pipeline.release.record import add_release, make_entry, picture_facts, picture_file, picture_name


def write_changes(out: Path, committed: Sources, version: str, since: str = "", **given: Any) -> str:
    """Write what changed since a release, with pictures; return one line about it.

    Args:
        out: ``changes.json``; see ``release.differences``. It holds null where no release comes before.
        committed: what the author keeps about releases: the ledger and its pictures, and their own words.
        since: version of the release; empty for the last one before this version.
        given: see ``_compare``.

    Raises:
        ProjectError: the ledger or the author's words cannot be read.
    """
    folder = committed.folder
    releases = read_ledger(folder)
    release = release_since(releases, version, since)
    found = _compare(folder, releases, release, version, **given) if release else None
    write_json(out, found)
    if found is None:
        return "nothing to compare with: no release comes before this version"
    return ", ".join(f"{len(found[key])} {key}" for key in ASSETS) + f" since {found['since']['version']}"


def show_changes(committed: Sources, version: str, since: str, **given: Any) -> str:
    """Return what changed since a release, the last one before this version where none is named, for a person."""
    folder = committed.folder
    releases = read_ledger(folder)
    release = release_since(releases, version, since)
    if release is None:
        return "No release comes before this version: nothing to compare with. doit release records one."
    return show_differences(_compare(folder, releases, release, version, **given))


def _compare(
    folder: Path,
    releases: list[Release],
    release: Release,
    version: str,
    map_file: Path,
    budget_file: Path,
    facts: dict[str, Path],
    scaled: dict[str, Path],
    said: dict[str, Any],
    **drawing: Any,
) -> dict[str, Any]:
    """Return what changed since a release, with a picture of every asset before and now where someone could see that they differ.

    Args:
        facts: of every asset, by name.
        scaled: art -> file of its scaled pixels before the palette.
        said: what testers read, by the names of ``differences.Said``.
        drawing: image, palettes (asset -> its palette, of those that have a picture), small, decoders, target, aspect; see ``_drawn``.
    """
    image_map, budget = read_map(map_file), read_budget_file(budget_file)
    scenes = {name: scene.bytes for name, scene in budget.scenes.items()}
    assets = assets_now(facts, image_map.entries, scaled, drawing["target"].screen.refresh)
    palettes = drawing.pop("palettes")
    draw = functools.cache(lambda name: _drawn(map_file=map_file, facts=facts, palettes={name: palettes[name]}, **drawing)[name])
    listed = frozenset(name for one in releases[: releases.index(release)] for name in (*one.issues.open, *one.issues.fixed))
    looks = compare_looks(release, assets, palettes, lambda name: draw(name).look)
    renamed = find_renamed(release.assets, assets, lambda name: draw(name).look if name in palettes else "")
    words = read_words(folder)
    found = differences(release, image_map.image.used, scenes, assets, Said(**said), words, version, looks, renamed, listed)
    alike = []
    for one in (one for key in ASSETS if key != "renamed" for one in found[key]):
        name = one["name"]
        one["pictures"], seen = _pictures(folder, release.assets.get(name), draw(name) if name in palettes else None)
        alike += [] if seen else [name]
    found["unseen"] = [one["name"] for one in found["recoloured"] if one["name"] in alike]
    found["recoloured"] = [one for one in found["recoloured"] if one["name"] not in alike]
    return found


def _pictures(folder: Path, before: ReleasedAsset | None, now: Any) -> tuple[dict[str, str | None], bool]:
    """Return an asset's pictures before and now, of a sheet the frames that differ most, as text; and False where nobody could see that
    they differ, and they are left out."""
    kept, seen = _kept(folder, before.picture if before else ""), now.png if now else None
    both = kept is not None and seen is not None
    frames = before.frame if before else None, now.frame if now else None
    if any(frames) and all(frame or not png for frame, png in zip(frames, (kept, seen), strict=True)):
        # Loaded here: showing and checking need no pictures.
        from pipeline.proofs.frame_pairs import most_different

        kept, seen = most_different((kept, seen), frames)
    if both and not _differ(kept, seen):
        return {"before": None, "now": None}, False
    return {"before": _text(kept), "now": _text(seen)}, True


def _differ(before: bytes | None, now: bytes | None) -> bool:
    if before is None or now is None:
        return False
    # Loaded here: showing and checking need no pictures.
    from pipeline.proofs.seen import differs_visibly

    return differs_visibly(before, now)


def _drawn(**given: Any) -> dict[str, Any]:
    """Return asset -> thumbnail; see ``proofs.thumbnail.thumbnails``."""
    # Loaded here: showing and checking need no pictures.
    from pipeline.proofs.thumbnail import thumbnails

    return thumbnails(**given)


def _kept(folder: Path, name: str) -> bytes | None:
    """Return a picture of the ledger; one that was not committed, or whose bytes are others now, is only not shown."""
    if not name:
        return None
    try:
        data = read_whole(picture_file(folder, name), name, LEDGER_PICTURE, folder)
    except (FileNotFoundError, ProjectError):
        return None
    # Its header is where the PNG specification puts it (11.2.2); bytes of a right name may still not be of this tool.
    pixels = int.from_bytes(data[16:20], "big") * int.from_bytes(data[20:24], "big")
    return data if picture_name(data) == name and pixels <= PICTURE_PIXELS else None


def _text(png: bytes | None) -> str | None:
    return base64.b64encode(png).decode() if png else None


def make_release(
    ledger: Sources,
    map_file: Path,
    budget_file: Path,
    checks_file: Path,
    notes: Path,
    manifest: Path,
    facts: dict[str, Path],
    scaled: dict[str, Path],
    game: Game,
    date: datetime.date | None,
    said: dict[str, Any],
    maps: dict[str, Path],
    **drawing: Any,
) -> str:
    """Add the build to the ledger unless it is there; return text for a person.

    Args:
        ledger: the file and its folder of pictures.
        manifest: ``kit.json``.
        facts: of every asset, by name.
        scaled: art -> file of its scaled pixels before the palette.
        said: what testers read, by the names of ``differences.Said``.
        maps: number of a tester, such as T3 -> the map of their own image.
        drawing: image and more; see ``_drawn``.

    Raises:
        ProjectError: a check has a cross, or the ledger cannot be written.
    """
    folder = ledger.folder
    show_preflight(checks_file, ledger)
    releases = read_ledger(folder)
    file, sha256 = next(iter(read_json(manifest)["files"].items()))
    same = next((one for one in releases if one.version == game.version), None)
    if same:
        return _released_before(same, sha256)
    image_map = read_map(map_file)
    drawn = _drawn(map_file=map_file, facts=facts, **drawing)
    pictures = {name: picture_facts(one.png, one.look, one.frame) for name, one in drawn.items()}
    images = {number: read_map(path).image.sha256 for number, path in maps.items()}
    kit = ReleasedKit(file=file, sha256=sha256, notes=sha256_of(notes), images=images)
    assets = assets_now(facts, image_map.entries, scaled, drawing["target"].screen.refresh)
    entry = make_entry(game, date, image_map.image, read_budget_file(budget_file), kit, assets, pictures, Said(**said))
    add_release(folder, entry, [one.png for one in drawn.values()])
    lines = [f"{game.version} is in the ledger: build {entry.build_code}, kit {file}"]
    return "\n".join([*lines, f"Commit ledger.json and the folder ledger, and hand out that kit: SHA-256 {sha256}"])


def _released_before(release: Release, sha256: str) -> str:
    listed = f"{release.version} is in the ledger already, with the same content: nothing was changed."
    if release.kit.sha256 != sha256:
        listed += f"\nThe kit made here has other bytes (another zlib?). The one handed out has SHA-256 {release.kit.sha256}"
    return listed
