"""Steps of the image: build code, places, include files, image, verification, files for burning."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Found, In, Listing, Out
from pipeline.graph.steps.site import INCLUDE_FILES, Site
from pipeline.graph.steps.step import Step
from pipeline.joints.links import with_tester
from pipeline.joints.places import blob_files
from pipeline.joints.views import SizeView
from pipeline.notices.sizes import notice_bytes, notice_numbers, packed_at_most
from pipeline.project.ledger import LEDGER
from pipeline.project.model import Asset, build_date
from pipeline.rom.wish import Wish
from pipeline.target.kinds import KINDS, calls_of

# What a boot notice's record says of its form unless an author says otherwise; a build code need not name what is as usual.
_USUAL = {"arrangement": None, "correction": "M", "packing": "stored"}


def build_code_step(site: Site) -> Step:
    names = [asset.name for asset in site.project.assets.values() if not KINDS[asset.kind].shows_code]
    return Step(
        "code",
        "pipeline.release.build_code:write_build_code",
        {
            "target_sha256": site.project.target_sha256,
            "facts": In(site.image_facts(*names)),
            "out": Out(site.code),
            "version": site.project.spec.game.version,
            "settings": _image_settings(site),
        },
        doc="compute the build code from the content",
    )


def _image_settings(site: Site) -> dict[str, str]:
    """What of the project file reaches the image apart from blobs; a boot notice's words and links count, not its drawing."""
    spec = site.project.spec
    settings = {**_values(site), "cartridge": str(spec.game.cartridge), "title": spec.game.title, "phase": spec.game.phase}
    settings |= {"feedback": with_tester(spec.links.feedback), "bugs": with_tester(spec.links.bugs)}
    for name, screen in spec.screen.items():
        settings |= {f"{name} {key}": getattr(screen, key) for key in ("warning", "feedback_label", "bugs_label")}
        settings |= {f"{name} {key}": getattr(screen, key) for key, usual in _USUAL.items() if getattr(screen, key) != usual}
    for asset in site.project.assets.values():
        bank, split = getattr(asset.spec, "bank", None), getattr(asset.spec, "split", False)
        said = "" if bank is None else f" {bank}"
        settings[f"place of {asset.name}"] = f"{asset.spec.address} {site.project.placed_by(asset)}{said}{' split' if split else ''}"
    for name, members in spec.runs.items():
        settings[f"run {name}"] = " ".join(members)
    return dict(sorted(settings.items()))


def placing_steps(site: Site) -> Iterator[Step]:
    wishes = _wishes(site)
    known = [wish.name for wish in wishes if wish.bytes is None and not wish.last]
    yield Step(
        "layout",
        "pipeline.rom.steps:plan_layout",
        {"sizes": In(_sizes(site, known)), "out": Out(site.layout), "wishes": wishes, "target": _placing_rules(site)},
        doc="decide where every asset goes",
    )
    game, kinds = site.project.spec.game, site.project.spec.note_kinds
    described = [asset.name for asset in site.project.assets.values() if not KINDS[asset.kind].late]
    yield Step(
        "include",
        "pipeline.rom.include:write_include",
        {
            "facts": In(site.image_facts(*described)),
            "layout": In(site.layout),
            "templates": In({name: site.template(f"{name}.j2") for name in INCLUDE_FILES}),
            "outs": Out(site.includes(*INCLUDE_FILES)),
            "game": {"title": game.title, "version": game.version},
            "kinds": {name: asset.kind for name, asset in sorted(site.project.assets.items())},
            "banks": site.project.target.cartridge.banks is not None,
            "words": {"box": kinds.boxes, "point": kinds.points, "number": kinds.numbers, "event": kinds.events},
            **({"lists": In(site.lists)} if site.lists else {}),
            **_areas(site),
            "notices": {one.name: numbers for one in site.project.of_kind("screen") if (numbers := notice_numbers(site.project, one))},
        },
        doc="write assets.h and the assembler's assets.inc for the program",
    )


