"""What one asset uses of each thing a target limits, from its facts."""

from __future__ import annotations

from typing import Any

from pipeline.target.kinds import KINDS

LIMITS = {
    "palette_entries": "palette entries",
    "cells": "cells and tiles",
    "video": "bytes of video memory",
}


def usage(limit: str, facts: dict[str, Any]) -> int:
    """Return how much of a limit of the target an asset uses when it is loaded.

    Args:
        limit: a key of ``LIMITS``.
        facts: of the asset.
    """
    return _USES[limit](facts)


def _cells(facts: dict[str, Any]) -> int:
    if facts["kind"] == "pool":
        return facts["cell_count"]
    if facts["kind"] == "sprite" and not facts.get("pool"):
        counted = facts.get("cell_count", facts.get("stored_cells"))  # of pieces, or of trimmed frames
        return facts["frames"] * facts["cells"][0] * facts["cells"][1] if counted is None else counted
    return facts.get("tile_count", 0) if facts["kind"] == "background" else 0


_USES = {
    "palette_entries": lambda facts: facts["entry_count"] if facts["kind"] == "palette" else 0,
    "cells": _cells,
    "video": lambda facts: facts["unpacked_bytes"] if KINDS[facts["kind"]].video else 0,
}
