"""From a checked project to the steps of its build, room by room."""

from __future__ import annotations

from pipeline.graph.plan_art import art_steps
from pipeline.graph.plan_image import build_code_step, image_steps, placing_steps
from pipeline.graph.plan_others import program_steps, screen_steps, sound_and_data_steps
from pipeline.graph.plan_packing import packing_steps
from pipeline.graph.plan_release import budget_step, proof_steps, release_steps, schema_step
from pipeline.graph.site import Site
from pipeline.graph.step import Plan, Step
from pipeline.project import LoadedProject


def plan_project(project: LoadedProject) -> Plan:
    """Return the steps of a project's build, in the order in which a reader would tell it."""
    site = Site(project)
    steps = [
        *art_steps(site),
        *sound_and_data_steps(site),
        *packing_steps(site),
        *placing_steps(site),
        *program_steps(site),
        build_code_step(site),
        *screen_steps(site),
        *image_steps(site),
        budget_step(site),
        *proof_steps(site),
        *release_steps(site),
        schema_step(site),
        _why(site),
    ]
    # Asked for one by one, since doit would otherwise run them in the order of a set.
    return Plan(site.folder, steps=steps, default=[step.name for step in steps if not step.always])


def _why(site: Site) -> Step:
    arguments = {"state": site.build / ".state"}
    return Step("why", "pipeline.graph.reasons:tell_reasons", arguments, always=True, doc="tell why each step of the last build ran")
