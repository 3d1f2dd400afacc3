"""The tiles that a window of a background needs, where a scene streams them: ``work/NAME.windows.json``."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.backgrounds.forms import read_layer
from pipeline.joints.facts import BackgroundFacts, read_facts
from pipeline.joints.fetched import FORMAT, Windows, WindowTiles, window_size, write_fetched
from pipeline.pixels.tiles.compare import compare


def write_windows(facts: Path, map_file: Path, out: Path, name: str, asked: tuple[tuple[int, tuple[int, int] | None], ...]) -> str:
    """Write what each window needs; return one line about it.

    Args:
        facts, map_file: of the background.
        asked: margin and speed of each window in pixels; None for the background's own pan.
    """
    known, found = read_facts(facts, BackgroundFacts), []
    layer = read_layer(facts, map_file, 1)
    for margin, speed in asked:
        window, pace = window_size(known.window, known.forms.size, margin), speed or known.forms.pan
        tiles = compare(layer, window, pace)["tiles"]
        found.append(WindowTiles(window=window, speed=pace, tiles=tiles["window_tiles"], moved=tiles["moved_tiles"]))
    write_fetched(out, Windows(version=FORMAT, windows=found))
    return f"{name}: windows of {', '.join(f'{one.tiles:,}' for one in found)} tiles at most"
