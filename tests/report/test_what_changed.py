"""What changed, as rows and lists of the report."""

from __future__ import annotations

import pytest

from pipeline.project.file import Contents, Issue
from pipeline.release.differences import Said, differences
from pipeline.report.what_changed import changes_shown
from tests.project.test_ledger import kept


@pytest.mark.parametrize(
    ("before", "now", "shown"),
    [
        (2048, 4096, ["2 KiB", "4 KiB", "+2,048"]), (4096, 2048, ["4 KiB", "2 KiB", "-2,048"]), (2048, 2048, ["2 KiB", "2 KiB", "0"]),
        (None, 2048, ["–", "2 KiB", ""]), (2048, None, ["2 KiB", "–", ""]),
    ],
)  # fmt: skip
def test_sizes_are_shown_with_what_they_grew_by(before, now, shown):
    """Hand-worked; a size that was not there before, or is not any more, has nothing to compare with."""
    nothing = Said([], [], {}, Contents())
    changes = differences(kept("0.1.0"), 1000, {}, {}, nothing, {}, "0.2.0", {}) | {"image": {"before": before, "now": now}}
    assert changes_shown(changes)["rows"][0]["sizes"] == shown


def test_every_issue_whose_state_changed_is_listed():
    """Of four open in the release: fixed since, settled, no longer listed, and still open, which is not news; a new one; one come back."""
    old = kept("0.1.0", issues={"open": ["A-1", "A-2", "A-3", "A-4"], "fixed": ["A-6"]})
    states = (("A-1", "fixed", "0.2.0"), ("A-2", "by design", None), ("A-4", "open", None), ("A-5", "open", None), ("A-6", "open", None))
    issues = [Issue(id=name, severity="minor", where="w", what="x", status=state, fixed_in=fixed) for name, state, fixed in states]
    shown = changes_shown(differences(old, 1000, {}, {}, Said(issues, [], {}, Contents()), {}, "0.2.0", {}))
    assert [ids for _, ids in shown["issues"]] == [["A-1"], ["A-5"], ["A-6"], ["A-2 (by design)"], ["A-3"]]
