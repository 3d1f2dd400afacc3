"""Which build a report is about: codes as people type them, against the builds that were handed out.

Read are ``PROJECT/ledger.json``, ``{"releases": [{"version", "phase", "build_code", ...}]}`` (or the list alone), oldest first,
and ``build/map.json`` of the build at hand. A release may say ``issues`` (known ones: ids, or records with ``id``) and ``fixed``
(ids); an issue that one release lists and the next does not is taken as said to be fixed.
"""

from __future__ import annotations

import json
import re
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.crockford import decode, encode
from pipeline.errors import refuse
from pipeline.links import BUILD_DIGITS

_BETWEEN = re.compile(r"[\W_]+")
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

    def match(self, typed: str) -> str:
        """Return the code of the known build that a text names, or nothing.

        Read as D. Crockford's base 32: any case, O as 0, I and L as 1, hyphens and spaces do not count; zeros at the front may
        be lost, as a spreadsheet loses them. Where the whole text is no known code, a word of it may be.
        """
        plain = _hyphens(typed)
        words = _BETWEEN.split(plain)
        pairs = [first + second for first, second in zip(words, words[1:], strict=False)]
        ends = [word[-BUILD_DIGITS:] for word in words if len(word) > BUILD_DIGITS]  # v7ZZ9K2
        for text in (plain, *words, *pairs, *ends):
            code = _code(text)
            if code in self.ranks:
                return code
        return ""

    def near(self, typed: str) -> str:
        """Return the only known code that differs in one character from what was typed, or nothing."""
        code = _code(_hyphens(typed))
        near = [one.code for one in self.builds if code and sum(a != b for a, b in zip(code, one.code, strict=True)) == 1]
        return near[0] if len(near) == 1 else ""


def _hyphens(typed: str) -> str:
    """Return a text with compatibility forms folded, every dash as a hyphen and every space as a space (Unicode categories)."""
    folded = unicodedata.normalize("NFKC", typed)
    kinds = {"Pd": "-", "Zs": " ", "Cf": ""}
    return "".join(kinds.get(unicodedata.category(char), char) for char in folded).strip()


def _code(text: str) -> str:
    """Return a build code as it is written, or nothing when the text is none."""
    if len(text) > 4 * BUILD_DIGITS:
        return ""
    try:
        number = decode(text)
    except ValueError:
        return ""
    return encode(number, BUILD_DIGITS) if number < _LARGEST else ""


def known_builds(folder: Path, map_file: Path, version: str, phase: str) -> Builds:
    """Return the builds of the ledger and, behind them, the one at hand.

    Args:
        folder: the project folder.
        map_file: of the build at hand; it need not be there.
        version, phase: what the project file says now.

    Raises:
        ProjectError: the ledger is no JSON list of releases.
    """
    releases = _releases(folder / "ledger.json")
    builds = {one["build_code"]: Build(one["build_code"], str(one.get("version", "")), str(one.get("phase", ""))) for one in releases}
    code = _code_of_map(map_file)
    if code:
        builds.setdefault(code, Build(code, version, phase))
    found = Builds(list(builds.values()))
    for one in releases:
        for issue in one.get("fixed") or ():
            found.fixed.setdefault(_id(issue), found.ranks[one["build_code"]])
    for before, after in zip(releases, releases[1:], strict=False):
        if "issues" in before and "issues" in after:
            listed = {_id(issue) for issue in after["issues"]}
            for issue in before["issues"]:
                if _id(issue) not in listed:
                    found.fixed.setdefault(_id(issue), found.ranks[after["build_code"]])
    return found


def _id(issue: Any) -> str:
    return str(issue.get("id", "")) if isinstance(issue, dict) else str(issue)


def _releases(path: Path) -> list[dict[str, Any]]:
    try:
        data = json.loads(path.read_bytes())
    except FileNotFoundError:
        return []
    except ValueError as error:
        raise refuse(path.name, "", f"not JSON: {error}", "put back its last good copy") from None
    releases = data.get("releases") if isinstance(data, dict) else data
    if not isinstance(releases, list):
        raise refuse(path.name, "", "no list of releases", "put back its last good copy")
    return [one for one in releases if isinstance(one, dict) and isinstance(one.get("build_code"), str) and _code(one["build_code"])]


def _code_of_map(path: Path) -> str:
    try:
        return str(json.loads(path.read_bytes())["image"]["build_code"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
