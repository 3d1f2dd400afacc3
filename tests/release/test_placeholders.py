"""Links never filled in: the names of RFC 2606, sections 2 and 3, and words that say so."""

from __future__ import annotations

import pytest

from pipeline.release.placeholders import placeholder


@pytest.mark.parametrize(
    ("link", "why"),
    [
        ("https://example.org/f/{build}", "example.org is kept for examples (RFC 2606)"),
        ("https://example.com", "example.com is kept for examples (RFC 2606)"),
        ("http://www.EXAMPLE.net:8080/a?b={build}", "example.net is kept for examples (RFC 2606)"),
        ("https://forms.test/x", ".test leads nowhere (RFC 2606)"),
        ("https://a.example./x", ".example leads nowhere (RFC 2606)"),
        ("https://nothing.invalid", ".invalid leads nowhere (RFC 2606)"),
        ("http://localhost/f", ".localhost leads nowhere (RFC 2606)"),
        ("https://forms.relay.tld/TODO", "it says 'todo'"),
        ("https://forms.relay.tld/f?id=xxx", "it says 'xxx'"),
        ("https://your-site.tld/f", "it says 'your-site'"),
        ("https://forms.relay.tld/your_form", "it says 'your_form'"),
        ("https://forms.relay.tld/change-me", "it says 'change-me'"),
    ],
)
def test_placeholders_are_reported(link, why):
    """With the reason."""
    assert placeholder(link) == why


@pytest.mark.parametrize(
    "link",
    [
        "https://forms.relay.tld/f/{build}",
        "https://notexample.org/f",
        "https://example.org.relay.tld/f",
        "https://relay.tld/todos/method",
        "https://relay.tld/contest/testing",
        "https://relay.tld/exchange-media",
    ],
)
def test_others_pass(link):
    """Names that only look alike."""
    assert placeholder(link) is None
