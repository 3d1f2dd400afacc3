"""The buttons of a drawn pad: their outlines, the names on them, and arms of a direction cross put together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from pipeline.packet.sections.pad_leaders import Label, Rect
from pipeline.packet.typeset import style

# What stays free in a button's box at each side, above and below, in cells; a shoulder is on the body's edge.
_INSET = {
    "round": (0.11, 0.11, 0.11), "square": (0.11, 0.11, 0.11), "cross": (0.0, 0.0, 0.0), "bar": (0.14, 0.24, 0.24),
    "shoulder": (0.1, 0.0, 0.42),
}  # fmt: skip
_ARMS = ((0, -1), (1, 0), (0, 1), (-1, 0))  # from a cross's middle, in cells
_LETTER_ROOM = 0.88  # of a button's width or a disc's diameter, for the letters on it
_CAPITAL = 0.73  # height of a capital of the font, of its size


@dataclass(frozen=True)
class Cap:
    """One button as it is drawn: outline, name, whether it does anything, and where an arm points (0, 0: not an arm)."""

    shape: str
    box: Rect
    name: str
    used: bool
    points: tuple[int, int] = (0, 0)


class Cross(NamedTuple):
    """A direction cross: its middle cell, and its arms."""

    hub: Rect
    arms: tuple[Cap, ...]


@dataclass(frozen=True)
class Key:
    """What has one label: a button, or those arms of a direction cross that do the same.

    Attributes:
        box: around the button, or around the arm that the label's line leads to, in points, y down from the top of the pad's face.
        cross: the middle cell and all arms of the cross, for the first of its keys; None for the others and for buttons.
        names, does: name or names, and what each of them does.
    """

    box: Rect
    caps: tuple[Cap, ...]
    cross: Cross | None
    names: str
    does: tuple[str, ...]


def keys_of(pad: dict[str, Any], left: float, cell: float) -> list[Key]:
    """Return the keys of a pad as ``pads_content`` returns it.

    Args:
        left: x of its grid's left edge in points.
        cell: side of a cell in points.
    """
    buttons, keys, done = pad["buttons"], [], set()
    for hub in _hubs(buttons):
        arms = {at: _cap(buttons[at], left, cell, way) for way in _ARMS for at in _arms_at(buttons, hub, way) if at not in done}
        done.update(arms)
        middle = (left + hub[0] * cell, hub[1] * cell, left + (hub[0] + 1) * cell, (hub[1] + 1) * cell)
        on_left = hub[0] + 0.5 < pad["columns"] / 2
        keys += _arm_keys(buttons, arms, Cross(middle, tuple(arms.values())), on_left)
    for at, button in enumerate(buttons):
        if at not in done:
            cap = _cap(button, left, cell)
            keys.append(Key(cap.box, (cap,), None, button["name"], tuple(button["does"])))
    return keys


def _arm_keys(buttons: list[dict[str, Any]], arms: dict[int, Cap], cross: Cross, on_left: bool) -> Iterator[Key]:
    """Yield a key for the arms of a cross that do the same; a line leads to that next to the nearer side."""
    same: dict[tuple[str, ...], list[int]] = {}
    for at in sorted(arms):
        same.setdefault(tuple(buttons[at]["does"]), []).append(at)
    for rank, (does, own) in enumerate(same.items()):
        pointed = min((arms[at] for at in own), key=lambda cap: cap.points[0] if on_left else -cap.points[0])
        names = ", ".join(buttons[at]["name"] for at in own)
        yield Key(pointed.box, tuple(arms[at] for at in own), None if rank else cross, names, does)


def _hubs(buttons: list[dict[str, Any]]) -> Iterator[tuple[float, float]]:
    """Yield the cells that have arms of a cross on two opposite sides and no button in them, each arm in one cross only."""
    seen: set[int] = set()
    corners = [button["box"][:2] for button in buttons if button["shape"] == "cross"]
    for x, y in dict.fromkeys((x - dx, y - dy) for x, y in corners for dx, dy in _ARMS):
        arms = {way: _arms_at(buttons, (x, y), way) for way in _ARMS}
        used = {at for found in arms.values() for at in found}
        whole = any(arms[way] and arms[(-way[0], -way[1])] for way in _ARMS)
        if whole and not used & seen and not any(_covers(button["box"], x, y) for button in buttons):
            seen |= used
            yield x, y


def _covers(box: list[float], x: float, y: float) -> bool:
    return box[0] < x + 1 and x < box[2] and box[1] < y + 1 and y < box[3]


def _arms_at(buttons: list[dict[str, Any]], hub: tuple[float, float], way: tuple[int, int]) -> list[int]:
    place = [hub[0] + way[0], hub[1] + way[1]]
    return [at for at, one in enumerate(buttons) if one["shape"] == "cross" and one["box"][:2] == place]


def _cap(button: dict[str, Any], left: float, cell: float, points: tuple[int, int] = (0, 0)) -> Cap:
    side, above, below = (part * cell for part in _INSET[button["shape"]])
    x, y, right, bottom = (edge * cell for edge in button["box"])
    box = (left + x + side, y + above, left + right - side, bottom - below)
    return Cap(button["shape"], box, button["name"], bool(button["does"]), points)


def draw_keys(canvas: Canvas, keys: list[Key], cell: float, size: float) -> None:
    """Draw all keys; y of the canvas grows upwards from the top of the face.

    Args:
        cell: side of a cell in points.
        size: of the letters on buttons in points.
    """
    canvas.setLineWidth(1)
    for key in keys:
        if key.cross:
            _draw_cross(canvas, key.cross, cell)
    for key in keys:
        for cap in key.caps:
            _draw_cap(canvas, cap, cell, size)


def _draw_cross(canvas: Canvas, cross: Cross, cell: float) -> None:
    """Draw a cross as one dark outline; its arms then only add what distinguishes them."""
    canvas.setFillColor(style.INK)
    canvas.setStrokeColor(style.INK)
    for box in (cross.hub, *(cap.box for cap in cross.arms)):
        _rectangle(canvas, box, cell * 0.12)
    # Squares over the joints of arms and middle, whose rounded corners would leave notches.
    for cap in cross.arms:
        x, y = ((cap.box[side] + cap.box[side + 2] - cap.points[side] * cell) / 2 for side in (0, 1))
        canvas.rect(x - cell / 2, -y - cell / 2, cell, cell, stroke=0, fill=1)


def _draw_cap(canvas: Canvas, cap: Cap, cell: float, size: float) -> None:
    dark = cap.used or cap.points != (0, 0)
    canvas.setFillColor(style.INK if dark else style.PAPER)
    canvas.setStrokeColor(style.INK)
    left, top, right, bottom = cap.box
    if cap.points != (0, 0):
        _draw_arrow(canvas, cap, cell)
        return
    if cap.shape == "round":
        canvas.circle((left + right) / 2, -(top + bottom) / 2, (right - left) / 2, stroke=1, fill=1)
    else:
        _rectangle(canvas, cap.box, {"bar": 0.26, "shoulder": 0.3}.get(cap.shape, 0.15) * cell)
    _draw_name(canvas, cap, style.PAPER if dark else style.INK, size)


def _draw_arrow(canvas: Canvas, cap: Cap, cell: float) -> None:
    """Draw the triangle of an arm: filled light where it does something, else only its outline."""
    (dx, dy), size = cap.points, cell * 0.22
    x, y = (cap.box[0] + cap.box[2]) / 2, -(cap.box[1] + cap.box[3]) / 2
    path = canvas.beginPath()
    path.moveTo(x + dx * size, y - dy * size)
    path.lineTo(x - dx * size * 0.6 + dy * size, y + dy * size * 0.6 + dx * size)
    path.lineTo(x - dx * size * 0.6 - dy * size, y + dy * size * 0.6 - dx * size)
    path.close()
    canvas.setFillColor(style.PAPER if cap.used else style.INK)
    canvas.setStrokeColor(style.PAPER)
    canvas.setLineWidth(0.6)
    canvas.drawPath(path, stroke=1, fill=1)
    canvas.setLineWidth(1)


def _rectangle(canvas: Canvas, box: Rect, corner: float) -> None:
    left, top, right, bottom = box
    canvas.roundRect(left, -bottom, right - left, bottom - top, min(corner, (bottom - top) / 2), stroke=1, fill=1)


def _draw_name(canvas: Canvas, cap: Cap, colour: Any, size: float) -> None:
    """Set the name on the button where it fits; its label names it in any case."""
    left, top, right, bottom = cap.box
    width, height = stringWidth(cap.name, style.STRONG, size), size * _CAPITAL
    across = math.hypot(width, height) if cap.shape == "round" else width
    if across > (right - left) * _LETTER_ROOM or height > (bottom - top) * _LETTER_ROOM or "\n" in cap.name:
        return
    canvas.setFillColor(colour)
    canvas.setFont(style.STRONG, size)
    canvas.drawCentredString((left + right) / 2, -(top + bottom) / 2 - height / 2, cap.name)


def in_order(words: list[Any], labels: Iterable[Label]) -> list[tuple[Any, Label]]:
    """Return words with their labels as they are read: down the left column, then down the right one."""
    return sorted(zip(words, labels, strict=True), key=lambda pair: (pair[1].side == "right", pair[1].top))
