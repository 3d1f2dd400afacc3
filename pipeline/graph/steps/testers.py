"""Steps for each tester on the author's list: their own packet. Settings hold numbers and shares; a name stays in the list."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import Out, Trusted
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.packet.content.party import Gap, Share, find_gaps, share_out, with_pads
from pipeline.plain.sizes import counted
from pipeline.project.plan import Grid, Plan, plan_grids
from pipeline.project.testers import LIST, Tester, entry_mark, file_part, label_of, read_testers


@dataclass(frozen=True)
class Party:
    """The plan's grids, who tests, and each one's share by number."""

    grids: tuple[Grid, ...] = ()
    testers: tuple[Tester, ...] = ()
    shares: dict[int, Share] = field(default_factory=dict)
    gaps: list[Gap] = field(default_factory=list)


def make_party(site: Site) -> Party:
    """Return who does what.

    Raises:
        ProjectError: the list of testers has problems.
    """
    spec = site.project.spec
    grids, testers = plan_grids(spec), read_testers(site.folder, spec.pad)
    pads = {one.number: one.pads for one in testers}
    shares = share_out(grids, pads)
    # What only shares depend on is nothing that a packet shows.
    shown = tuple(replace(grid, times=None, most=None) for grid in grids)
    return Party(shown, testers, shares, find_gaps(grids, pads, shares))


def packet_of(site: Site, number: int) -> Path:
    """Return the file of a tester's own packet."""
    return site.work / "testers" / f"{file_part(number)}-packet.pdf"


def page_of(site: Site, number: int) -> Path:
    """Return the file of a tester's own page."""
    return packet_of(site, number).with_suffix(".html")


def tester_steps(site: Site, party: Party, packet: dict[str, Any], page: dict[str, Any]) -> Iterator[Step]:
    """Yield two steps for each tester: their packet and their page.

    Args:
        packet, page: arguments of those that everybody gets.
    """
    for one in party.testers:
        listed = Trusted(site.written(LIST))  # a name must not be among the settings; its mark is, and the step compares both
        own = {**_own(one, party, packet["spec"]), "listed": listed, "number": one.number, "mark": entry_mark(one)}
        yield Step(
            f"tester:{file_part(one.number)}",
            "pipeline.packet.personal:write_personal",
            {**packet, **own, "out": Out(packet_of(site, one.number))},
            doc=f"render the packet of {label_of(one.number)}",
        )
        yield Step(
            f"paged:{file_part(one.number)}",
            "pipeline.packet.web:write_own_page",
            {**page, **own, "out": Out(page_of(site, one.number))},
            doc=f"write the page of {label_of(one.number)}",
        )


def _own(one: Tester, party: Party, spec: dict[str, Any]) -> dict[str, Any]:
    """Return what is a tester's own in their packet: their share, and of grids and controls what is for the pads they have."""
    own = [with_pads(grid, share, one.pads) for grid, share in zip(party.grids, party.shares[one.number], strict=True)]
    pads = {name: pad for name, pad in spec["pad"].items() if one.pads is None or name in one.pads}
    return {
        "spec": {**spec, "pad": pads or spec["pad"]},
        "grids": tuple(grid for grid, _ in own),
        "shares": {one.number: tuple(share for _, share in own)},
    }


def bare_plan(plan: Plan) -> Plan:
    """Return a plan without what only shares depend on; its names are looked up, so that their order is nothing."""
    tasks = [msgspec.structs.replace(one, times=None, most=None) for one in plan.task]
    return msgspec.structs.replace(plan, task=tasks, names=dict(sorted(plan.names.items())))


def kit_remarks(site: Site, party: Party) -> str:
    """Return the remarks for the author beside the kit: that links carry no number, that cells are nobody's."""
    links = site.project.spec.links
    numbered = any("{tester}" in link for link in (links.feedback, links.bugs, links.download, *links.more.values()))
    open_cells = sum(len(gap.cells) for gap in party.gaps)
    said = [] if numbered or not party.testers else ["no link carries their number: see {tester} in [links]"]
    are = "is" if open_cells == 1 else "are"
    said += [f"{counted(open_cells, 'cell')} of the plan {are} nobody's: see packet-author.pdf"] if open_cells else []
    return "; ".join(said)
