"""The checks before a build is handed out: each a tick or a cross, what was seen, and what to do.

``checks.json``: ``{"version", "build_code", "checks": [{"name", "good", "finding", "remedy"}]}``; ``finding`` is one line or more,
the remedy of a tick is empty.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any, NamedTuple

from pipeline.joints.budget import Budget
from pipeline.joints.found.findings import Finding, Findings, Looked
from pipeline.memory.budget import over_budget, over_memory
from pipeline.memory.refused import too_fast
from pipeline.packet.content.content import by_number
from pipeline.plain.errors import Problem, ProjectError
from pipeline.plain.sizes import counted, listed, show_size
from pipeline.plain.versions import major, precedence
from pipeline.project.file import PHASES, Game, Issue, Links
from pipeline.project.ledger import Release, released_before
from pipeline.project.words import WORDS
from pipeline.release.placeholders import placeholder

Check = dict[str, Any]
TICK, CROSS = "✓", "✗"


class HeaderProgram(NamedTuple):
    """The program that the header's program values are about, if any: as chosen, as verified, and the programs there are to choose from."""

    chosen: str | None
    verified: str | None
    programs: tuple[str, ...]


def all_checks(
    releases: list[Release],
    content: dict[str, str],
    game: Game,
    links: Links,
    budget: Budget,
    seen: dict[str, str],
    origins: dict[str, str],
    issues: list[Issue],
    program: HeaderProgram,
    date: str = "",
    words: Collection[str] = (),
    letters: Sequence[str] = (),
    findings: Findings | None = None,
) -> list[Check]:
    """Return every check, in the order in which they are shown.

    Args:
        releases: of the ledger, oldest first.
        content: what a version contains once it is released: see ``content_of``; also ``build_code``.
        budget: ``budget.json``.
        seen: SHA-256 of the image: ``file`` as it is, ``map`` as the map says, ``verified`` as it was read back.
        origins: name -> where it comes from, of every asset made from a file.
        issues: all of the project's.
        program: the choice of one, which is a check of its own where there are several.
        date: of the build, ISO 8601; empty for none.
        words: versions that the author has written something about.
        findings: what may harm a player; None where nothing was looked for.
        letters: texts that the packet cannot set, each as a refusal would name it.
    """
    last = released_before(releases, game.version)
    return [
        _version(releases, content, game.version),
        _phase(last, game),
        _date(last, date),
        _words(releases, last, game.version, words),
        _memory(budget),
        _image(seen),
        *([_program(program)] if len(program.programs) > 1 else []),
        _letters(letters),
        _links(links),
        _origins(origins),
        _issues(last, issues),
        *(harm_checks(findings) if findings else ()),
    ]


def content_of(image_sha256: str, notes_sha256: str, build_code: str) -> dict[str, str]:
    """Return what testers get under a version: the image, and what is said about it.

    The notes represent all that is said: the packet says the same, but its bytes depend on the machine's zlib.
    """
    return {"image": image_sha256, "notes": notes_sha256, "build_code": build_code}


def row(name: str, good: bool, finding: str, remedy: str = "") -> Check:
    """Return a check; a tick has no remedy."""
    return {"name": name, "good": good, "finding": finding, "remedy": "" if good else remedy}


def _version(releases: list[Release], content: dict[str, str], version: str) -> Check:
    clash = next((one for one in releases if _same_code(one, content) != _same_image(one, content)), None)
    if clash:
        remedy = "take ledger.json back from your version control; if it is right, change something in the game, so that the code changes"
        return row("version", False, _code_clash(clash, content), remedy)
    same = next((one for one in releases if one.version == version), None)
    if same:
        return _same_version(same, content, version)
    last = releases[-1].version if releases else None
    if last is None:
        return row("version", True, f"{version} is the first in the ledger")
    good = precedence(last) < precedence(version)
    finding = f"{version} comes {'after' if good else 'before'} {last}, the last release"
    return row("version", good, finding, "set version in [game] to a later one (Semantic Versioning 2.0.0, item 11)")


def _same_code(release: Release, content: dict[str, str]) -> bool:
    return release.build_code == content["build_code"]


def _same_image(release: Release, content: dict[str, str]) -> bool:
    return release.image.sha256 == content["image"]


def _code_clash(release: Release, content: dict[str, str]) -> str:
    """Say that code and image do not go together, so that a report could not be matched to one build."""
    if _same_code(release, content):
        return f"{release.version} is in the ledger with this build's code, {content['build_code']}, but with another image"
    return f"{release.version} is in the ledger with this image, but as build {release.build_code}; this is {content['build_code']}"


