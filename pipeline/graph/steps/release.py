"""Steps after the image: proofs, packet, kit, report, schema."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Depends, Found, In, Kept, Listing, Out, Trusted
from pipeline.graph.steps.ledger import changes_file, checks_file, compared_with
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.graph.steps.testers import Party, bare_plan, kit_remarks, own_files, tester_steps
from pipeline.joints.places import Sources
from pipeline.plain.shipped import TEMPLATES
from pipeline.plain.versions import precedence
from pipeline.project.file import Scene
from pipeline.project.issues import ISSUES_FILE, frame_shown, open_issues
from pipeline.project.model import PROJECT_FILE, Asset, build_date
from pipeline.project.testers import file_part, thanked
from pipeline.project.words import WORDS
from pipeline.target.kinds import KINDS, calls_of

# The report's script, in the order in which its parts use one another.
REPORT_SCRIPTS = ("page", "pictures", "map", "scenes", "player", "sprites", "backgrounds", "fonts", "sounds", "finding", "seen", "start")
_PAGE = {"template": "html.j2", "style": "css", "script": "js"}  # templates of the page


def layers_step(site: Site) -> Step:
    screen = site.project.target.screen
    scenes = {name: scene for name, scene in site.project.spec.scene.items() if scene.layers}
    names = sorted({layer.background for scene in scenes.values() for layer in scene.layers})
    return Step(
        "backgrounds",
        "pipeline.assets.backgrounds.layers:write_layers",
        {
            "facts": In({name: site.facts(name) for name in names}),
            "maps": In({name: site.tile_map(name) for name in names}),
            "out": Out(site.layers),
            "scenes": {name: Scene(layers=scene.layers, pan=scene.pan) for name, scene in scenes.items()},
            "window": (screen.width, screen.height),
        },
        doc="what each scene's layers take as bitmaps and as tiles",
    )


def proof_steps(site: Site) -> Iterator[Step]:
    screen = site.project.target.screen
    names = []
    for asset in site.project.assets.values():
        outs = {part: file for part, file in site.proofs(asset).items() if part in KINDS[asset.kind].proofs}
        if not outs:
            continue
        if site.wearers(asset):
            names.append(f"worn:{asset.name}")
            yield _worn(site, asset)
        # The cells of a pool are shown in the colours of its first sprite, notes on the frames of theirs, texts in the letters of a font.
        about = site.project.about(asset)
        shown = site.project.assets[about] if about else asset
        coloured = site.project.sprites_in(asset.name)[0] if asset.kind == "pool" else shown
        palette, pool = getattr(coloured.spec, "palette", None), getattr(shown.spec, "pool", "")
        before = site.before(asset.name) if "before-after" in outs else None
        names.append(f"proof:{asset.name}")
        yield Step(
            names[-1],
            "pipeline.proofs.write:write_proofs",
            {
                # Both are read, but a proof depends only on its asset's bytes there, which verify has compared.
                "image": Trusted(site.image),
                "map_file": Trusted(site.map),
                "facts": In(site.facts(asset.name)),
                # The bytes of its palette and its pool in the image are drawn too; their facts change when those do.
                "others": Depends(site.contents_drawn(about, palette, pool)),
                "before": In(before),
                "originals": In(site.originals(asset.name) if "originals" in outs else None),
                "draw": {part: KINDS[asset.kind].proofs[part] for part in outs},
                "decoders": calls_of("decode", *(site.project.assets[name].kind for name in (asset.name, about, palette, pool) if name)),
                "outs": Out(outs),
                "name": asset.name,
                "palette": palette,
                "target": site.drawn_on(),
                "pixel_aspect": screen.pixel_aspect,
                **({"about": about, "about_facts": In(site.facts(about))} if about else {}),
                **({"cache": site.cache(f"{asset.name}-proof")} if before else {}),
            },
            doc=f"draw {asset.name} from the image",
        )
    yield Step("proofs", "", {}, after=tuple(names), doc="draw every asset from the image's own bytes")


def _worn(site: Site, asset: Asset) -> Step:
    wearers, base = site.wearers(asset), asset.spec.variant_of
    pools = [user.spec.pool for user in wearers if user.kind == "sprite" and user.spec.pool]
    arguments = {
        # Read, but what counts of them is said by the facts, as for other proofs.
        "image": Trusted(site.image),
        "map_file": Trusted(site.map),
        "others": Depends(site.contents_drawn(asset.name, base, *(user.name for user in wearers), *pools)),
        "picture": Out(site.proofs(asset)["worn"]),
        "record": Out(site.worn(asset.name)),
        "name": asset.name,
        "base": base,
        "wearers": tuple(user.name for user in wearers),
        "decoders": site.decoders("palette", *(user.kind for user in wearers)),
        "target": site.drawn_on(),
        "pixel_aspect": site.project.target.screen.pixel_aspect,
    }
    return Step(f"worn:{asset.name}", "pipeline.proofs.worn:show_worn", arguments, doc=f"draw what wears {asset.name} from the image")


def issue_picture_steps(site: Site) -> Iterator[Step]:
    """Yield a step for each picture beside an open known issue."""
    for issue_id, out in _issue_pictures(site).items():
        issue = next(one for one in site.project.spec.issue if one.id == issue_id)
        name, doc = f"pictured:{out.stem.rpartition('-')[2]}", f"picture beside {issue_id}"
        if issue.picture:
            arguments = {"written": In(Sources(site.folder, (issue.picture,))), "out": Out(out), "issue": issue_id}
            yield Step(name, "pipeline.assets.sources.pictures:show_picture", arguments, doc=doc)
            continue
        shown, frame = frame_shown(issue, site.project)
        asset = site.project.assets[shown]
        pool = getattr(asset.spec, "pool", "")
        arguments = {
            # Read, but what counts of it is said by facts and contents, as for proofs.
            "image": Trusted(site.image),
            "map_file": Trusted(site.map),
            "facts": In(site.facts(shown)),
            "others": Depends(site.contents_drawn(asset.spec.palette, pool)),
            "out": Out(out),
            "name": shown,
            "frame": frame,
            "issue": issue_id,
            "palette": asset.spec.palette,
            "decoders": site.decoders(asset.kind),
            "target": site.drawn_on(),
            "pixel_aspect": site.project.target.screen.pixel_aspect,
        }
        yield Step(name, "pipeline.proofs.issue_frame:show_frame", arguments, doc=doc)


def _issue_pictures(site: Site) -> dict[str, Path]:
    """Return id -> file of the pictures beside open issues."""
    pictured = [one.id for one in open_issues(site.project.spec.issue) if one.picture or one.frame]
    return {issue_id: site.work / f"issue-{rank:02}.png" for rank, issue_id in enumerate(pictured, 1)}


def release_steps(site: Site, party: Party) -> Iterator[Step]:
    packet = site.build / "packet.pdf"
    yield from issue_picture_steps(site)
    facts = {
        "map_file": In(site.map),
        "wording": In(site.wording()),
        "spec": _for_testers(site, party),
        "date": build_date(site.project),
        "console": site.project.target.name,
        "changes_file": In(changes_file(site)),
    }
    read = {**facts, "cautions_file": In(site.cautions)}  # by a tester, before they play
    screens = site.project.of_kind("screen")
    boot = site.proof(screens[0].name) if screens else None
    packet_arguments = {**read, "boot": In(boot), "image_name": site.image.name, "grids": party.grids}
    packet_arguments["issue_pictures"] = In(_issue_pictures(site))
    # Read again only to name the lines of a mistake; what packets show of them is in spec.
    packet_arguments["written"] = Found(site.written(PROJECT_FILE, ISSUES_FILE))
    own = {"out": Out(packet), "cache": site.cache("packet-layout")}
    yield Step("packet", "pipeline.packet.document:write_packet", {**packet_arguments, **own}, doc="render the tester packet")
    page_arguments = {key: value for key, value in packet_arguments.items() if key != "written"}
    page_arguments |= {part: In(site.template(f"packet.{end}")) for part, end in _PAGE.items()}
    page = site.build / "packet.html"
    doc = "write the packet as a page for a phone or the web"
    yield Step("page", "pipeline.packet.web:write_page", {**page_arguments, "out": Out(page)}, doc=doc)
    yield Step(
        "author",
        "pipeline.packet.document:write_packet",
        {
            **packet_arguments,
            "out": Out(site.build / "packet-author.pdf"),
            "budget_file": In(site.budget),
            "shares": party.shares,
            "gaps": party.gaps,
            "cache": site.cache("author-layout"),
        },
        doc="render the author's own copy of the packet, with the budget",
    )
    notes = {**read, "template": In(site.template("notes.txt.j2")), "boot_screen": bool(screens)}
    yield _letters(site, party, packet_arguments)
    yield from tester_steps(site, party, packet_arguments, page_arguments, notes)
    yield Step("notes", "pipeline.release.notes:write_notes", {**notes, "out": Out(site.notes)}, doc="write the plain-text notes")
    yield _report(site)
    yield _announce(site, facts)
    # The kit comes last: it is refused when memory is over budget, and the report is what shows why.
    own = {file_part(one.number): own_files(site, one) for one in party.testers}
    yield Step(
        "kit",
        "pipeline.release.kit:write_kit",
        {
            "image": In(site.image),
            "map_file": In(site.map),
            "packet": In(packet),
            "page": In(page),
            "notes": In(site.notes),
            "budget_file": In(site.budget),
            "advice_file": In(site.advice),
            "manifest": Listing(site.kit),
            "code": site.project.spec.game.code,
            "version": site.project.spec.game.version,
            "date": build_date(site.project),
            "own": In(own),
            "remarks": kit_remarks(site, party),
        },
        doc="zip image, packet, page, checksums and notes for testers",
    )


def _announce(site: Site, facts: dict[str, Any]) -> Step:
    files = {"text": "announcement.txt", "markdown": "announcement.md", "short": "announcement-short.txt"}
    return Step(
        "announce",
        "pipeline.release.announce:write_announcement",
        {
            **facts,
            "manifest": In(site.kit),
            "outs": Kept({form: site.build / name for form, name in files.items()}),
            "boot_screen": bool(site.project.of_kind("screen")),
        },
        always=True,
        doc="write texts to paste that announce the build: plain, Markdown, and one of at most 500 characters",
    )


def _letters(site: Site, party: Party, packet: dict[str, Any]) -> Step:
    words = site.written(*([WORDS] if (site.folder / WORDS).is_file() else []))
    # Every packet's words begin after the release it compares with, so the oldest of these decides.
    oldest = min(filter(None, (*party.since, compared_with(site))), key=precedence, default="")
    game = msgspec.structs.replace(site.project.spec.game, date=None, since=None)  # neither has letters
    arguments = {**{key: packet[key] for key in ("written", "wording", "console")}, "spec": {**packet["spec"], "game": game}}
    arguments |= {"words": In(words), "since": oldest, "version": site.project.spec.game.version, "out": Out(site.letters)}
    return Step("letters", "pipeline.packet.letters:write_letters", arguments, doc="find texts that the packet cannot set")


def _report(site: Site) -> Step:
    game = site.project.spec.game
    return Step(
        "report",
        "pipeline.report.page:write_page",
        {
            "template": In(site.template("report.html.j2")),
            "style": In(site.template("report.css")),
            "scripts": In(tuple(site.template(f"report/{name}.js") for name in REPORT_SCRIPTS)),
            "shown": In({asset.name: files for asset in site.project.assets.values() if (files := site.shown(asset))}),
            "choices_file": In(site.choices),
            "order": tuple(site.project.assets),
            "facts": In(site.all_facts()),
            "proofs": In({asset.name: site.proofs(asset) for asset in site.project.assets.values()}),
            "worn": In({asset.name: site.worn(asset.name) for asset in site.project.of_kind("palette") if site.wearers(asset)}),
            "map_file": In(site.map),
            "budget_file": In(site.budget),
            "layers_file": In(site.layers),
            "banks_file": In(site.banks),
            **({"lists_file": In(site.lists)} if site.lists else {}),
            "checks_file": In(checks_file(site)),
            "changes_file": In(changes_file(site)),
            "findings_file": In(site.findings),
            "out": Out(site.build / "report.html"),
            "game": {key: getattr(game, key) for key in ("title", "version", "phase", "code")},
            "console": site.project.target.name,
            "issues": site.project.spec.issue,
        },
        doc="one page with everything in the build",
    )


def _for_testers(site: Site, party: Party) -> dict[str, Any]:
    """The part of the project file that testers see."""
    spec = site.project.spec
    content = {key: getattr(spec, key) for key in ("game", "links", "pad", "control", "issue", "contents", "instructions")}
    content["caution"] = [one.text for one in spec.caution]
    content["instructions"] = msgspec.structs.replace(spec.instructions, thanks=thanked(spec.instructions.thanks, party.testers))
    # Known by its files, which the packet gets.
    content["issue"] = [msgspec.structs.replace(one, picture="", frame="") for one in spec.issue]
    # Looked up by pad.
    content["control"] = [msgspec.structs.replace(one, buttons=dict(sorted(one.buttons.items()))) for one in spec.control]
    # What scenes choose is named in the grids, and must be looked through for letters with its place.
    names = {name: {"choose": [{"name": choice.name} for choice in scene.choose]} for name, scene in sorted(spec.scene.items())}
    return content | {"plan": bare_plan(spec.plan), "scene": names}


def forms_step(site: Site) -> Step:
    """Return the question that writes both forms."""
    names = ("report-form.html", "feedback-form.html", "questions.txt", "intake.toml")
    spec = site.project.spec
    return Step(
        "forms",
        "pipeline.release.forms:write_forms",
        {
            "map_file": In(site.map),
            "wording": In(site.wording()),
            "template": In(site.template("form.html.j2")),
            "script": Found(TEMPLATES / "form.js"),
            "spec": {"game": spec.game, "links": spec.links, "pad": spec.pad},
            "intake": spec.intake,
            "outs": Kept({name: site.build / "forms" / name for name in names}),
        },
        always=True,
        doc="both forms: questions to copy into any form service, and pages that need no server",
    )


def schema_step(site: Site) -> Step:
    files = {name: site.build / "schema" / f"{name}.schema.json" for name in ("project", "target", "issues", "testers")}
    return Step(
        "schema",
        "pipeline.reference.schema:write_schemas",
        {"outs": Out(files)},
        doc="write JSON Schema of the files you write, for editors",
    )
