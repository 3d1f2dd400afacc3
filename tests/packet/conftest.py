"""Packets set once, for tests that look at something other than the page numbers that a packet names."""

from collections.abc import Iterator

import pytest

from pipeline.packet import document


@pytest.fixture(scope="module")
def set_once() -> Iterator[None]:
    """Leave out the passes in which a packet finds out on which pages its parts are: it names page 1 for all of them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(document, "_guess_pages", lambda _: None)
        patch.setattr(document, "_PASSES", 1)
        yield