def _areas(site: Site) -> dict[str, Any]:
    """Return the target's memories apart from main memory, and what is loaded there; nothing where there are none."""
    project, known = site.project, site.project.target.memory.area
    if not known:
        return {}
    found = {name: project.area(asset) for name, asset in sorted(project.assets.items())}
    return {
        "areas": {name: (area.base, int(area.size)) for name, area in known.items()},
        "loaded_to": {name: area for name, area in found.items() if area in known},
    }


def tables_steps(site: Site) -> Iterator[Step]:
    """Yield the step that writes what is in assets as constants, if the project asks for it."""
    if not site.tables():
        return
    target, game = site.project.target, site.project.spec.game
    known = {asset.name: asset.kind for asset in site.project.assets.values() if not KINDS[asset.kind].late}
    yield Step(
        "tables",
        "pipeline.rom.tables:write_tables",
        {
            "blobs": In({name: blob_files(site.blobs, name).content for name in sorted(known)}),
            "layout": In(site.layout),
            "templates": In({name: site.template(f"console/{name}.j2") for name in site.tables()}),
            "outs": Out(site.includes(*site.tables())),
            "kinds": dict(sorted(known.items())),
            "order": target.byte_order,
            "entry": (target.palette.entry.bytes, target.order_of(target.palette.byte_order)),
            "game": {"title": game.title, "version": game.version},
        },
        doc="write tables.h and tables.c for the program",
    )


def _sizes(site: Site, names: list[str]) -> dict[str, SizeView]:
    """Return what says how many bytes some assets take in the image; load lists have no facts before they have a place."""
    lists = {asset.name for asset in site.project.of_kind("lists")} & {*names}
    sizes = site.image_sizes(*(name for name in names if name not in lists))
    return dict(sorted({**sizes, **{name: SizeView(site.lists_size) for name in lists if site.lists_size}}.items()))


def _wishes(site: Site) -> tuple[Wish, ...]:
    """Return what placement must know, by name: the order of the project file must not decide where assets go."""
    return tuple(_wish(site, asset) for _, asset in sorted(site.project.assets.items()))


def _wish(site: Site, asset: Asset) -> Wish:
    project, size, last, tail = site.project, None, False, False
    if asset.kind == "screen":
        size = notice_bytes(project, asset)
        if asset.spec.packing != "stored":
            size, tail = packed_at_most(size), True
    elif asset.kind == "program":
        size, last = asset.spec.reserve, asset.spec.command is not None and asset.spec.reserve is None
    bank = getattr(asset.spec, "bank", None)
    split = getattr(asset.spec, "split", False)
    placed = {"bank": bank, "split": split, "run": project.run_of(asset), "tail": tail}
    return Wish(asset.name, asset.kind, project.placed_by(asset), asset.spec.address, size, last, **placed)


def _placing_rules(site: Site):
    """The target without what placement does not look at."""
    target = site.project.target
    return msgspec.structs.replace(target, palette=None, pixel_formats={}, sound=None, summary="", screen=None, memory=None, codecs=[])


def image_steps(site: Site) -> Iterator[Step]:
    values, kinds = _values(site), [asset.kind for asset in site.project.assets.values()]
    yield Step(
        "image",
        "pipeline.rom.steps:write_rom",
        {
            "contents": In(site.contents()),
            "facts": In(site.all_facts()),
            "layout": In(site.layout),
            "code_file": In(site.code),
            "image_file": Out(site.draft),
            "map_file": Out(site.draft_map),
            "wishes": _wishes(site),
            "target": site.project.target,
            "wanted": site.project.spec.game.cartridge,
            "values": values,
            "program": site.project.header_program(),
        },
        doc="write image and map into the work folder",
    )
    yield Step(
        "verify",
        "pipeline.reading.verify:verify_files",
        {
            "image": In(site.draft),
            "map_file": In(site.draft_map),
            "code_file": In(site.code),
            "facts": In(site.all_facts()),
            "out": Out(site.verified),
            "published": Out({"image": site.image, "map_file": site.map}),
            "target": site.project.target,
            "wanted": values,
            "decoders": calls_of("decode", *kinds),
            "comparisons": calls_of("compare", *kinds),
            "program": site.project.header_program(),
            "split": tuple(sorted(name for name, asset in site.project.assets.items() if getattr(asset.spec, "split", False))),
            "cache": site.cache("image-verified"),
        },
        doc="read the image back, check all of it, and put image and map.json into their places",
    )
    yield Step("rom", "", {}, after=("verify",), doc="the image and map.json, verified")


