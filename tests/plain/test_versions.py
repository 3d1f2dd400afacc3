"""Versions against the examples of Semantic Versioning 2.0.0, from its text at semver.org (items 2, 9, 10 and 11)."""

from __future__ import annotations

import itertools
import random

import pytest

from pipeline.plain.versions import is_version, major, precedence

# Item 11.2: 1.0.0 < 2.0.0 < 2.1.0 < 2.1.1. Item 11.3: 1.0.0-alpha < 1.0.0.
# Item 11.4: 1.0.0-alpha < 1.0.0-alpha.1 < 1.0.0-alpha.beta < 1.0.0-beta < 1.0.0-beta.2 < 1.0.0-beta.11 < 1.0.0-rc.1 < 1.0.0.
ORDERED = (
    ("1.0.0", "2.0.0", "2.1.0", "2.1.1"),
    ("1.0.0-alpha", "1.0.0"),
    ("1.0.0-alpha", "1.0.0-alpha.1", "1.0.0-alpha.beta", "1.0.0-beta", "1.0.0-beta.2", "1.0.0-beta.11", "1.0.0-rc.1", "1.0.0"),
    ("1.9.0", "1.10.0", "1.11.0"),  # item 2
)


@pytest.mark.parametrize("order", ORDERED)
def test_published_order(order):
    """Every pair of a published chain, and the chain found again from a shuffled list."""
    for first, second in itertools.combinations(order, 2):
        assert precedence(first) < precedence(second)
    mixed = list(order)
    random.Random(11).shuffle(mixed)
    assert sorted(mixed, key=precedence) == list(order)


def test_build_metadata_has_no_part_in_precedence():
    """Item 10, with its examples."""
    assert precedence("1.0.0-alpha+001") == precedence("1.0.0-alpha")
    assert precedence("1.0.0+20130313144700") == precedence("1.0.0+21AF26D3----117B344092BD") == precedence("1.0.0")


@pytest.mark.parametrize("text", ["1.0.0-alpha", "1.0.0-alpha.1", "1.0.0-0.3.7", "1.0.0-x.7.z.92", "1.0.0-x-y-z.--", "0.4.0", "10.20.30"])
def test_versions_of_the_standard_are_versions(text):
    """Item 9's examples, and plain ones."""
    assert is_version(text)


@pytest.mark.parametrize(
    "text", ["1", "1.0", "01.0.0", "1.0.0-01", "1.0.0-", "1.0.0-a..b", "1.0.0-ä", "-1.0.0", "v1.0.0", "1.0.0\n", " 1.0.0", "1.0.0+1", ""]
)
def test_others_are_none(text):
    """Leading zeros (items 2 and 9), empty identifiers (item 9); build metadata is not for a project's version."""
    assert not is_version(text)
    if "+" not in text:
        with pytest.raises(ValueError, match="is not a valid version"):
            precedence(text)


def test_numbers_of_any_length_are_compared():
    """Python refuses to read more than 4,300 digits as a number; a version may have them."""
    long = "9" * 5000
    assert precedence(f"1.0.0-{long}") < precedence(f"1.0.0-1{'0' * 5000}")
    assert precedence(f"{long}.0.0") > precedence("10.0.0")
    assert major("12.3.4") == "12"
