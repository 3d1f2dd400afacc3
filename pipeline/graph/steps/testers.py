"""Steps for each tester on the author's list: their own packet. Settings hold numbers and shares; a name stays in the list."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.handed import In, Out, Trusted
from pipeline.graph.steps.ledger import changes_file
from pipeline.graph.steps.site import Site
from pipeline.graph.steps.step import Step
from pipeline.joints.build_names import TESTERS
from pipeline.joints.places import OwnFiles
from pipeline.packet.content.party import Gap, Share, find_gaps, share_out, with_pads
from pipeline.plain.sizes import counted
from pipeline.project.ledger import versions_before
from pipeline.project.plan import Grid, Plan, plan_grids
from pipeline.project.testers import LIST, Tester, entry_mark, file_part, label_of, read_testers


@dataclass(frozen=True)
class Party:
    """The plan's grids, who tests, and each one's share by number; ``since``: releases that some of them had last."""

    grids: tuple[Grid, ...] = ()
    testers: tuple[Tester, ...] = ()
    shares: dict[int, Share] = field(default_factory=dict)
    gaps: list[Gap] = field(default_factory=list)

    @property
    def since(self) -> set[str]:
        return {one.since for one in self.testers if one.since}


def make_party(site: Site) -> Party:
    """Return who does what.

    Raises:
        ProjectError: the list of testers has problems.
    """
    spec = site.project.spec
    released = versions_before(site.project.releases, spec.game.version)
    grids, testers = plan_grids(spec), read_testers(site.folder, spec.pad, released)
    pads = {one.number: one.pads for one in testers}
    shares = share_out(grids, pads)
    # What only shares depend on is nothing that a packet shows.
    shown = tuple(replace(grid, times=None, most=None) for grid in grids)
    return Party(shown, testers, shares, find_gaps(grids, pads, shares))


def own_files(site: Site, one: Tester) -> OwnFiles:
    """Return what a tester gets that is theirs alone: their packet and page; with an image of their own, or another release that they
    had last, their notes too."""
    folder, number, mark = site.work / TESTERS, file_part(one.number), site.project.spec.game.mark
    notes = folder / f"{number}-notes.txt" if one.since or mark else None
    marked = [folder / f"{number}-{part}.json" for part in ("map", "mark") if mark]
    packet = folder / f"{number}-packet.pdf"
    return OwnFiles(packet, notes, *marked, page=packet.with_suffix(".html"))


def own_maps(site: Site, party: Party) -> dict[str, Path]:
    """Return number, such as T3, -> the map of a tester's own image; none where images are not marked."""
    found = {label_of(one.number): own_files(site, one).map for one in party.testers}
    return {label: path for label, path in found.items() if path is not None}


def tester_steps(site: Site, party: Party, packet: dict[str, Any], page: dict[str, Any], notes: dict[str, Any]) -> Iterator[Step]:
    """Yield the steps that make each tester's own files.

    Args:
        packet, page, notes: arguments of those that everybody gets.
    """
    for one in party.testers:
        files = own_files(site, one)
        compared = {"changes_file": In(changes_file(site, one.since)), **({"map_file": In(files.map)} if files.map else {})}
        if files.map is not None and files.mark is not None:
            yield _mark_step(site, one.number, files.map, files.mark)
        listed = Trusted(site.written(LIST))  # a name must not be among the settings; its mark is, and the step compares both
        own = {**_own(one, party, packet["spec"]), "listed": listed, "number": one.number, "mark": entry_mark(one), **compared}
        yield Step(
            f"tester:{file_part(one.number)}",
            "pipeline.packet.personal:write_personal",
            {**packet, **own, "out": Out(files.packet)},
            doc=f"render the packet of {label_of(one.number)}",
        )
        yield Step(
            f"paged:{file_part(one.number)}",
            "pipeline.packet.web:write_own_page",
            {**page, **own, "out": Out(files.page)},
            doc=f"write the page of {label_of(one.number)}",
        )
        if files.notes is not None:
            yield Step(
                f"notes-of:{file_part(one.number)}",
                "pipeline.release.notes:write_notes",
                {**notes, **compared, "tester": label_of(one.number), "out": Out(files.notes)},
                doc=f"write the notes of {label_of(one.number)}",
            )


def _mark_step(site: Site, number: int, out_map: Path, out_mark: Path) -> Step:
    target = msgspec.structs.replace(site.project.target, palette=None, pixel_formats={}, sound=None, summary="", screen=None, codecs=[])
    return Step(
        f"mark:{file_part(number)}",
        "pipeline.release.marks:write_own_image",
        {
            "image": In(site.image),
            "map_file": In(site.map),
            "target": target,
            "number": number,
            "out_map": Out(out_map),
            "out_mark": Out(out_mark),
        },
        doc=f"make out how the image of {label_of(number)} differs",
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
