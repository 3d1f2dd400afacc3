"""The checks before a release, made from the files of a build, and their text."""

from __future__ import annotations

from pathlib import Path

from pipeline.joints.budget import read_budget_file
from pipeline.joints.map import read_map
from pipeline.joints.places import Sources
from pipeline.plain.files import read_json, sha256_of, write_json
from pipeline.project.file import Game, Issue, Links
from pipeline.project.ledger import read_ledger
from pipeline.release.checks import HeaderProgram, all_checks, content_of, page_of


def write_checks(
    ledger: Sources,
    image: Path,
    map_file: Path,
    verified: Path,
    budget_file: Path,
    notes: Path | None,
    out: Path,
    game: Game,
    links: Links,
    origins: dict[str, str],
    issues: list[Issue],
    program: str | None,
    programs: tuple[str, ...],
) -> str:
    """Write the checks before a release as ``checks.json``, see ``release.checks``; return one line about them.

    Args:
        ledger: its file, where there is one.
        notes: the kit's plain-text notes; None where no release is there to compare them with.
        origins: name -> where it comes from, of every asset made from a file.
        program: name of the one of ``programs`` that the header's program values are about; None for none.
    """
    mapped, known = read_map(map_file).image, read_json(verified)
    seen = {"file": sha256_of(image), "map": mapped.sha256, "verified": known["sha256"]}
    content = content_of(mapped.sha256, sha256_of(notes) if notes else "", mapped.build_code)
    choice = HeaderProgram(program, known["program"], programs)
    found = all_checks(read_ledger(ledger.folder), content, game, links, read_budget_file(budget_file), seen, origins, issues, choice)
    write_json(out, {"version": game.version, "build_code": mapped.build_code, "checks": found})
    good = sum(one["good"] for one in found)
    return f"{good} of {len(found)} well" + ("" if good == len(found) else "; see doit preflight")


def show_preflight(checks_file: Path) -> str:
    """Return the page of checks.

    Raises:
        ProjectError: not all are ticks; its text is the page.
    """
    return page_of(read_json(checks_file))
