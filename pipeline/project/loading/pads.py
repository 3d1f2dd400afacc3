"""Checks of pads and of the controls that name their buttons."""

from __future__ import annotations

import itertools

import pipeline.project.file as pf
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.pad_shapes import SHAPES, read_place, used_buttons

_JOINTS = (" + ", " / ")


def check_pads(document: Document, spec: pf.Project) -> None:
    """Note buttons that cannot be distinguished or drawn, and controls that name what a pad does not have."""
    for name, pad in spec.pad.items():
        if name not in document.broken:
            _check_names(document, name, pad)
            if isinstance(pad.buttons, dict):
                _check_places(document, name, pad.grid, pad.buttons)
    for rank, control in enumerate(spec.control):
        for pad, buttons in control.buttons.items():
            if pad not in document.broken:
                _check_control(document, spec, ("control", rank, "buttons", pad), pad, buttons)


def _check_names(document: Document, name: str, pad: pf.Pad) -> None:
    seen = set()
    for rank, button in enumerate(pad.buttons):
        path = ("pad", name, "buttons", button if isinstance(pad.buttons, dict) else rank)
        if not button.strip() or button != button.strip():
            document.say(path, f"{button!r} cannot be a button's name", "give it a name without spaces around it")
        elif any(joint in button for joint in _JOINTS):
            wrong = f"button {button!r} has a joint in its name: plus and slash between spaces join buttons in [[control]]"
            document.say(path, wrong, "leave the spaces around it out")
        elif button in seen:
            document.say(path, f"pad {name!r} has button {button!r} twice", "name it once, or give the two different names")
        seen.add(button)


def _check_places(document: Document, name: str, grid: tuple[int, int], buttons: dict[str, str]) -> None:
    columns, rows = grid
    placed = []
    for button, text in buttons.items():
        place = read_place(text)
        if place.on(columns, rows):
            placed.append((button, text, place))
            continue
        wrong = f"{button!r} at {text!r} does not lie on the pad, whose grid is [{columns}, {rows}]"
        document.say(("pad", name, "buttons", button), wrong, _remedy_outside(place.shape, columns, rows))
    for (one, at, place), (other, there, second) in itertools.combinations(placed, 2):
        if place.box.overlaps(second.box):
            wrong = f"{other!r} at {there!r} overlaps {one!r} at {at!r}"
            remedy = "move one of them: a bar and a shoulder are two columns wide, all others one column, and all one row high"
            document.say(("pad", name, "buttons", other), wrong, remedy)


def _remedy_outside(shape: str, columns: int, rows: int) -> str:
    margin = SHAPES[shape][0] / 4 - 0.5  # of a column, beyond the one its middle needs
    if columns < SHAPES[shape][0] / 2:
        return f"choose another shape, or make the grid wider: a {shape} takes two columns"
    across = f"a {shape}'s column is {1 + margin:g} to {columns - margin:g}"
    return f"{across}{'' if shape == 'shoulder' else f', its row 1 to {rows}'}; or give the pad a larger grid"


def _check_control(document: Document, spec: pf.Project, path: tuple, pad: str, buttons: str) -> None:
    if pad not in spec.pad:
        near = nearest_name(pad, spec.pad)
        document.say(path, f"there is no pad {pad!r}", f"did you mean {near}?" if near else "add a [pad.NAME] table")
        return
    known = list(spec.pad[pad].buttons)
    for button in (button for way in used_buttons(buttons) for button in way):
        if button not in known:
            document.say(path, f"pad {pad!r} has no button {button!r}", _remedy_button(button, known))


def _remedy_button(button: str, known: list[str]) -> str:
    for sign in "+/":
        parts = [part.strip() for part in button.split(sign)]
        if len(parts) > 1 and all(part in known for part in parts):
            return f'put a space on each side of the {sign}: "{f" {sign} ".join(parts)}"'
    near = nearest_name(button, known)
    return f"did you mean {near}?" if near else f"its buttons are {', '.join(known)}"
