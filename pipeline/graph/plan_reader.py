"""The step that writes the reader of assets for the program."""

from __future__ import annotations

import msgspec

from pipeline.graph.site import Site
from pipeline.graph.step import Step
from pipeline.target import Target


def reader_step(site: Site) -> Step:
    return Step(
        "reader",
        "pipeline.rom.console_reader:write_reader",
        {"folder": site.folder, "out": site.build / "include", "target": _reading_rules(site)},
        reads=site.templates("console/reader.h.j2", "console/reader.c.j2"),
        writes=site.readers(),
        doc="write reader.h and reader.c for the program",
    )


def _reading_rules(site: Site) -> Target:
    """The target without what reading does not look at."""
    target = site.project.target
    cartridge = msgspec.structs.replace(target.cartridge, sizes=[], pad=0xFF)
    return msgspec.structs.replace(target, summary="", screen=None, memory=None, codecs=[], cartridge=cartridge, alignment={})
