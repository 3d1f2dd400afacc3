"""Steps of packing: converted blobs to their form in the image; and the unpackers for the program."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.packed import image_file, packed_facts_file


def packing_steps(site: Site) -> Iterator[Step]:
    for name in site.packed():
        asset = site.project.assets[name]
        packing = asset.spec.packing
        yield Step(
            f"pack:{name}",
            "pipeline.assets.packing:pack_asset",
            {
                "blobs": site.blobs,
                "name": name,
                "packing": packing,
                "codecs": tuple(site.project.target.codecs) if packing == "best" else (),
            },
            reads=(site.blobs / f"{name}.bin",),
            writes=(image_file(site.blobs, name, packed=True), packed_facts_file(site.blobs, name)),
            doc=f"pack {asset.kind} {name}",
        )
    if site.packed():
        yield Step(
            "unpackers",
            "pipeline.rom.include:write_unpackers",
            {"folder": site.folder, "out": site.build / "include"},
            reads=site.templates("console/unpack.h", "console/unpack.c"),
            writes=site.unpackers(),
            doc="write unpack.h and unpack.c for the program",
        )