def _same_version(release: Release, content: dict[str, str], version: str) -> Check:
    remedy = "set version in [game] to a later one: what testers have must keep its number"
    if release.image.sha256 != content["image"]:
        finding = f"{version} was released as build {release.build_code}; this is build {content['build_code']}"
        return row("version", False, finding, remedy)
    if release.kit.notes != content["notes"]:
        finding = f"{version} was released with this image, but its packet and notes said something else"
        return row("version", False, finding, remedy)
    return row("version", True, f"{version} is in the ledger, with this content")


def _phase(last: Release | None, game: Game) -> Check:
    if last is None or last.phase not in PHASES:
        return row("phase", True, game.phase)
    back = PHASES.index(game.phase) < PHASES.index(last.phase)
    if back and major(game.version) != major(last.version):
        return row("phase", True, f"{game.phase}, as {game.version} begins a new major version after {last.version}")
    if back:
        remedy = f'set phase in [game] to "{last.phase}" or a later one; only a new major version goes back'
        return row("phase", False, f"{game.phase} comes before {last.phase}, the phase of {last.version}", remedy)
    return row("phase", True, f"{game.phase}, as before" if game.phase == last.phase else f"{game.phase} after {last.phase}")


def _date(last: Release | None, date: str) -> Check:
    if not date:
        return row("date", True, "none is given")
    if last is None or not last.date:
        return row("date", True, date)
    good = last.date <= date
    finding = f"{date} comes {'after' if last.date < date else 'on'} {last.date}" if good else f"{date} comes before {last.date}"
    remedy = "set date in [game], or SOURCE_DATE_EPOCH, to the day of this release"
    return row("date", good, f"{finding}, the date of {last.version}", remedy)


def _words(releases: list[Release], last: Release | None, version: str, words: Collection[str]) -> Check:
    if last is None:
        return row("changes", True, "nothing to compare with before the first release")
    if any(one.version == version for one in releases):
        return row("changes", True, "as they were released")
    remedy = f"write ## {version} into {WORDS}, and under it what changed for testers since {last.version}"
    good = version in words
    return row("changes", good, f"{WORDS} says what changed in {version}" if good else f"{WORDS} says nothing about {version}", remedy)


def _letters(faults: Sequence[str]) -> Check:
    remedy = "the packet cannot be made: use other characters there, or see Letters in pipeline/guide/release.md"
    return row("letters", not faults, "\n".join(faults) if faults else "the packet can set every text", remedy)


def _memory(budget: Budget) -> Check:
    fast = too_fast(budget)
    if fast and not over_memory(budget):
        return row("memory", False, f"{fast[0].place}: {fast[0].wrong}", fast[0].remedy)
    over = over_budget(budget)
    if over:
        return row("memory", False, over, "doit fit and doit savings show what would help; the report shows what fills memory")
    if not budget.scenes:
        return row("memory", True, "no scene is named, so nothing is known")
    name, scene = min(budget.scenes.items(), key=lambda item: item[1].margin)
    return row("memory", True, f"every scene fits; the fullest is {name}, with {show_size(scene.margin)} free")


def _image(seen: dict[str, str]) -> Check:
    good = seen["file"] == seen["map"] == seen["verified"]
    finding = "read back and found as meant" if good else "is not the image that was read back and verified"
    return row("image", good, finding, "run doit verify; leave the build folder alone meanwhile")


def _program(choice: HeaderProgram) -> Check:
    if choice.chosen is None:
        return row("program", True, f"the header is about none of {listed(choice.programs)}")
    others = listed([name for name in choice.programs if name != choice.chosen])
    good = choice.verified == choice.chosen
    finding = f"the header's program values are those of {choice.chosen}, not of {others}"
    return row("program", good, finding if good else "the header was compared with another program", "run doit verify")


def _links(links: Links) -> Check:
    named = {"feedback": links.feedback, "bugs": links.bugs, **({"download": links.download} if links.download else {}), **links.more}
    found = [f"{name} ({link}): {why}" for name, link in named.items() if (why := placeholder(link))]
    if found and links.placeholders:
        return row("links", True, "lead nowhere on purpose, as placeholders in [links] says, and the packet says so too")
    if found:
        remedy = "put in the addresses of your forms and pages; or, in an example nobody reports to, say placeholders = true in [links]"
        return row("links", False, "\n".join(found), remedy)
    return row("links", True, "none is a placeholder")


