"""From a checked project to the steps of its build, room by room."""

from __future__ import annotations

from pipeline.graph.art_folder import bring_step
from pipeline.graph.steps.art import freeze_step
from pipeline.graph.steps.assets import asset_steps, makers, shown_steps
from pipeline.graph.steps.findings import findings_steps, flashes_step
from pipeline.graph.steps.handed import Found, In, Kept
from pipeline.graph.steps.image import banks_steps, build_code_step, burn_steps, image_steps, placing_steps, tables_steps, where_step
from pipeline.graph.steps.intake import intake_steps
from pipeline.graph.steps.ledger import ledger_steps
from pipeline.graph.steps.memory import addresses_step, advice_steps, memory_step, show_lists_step, streaming_steps
from pipeline.graph.steps.packing import loader_steps, packing_steps, reader_step, unpacker_steps
from pipeline.graph.steps.release import forms_step, layers_step, proof_steps, release_steps, schema_step
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Plan, Step
from pipeline.graph.steps.testers import make_party, own_maps
from pipeline.project.model import LoadedProject


def plan_project(project: LoadedProject, words: dict[str, str] | None = None) -> Plan:
    """Return the steps of a project's build, in the order in which a reader would list them.

    Args:
        words: NAME=VALUE words of the command line, which questions are about: of, name, file,
            since, csv, form, tester, from, link, write, rate.

    Raises:
        ProjectError: that release does not exist.
    """
    site, words = Site(project), words or {}
    party = make_party(site)
    maps = own_maps(site, party)
    assets = [*asset_steps(site, makers(late=False)), *packing_steps(site)]
    streaming = [*streaming_steps(site)]
    steps = [
        *assets,
        *unpacker_steps(site),
        *addresses_step(site),
        *placing_steps(site),
        *tables_steps(site),
        reader_step(site),
        *loader_steps(site),
        build_code_step(site),
        *asset_steps(site, makers(late=True)),
        *packing_steps(site, late=True),
        *image_steps(site),
        *banks_steps(site),
        *burn_steps(site),
        *streaming,
        memory_step(site),
        *advice_steps(site, words.get("of", ""), [*assets, *streaming]),
        layers_step(site),
        freeze_step(site, words.get("of", "")),
        *proof_steps(site),
        *findings_steps(site),
        *shown_steps(site),
        flashes_step(site, words.get("of", ""), words.get("rate", "")),
        *ledger_steps(site, words.get("since", ""), party.since, maps),
        *release_steps(site, party),
        schema_step(site),
        forms_step(site),
        show_lists_step(site),
        where_step(site, words.get("name", ""), words.get("file", ""), maps),
        *intake_steps(site, words),
        bring_step(site, words),
        _why(site),
        _growth(site),
    ]
    # Asked for one by one, since doit would otherwise run them in the order of a set. The image is there to be copied while pictures and
    # pages are still being made.
    early = _needed_for("rom", steps)
    default = sorted((step.name for step in steps if not step.always), key=lambda name: name not in early)
    return Plan(site.folder, steps=steps, default=default, version=project.spec.game.version)


def _needed_for(goal: str, steps: list[Step]) -> set[str]:
    """Return the names of a step and of all that must have run before it."""
    known = {step.name: step for step in steps}
    makers = {path: step.name for step in steps for path in step.writes}
    found: set[str] = set()
    waiting = [goal]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            step = known[name]
            waiting += [*step.after, *(makers[path] for path in (*step.reads, *step.trusts) if path in makers)]
    return found


def _why(site: Site) -> Step:
    arguments = {"record": Found(site.reasons)}
    return Step("why", "pipeline.questions.why:show_reasons", arguments, always=True, doc="show why each step of the last build ran")


def _growth(site: Site) -> Step:
    arguments = {
        "log": Found(site.growth_log),
        "template": In(site.template("growth.svg.j2")),
        "out": Kept(site.build / "growth.svg"),
    }
    call, doc = "pipeline.questions.growth:show_growth", "image and scenes of every build so far"
    return Step("growth", call, arguments, always=True, doc=doc)
