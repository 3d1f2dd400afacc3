"""Steps of releases: what changed since the last, the checks before the next, and the release itself."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Found, In, Kept, Out
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.places import Sources
from pipeline.project.ledger import LEDGER, PICTURES, find_release, release_since
from pipeline.project.model import build_date
from pipeline.project.words import WORDS
from pipeline.target.kinds import calls_of, kinds_with


def changes_file(site: Site, since: str | None = None) -> Path | None:
    """Return the file that lists what changed since a release, the one that everybody's packet compares with where none is named.

    None without a ledger.
    """
    named = f"changes-{since}.json" if since and since != compared_with(site) else "changes.json"
    return site.work / named if site.project.releases else None


def compared_with(site: Site) -> str:
    """Return the version of the release that everybody's packet compares with; empty for none."""
    game = site.project.spec.game
    release = release_since(site.project.releases, game.version, game.since or "")
    return release.version if release else ""


def checks_file(site: Site) -> Path:
    """Return the file of the checks before a release."""
    return site.work / "checks.json"


def ledger_steps(site: Site, since: str, others: Collection[str], maps: dict[str, Path]) -> Iterator[Step]:
    """Yield the steps.

    Args:
        since: version that ``doit changes`` compares with; empty for the one that packets compare with.
        others: versions that single testers had last.
        maps: number of a tester, such as T3 -> the map of their own image.

    Raises:
        ProjectError: it was never released.
    """
    yield from _changes(site, since, others)
    yield _checks(site)
    yield Step(
        "preflight",
        "pipeline.release.preflight:show_preflight",
        {"checks_file": In(checks_file(site)), "kept": Found(site.written(LEDGER, PICTURES))},
        always=True,
        doc="ticks and crosses before a build is handed out, each with its remedy",
    )
    yield _release(site, maps)


def _changes(site: Site, since: str, others: Collection[str]) -> Iterator[Step]:
    out, project = changes_file(site), site.project
    if since:
        find_release(project.releases, since)
    usual = project.spec.game.since or ""
    asked = {
        "committed": In(_committed(site)),
        "map_file": In(site.map),
        "budget_file": In(site.budget),
        "facts": In(site.conversion_facts()),
        "scaled": In(_scaled(site)),
        "version": project.spec.game.version,
        "said": _said(site),
        **_drawing(site),
    }
    write = "pipeline.release.steps:write_changes"
    if out is not None:
        arguments = {**asked, "since": usual, "out": Out(out)}
        yield Step("differences", write, arguments, doc="compare with the last release, for packet, notes and report")
    for version in sorted({*others} - {compared_with(site)}):
        arguments = {**asked, "since": version, "out": Out(changes_file(site, version))}
        yield Step(f"since:{version}", write, arguments, doc=f"compare with {version}, for testers who had that last")
    call, doc = "pipeline.release.steps:show_changes", "what changed since the last release; since=VERSION"
    yield Step("changes", call, {**asked, "since": since or usual}, always=True, doc=doc)


def _committed(site: Site) -> Sources:
    """Return what the author keeps about releases, as far as it is there."""
    names = (LEDGER, WORDS, *sorted(f"{PICTURES}/{path.name}" for path in (site.folder / PICTURES).glob("*.png")))
    return site.written(*(name for name in names if (site.folder / name).is_file()))


def _issues(site: Site) -> list:
    """Return the issues without what no comparison looks at."""
    unread = {"title": "", "where": "", "what": "", "workaround": "", "reproduce": [], "picture": "", "frame": ""}
    return [msgspec.structs.replace(one, **unread) for one in site.project.spec.issue]


def _said(site: Site) -> dict[str, Any]:
    """Return what testers read that is compared with a release, by the names of ``release.differences.Said``."""
    spec = site.project.spec
    pads = {name: pad.name for name, pad in sorted(spec.pad.items())}
    controls = [msgspec.structs.replace(one, buttons=dict(sorted(one.buttons.items()))) for one in spec.control]
    return {"issues": _issues(site), "controls": controls, "pads": pads, "contents": spec.contents}


def _scaled(site: Site) -> dict[str, Path]:
    """Return art -> the file of its scaled pixels."""
    return {asset.name: site.prepared(asset.name).pixels for asset in site.project.of_kind(*kinds_with("art"))}


def _drawing(site: Site) -> dict[str, Any]:
    assets = site.project.of_kind(*kinds_with("thumbnail"))
    kinds = [asset.kind for asset in assets]
    return {
        "image": In(site.image),
        "palettes": {asset.name: getattr(asset.spec, "palette", None) for asset in assets},
        "small": calls_of("thumbnail", *kinds),
        "decoders": site.decoders(*kinds),
        "target": site.drawn_on(),
        "aspect": site.project.target.screen.pixel_aspect,
    }


def _checks(site: Site) -> Step:
    spec, ledger = site.project.spec, site.folder / LEDGER
    committed = site.written(*(name for name in (LEDGER, WORDS) if (site.folder / name).is_file()))
    # The notes are compared with those of a release; without one a changed word in them is nothing to this step.
    notes = site.notes if ledger.is_file() else None
    unread = {"date": None, "since": None, "deadline": None, "expires": None, "author": "", "summary": "", "plain_title": "", "title": ""}
    game = msgspec.structs.replace(spec.game, **unread)
    return Step(
        "checks",
        "pipeline.release.preflight:write_checks",
        {
            "committed": In(committed),
            "image": In(site.image),
            "map_file": In(site.map),
            "verified": In(site.verified),
            "budget_file": In(site.budget),
            "notes": In(notes),
            "letters": In(site.letters),
            "findings_file": In(site.findings),
            "out": Out(checks_file(site)),
            "game": game,
            "links": spec.links,
            "origins": _origins(site),
            "issues": _issues(site),
            "program": site.project.header_program(),
            "programs": tuple(asset.name for asset in site.project.of_kind("program")),
            "date": build_date(site.project),
        },
        after=("notes",),
        doc="what is checked before a build is handed out",
    )


def _origins(site: Site) -> dict[str, str]:
    """Return name -> origin of the assets that are made from files."""
    return {asset.name: asset.spec.origin for asset in site.project.assets.values() if asset.files and hasattr(asset.spec, "origin")}


def _release(site: Site, maps: dict[str, Path]) -> Step:
    return Step(
        "release",
        "pipeline.release.steps:make_release",
        {
            "ledger": Kept(site.written(LEDGER, PICTURES)),
            "map_file": In(site.map),
            "budget_file": In(site.budget),
            "checks_file": In(checks_file(site)),
            "notes": In(site.notes),
            "manifest": In(site.kit),
            "facts": In(site.conversion_facts()),
            "scaled": In(_scaled(site)),
            "game": site.project.spec.game,
            "date": build_date(site.project),
            "said": _said(site),
            "maps": In(maps),
            **_drawing(site),
        },
        after=("preflight",),
        always=True,
        doc="record the build in the ledger; a deliberate act",
    )
