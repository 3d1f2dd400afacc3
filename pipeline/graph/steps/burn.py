"""The step that writes files for burning."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.graph.steps.handed import In, Listing
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step


def burn_steps(site: Site) -> Iterator[Step]:
    """Yield the step; without a table for it, one that says so to who asks."""
    burn, target = site.project.spec.burn, site.project.target
    if burn is None:
        call, doc = "pipeline.rom.burn_files:refuse_burn", "with a table [burn]: the image as files for burning"
        yield Step("burn", call, {}, always=True, doc=doc)
        return
    manifest = site.build / "burn.json"
    yield Step(
        "burning",
        "pipeline.rom.burn_files:write_burn",
        {
            "image": In(site.image),  # which verification puts in its place
            "manifest": Listing(manifest),
            "code": site.project.spec.game.code,
            "forms": burn.forms,
            "first": 0 if burn.addresses == "from 0" else target.cartridge.base,
            "device": burn.device,
            "short_names": burn.short_names,
            "byte_order": target.byte_order,
        },
        doc="write the image as files for burning",
    )
    call, doc = "pipeline.rom.burn_files:show_burn", "files for burning, and which devices they need"
    yield Step("burn", call, {"manifest": In(manifest)}, always=True, doc=doc)
