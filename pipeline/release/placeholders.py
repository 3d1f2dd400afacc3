"""Links that were never filled in: names kept for examples (RFC 2606, RFC 6761), and words that say so."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

_DOMAINS = ("example.com", "example.net", "example.org")  # RFC 2606, section 3
_TOP = ("example", "invalid", "localhost", "test")  # RFC 2606, section 2
_WORDS = {"todo", "tbd", "fixme", "xxx", "placeholder", "changeme", "yourname", "yoursite"}
_YOUR = re.compile(r"(?:^|[^a-z])(?:your|change)[-_.](?:name|site|form|link|domain|id|me)(?:[^a-z]|$)")


def placeholder(link: str) -> str | None:
    """Return why a link is a placeholder, or None where it may lead somewhere."""
    host = (urlsplit(link.replace("{build}", "0")).hostname or "").rstrip(".").lower()
    for name in _DOMAINS:
        if host == name or host.endswith("." + name):
            return f"{name} is kept for examples (RFC 2606)"
    if host.split(".")[-1] in _TOP:
        return f".{host.split('.')[-1]} leads nowhere (RFC 2606)"
    plain = link.replace("{build}", "").lower()
    word = next((word for word in re.split(r"[^a-z]+", plain) if word in _WORDS), None) or _your(plain)
    return f"it says {word!r}" if word else None


def _your(text: str) -> str | None:
    found = _YOUR.search(text)
    return found[0].strip("/.-_?&=#: ") if found else None
