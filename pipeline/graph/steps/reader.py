"""The step that writes the reader of assets for the program."""

from __future__ import annotations

from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.rom.console_reader import reader_values


def reader_step(site: Site) -> Step:
    return Step(
        "reader",
        "pipeline.rom.console_reader:write_reader",
        {"folder": site.folder, "out": site.build / "include", "values": reader_values(site.project.target)},
        reads=site.templates("console/reader.h.j2", "console/reader.c.j2"),
        writes=site.readers(),
        doc="write reader.h and reader.c for the program",
    )
