"""Versions and which of two comes first: Semantic Versioning 2.0.0 (semver.org), items 2, 9, 10 and 11."""

from __future__ import annotations

import re

_NUMBER = r"(?:0|[1-9][0-9]*)"
_IDENTIFIER = rf"(?:{_NUMBER}|[0-9]*[A-Za-z-][0-9A-Za-z-]*)"
# Without build metadata, which has no part in what comes first and would only name one version twice.
PATTERN = rf"^{_NUMBER}\.{_NUMBER}\.{_NUMBER}(-{_IDENTIFIER}(\.{_IDENTIFIER})*)?$(?!\n)"
_VERSION = re.compile(PATTERN)


def is_version(text: str) -> bool:
    """Return whether a text is a version as projects write them."""
    return _VERSION.search(text) is not None


def precedence(version: str) -> tuple:
    """Return a key: of two versions the one that comes first has the smaller one. Build metadata is left out (item 10).

    Raises:
        ValueError: the text is not a version.
    """
    plain = version.partition("+")[0]
    if not is_version(plain):
        raise ValueError(f"{version!r} is not a valid version")
    core, dash, before = plain.partition("-")
    # A version without a pre-release part comes after all that have one (item 11.3).
    return (*map(_identifier, core.split(".")), 0 if dash else 1, tuple(map(_identifier, before.split("."))) if dash else ())


def _identifier(text: str) -> tuple[int, int, str]:
    """Numbers by value and before words, words by their ASCII codes (item 11.4); digits without leading zeros need no sum."""
    return (0, len(text), text) if text.isdigit() else (1, 0, text)


def major(version: str) -> str:
    """Return the first number of a version."""
    return version.partition(".")[0]