def banks_steps(site: Site) -> Iterator[Step]:
    """Yield the step that lists what banks hold, if the target has them."""
    if site.banks is not None:
        yield Step(
            "banks",
            "pipeline.rom.bank_use:write_banks",
            {"map_file": In(site.map), "out": Out(site.banks), "target": _placing_rules(site)},
            doc="what each bank holds, and what is lost at its end",
        )


def where_step(site: Site, name: str, file: str = "", maps: dict[str, Path] | None = None) -> Step:
    """Return the question where an asset is; ``name`` is empty for all.

    Args:
        file: an image about which is asked instead which build it is of, and whose.
        maps: number of a tester, such as T3 -> the map of their own image.
    """
    if file:
        arguments = {
            "file": Found(Path(os.path.abspath(os.path.expanduser(file)))),
            "map_file": In(site.map),
            "ledger": Found(site.written(LEDGER)),
            "maps": Found(maps or {}),
            "target": site.project.target,
        }
        return Step("where", "pipeline.questions.whose:show_whose", arguments, always=True, doc="which build an image is of, and whose")
    proofs = {
        asset.name: tuple(path.relative_to(site.folder).as_posix() for path in site.proofs(asset).values())
        for asset in site.project.assets.values()
    }
    return Step(
        "where",
        "pipeline.questions.where:show_where",
        {
            "image": In(site.image),
            "map_file": In(site.map),
            "facts": In(site.all_facts()),
            "banks_file": In(site.banks),
            "name": name,
            "proofs": proofs,
            "target": site.project.target,
        },
        always=True,
        doc="where an asset is in the image, and its first bytes; name=NAME, or all without",
    )


def _values(site: Site) -> dict[str, str]:
    """The project's values that the target's header names."""
    game, date = site.project.spec.game, build_date(site.project)
    values = {
        "project.title": game.plain_title or game.title,
        "project.code": game.code,
        "project.version": game.version,
        "project.phase": game.phase,
        "project.date": date.strftime("%Y%m%d") if date else "",
    }
    named = {field.value for field in site.project.target.header.fields}
    return {name: value for name, value in values.items() if name in named}


def burn_steps(site: Site) -> Iterator[Step]:
    """Yield the step; without a table for it, one that says so to who asks."""
    burn, target = site.project.spec.burn, site.project.target
    if burn is None:
        call, doc = "pipeline.rom.burn_files:refuse_burn", "with a table [burn]: the image as files for burning"
        yield Step("burn", call, {}, always=True, doc=doc)
        return
    manifest = site.build / "burn.json"
    yield Step(
        "burning",
        "pipeline.rom.burn_files:write_burn",
        {
            "image": In(site.image),  # which verification puts in its place
            "manifest": Listing(manifest),
            "code": site.project.spec.game.code,
            "forms": burn.forms,
            "first": 0 if burn.addresses == "from 0" else target.cartridge.base,
            "device": burn.device,
            "short_names": burn.short_names,
            "byte_order": target.byte_order,
        },
        doc="write the image as files for burning",
    )
    call, doc = "pipeline.rom.burn_files:show_burn", "files for burning, and which devices they need"
    yield Step("burn", call, {"manifest": In(manifest)}, always=True, doc=doc)
