"""The step that writes the reader of assets for the program."""

from __future__ import annotations

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.site import READERS, Site
from pipeline.graph.steps.step import Step
from pipeline.rom.console_reader import reader_values


def reader_step(site: Site) -> Step:
    return Step(
        "reader",
        "pipeline.rom.console_reader:write_reader",
        {
            "templates": In({name: site.template(f"console/{name}.j2") for name in READERS}),
            "outs": Out(site.includes(*READERS)),
            "values": reader_values(site.project.target),
        },
        doc="write reader.h and reader.c for the program",
    )
