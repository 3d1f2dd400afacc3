"""Facts of made-up assets: whole records, of which a test says only what it is about."""

from __future__ import annotations

from typing import Any

from pipeline.joints import facts as records

NO_ERROR = records.ColourError(frames=1, pixels=1, mean=0.0, p95=0.0, worst_frame=0, worst_mean=0.0)
INTENT = records.IntentFacts(shape=[1, 8, 8], sha256="0" * 64)
BITMAP = records.FormBytes(image_bytes=64, memory_bytes=64, window_bytes=64, moved_bytes=8)
TILES = records.TilesBytes(
    image_bytes=66, memory_bytes=66, window_bytes=66, moved_bytes=9, tiles=1, window_tiles=1, moved_tiles=1
)
FORMS = records.Forms(
    size=(8, 8), window=(8, 8), pan=(0, 0), tile=(8, 8), mirrored=(True, False), distinct=1, distinct_mirrored=1, lines=1, tile_count=1,
    tile_bytes=64, entry_bytes=2, pixel_bits=8, bitmap_bytes=64, bitmap=BITMAP, tiles=TILES,
)  # fmt: skip
_SIZES: dict[str, Any] = {"width": 8, "height": 8, "source_width": 8, "source_height": 8, "scale": (1.0, 1.0)}
_SUMS: dict[str, Any] = {"sheet_bytes": 64, "frames_bytes": 64, "opaque_bytes": 64}
_OWN: dict[type[records.Facts], dict[str, Any]] = {
    records.DataFacts: {},
    records.SpriteFacts: {
        **_SIZES, **_SUMS, "frames": 1, "anchor": (0, 0), "stored": records.StoredSheet(cells=(1, 1), frame_bytes=64), "palette": None,
        "animations": [], "intent": INTENT, "colour_error": NO_ERROR,
    },
    records.PoolFacts: {**_SUMS, "cell_count": 1, "cell": (8, 8), "pieces": 1, "users": [], "clear": 0, "intent": INTENT},
    records.BackgroundFacts: {
        **_SIZES, "stored": records.StoredBitmap(cells=(1, 1)), "tile": (8, 8), "window": (8, 8), "palette": None,
        "colour_error": NO_ERROR, "forms": FORMS, "intent": INTENT,
    },
    records.PaletteFacts: {
        "first": 0, "transparent": False, "entry_count": 1, "line_entries": 0, "line_used": [1], "colours": [(0, 0, 0)],
        "colours_seen": 1, "exact": True,
    },
    records.FontFacts: {
        "glyph_count": 1, "picture_count": 1, "width": 8, "height": 8, "left": 0, "baseline": 7, "line_height": 9, "advance": 8,
        "spacing": "fixed", "characters": [(65, 8)], "palette": None, "intent": INTENT, "colour_error": NO_ERROR,
    },
    records.SoundFacts: {
        "rate": 8000, "recorded_rate": 8000, "format": "s8", "samples": 64, "seconds": 0.008, "clipped": 0,
        "intent": records.IntentFacts(shape=[64], sha256="0" * 64),
    },
    records.LevelFacts: {
        "width": 8, "height": 8, "cell_bytes": 1, "least": 0, "most": 255, "smallest": 0, "largest": 7, "different": 8,
        "intent": records.IntentFacts(shape=[8, 8], sha256="0" * 64),
    },
    records.TextFacts: {
        "font": None, "unit_bytes": 1, "languages": ["en"], "keys": ["start"], "characters": 5, "different": 4, "widest": [0],
        "intent": records.IntentFacts(shape=[1, 1], sha256="0" * 64),
    },
    records.NotesFacts: {
        "of": "ada", "frames": 2, "boxes": 1, "points": 1, "box_kinds": ["body"], "point_kinds": ["hand"], "number_kinds": [],
        "event_kinds": [], "used": ["body", "hand"], "intent": records.IntentFacts(shape=[2, 1, 1], sha256="0" * 64),
    },
    records.ProgramFacts: {"entry": 0},
    records.ListsFacts: {
        "scenes": [], "bundles": [], "steps": 0, "places": 0, "intent": records.IntentFacts(shape=[0], sha256="0" * 64),
    },
    records.ScreenFacts: {
        "width": 8, "height": 8, "module_pixels": 3, "code_version": 1, "codes": [], "intent": INTENT, "tv": None,
    },
}  # fmt: skip


def made_facts(kind: type[records.Facts], name: str = "one", **given: Any) -> Any:
    """Return facts of some kind; fields that a test does not name are those of a small asset."""
    size = given.get("bytes", 64)
    common = {
        "version": records.FORMAT,
        "name": name,
        "bytes": size,
        "unpacked_bytes": size,
        "codec": "stored",
        "crc32": "0" * 8,
        "sha256": "0" * 64,
        "origin": "",
    }
    return kind(**common | _OWN[kind] | given)


def stored_tiles(count: int, first: int = 0, merging: records.Merging | None = None) -> records.StoredTiles:
    """Return the facts of ``count`` tiles, numbered from ``first``."""
    return records.StoredTiles(
        tile_count=count, tile_bytes=64, columns=1, rows=1, first_tile=first, map_entry="00000ttttttttttt", merging=merging
    )
