"""What a tester is told of each pad that can be drawn, as plain values."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pipeline.pads import read_place, used_buttons


def told_pads(pads: dict[str, Any], controls: list[Any], clean: Callable[[str], str]) -> list[dict[str, Any]]:
    """Return the pads whose buttons have places.

    Args:
        pads: the project's pads by name.
        controls: the project's controls.
        clean: what makes an author's text one that can be set.

    Returns:
        For each pad ``name``, ``columns``, ``rows`` and ``buttons``, each ``name``, ``shape``, ``box`` (left, top, right, bottom in
        columns and rows from the face's top left) and ``does``: what it does, alone or, behind ``+``, together with others.
    """
    return [_pad(name, pad, controls, clean) for name, pad in pads.items() if isinstance(pad.buttons, dict) and pad.buttons]


def _pad(name: str, pad: Any, controls: list[Any], clean: Callable[[str], str]) -> dict[str, Any]:
    buttons = []
    for button, text in pad.buttons.items():
        place = read_place(text)
        box = [(edge - 1) / 2 for edge in place.box]
        does = [clean(text) for text in _does(button, name, controls)]
        buttons.append({"name": clean(button), "shape": place.shape, "box": box, "does": list(dict.fromkeys(does))})
    return {"name": clean(pad.name), "columns": pad.grid[0], "rows": pad.grid[1], "buttons": buttons}


def _does(button: str, pad: str, controls: list[Any]) -> list[str]:
    texts = []
    for control in controls:
        for way in used_buttons(control.buttons.get(pad, "")):
            if button in way:
                others = [other for other in way if other != button]
                texts.append(f"+ {' + '.join(others)}: {control.action}" if others else control.action)
    return texts
