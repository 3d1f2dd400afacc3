"""The layers of every scene in both forms, bitmaps and tiles: ``backgrounds.json``.

``{"window": [w, h], "scenes": {NAME: {"pan": [x, y], "layers": [{"background", "factor", "arrangement", "bitmap", "tiles"}],
"bitmap": {...}, "tiles": {...}}}}``: the four measures of ``pixels.tiles.compare`` for each layer and added up.
"""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.backgrounds.forms import read_layer
from pipeline.joints.facts import BackgroundFacts, read_facts
from pipeline.pixels.tiles.compare import add_layers
from pipeline.plain.files import write_json
from pipeline.project.file import Scene


def write_layers(
    facts: dict[str, Path], maps: dict[str, Path], out: Path, scenes: dict[str, Scene], window: tuple[int, int]
) -> str:
    """Write ``backgrounds.json``; return one line about it.

    Args:
        facts, maps: files of the backgrounds that are layers, by name.
        scenes: those with layers; only their layers and pan are looked at.
        window: width and height of the screen in pixels.
    """
    found = {name: _scene(facts, maps, scene, window) for name, scene in scenes.items()}
    write_json(out, {"window": list(window), "scenes": found})
    return "; ".join(_line(name, scene) for name, scene in found.items()) or "no scene has layers"


def _scene(facts: dict[str, Path], maps: dict[str, Path], scene: Scene, window: tuple[int, int]) -> dict:
    found = add_layers([read_layer(facts[one.background], maps[one.background], one.factor) for one in scene.layers], window, scene.pan)
    layers = [
        {
            "background": layer.background,
            "factor": layer.factor,
            "arrangement": read_facts(facts[layer.background], BackgroundFacts).arrangement,
            **each,
        }
        for layer, each in zip(scene.layers, found["layers"], strict=True)
    ]
    return {"pan": list(scene.pan), "layers": layers, "bitmap": found["bitmap"], "tiles": found["tiles"]}


def _line(name: str, scene: dict) -> str:
    bitmap, tiles = (f"{scene[form]['memory_bytes']:,} bytes as {what}" for form, what in (("bitmap", "bitmaps"), ("tiles", "tiles")))
    count = len(scene["layers"])
    return f"{name}: {count} layer{'s' if count > 1 else ''}, {bitmap}, {tiles}"
