"""Steps about what testers send back: questions, since what they keep is the author's and not a build's."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from pipeline.graph.steps.handed import Found, Kept
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.places import ReportPages
from pipeline.plain.shipped import TEMPLATES
from pipeline.project.ledger import LEDGER
from pipeline.project.pad_shapes import what_buttons_do


def intake_steps(site: Site, words: dict[str, str]) -> Iterator[Step]:
    """Yield ``intake`` and ``erase``.

    Args:
        words: of the command line: ``csv``, ``form``, ``tester``; empty where not given.
    """
    spec = site.project.spec
    pages = ReportPages(site.build / "triage.html", site.build / "triage.csv", site.template("triage.html.j2"), TEMPLATES / "triage.js")
    arguments = {
        "kept": Kept(site.written("reports", LEDGER)),
        "map_file": Found(site.map),
        "pages": Kept(pages),
        "intake": spec.intake,
        "issues": spec.issue,
        "buttons": what_buttons_do((one.action, one.buttons) for one in spec.control),
        "game": {key: getattr(spec.game, key) for key in ("title", "code", "version", "phase")},
    }
    named = words.get("csv", "")
    export = Path(os.path.abspath(os.path.expanduser(named))) if named else None  # neither fails, whatever was written
    yield Step(
        "intake",
        "pipeline.intake.take_in:take_in",
        {**arguments, "export": Found(export), "form": words.get("form", "")},
        always=True,
        doc="read what testers sent, csv=FILE or FOLDER; compare it and put it in order",
    )
    yield Step(
        "erase",
        "pipeline.intake.forgetting.erase:erase",
        {**arguments, "build": Kept(site.build), "who": words.get("tester", "")},
        always=True,
        doc="remove everything a person sent, tester=NUMBER or NAME",
    )