def _origins(origins: dict[str, str]) -> Check:
    without = [name for name, text in origins.items() if not text.strip()]
    if without:
        remedy = "add origin to each, or to [defaults.KIND]: where it comes from and under what rights"
        return row("origins", False, f"no origin: {', '.join(without)}", remedy)
    drawn = [name for name, text in origins.items() if "placeholder" in text.casefold()]
    if drawn:
        remedy = "replace what doit start put there, or write the origin of what you put in its place"
        return row("origins", False, f"said to be a placeholder: {', '.join(drawn)}", remedy)
    return row("origins", True, f"{counted(len(origins), 'asset')} made from files, each with its origin")


def _issues(last: Release | None, issues: list[Issue]) -> Check:
    gone = sorted({*last.issues.open} - {issue.id for issue in issues}, key=by_number) if last else []
    if last and gone:
        remedy = "keep each with its status: fixed, cannot reproduce or by design; testers know it by its number"
        return row("issues", False, f"known in {last.version} and missing now: {', '.join(gone)}", remedy)
    # The record of an issue demands a severity, so a project without one is refused before any step runs.
    still = [issue for issue in issues if issue.status == "open"]
    return row("issues", True, f"{counted(len(still), 'known issue')}, each with a severity" if still else "no known issue")


def harm_checks(findings: Findings) -> list[Check]:
    """Return a check of each kind of harm that was looked for."""
    return [_harm(one, [found for found in findings.findings if found.about == one.about]) for one in findings.looked]


def _harm(looked: Looked, found: Sequence[Finding]) -> Check:
    """Return the check of one thing that may harm a player: what fails is refused, unless the author writes a caution for testers."""
    used = [one for one in found if one.used]
    refused = [one for one in used if one.verdict == "fail" and not one.caution]
    if refused:
        lines = [f"{one.of} fails: {one.sentences[0]}" for one in refused]
        wrong = f"change it, see doit {looked.about}; or write a [[caution]] of it, which testers read before they play"
        return row(looked.about, False, "\n".join(lines), wrong)
    said = [f"{one.of} fails, and testers read: {one.caution}" for one in used if one.verdict == "fail"]
    said += [f"warning: {one.of} is near a limit, see doit {looked.about}" for one in used if one.verdict == "near"]
    unknown = [one.of for one in used if one.verdict == "open"]
    said += [f"warning: nothing shows that {listed(unknown)} pass{'es' * (len(unknown) == 1)}, see doit {looked.about}"] if unknown else []
    counts = [counted(count, what) for what, count in looked.counts.items() if count]
    fails = any(one.verdict == "fail" for one in used)
    nothing = "what fails has a caution" if fails else "nothing fails" if said else "nothing beyond a limit"
    return row(looked.about, True, "\n".join([f"{listed(counts)} measured, {nothing}", *said]))


class Crosses(ProjectError):
    """At least one check has a cross; its text is the whole page."""

    def __init__(self, page: str, crosses: Iterable[Check]) -> None:
        super().__init__(Problem("preflight", one["name"], one["finding"], one["remedy"]) for one in crosses)
        self.page = page

    def __str__(self) -> str:
        return self.page

    def __reduce__(self):
        return (Crosses, (self.page, [{"name": one.place, "finding": one.wrong, "remedy": one.remedy} for one in self.problems]))


def page_of(checks: dict[str, Any]) -> str:
    """Return the checks as a page for a person.

    Raises:
        Crosses: not all are ticks; carries the page.
    """
    lines = [f"Before version {checks['version']}, build {checks['build_code']}, is handed out:", ""]
    for one in checks["checks"]:
        mark, (first, *more) = TICK if one["good"] else CROSS, one["finding"].split("\n")
        lines.append(f"  {mark} {one['name']:<8} {first}")
        lines += [f"    {'':<8} {line}" for line in more]
        lines += [f"    {'':<8}   {one['remedy']}"] if one["remedy"] else []
    crosses = [one for one in checks["checks"] if not one["good"]]
    count = f"{len(crosses)} of {len(checks['checks'])} checks {'has a cross' if len(crosses) == 1 else 'have crosses'}."
    page = "\n".join([*lines, "", count if crosses else "All is well."])
    if crosses:
        raise Crosses(page, crosses)
    return page
