"""Where the buttons of a pad are: the notation of an author, and the box each button takes on the pad's grid."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pipeline.plain.errors import nearest_name

# Shape -> width and height of its box, in half columns and half rows. A shoulder has no row: it is on the upper edge.
SHAPES = {"round": (2, 2), "square": (2, 2), "cross": (2, 2), "bar": (4, 2), "shoulder": (4, 2)}
_NUMBER = re.compile(r"[0-9]{1,3}(\.[05])?")
_AS = 'write column, row and perhaps a shape, such as "9 3", "4.5 2 bar", "2 3 cross" or "2 shoulder"'


class Box(NamedTuple):
    """What a button takes, in halves of a column and of a row; the face begins at 1 and ends at twice its size plus 1."""

    left: int
    top: int
    right: int
    bottom: int

    def overlaps(self, other: Box) -> bool:
        """Return whether two boxes share more than an edge."""
        return self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom


class Place(NamedTuple):
    """Middle of a button in half columns and half rows, and its shape; a shoulder's row is 0."""

    column: int
    row: int
    shape: str

    @property
    def box(self) -> Box:
        """The box around the middle."""
        width, height = SHAPES[self.shape]
        left, top = self.column - width // 2, self.row - height // 2
        return Box(left, top, left + width, top + height)

    def on(self, columns: int, rows: int) -> bool:
        """Return whether the button is wholly on a face of this many columns and rows."""
        box = self.box
        least = -1 if self.shape == "shoulder" else 1
        return box.left >= 1 and box.top >= least and box.right <= 2 * columns + 1 and box.bottom <= 2 * rows + 1


def read_place(text: str) -> Place:
    """Return a place as an author writes it: column and row from 1 at the top left, in halves, and a shape.

    Args:
        text: such as ``9 3`` (round), ``4.5 2 bar``, ``2 3 cross``, or ``2 shoulder`` without a row.

    Raises:
        ValueError: written in another way; its text is what is wrong and, after ``; ``, what to do.
    """
    numbers = [word for word in text.split() if _NUMBER.fullmatch(word)]
    words = text.split()[len(numbers) :]
    if len(words) > 1 or not numbers or any(map(_NUMBER.fullmatch, words)) or len(numbers) > 2:
        raise ValueError(f"{text!r} is not a place of a button; {_AS}")
    shape = words[0] if words else "round"
    if shape not in SHAPES:
        if shape[0].isdigit():
            raise ValueError(f"{text!r} is not a place of a button: {shape} is neither a whole nor a half number; {_AS}")
        near = nearest_name(shape, SHAPES)
        remedy = f"did you mean {near}?" if near else f"the shapes are {', '.join(SHAPES)}"
        raise ValueError(f"unknown shape {shape!r} in {text!r}; {remedy}")
    if (shape == "shoulder") != (len(numbers) == 1):
        remedy = "leave its row out: it is on the upper edge" if shape == "shoulder" else _AS
        raise ValueError(f"{text!r} has {'a row too many' if shape == 'shoulder' else 'no row'}; {remedy}")
    column, row = (_halves(number) for number in (*numbers, "0")[:2])
    return Place(column, row, shape)


def check_place(text: str) -> str:
    """Return a place as it is written.

    Raises:
        ValueError: it cannot be read, see ``read_place``.
    """
    read_place(text)
    return text


def used_buttons(text: str) -> list[list[str]]:
    """Return the ways a control is made: ``A + B / C`` is A with B, or C."""
    return [way.split(" + ") for way in text.split(" / ")]


def what_buttons_do(controls: Iterable[tuple[str, Mapping[str, str]]]) -> dict[str, str]:
    """Return button -> what it does on any pad, one action after another; buttons that act only together are left out.

    Args:
        controls: action, and pad -> its buttons, as the project says.
    """
    does: dict[str, list[str]] = {}
    for action, buttons in controls:
        ways = [way for text in buttons.values() for way in used_buttons(text) if len(way) == 1]
        for button in dict.fromkeys(button for way in ways for button in way):
            does.setdefault(button, []).append(action)
    return {button: "; ".join(dict.fromkeys(actions)) for button, actions in does.items()}


def _halves(number: str) -> int:
    whole, _, half = number.partition(".")
    return 2 * int(whole) + (half == "5")
