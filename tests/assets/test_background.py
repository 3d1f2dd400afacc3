"""What a background's facts say of its source and its size."""

from __future__ import annotations

from tests.makers import build_here, make_project


def test_facts_tell_the_sizes_of_source_and_background(tmp_path):
    """A picture of 64 x 48 at half its size; across and down are not taken for each other."""
    made = build_here(make_project(tmp_path / "ferry", ('file = "art/quay.png"', 'file = "art/quay.png"\nscale = 0.5')))
    facts = made.facts["quay"]
    assert (facts.source_width, facts.source_height) == (64, 48)
    assert (facts.width, facts.height) == (32, 24)
