"""Links testers follow, and how large their codes must be. ISO/IEC 18004: capacity, side length, quiet zone."""

from __future__ import annotations

import re
from typing import Literal
from urllib.parse import urlsplit

QUIET = 4  # modules of light margin on every side, ISO/IEC 18004
BUILD_DIGITS = 6
LONGEST_TESTER = "T999"  # number of a tester in a link
# Bytes a code of version 1, 2, ... holds in byte mode at an error correction level, ISO/IEC 18004 table 7.
_CAPACITY: dict[str, tuple[int, ...]] = {
    "M": (14, 26, 42, 62, 84, 106, 122, 152, 180, 213, 251, 287, 331, 362, 412, 450, 504, 560, 624, 666),
    "L": (17, 32, 53, 78, 106, 134, 154, 192, 230, 271, 321, 367, 425, 458, 520, 586, 644, 718, 792, 858),
}
Correction = Literal["M", "L"]
CORRECTIONS: tuple[Correction, ...] = ("M", "L")  # the best first
_URL_CHARACTERS = re.compile(r"[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=%]+")  # RFC 3986, section 2


def with_build(link: str, build_code: str, tester: str = "") -> str:
    """Return a link with ``{build}`` and ``{tester}`` replaced; without a tester, that parameter is removed."""
    return with_tester(link, tester).replace("{build}", build_code)


def with_tester(link: str, tester: str = "") -> str:
    """Return a link with ``{tester}`` replaced by a number such as ``T3``, or without the parameter that it is the value of."""
    if tester:
        return link.replace("{tester}", tester)
    plain, mark, fragment = link.partition("#")
    path, question, query = plain.partition("?")
    kept = [part for part in query.split("&") if part.partition("=")[2] != "{tester}"]
    return path + (question + "&".join(kept) if kept else "") + mark + fragment


def report_link(link: str, build_code: str, tester: str = "") -> str:
    """Return the link of a form for one build; one without ``{build}`` gets the code as ``b`` in its query (RFC 3986)."""
    ready = with_build(link, build_code, tester)
    if "{build}" in link:
        return ready
    plain, mark, fragment = ready.partition("#")
    return f"{plain}{'&' if '?' in plain else '?'}b={build_code}{mark}{fragment}"


def link_problem(link: str) -> tuple[str, str] | None:
    """Return what is wrong with a link and the remedy, or None."""
    plain = with_build(link, "0" * BUILD_DIGITS)
    if "{tester}" in plain:
        return f"{{tester}} in {link!r} is not the value of a parameter, so it cannot be left out", "write it as ?t={tester} or &t={tester}"
    if not _URL_CHARACTERS.fullmatch(plain):
        return f"{link!r} is not a URL", "write http:// or https:// and only the characters a URL may hold"
    try:
        parts = urlsplit(plain)
        host = parts.hostname
        parts.port  # noqa: B018 (raises when it is not a number)
    except ValueError:
        host, parts = None, None
    if not parts or parts.scheme not in ("http", "https") or not host:
        return f"{link!r} is not a URL", "write the whole address, for example https://example.org/f/{build}"
    return None


def code_version(link_bytes: int, correction: str = "M") -> int | None:
    """Return the smallest QR version that holds this many bytes at an error correction level, or None beyond version 20."""
    for rank, capacity in enumerate(_CAPACITY[correction]):
        if link_bytes <= capacity:
            return rank + 1
    return None


def code_modules(version: int) -> int:
    """Return the modules along one side of a code with its quiet zone."""
    return 17 + 4 * version + 2 * QUIET


def longest_link(modules: int, correction: str = "M") -> int:
    """Return the bytes that fit a code of at most this many modules a side with quiet zone; 0 when none does."""
    fitting = [capacity for rank, capacity in enumerate(_CAPACITY[correction]) if code_modules(rank + 1) <= modules]
    return fitting[-1] if fitting else 0
