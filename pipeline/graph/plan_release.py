"""Steps behind the image: budget, proofs, packet, kit, report, schema."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from pipeline.graph.site import Site
from pipeline.graph.step import Step
from pipeline.pixel_size import packed_bytes
from pipeline.project import build_date
from pipeline.shipped import TEMPLATES
from pipeline.sizes import round_up


def budget_step(site: Site) -> Step:
    spec, target = site.project.spec, site.project.target
    used = _in_scenes(site)
    return Step(
        "budget",
        "pipeline.memory.budget:write_budget",
        {
            "blobs": site.blobs,
            "out": site.budget,
            "assets": {name: site.project.alignment(site.project.assets[name]) for name in used},
            "bundles": spec.bundle,
            "scenes": spec.scene,
            "memory": target.memory.size,
            "granularity": target.memory.granularity,
            "held": _held(site),
        },
        reads=tuple(site.facts(name) for name in used),
        writes=(site.budget,),
        doc="what each scene needs at worst, and what is left",
    )


def _in_scenes(site: Site) -> list[str]:
    spec, named = site.project.spec, set()
    for scene in spec.scene.values():
        for member in [*scene.always, *(member for choice in scene.choose for member in choice.of)]:
            named.update(spec.bundle.get(member, [member]))
    return [name for name in site.project.assets if name in named]


def _held(site: Site) -> dict[str, int]:
    target = site.project.target
    held: dict[str, int] = {}
    for reserved in target.memory.reserved:
        held[reserved.name] = held.get(reserved.name, 0) + reserved.bytes
    if target.screen.buffers:
        width, height = (round_up(side, cell) for side, cell in zip((target.screen.width, target.screen.height), site.cell(), strict=True))
        one = packed_bytes(width, height, target.pixel_formats[target.screen.pixels], site.cell())
        held[f"{target.screen.buffers} screen buffer{'s' if target.screen.buffers > 1 else ''}"] = one * target.screen.buffers
    return held


def proof_steps(site: Site) -> Iterator[Step]:
    screen = site.project.target.screen
    names = []
    for asset in site.project.of_kind("sprite", "background", "palette", "sound", "screen"):
        palette = getattr(asset.spec, "palette", None)
        names.append(f"proof:{asset.name}")
        yield Step(
            names[-1],
            "pipeline.report.proofs:write_proof",
            {
                "image": site.image,
                "map_file": site.map,
                "out": site.proof(asset.name),
                "name": asset.name,
                "palette": palette,
                "target": msgspec.structs.replace(site.project.target, header=None, directory=None, summary="", codecs=[]),
                "pixel_aspect": screen.pixel_aspect,
            },
            # The image is read, but a proof depends only on its asset's bytes there, which verify has compared.
            reads=(site.facts(asset.name), *((site.facts(palette),) if palette else ())),
            writes=(site.proof(asset.name),),
            after=("verify",),
            doc=f"draw {asset.name} from the image",
        )
    yield Step("proofs", "", {}, after=tuple(names), doc="draw every asset from the image's own bytes")


def release_steps(site: Site) -> Iterator[Step]:
    packet, notes = site.build / "packet.pdf", site.work / "NOTES.txt"
    facts = {
        "folder": site.folder,
        "map_file": site.map,
        "spec": _told(site),
        "date": build_date(site.project),
        "console": site.project.target.name,
    }
    screens = site.project.of_kind("screen")
    boot = site.proof(screens[0].name) if screens else None
    yield Step(
        "packet",
        "pipeline.release.packet:write_packet",
        {**facts, "out": packet, "boot": boot, "image_name": site.image.name},
        reads=(site.map, *((boot,) if boot else ()), *site.templates("packet.toml"), *sorted((TEMPLATES / "fonts").glob("*.ttf"))),
        writes=(packet,),
        doc="render the tester packet",
    )
    yield Step(
        "notes",
        "pipeline.release.notes:write_notes",
        {**facts, "out": notes},
        reads=(site.map, *site.templates("notes.txt.j2")),
        writes=(notes,),
        doc="write the plain-text notes",
    )
    yield _report(site)
    # The kit comes last: it is refused when memory is over budget, and the report is what shows why.
    manifest = site.build / "kit" / "kit.json"
    yield Step(
        "kit",
        "pipeline.release.kit:write_kit",
        {
            "image": site.image,
            "map_file": site.map,
            "packet": packet,
            "notes": notes,
            "budget_file": site.budget,
            "manifest": manifest,
            "code": site.project.spec.game.code,
            "version": site.project.spec.game.version,
            "date": build_date(site.project),
        },
        reads=(site.image, site.map, packet, notes, site.verified, site.budget),
        writes=(manifest,),
        manifest=manifest,
        doc="zip image, packet, checksums and notes for testers",
    )


def _report(site: Site) -> Step:
    game = site.project.spec.game
    return Step(
        "report",
        "pipeline.report.page:write_page",
        {
            "folder": site.folder,
            "blobs": site.blobs,
            "proofs": site.build / "proofs",
            "map_file": site.map,
            "budget_file": site.budget,
            "out": site.build / "report.html",
            "game": {key: getattr(game, key) for key in ("title", "version", "phase", "code", "language")},
            "console": site.project.target.name,
            "issues": site.project.spec.issue,
            "packed": site.packed(),
        },
        reads=(
            site.map,
            site.budget,
            *site.all_facts(),
            *(site.proof(a.name) for a in site.project.of_kind("sprite", "background", "palette", "sound", "screen")),
            *site.templates("report.html.j2"),
        ),
        writes=(site.build / "report.html",),
        doc="one page with everything in the build",
    )


def _told(site: Site):
    """The part of the project file that testers are told."""
    spec = site.project.spec
    return {
        key: getattr(spec, key) for key in ("game", "links", "pad", "control", "issue", "contents", "instructions")
    }


def schema_step(site: Site) -> Step:
    files = tuple(site.build / "schema" / f"{name}.schema.json" for name in ("project", "target"))
    return Step(
        "schema",
        "pipeline.reference.schema:write_schemas",
        {"out": site.build / "schema"},
        writes=files,
        doc="write JSON Schema of both files, for editors",
    )
