"""Steps of packing: converted blobs to their form in the image; and of what a program reads assets with: unpackers, reader and loader."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.graph.steps.handed import In, Out
from pipeline.graph.steps.site import LOADERS, UNPACKERS, Site
from pipeline.graph.steps.step import Step
from pipeline.joints.places import blob_files, packed_files
from pipeline.rom.console_loader import loader_values
from pipeline.rom.console_reader import READER_PARTS, reader_values
from pipeline.target.kinds import KINDS


def packing_steps(site: Site, late: bool = False) -> Iterator[Step]:
    """Yield the steps that pack assets; of those that are made when all places are decided, or of the others."""
    for name in site.packed():
        asset = site.project.assets[name]
        if KINDS[asset.kind].late != late:
            continue
        packing = asset.spec.packing
        yield Step(
            f"pack:{name}",
            "pipeline.assets.packing:pack_asset",
            {
                "blob_file": In(blob_files(site.blobs, name).content),
                "out": Out(packed_files(site.blobs, name)),
                "packing": packing,
                "codecs": tuple(site.project.target.codecs) if packing == "best" else (),
            },
            doc=f"pack {asset.kind} {name}",
        )


def unpacker_steps(site: Site) -> Iterator[Step]:
    """Yield the step that writes the unpackers, if anything is packed."""
    if site.packed():
        templates = {name: site.template(f"console/{name}") for name in UNPACKERS}
        arguments = {"templates": In(templates), "outs": Out(site.includes(*UNPACKERS))}
        yield Step("unpackers", "pipeline.rom.include:write_unpackers", arguments, doc="write unpack.h and unpack.c for the program")


def reader_step(site: Site) -> Step:
    listed = " and ".join(name for name in site.readers())
    return Step(
        "reader",
        "pipeline.rom.console_reader:write_reader",
        {
            "templates": In({name: site.template(f"console/{name}.j2") for name in (*site.readers(), *READER_PARTS)}),
            "outs": Out(site.includes(*site.readers())),
            "values": reader_values(site.project.target),
        },
        doc=f"write {listed} for the program",
    )


def loader_steps(site: Site) -> Iterator[Step]:
    """Yield the step that writes the loader, if the project has load lists."""
    if site.lists is not None:
        yield Step(
            "loader",
            "pipeline.rom.console_loader:write_loader",
            {
                "templates": In({name: site.template(f"console/{name}.j2") for name in LOADERS}),
                "outs": Out(site.includes(*LOADERS)),
                "values": loader_values(site.project.target, bool(site.packed())),
            },
            doc="write load.h and load.c for the program",
        )
