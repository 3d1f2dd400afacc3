"""What one asset uses of each thing a target limits, from its facts."""

from __future__ import annotations

import functools
from collections.abc import Mapping

from pipeline.joints.facts import (
    BackgroundFacts,
    Facts,
    PaletteFacts,
    PoolFacts,
    ScreenFacts,
    ScreenTiles,
    SpriteFacts,
    StoredFrames,
    StoredPieces,
    StoredSheet,
    StoredTiles,
)
from pipeline.target.kinds import KINDS

LIMITS = {
    "palette_entries": "palette entries",
    "cells": "cells and tiles",
    "video": "bytes of video memory",
    "blank": "bytes of a blank",
    "picture": "bytes of a picture",
    "line_sprites": "hardware sprites on a line",
    "line_pixels": "pixels of hardware sprites on a line",
    "picture_sprites": "hardware sprites in a picture",
}
CARRIED = ("blank", "picture")  # those of them that are about what is fetched while the game runs
HARDWARE = ("line_sprites", "line_pixels", "picture_sprites")
_AREA = "area "  # before the name of an area of memory, a limit of its own


def area_limit(area: str) -> str:
    """Return the key of the limit that an area of memory is."""
    return _AREA + area


def show_limit(limit: str) -> str:
    """Return what a limit is about, in words."""
    return f"bytes of {limit.removeprefix(_AREA)} memory" if limit.startswith(_AREA) else LIMITS[limit]


def usage(limit: str, facts: Facts) -> int:
    """Return how much of a limit of the target an asset uses when it is loaded.

    Args:
        limit: a key of ``LIMITS`` that is about what is loaded, not about what is fetched while the game runs.
        facts: of the asset.
    """
    return _USES[limit](facts)


def places(limit: str, facts: Mapping[str, Facts]) -> dict[str, str]:
    """Return asset -> what it takes up together with others, of assets that take the same room when several of them are loaded.

    A palette and its variants are loaded at the same entries, unless a variant has a ``first`` of its own.
    """
    if limit != "palette_entries":
        return {}
    found = {name: place_of(one) for name, one in facts.items() if isinstance(one, PaletteFacts)}
    return {name: f"{family} from {first}" for name, (family, first) in found.items()}


def place_of(palette: PaletteFacts) -> tuple[str, int]:
    """Return the palette that a variant varies, or the palette itself, and the entry at which it is loaded."""
    return palette.variant_of or palette.name, palette.first


def _cells(facts: Facts) -> int:
    match facts:
        case PoolFacts():
            return facts.cell_count
        case SpriteFacts(stored=StoredSheet(cells=(across, down))):
            return facts.frames * across * down
        case SpriteFacts(stored=StoredFrames(stored_cells=cells)):
            return cells
        case SpriteFacts(stored=StoredPieces(pool=None, cell_count=cells)):
            return cells
        case BackgroundFacts(stored=StoredTiles(tile_count=count)):
            return count
        case ScreenFacts(tiles=ScreenTiles(tile_count=count)):
            return count
    return 0


def _entries(facts: Facts) -> int:
    match facts:
        case PaletteFacts():
            return facts.entry_count
        case ScreenFacts(tiles=ScreenTiles(entry_count=count)):
            return count
    return 0


def _video(facts: Facts) -> int:
    tiled_notice = isinstance(facts, ScreenFacts) and facts.tiles is not None
    return facts.unpacked_bytes if tiled_notice or KINDS[facts.kind].video else 0


def _hardware(limit: str, facts: Facts) -> int:
    """Return what a sprite asks at worst: any frame of any two sprites of a scene may be shown at once, on the same lines."""
    return facts.hardware.most(limit) if isinstance(facts, SpriteFacts) and facts.hardware else 0


_USES = {
    "palette_entries": _entries,
    "cells": _cells,
    "video": _video,
    **{key: functools.partial(_hardware, key) for key in HARDWARE},
}
