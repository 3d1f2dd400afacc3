"""Which build a report is about: codes as people type them, against the builds that were handed out.

Reads the releases of ``PROJECT/ledger.json`` (see ``project.ledger``), ``build/map.json`` of the current build, and which
issues say that they are fixed, and in which version.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.joints.links import BUILD_DIGITS
from pipeline.joints.map import read_map
from pipeline.plain.crockford import decode, encode
from pipeline.plain.errors import ProjectError
from pipeline.project.file import Issue
from pipeline.project.ledger import read_ledger

_BETWEEN = re.compile(r"[\W_]+")
_VERSION = re.compile(r"(?<![\w.])v?\.?([0-9]+(?:\.[0-9]+)+(?:-[0-9A-Za-z.-]*[0-9A-Za-z])?)", re.IGNORECASE)  # 0.6.0, v0.6.0-beta.2
_LARGEST = 32**BUILD_DIGITS


@dataclass(frozen=True)
class Build:
    """A build testers may have: its code, and what it is called."""

    code: str
    version: str
    phase: str = ""


@dataclass
class Builds:
    """The builds that are known, oldest first, and the issues said to be fixed.

    Attributes:
        fixed: issue -> rank of the first build that is said to be without it.
    """

    builds: list[Build] = field(default_factory=list)
    fixed: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ranks = {one.code: rank for rank, one in enumerate(self.builds)}
        self._matched: dict[str, str] = {"": ""}

    def match(self, typed: str) -> str:
        """Return the code of the known build that a text names; nothing where it names none, or several."""
        if typed not in self._matched:
            named = self.named(typed)
            self._matched[typed] = named[0] if len(named) == 1 else ""
        return self._matched[typed]

    def named(self, typed: str) -> list[str]:
        """Return the codes of the known builds that a text names, by code, or else by version.

        A code is read as D. Crockford's base 32: any case, O as 0, I and L as 1, hyphens and spaces do not count; zeros at the front may
        be lost, as a spreadsheet loses them. If the whole text is not a known code, words of it may be. A version is that of the first
        build that has it: a release before the current build.
        """
        plain = _hyphens(typed)
        words = _BETWEEN.split(plain)
        pairs = [first + second for first, second in zip(words, words[1:], strict=False)]
        ends = [word[-BUILD_DIGITS:] for word in words if len(word) > BUILD_DIGITS]  # v7ZZ9K2
        if _code(plain) in self.ranks:
            return [_code(plain)]
        codes = dict.fromkeys(code for text in (*words, *pairs, *ends) if (code := _code(text)) in self.ranks)
        if codes:
            return list(codes)
        first: dict[str, str] = {}
        for build in self.builds:
            first.setdefault(build.version.casefold(), build.code)
        versions = [match[1].casefold() for match in _VERSION.finditer(plain)]
        return list(dict.fromkeys(first[version] for version in versions if version in first))

    def near(self, typed: str) -> str:
        """Return the only known code that differs in one character from what was typed, or nothing."""
        code = _code(_hyphens(typed))
        near = [one.code for one in self.builds if code and sum(a != b for a, b in zip(code, one.code, strict=True)) == 1]
        return near[0] if len(near) == 1 else ""


def unknown_builds(reports: Iterable[dict[str, Any]], builds: Builds) -> list[dict[str, Any]]:
    """Return what was typed for builds that are not known, or for several at once: ``typed``, ``reports`` (ids), ``near`` (a code one
    character off, or the codes named).
    """
    typed: dict[str, list[str]] = {}
    for report in reports:
        if not builds.match(report.get("build", "")):
            typed.setdefault(report.get("build", ""), []).append(report["id"])
    named = {text: " and ".join(builds.named(text)) for text in typed}
    return [{"typed": text, "reports": ids, "near": named[text] or builds.near(text)} for text, ids in sorted(typed.items())]


def _hyphens(typed: str) -> str:
    """Return a text with compatibility forms folded, every dash as a hyphen and every space as a space (Unicode categories)."""
    folded = unicodedata.normalize("NFKC", typed)
    kinds = {"Pd": "-", "Zs": " ", "Cf": ""}
    return "".join(kinds.get(unicodedata.category(char), char) for char in folded).strip()


def _code(text: str) -> str:
    """Return a build code as it is written, or nothing when the text is not a code."""
    if len(text) > 4 * BUILD_DIGITS:
        return ""
    try:
        number = decode(text)
    except ValueError:
        return ""
    return encode(number, BUILD_DIGITS) if number < _LARGEST else ""


def known_builds(folder: Path, map_file: Path, version: str, phase: str, issues: list[Issue]) -> Builds:
    """Return the builds of the ledger, followed by the current one.

    An issue is said to be fixed since the last release that names it so, as long as none names it open again; what the project
    says of it now counts more.

    Args:
        folder: the project folder.
        map_file: of the current build; it may be missing; one that cannot be read counts as missing.
        version, phase: what the project file says now.
        issues: the project's known ones.

    Raises:
        ProjectError: the ledger is not what a release writes.
    """
    releases = read_ledger(folder)
    builds: dict[str, Build] = {}
    for one in releases:
        builds.setdefault(one.build_code, Build(one.build_code, one.version, one.phase))
    code = _code_of_map(map_file)
    if code:
        builds.setdefault(code, Build(code, version, phase))
    found = Builds(list(builds.values()))
    for one in releases:
        found.fixed |= dict.fromkeys(one.issues.fixed, found.ranks[one.build_code])
        for issue in one.issues.open:
            found.fixed.pop(issue, None)
    versions = {build.version: rank for rank, build in reversed(list(enumerate(found.builds)))}
    for issue in issues:
        if issue.status == "open":
            found.fixed.pop(issue.id, None)
        elif issue.fixed_in in versions:
            found.fixed[issue.id] = versions[issue.fixed_in]
    return found


def _code_of_map(path: Path) -> str:
    try:
        return read_map(path).image.build_code
    except ProjectError:
        return ""
