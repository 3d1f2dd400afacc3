"""What the tests of intake share."""

from __future__ import annotations

import pytest

from pipeline.intake import take_in

# Files that look at groups, or at what is said of how reports were compared.
_COMPARING = {"test_alike", "test_encoding", "test_rounds", "test_triage"}


@pytest.fixture(autouse=True)
def _compared_by_words(request, monkeypatch):
    """Reports are compared by their words alone where no test looks at groups, since encoding them takes far longer than all else."""
    if request.path.stem not in _COMPARING:
        monkeypatch.setattr(take_in, "encoder", lambda: None)
