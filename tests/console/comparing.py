"""Comparing pictures the emulated console has shown with what they should be."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from basalt_machine import START, Machine, Shown
from small_project import Built
from walk_model import Scene

from pipeline.reading.pixels import word_to_rgb

IDLE = 3  # pictures before a button is pressed: the check's bar, then the notice


def same(shown: Shown, wanted: np.ndarray, where: str) -> None:
    """Assert that a picture holds exactly these indices."""
    wrong = np.argwhere(shown.pixels != wanted)
    assert not len(wrong), f"{where}: {len(wrong)} pixels differ, the first at row {wrong[0][0]}, column {wrong[0][1]}"


def rgb(built: Built, shown: Shown) -> np.ndarray:
    """Return a picture in the colours the console had loaded."""
    colours = [word_to_rgb(int(word), built.target.palette.entry) for word in shown.palette]
    return np.array(colours, dtype=np.uint8)[shown.pixels]


def wanted_rgb(built: Built, pixels: np.ndarray, palettes: tuple[str, ...]) -> np.ndarray:
    """Return indices in the colours of the image's own palettes."""
    colours = np.zeros((256, 3), dtype=np.uint8)
    for name in palettes:
        palette = built.assets[name]
        first = palette.head["first"]
        colours[first : first + len(palette.colours)] = palette.colours
    return colours[pixels]


def full_scene(full: Built) -> Scene:
    """Return the scene the full project starts with."""
    return Scene(full.assets["emberdock"], [full.assets["pell"], full.assets["isk"]])


def play_and_compare(full: Built, buttons: list[int], act: Callable[[Scene, int], None], syncs: int = 1) -> list[Shown]:
    """Play pad states after the notice and compare every picture; ``act(scene, pressed)`` gives the model the buttons."""
    scene, machine = full_scene(full), Machine(full.image, watch="nothing", syncs_a_wait=syncs)
    states = [0] * IDLE + [START, *buttons, 0, 0]
    shown = machine.play([state for state in states for _ in range(syncs)])[:: syncs][IDLE + 2 :]
    assert len(shown) == len(buttons) + 1
    same(shown[0], scene.picture(), "first picture")
    before = START
    for rank, state in enumerate(buttons):
        act(scene, state & ~before)
        before = state
        scene.advance(1 if rank == 0 else syncs)
        same(shown[rank + 1], scene.picture(), f"picture {rank + 1}")
    return shown
