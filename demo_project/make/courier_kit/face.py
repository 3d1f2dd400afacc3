"""Heads in three-quarter view: face, eyes, brows, mouth and ear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from courier_kit.canvas import Canvas, Mask
from courier_kit.ramps import BASE, DEEP, INK, LIGHT, LINE, SHADE, WHITE, Ramp, ramp
from courier_kit.shapes import Points, capsule, ellipse, place, smooth
from courier_kit.skeleton import Rig

BLUSH = ramp("d9745f")
MOUTH = ramp("6e2433")


@dataclass(frozen=True)
class Face:
    """Colours and features; shape numbers are shares of the head radius."""

    skin: Ramp
    hair: Ramp
    iris: Ramp
    nose: float = 0.22
    chin: float = 1.0
    jaw: float = 0.0
    brow: float = 0.085
    eye: float = 1.0
    ear: bool = True
    blush: bool = True
    mouth: bool = True


class Head:
    """Places shapes given in head radii: x forward, y down, origin mid-head."""

    def __init__(self, rig: Rig) -> None:
        """Take the head joint of a rig."""
        self.rig, self.r = rig, rig.build.head

    def at(self, points: object) -> Points:
        """Map local points (..., 2) to the canvas."""
        return place(points, self.rig.head, self.rig.head_turn, self.r)

    def curve(self, points: object, closed: bool = True) -> Points:
        """Map and smooth local points (N, 2)."""
        return smooth(self.at(points), closed)

    def oval(self, x: float, y: float, rx: float, ry: float, tilt: float = 0.0) -> Points:
        """Return an ellipse outline from local measures and a tilt in degrees."""
        return ellipse(self.at((x, y)), rx * self.r, ry * self.r, self.rig.head_turn + tilt)


def outline(face: Face) -> list[tuple[float, float]]:
    """Return the face outline (N, 2) in head radii."""
    n, k, j = face.nose, face.chin, face.jaw
    return [
        (-0.98, -0.15), (-0.82, -0.72), (-0.25, -1.04), (0.42, -0.98), (0.86, -0.55), (0.93, -0.16),
        (0.96, 0.02), (0.98 + n, 0.26), (0.95 + n * 0.55, 0.38), (0.9, 0.44), (0.88, 0.62), (0.74 + j, 0.86 * k),
        (0.42 + j, 1.02 * k), (-0.05, 0.94 * k), (-0.52 - j, 0.66), (-0.84, 0.34),
    ]  # fmt: skip


def neck(c: Canvas, rig: Rig, skin: Ramp, radius: float) -> None:
    """Draw the neck with a radius in pixels."""
    c.fill([capsule(rig.spine(0.93), rig.head, radius * 1.15, radius)], skin, depth=radius)


def head(c: Canvas, rig: Rig, face: Face) -> tuple[Head, Mask]:
    """Draw the whole face without hair; returns the placer and the skin mask."""
    h = Head(rig)
    skin = c.fill([h.curve(outline(face))], face.skin, depth=h.r * 0.34, cast=3.0, light=0.35)
    if face.ear:
        _ear(c, h, face)
    if face.blush:
        c.detail(skin, [h.oval(0.2, 0.42, 0.2, 0.12), h.oval(0.84, 0.42, 0.1, 0.1)], BLUSH, band=LIGHT)
    _nose(c, h, face, skin)
    _eyes(c, h, face, skin)
    if face.mouth:
        _mouth(c, h, skin)
    return h, skin


def _ear(c: Canvas, h: Head, face: Face) -> None:
    """Draw the near ear."""
    c.fill([h.oval(-0.36, 0.12, 0.2, 0.27, -12)], face.skin, depth=h.r * 0.14, line=0.55)
    c.stroke(None, h.curve([(-0.42, 0.0), (-0.32, 0.06), (-0.38, 0.2)], closed=False), 0.55, face.skin, DEEP)


def _nose(c: Canvas, h: Head, face: Face, skin: Mask) -> None:
    """Draw the underside of the nose and a nostril line."""
    n = face.nose
    c.detail(skin, [h.oval(0.93 + n * 0.35, 0.2, 0.2 + n * 0.25, 0.15, 24)], face.skin, band=BASE)
    c.detail(skin, [h.oval(0.9 + n * 0.4, 0.14, 0.1 + n * 0.15, 0.06, 24)], face.skin, band=LIGHT)
    c.shade(skin, [h.curve([(0.72, 0.3), (0.95, 0.34), (0.98 + n, 0.3), (0.94 + n * 0.5, 0.44), (0.8, 0.42)])])
    c.stroke(skin, h.curve([(0.74, 0.24), (0.69, 0.34), (0.78, 0.4)], closed=False), 0.6, face.skin, DEEP)


def _eyes(c: Canvas, h: Head, face: Face, skin: Mask) -> None:
    """Draw both eyes and brows for the mood of the pose."""
    mood = h.rig.pose.mood
    k = face.eye
    for x, wide in ((0.34, 0.19), (0.79, 0.125)):
        if mood == "blink":
            lid = h.curve([(x - wide, 0.02), (x, 0.11), (x + wide, 0.02)], closed=False)
            c.stroke(skin, lid, 1.0, INK, DEEP)
        else:
            _open_eye(c, h, face, skin, x, wide * k)
        _brow(c, h, face, x, wide * k, mood)


def _open_eye(c: Canvas, h: Head, face: Face, skin: Mask, x: float, wide: float) -> None:
    """Draw one open eye at a local x with a half width in head radii."""
    mood = h.rig.pose.mood
    tall = 0.25 * face.eye * {"effort": 0.86, "ouch": 1.15, "shout": 1.0}.get(mood, 1.0)
    c.detail(skin, [h.oval(x, -0.02, wide, tall)], WHITE, band=BASE)
    look = x + wide * (0.32 if mood != "ouch" else 0.2)
    shrink = 0.75 if mood == "ouch" else 1.0
    white = c.mask([h.oval(x, -0.02, wide, tall)]) & skin
    c.detail(white, [h.oval(look, 0.01, wide * 0.62 * shrink, tall * 0.74 * shrink)], face.iris, band=SHADE)
    c.detail(white, [h.oval(look + 0.01, 0.01, wide * 0.4 * shrink, tall * 0.5 * shrink)], INK, band=LINE)
    c.detail(white, [h.oval(look - wide * 0.22, -0.09, wide * 0.24, tall * 0.2)], WHITE, band=LIGHT)
    lid = [
        (x - wide * 1.1, -0.02 - tall * 0.35),
        (x - wide * 0.2, -0.03 - tall * 1.02),
        (x + wide * 1.05, -0.02 - tall * 0.5),
    ]
    c.stroke(skin, h.curve(lid, closed=False), 0.95, INK, DEEP)


def _brow(c: Canvas, h: Head, face: Face, x: float, wide: float, mood: str) -> None:
    """Draw one brow; its slope follows the mood."""
    rise = {"effort": 0.03, "keen": -0.01, "ouch": -0.12, "shout": -0.08}.get(mood, -0.03)
    inner, outer = {"effort": (0.04, -0.04), "keen": (0.02, -0.02), "ouch": (-0.1, 0.05)}.get(mood, (0.0, 0.0))
    y = -0.43 + rise
    sign = 1.0 if x < 0.6 else -0.4
    path = [(x - wide * 1.15, y + 0.05 + outer * sign), (x, y - 0.05), (x + wide * 1.1, y + 0.03 + inner * sign)]
    c.stroke(None, h.curve(path, closed=False), face.brow * h.r * 1.4, face.hair, DEEP if x < 0.6 else LINE)


def _mouth(c: Canvas, h: Head, skin: Mask) -> None:
    """Draw the mouth for the mood of the pose."""
    mood = h.rig.pose.mood
    if mood == "shout":
        c.detail(skin, [h.oval(0.66, 0.68, 0.17, 0.15, -8)], MOUTH, band=SHADE)
        c.detail(skin, [h.oval(0.68, 0.585, 0.12, 0.045, -8)], WHITE, band=BASE)
    elif mood == "keen":
        grin = h.curve([(0.46, 0.58), (0.64, 0.62), (0.88, 0.56), (0.82, 0.72), (0.66, 0.8), (0.52, 0.72)])
        c.detail(skin, [grin], MOUTH, band=SHADE)
        c.detail(c.mask([grin]) & skin, [h.at([(0.44, 0.54), (0.9, 0.52), (0.86, 0.65), (0.5, 0.67)])], WHITE, band=BASE)
    elif mood == "ouch":
        c.detail(skin, [h.oval(0.68, 0.7, 0.11, 0.13)], MOUTH, band=SHADE)
    elif mood == "effort":
        c.detail(skin, [h.at([(0.48, 0.62), (0.86, 0.58), (0.84, 0.7), (0.52, 0.73)])], WHITE, line=0.45, band=BASE)
    else:
        smile = [(0.44, 0.6), (0.56, 0.69), (0.74, 0.7), (0.86, 0.62)]
        c.stroke(skin, h.curve(smile, closed=False), 0.8, MOUTH, SHADE)


def hair_lock(c: Canvas, h: Head, face: Face, points: list[tuple[float, float]], depth: float = 3.0) -> Mask:
    """Draw one mass of hair from local points (N, 2)."""
    return c.fill([h.curve(points)], face.hair, depth=depth, cast=1.4, line=0.65)


def strands(c: Canvas, h: Head, face: Face, clip: Mask, lines: list[list[tuple[float, float]]]) -> None:
    """Draw hair lines inside a mass of hair."""
    for line in lines:
        c.stroke(clip, h.curve(np.array(line), closed=False), 0.6, face.hair, DEEP)
