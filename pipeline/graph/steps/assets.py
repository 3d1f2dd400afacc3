"""Steps of assets, by the functions that the table of kinds names for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.graph.steps.handed import Depends, In, Out, Trusted
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.project.model import Asset
from pipeline.target.calls import Call
from pipeline.target.kinds import KINDS, calls_of


def makers(*, late: bool) -> dict[str, Call]:
    """Return kind -> what yields the steps that make an asset: of the kinds that are made when places are decided, or before."""
    return calls_of("steps", *(name for name, kind in KINDS.items() if kind.late is late))


def asset_steps(site: Site, steps: Mapping[str, Call]) -> Iterator[Step]:
    """Yield the steps that make the assets of some kinds, in project order.

    Args:
        steps: see ``makers``.
    """
    for asset in site.project.of_kind(*steps):
        yield from steps[asset.kind](site, asset)


def shown_steps(site: Site) -> Iterator[Step]:
    """Yield a step for each asset of which the report's script shows something: a changed frame makes that of its own sprite again."""
    for asset in site.project.assets.values():
        out = site.shown(asset)
        if out is None:
            continue
        palette, pool, variants = getattr(asset.spec, "palette", None), getattr(asset.spec, "pool", ""), _variants(site, asset)
        kinds = [site.project.assets[name].kind for name in (asset.name, palette, pool, *variants) if name]
        yield Step(
            f"shown:{asset.name}",
            "pipeline.proofs.show:write_look",
            {
                # Both are read, but what counts of them is said by the facts, as for proofs.
                "image": Trusted(site.image),
                "map_file": Trusted(site.map),
                "facts": In(site.facts(asset.name)),
                "others": Depends(site.contents_drawn(palette, pool, *variants)),
                "show": KINDS[asset.kind].shown,
                "decoders": calls_of("decode", *kinds),
                "out": Out(out),
                "name": asset.name,
                "palette": palette,
                "variants": variants,
                "target": site.drawn_on(),
                "pixel_aspect": site.project.target.screen.pixel_aspect,
            },
            doc=f"what the report shows of {asset.name}",
        )


def _variants(site: Site, asset: Asset) -> tuple[str, ...]:
    """Return the names of the palettes that show an asset in other colours."""
    return tuple(palette.name for palette in site.project.of_kind("palette") if asset in site.wearers(palette))
