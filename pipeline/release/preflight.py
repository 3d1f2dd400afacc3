"""The checks before a release, made from the files of a build, and their text."""

from __future__ import annotations

import datetime
import os
from pathlib import Path

from pipeline.joints.budget import read_budget_file
from pipeline.joints.found.findings import read_findings
from pipeline.joints.map import read_map
from pipeline.joints.places import Sources
from pipeline.plain.errors import ProjectError
from pipeline.plain.files import read_json, refuse_links, sha256_of, write_json
from pipeline.project.file import Game, Issue, Links
from pipeline.project.ledger import LEDGER, PICTURES, read_ledger
from pipeline.project.words import read_words
from pipeline.release.checks import Check, HeaderProgram, all_checks, content_of, page_of, row


def write_checks(
    committed: Sources,
    image: Path,
    map_file: Path,
    verified: Path,
    budget_file: Path,
    notes: Path | None,
    letters: Path,
    findings_file: Path,
    out: Path,
    game: Game,
    links: Links,
    origins: dict[str, str],
    issues: list[Issue],
    program: str | None,
    programs: tuple[str, ...],
    date: datetime.date | None,
) -> str:
    """Write the checks before a release as ``checks.json``, see ``release.checks``; return one line about them.

    Args:
        committed: the ledger and the author's words about versions, as far as they are there.
        notes: the kit's plain-text notes; None where no release is there to compare them with.
        findings_file: ``findings.json``.
        letters: what the packet cannot set; see ``packet.letters``.
        origins: name -> where it comes from, of every asset made from a file.
        program: name of the one of ``programs`` that the header's program values are about; None for none.
        date: of the build.
    """
    mapped, known = read_map(map_file).image, read_json(verified)
    seen = {"file": sha256_of(image), "map": mapped.sha256, "verified": known["sha256"]}
    content = content_of(mapped.sha256, sha256_of(notes) if notes else "", mapped.build_code)
    choice = HeaderProgram(program, known["program"], programs)
    releases, budget, folder = read_ledger(committed.folder), read_budget_file(budget_file), committed.folder
    words = [version for version, paragraphs in read_words(folder).items() if paragraphs]
    more = {"date": date.isoformat() if date else "", "words": words, "letters": read_json(letters)["faults"]}
    more["findings"] = read_findings(findings_file)
    found = all_checks(releases, content, game, links, budget, seen, origins, issues, choice, **more)
    write_json(out, {"version": game.version, "build_code": mapped.build_code, "checks": found})
    good = sum(one["good"] for one in found)
    return f"{good} of {len(found)} well" + ("" if good == len(found) else "; see doit preflight")


def show_preflight(checks_file: Path, kept: Sources) -> str:
    """Return the page of checks, and whether the ledger could be written now.

    Args:
        kept: the ledger and its folder of pictures.

    Raises:
        ProjectError: not all are ticks; its text is the page.
    """
    checks = read_json(checks_file)
    return page_of(checks | {"checks": [*checks["checks"], ledger_check(kept.folder)]})


def ledger_check(folder: Path) -> Check:
    """Return the check that the ledger and its pictures can be written: whatever is in their place, and the rights to it."""
    try:
        refuse_links(folder, [folder / PICTURES])
    except ProjectError as error:
        fault = error.problems[0]
        return row("ledger", False, f"{fault.file} {fault.wrong}", fault.remedy)
    for path in (folder, folder / PICTURES, folder / LEDGER):
        if path.exists() and not os.access(path, os.W_OK):
            shown = "the project folder" if path == folder else path.name
            return row("ledger", False, f"{shown} cannot be written", "check its permissions")
    return row("ledger", True, "can be written")
