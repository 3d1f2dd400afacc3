"""Orrin: old brass diving helmet, canvas suit, heavy boots."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face
from courier_kit.canvas import Canvas, Mask
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import BRASS, DEEP, IRON, LEATHER, LIGHT, ramp
from courier_kit.shapes import Points, ellipse, heading, place, pt, ribbon, smooth
from courier_kit.skeleton import Build, Rig

SUIT = ramp("7fa39b")
PATCH = ramp("c9b48a")
GLOVES = ramp("a5553a")
BOOTS = ramp("5f6478")
SOLE = ramp("b08a3e")
HOSE = ramp("b5533c")
DARK = ramp("2f3f4c")
GLASS = ramp("bfe0de")
SKIN = ramp("e3a987")
FACE = face.Face(SKIN, ramp("e8e4dc", 0.8), ramp("4a6a8a"), nose=0.2, ear=False, brow=0.12, mouth=False)
BUILD = Build(22, 20.5, 6.5, 8, 9.5, 40, 2, 12, 18.5, 16.5, 13, 3.5)
MANNER = Manner(stride=1.15, bob=1.15, lift=0.75, arms=0.65, lean=1, spread=9, stance=1.8, breath=1.1)
PROFILE = [
    (-0.2, 11, 12),
    (0.0, 14, 13.5),
    (0.25, 14.5, 13.5),
    (0.55, 15.5, 15),
    (0.8, 16, 16),
    (0.95, 11, 12),
    (1.0, 6, 8),
]
HELMET = 19.0


def _hose(rig: Rig) -> tuple[Points, Points]:
    """Hang the loose air hose from the back of the helmet."""
    return _centre(rig) + place((-15, 6), pt(0, 0), rig.head_turn), heading(-35)


def _centre(rig: Rig) -> Points:
    """Return the middle of the helmet (2,)."""
    return rig.head + pt(-1.5, -1.5)


def _suit(c: Canvas, rig: Rig) -> Mask:
    """Draw the canvas trunk with seams, patch and weight belt."""
    mask = c.fill([body.trunk(rig, PROFILE)], SUIT, depth=9, cast=3)
    body.folds(
        c,
        mask,
        [rig.spine(0.6, 10), rig.spine(0.55, -6), rig.spine(0.5, 3)],
        [rig.spine(0.3, 4), rig.spine(0.3, 2), rig.spine(0.28, 10)],
        2,
    )
    c.detail(mask, [place([(-4, -4), (4, -3.4), (3.6, 4), (-4, 3.6)], rig.spine(0.46, -4), rig.lean + 8)], PATCH, line=0.5)
    belt = c.detail(mask, [body.band(rig, 0.08, 0.22, sag=2)], LEATHER, line=0.7)
    c.detail(belt, [place([(-2.6, -3), (2.6, -3), (2.6, 3), (-2.6, 3)], rig.spine(0.13, 9), rig.lean)], BRASS, line=0.6)
    for x in (-8.5, 0.5):
        block = place([(-3.6, -4), (3.6, -4), (3.6, 4.6), (-3.6, 4.6)], rig.spine(0.12, x), rig.lean)
        c.fill([block], IRON, depth=3, cast=1.5, line=0.7)
    return mask


def _collar(c: Canvas, rig: Rig) -> None:
    """Draw the brass breastplate with bolts."""
    plate = [
        rig.spine(1.04, 12),
        rig.spine(0.9, 17.5),
        rig.spine(0.72, 14),
        rig.spine(0.64, 3),
        rig.spine(0.7, -10),
        rig.spine(0.88, -17),
        rig.spine(1.04, -13),
    ]
    mask = c.fill([smooth(plate, steps=5)], BRASS, depth=5, cast=3)
    for t, x in ((0.86, 12.5), (0.75, 6), (0.74, -3), (0.84, -11.5)):
        c.detail(mask, [ellipse(rig.spine(t, x), 1.5, 1.5)], IRON, line=0.5, band=LIGHT)


def _helmet(c: Canvas, rig: Rig) -> None:
    """Draw the round helmet, its windows and the face behind the front one."""
    o, a = _centre(rig), rig.head_turn
    ring = place([(-13, 13), (13, 13), (15, 18.5), (-15, 18.5)], o, a * 0.6)
    c.fill([smooth(ring, steps=3)], BRASS, depth=3, cast=2)
    shell = c.fill([ellipse(o, HELMET, HELMET * 0.98)], BRASS, depth=9, cast=4, light=0.3)
    c.detail(shell, [ellipse(place((-8, -10.5), o, a), 4.4, 2.2, a - 45)], BRASS, band=LIGHT)
    c.stroke(shell, smooth(place([(-5, -20), (-9.5, -8), (-9.5, 8), (-6, 20)], o, a), closed=False), 0.8, BRASS, DEEP)
    _port(c, place((-12.6, 1), o, a), 3.6, 4.8, a, False, rig)
    _port(c, place((6.2, 1.5), o, a), 11.6, 12.6, a, True, rig)
    c.fill([smooth(place([(-3.5, -18.2), (-3, -21.5), (3, -21.5), (3.5, -18.2)], o, a), steps=3)], BRASS, depth=2, line=0.7)


def _port(c: Canvas, at: Points, rx: float, ry: float, a: float, face_in: bool, rig: Rig) -> None:
    """Draw one round window with its rim and bolts, radii in pixels."""
    rim = c.fill([ellipse(at, rx, ry, a)], BRASS, depth=3, cast=1.2, line=0.7)
    inner = c.detail(rim, [ellipse(at, rx - 2.4, ry - 2.4, a)], DARK if face_in else GLASS, line=0.7, band=2)
    if not face_in:
        return
    _face(c, rig, inner)
    for angle in range(20, 380, 45):
        c.detail(rim, [ellipse(place((rx - 1.2, 0), at, a + angle), 0.75, 0.75)], IRON, band=DEEP)
    shine = place([(-6.5, -2), (-2, -8), (-0.2, -8), (-6, 0)], at, a)
    c.detail(inner, [shine], GLASS, band=LIGHT)


def _face(c: Canvas, rig: Rig, inner: Mask) -> None:
    """Draw the moustached face, kept inside the front window."""
    ids, bands = c.ids.copy(), c.bands.copy()
    h, _ = face.head(c, rig, FACE)
    blow = 0.1 if rig.pose.mood in ("shout", "ouch") else 0.0
    tache = [
        (0.34, 0.52),
        (0.66, 0.42),
        (1.0, 0.44),
        (1.3, 0.66 - blow),
        (0.98, 0.74),
        (0.72, 0.64),
        (0.4, 0.84),
        (0.04, 0.7 - blow),
    ]
    c.fill([h.curve(tache)], FACE.hair, depth=2.2, cast=1.4, line=0.6)
    c.ids[~inner], c.bands[~inner] = ids[~inner], bands[~inner]


def _arm(c: Canvas, rig: Rig, near: bool) -> None:
    """Draw one canvas arm with a glove."""
    side, dim = (rig.near, 0) if near else (rig.far, 1)
    mask = body.arm(c, side, SUIT, (8.0, 7.6, 6.4, 6.2, 5.2), dim)
    body.folds(c, mask, [side.elbow - pt(5, 1)], [side.elbow + pt(4, -1)], 2.4)
    body.cuff(c, side, BRASS, 5.6, dim)
    if near:
        near_hand(c, rig, GLOVES, 5.6)
    else:
        body.hand(c, side, GLOVES, 5.4, dim=1)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Orrin."""
    path = smooth(cloth["hose"], closed=False)
    hose = c.fill([ribbon(path, (2.2, 2.2))], HOSE, depth=2)
    for i in range(2, len(path) - 1, 3):
        c.stroke(hose, np.array([path[i] - (3, -0.6), path[i] + (3, 0.6)]), 0.6, HOSE, DEEP)
    c.fill([ellipse(path[-1], 2.8, 2.8)], BRASS, depth=1.6)
    _arm(c, rig, near=False)
    for side, dim in ((rig.far, 1), (rig.near, 0)):
        body.leg(c, side, SUIT, (10.5, 9.6, 8.0, 7.8, 6.6), dim)
        body.boot(c, rig, side, BOOTS, SOLE, size=9.5, shaft=0.38, dim=dim)
    _suit(c, rig)
    _collar(c, rig)
    _helmet(c, rig)
    _arm(c, rig, near=True)


LOOK = Look("orrin", BUILD, MANNER, [Strand("hose", _hose, 34, 5, stiff=0.02, weight=1.9, drift=1.1)], _draw)
