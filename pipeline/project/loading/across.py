"""Checks across the parts of a project: title, links, places, and what each kind of asset checks itself."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping

import msgspec

from pipeline.joints.links import BUILD_DIGITS, LONGEST_TESTER, code_version, link_problem, report_link, with_tester
from pipeline.notices.checks import check_notices
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import listed, show_size
from pipeline.project.intake import check_intake
from pipeline.project.ledger import unreleased, versions_before
from pipeline.project.loading.effects import check_cautions, check_effects
from pipeline.project.loading.notes import check_note_kinds
from pipeline.project.loading.others import check_burn
from pipeline.project.loading.pads import check_pads
from pipeline.project.loading.scenes import check_scenes
from pipeline.project.loading.sizes import check_sizes_of_files
from pipeline.project.model import Asset, LoadedProject
from pipeline.project.plan import check_plan
from pipeline.project.wording import check_wording
from pipeline.target.alignment import align
from pipeline.target.calls import Call
from pipeline.target.fields import TESTER, directory_place, program_fields
from pipeline.target.kinds import KINDS, calls_of
from pipeline.target.records import MAIN_AREA

CHECKS = calls_of("check", *KINDS)


def check_project(document: Document, project: LoadedProject) -> None:
    """Note every problem that shows only when the parts of a project are seen together, or beside its target."""
    _check_game(document, project)
    _check_dates(document, project)
    _check_program(document, project)
    _check_title(document, project)
    _check_links(document, project)
    check_notices(document, project)
    for asset in project.assets.values():
        if asset.name not in document.broken:
            _check_asset(document, project, asset, CHECKS)
    check_sizes_of_files(document, project)
    check_pads(document, project.spec)
    check_scenes(document, project)
    check_burn(document, project)
    check_effects(document, project)
    check_cautions(document, project)
    check_intake(document, project.spec.intake)
    check_plan(document, project.spec)
    check_note_kinds(document, project)
    check_wording(document, project.folder, project.spec.game.language)


def allowed(project: LoadedProject, assets: Iterable[Asset], checks: Mapping[str, Call]) -> bool:
    """Return whether these assets might take the place of a checked project's of the same names.

    What a file says beside the records (both ``scale`` and ``height``) is not looked at, and nothing is converted.

    Args:
        checks: kind -> its check, of all kinds that have one; see ``target.kinds``.
    """
    changed = {asset.name: asset for asset in assets}
    whole = dataclasses.replace(project, assets=project.assets | changed)
    # A trial's project has its assets, and may have left out the tables they were read from.
    tables = {kind: {asset.name: asset.spec for asset in whole.of_kind(kind)} for kind in KINDS}
    whole = dataclasses.replace(whole, spec=msgspec.structs.replace(project.spec, **tables))
    document = Document("", {kind: dict.fromkeys(whole.assets, {}) for kind in KINDS})
    for asset in changed.values():
        _check_asset(document, whole, asset, checks)
    return not document.problems


def _check_asset(document: Document, project: LoadedProject, asset: Asset, checks: Mapping[str, Call]) -> None:
    check = checks.get(asset.kind)
    if check:
        check(document, project, asset)
    _check_place(document, project, asset)
    _check_area(document, project, asset)
    _check_packing(document, project, asset)


def _check_game(document: Document, project: LoadedProject) -> None:
    count = len(project.assets)
    place = directory_place(project.target, count)
    if place is not None and place.start < project.target.header.offset < place.stop:
        wrong = f"the directory of {count} assets runs into the header of {project.target.name}"
        document.say(("game", "target"), wrong, "move the directory in the target file, or give it no offset")
    since, before = project.spec.game.since, versions_before(project.releases, project.spec.game.version)
    if since is not None and since not in before:
        document.say(("game", "since"), *unreleased(since, before))
    fields = [one for one in project.target.header.fields if one.value == TESTER]
    if project.spec.game.mark and not any(one.bytes >= 2 and one.table is None for one in fields):
        wrong = f"the header of {project.target.name} keeps no 2 bytes for a tester's number"
        remedy = f'add a field with bytes = 2 and value = "{TESTER}" to its target file, or leave mark out'
        document.say(("game", "mark"), wrong, remedy)
    wanted, sizes = project.spec.game.cartridge, project.target.cartridge.sizes
    if wanted is not None and wanted not in sizes:
        known = ", ".join(show_size(size) for size in sizes)
        document.say(("game", "cartridge"), f"{show_size(wanted)} is not a cartridge size of this target", f"the sizes are {known}")


def _check_dates(document: Document, project: LoadedProject) -> None:
    """Refuse days that come before what they follow."""
    game = project.spec.game
    order = [("date", game.date), ("deadline", game.deadline), ("expires", game.expires)]
    for rank, (key, day) in enumerate(order):
        earlier = next(((name, other) for name, other in order[:rank] if day and other and other > day), None)
        if earlier:
            wrong = f"{day} comes before {earlier[0]}, {earlier[1]}"
            document.say(("game", key), wrong, f"set it to {earlier[1]} or a later day, or leave it out")


def _check_program(document: Document, project: LoadedProject) -> None:
    """Refuse a header that could be about either of several programs."""
    names = [asset.name for asset in project.of_kind("program")]
    wanted, meant = project.spec.game.program, program_fields(project.target)
    if wanted and wanted not in names:
        near = nearest_name(wanted, names)
        remedy = f"did you mean {near}?" if near else f"the programs are {', '.join(names)}" if names else "leave it out"
        document.say(("game", "program"), f"there is no program {wanted!r}", remedy)
    elif meant and len(names) > 1 and project.header_program() is None:
        wrong = f"is missing: {listed(names)} are programs, and none has the name {project.target.header.program}"
        remedy = f"say which one the header's {meant[0]} is about, such as program = \"{names[0]}\""
        document.say(("game", "program"), wrong, remedy)


def _check_title(document: Document, project: LoadedProject) -> None:
    game, fields = project.spec.game, {field.value for field in project.target.header.fields}
    shown, path = (game.plain_title, "plain_title") if game.plain_title else (game.title, "title")
    if "project.title" in fields and not shown.isascii():
        wrong = f"{shown!r} has letters outside ASCII, which the cartridge header of {project.target.name} does not take"
        document.say(("game", path), wrong, "keep it, and add plain_title with only ASCII letters")
    if not game.title.isprintable():
        document.say(("game", "title"), f"{game.title!r} has a line break or another control character", "write one plain line")


def _check_links(document: Document, project: LoadedProject) -> None:
    links = project.spec.links
    named = {("links", "feedback"): links.feedback, ("links", "bugs"): links.bugs}
    more = {("links", "more", key): link for key, link in links.more.items()}
    download = {("links", "download"): links.download} if links.download else {}
    for path, link in {**named, **download, **more}.items():
        problem = link_problem(link)
        if problem:
            document.say(path, *problem)
        elif path in named:
            _check_code(document, path, link)
    if with_tester(links.feedback) == with_tester(links.bugs):
        document.say(("links", "bugs"), "is the same link as feedback", "give each form its own link")


def _check_code(document: Document, path: tuple, link: str) -> None:
    length = len(report_link(link, "0" * BUILD_DIGITS, LONGEST_TESTER).encode())
    if code_version(length) is None:
        document.say(path, f"{length} bytes with the build code are too long for any code", "shorten the link")


def _check_place(document: Document, project: LoadedProject, asset: Asset) -> None:
    path, spec, alignment = (asset.kind, asset.name), asset.spec, project.alignment(asset)
    if alignment & (alignment - 1):
        document.say((*path, "alignment"), f"{alignment} is not a power of two", "use 1, 2, 4, 8, ...")
    elif alignment < align(project.target, asset.kind):
        least = align(project.target, asset.kind)
        document.say((*path, "alignment"), f"{alignment} is less than the target demands", f"use {least} or more, or leave it out")
    elif spec.address is not None and spec.address % alignment:
        remedy = f"use a multiple of {alignment}, or give the asset a smaller alignment"
        document.say((*path, "address"), f"{spec.address:#x} is not a multiple of the alignment {alignment}", remedy)


def _check_area(document: Document, project: LoadedProject, asset: Asset) -> None:
    area, known = asset.spec.area, (MAIN_AREA, *project.target.memory.area)
    if area is not None and area not in known:
        near = nearest_name(area, known)
        remedy = f"did you mean {near}?" if near else f"the memories of {project.target.name} are {', '.join(known)}"
        document.say((asset.kind, asset.name, "area"), f"there is no memory {area!r}", remedy)


def _check_packing(document: Document, project: LoadedProject, asset: Asset) -> None:
    packing, known = getattr(asset.spec, "packing", "stored"), project.target.codecs
    if packing not in ("stored", "best", *known):
        wrong = f"programs for {project.target.name} do not unpack {packing}"
        remedy = f"use {', '.join(['stored', *known])} or best; or add it to codecs of the target file"
        document.say((asset.kind, asset.name, "packing"), wrong, remedy)
