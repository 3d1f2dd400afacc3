"""Steps of assets, by the functions that the table of kinds names for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
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
