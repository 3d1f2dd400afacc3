"""Isk: small and quick, hooded cloak, copper fringe."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face, props
from courier_kit.canvas import Canvas
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import BRASS, LEATHER, ramp
from courier_kit.shapes import Points, ellipse, heading, lerp, pt, smooth
from courier_kit.skeleton import Build, Rig

CLOAK = ramp("7d4a8f")
LINING = ramp("d9a0b8")
TUNIC = ramp("e6dcc4")
LEGGINGS = ramp("5d6d80")
BOOTS = ramp("8a5a3c")
SOLE = ramp("3a2a30")
SKIN = ramp("f0c6a4")
FACE = face.Face(SKIN, ramp("c4622d"), ramp("3f8a6a"), nose=0.12, chin=0.94, eye=1.14, ear=False)
BUILD = Build(22.5, 21.5, 4.5, 5, 7, 30, 2.5, 15, 16, 15, 8, 3.2)
MANNER = Manner(stride=1.1, bob=1.1, arms=1.05, lean=3)
PROFILE = [(-0.2, 8, 8), (0.05, 9, 9), (0.4, 7.8, 7.8), (0.75, 9.5, 9.5), (1.0, 5, 6)]


def _back(rig: Rig) -> tuple[Points, Points]:
    """Hang the cloak's back edge from the near shoulder."""
    return rig.spine(0.86, -10), heading(-26 - 0.4 * rig.lean)


def _front(rig: Rig) -> tuple[Points, Points]:
    """Hang the cloak's far edge from the far side."""
    return rig.spine(0.84, 3), heading(-5 - 0.3 * rig.lean)


def _peak(rig: Rig) -> tuple[Points, Points]:
    """Hang the hood's peak from the back of the head."""
    return rig.head + pt(-9, -10), heading(-100)


def _cloak(c: Canvas, rig: Rig, back: np.ndarray, front: np.ndarray) -> None:
    """Draw the long cloak behind body and legs, lining to the front."""
    # The cloth is cut as a bell: it stands off further down.
    back = back - np.linspace(0, 1, len(back))[:, None] * (6, 0)
    hem = [lerp(back[-1], front[-1], t) + pt(0, 2.5) for t in (0.3, 0.7)]
    lining = c.fill([smooth([rig.spine(0.95, 2), *front[1:], *hem[::-1], *back[::-1]], steps=5)], LINING, depth=4, dim=1)
    body.folds(c, lining, [rig.spine(0.5, -2), rig.spine(0.5, 2)], [hem[0], hem[1]], 3)
    mid = [lerp(b, f, 0.42) for b, f in zip(back, front, strict=True)]
    panel = [rig.spine(0.95, -2), *mid[1:], lerp(back[-1], mid[-1], 0.5) + pt(0, 2), *back[::-1]]
    mask = c.fill([smooth(panel, steps=5)], CLOAK, depth=6, cast=2)
    body.folds(c, mask, [lerp(back[1], mid[1], t) for t in (0.4, 0.75)], [lerp(back[-1], mid[-1], t) for t in (0.25, 0.7)], 2.6)


def _tunic(c: Canvas, rig: Rig) -> None:
    """Draw the short tunic with its belt and pouch."""
    front, back = body.skirt_edges(rig, 0.2, 8.2, 8.2, 15, 2.5)
    outline = [rig.spine(t, f) for t, f, _ in reversed(PROFILE[2:])] + front
    outline += [lerp(front[-1], back[-1], 0.5) + pt(0, 1.5)] + back[::-1] + [rig.spine(t, -b) for t, _, b in PROFILE[2:]]
    mask = c.fill([smooth(outline, steps=5)], TUNIC, depth=5.5, cast=3)
    c.detail(mask, [body.band(rig, 0.12, 0.25)], LEATHER, line=0.6)
    props.button(c, mask, rig.spine(0.19, 4), 1.6)
    body.folds(
        c,
        mask,
        [rig.spine(0.1, 2), rig.spine(0.1, -4)],
        [lerp(front[-1], back[-1], 0.35), lerp(front[-1], back[-1], 0.75)],
    )


def _shoulders(c: Canvas, rig: Rig, back: np.ndarray) -> None:
    """Draw the short cape that covers shoulders and upper arm."""
    reach = lerp(rig.near.shoulder, rig.near.elbow, 0.62)
    low = reach + pt(0, 3)
    outline = [
        rig.spine(1.04, 6), rig.spine(0.86, 11.5), rig.spine(0.58, 10), rig.spine(0.5, 3),
        low + pt(5, 0.5), low + pt(-4, 0),
        lerp(back[1], reach, 0.25) + pt(-1, 0), rig.spine(0.88, -12), rig.spine(1.04, -7),
    ]  # fmt: skip
    mask = c.fill([smooth(outline, steps=5)], CLOAK, depth=5.5, cast=2.5)
    body.folds(c, mask, [rig.spine(0.98, 0), rig.spine(0.98, -5)], [lerp(low, rig.spine(0.5, 3), 0.4), low - pt(3, 0)], 2.4)
    c.fill([ellipse(rig.spine(0.93, 6.5), 2.4, 2.6)], BRASS, depth=1.5, line=0.6)


def _hood_back(c: Canvas, rig: Rig, peak: np.ndarray) -> None:
    """Draw the hood behind the face."""
    h = face.Head(rig)
    tip = peak[-1]
    outline = [
        *h.at([(0.62, -1.16), (0.0, -1.32), (-0.7, -1.12)]),
        tip + pt(2, -2),
        tip,
        *h.at([(-1.22, 0.1), (-1.0, 0.8), (-0.3, 1.25), (0.5, 1.2), (0.9, 0.4)]),
    ]
    c.fill([smooth(outline, steps=5)], CLOAK, depth=6, cast=3)


def _hood_rim(c: Canvas, rig: Rig) -> None:
    """Draw the hood's front rim over the head, leaving the face open."""
    h = face.Head(rig)
    rim = [
        (0.98, -0.72), (0.55, -1.2), (-0.1, -1.34), (-0.7, -1.1), (-1.12, -0.5), (-1.14, 0.3), (-0.75, 1.0),
        (0.0, 1.3), (0.6, 1.22),
        (0.46, 1.0), (-0.06, 0.86), (-0.34, 0.4), (-0.36, -0.2), (-0.06, -0.66), (0.4, -0.84),
    ]  # fmt: skip
    mask = c.fill([h.curve(rim)], CLOAK, depth=5, cast=3.5)
    edge = [(0.9, -0.72), (0.4, -0.9), (-0.1, -0.74), (-0.43, -0.22), (-0.42, 0.42), (-0.12, 0.94), (0.5, 1.12)]
    c.stroke(mask, h.curve(edge, closed=False), 1.9, LINING, 2)
    c.stroke(mask, h.curve([(-0.5, -1.1), (-0.75, -0.5), (-0.7, 0.1)], closed=False), 0.7, CLOAK, 1)
    c.stroke(mask, h.curve([(-1.0, 0.1), (-0.72, 0.5), (-0.5, 0.9)], closed=False), 0.7, CLOAK, 1)


def _head(c: Canvas, rig: Rig, peak: np.ndarray) -> None:
    """Draw the hooded head with a copper fringe and freckles."""
    _hood_back(c, rig, peak)
    h, skin = face.head(c, rig, FACE)
    freckles = [h.oval(x, y, 0.032, 0.032) for x, y in ((0.52, 0.32), (0.62, 0.42), (0.44, 0.44), (0.86, 0.36))]
    c.detail(skin, freckles, FACE.hair, band=2)
    fringe = [
        (-0.4, -0.3),
        (0.0, -0.95),
        (0.6, -1.0),
        (0.98, -0.62),
        (1.02, -0.28),
        (0.8, -0.52),
        (0.62, -0.3),
        (0.42, -0.56),
        (0.12, -0.34),
        (-0.06, -0.1),
        (-0.12, 0.36),
        (-0.34, 0.5),
    ]
    lock = face.hair_lock(c, h, FACE, fringe)
    face.strands(c, h, FACE, lock, [[(0.1, -0.8), (-0.1, -0.3)], [(0.45, -0.85), (0.4, -0.6)]])
    _hood_rim(c, rig)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Isk."""
    back, front = cloth["back"], cloth["front"]
    _cloak(c, rig, back, front)
    body.arm(c, rig.far, TUNIC, (4.4, 4.3, 3.8, 3.6, 3.2), 1)
    body.hand(c, rig.far, SKIN, 3.8, dim=1)
    for side, dim in ((rig.far, 1), (rig.near, 0)):
        body.leg(c, side, LEGGINGS, (6.6, 5.9, 4.8, 4.7, 3.6), dim)
        body.boot(c, rig, side, BOOTS, SOLE, size=6, shaft=0.5, dim=dim)
    _tunic(c, rig)
    body.arm(c, rig.near, TUNIC, (5.0, 4.8, 4.3, 4.1, 3.6))
    body.cuff(c, rig.near, LEATHER, 4.2)
    near_hand(c, rig, SKIN, 4.2)
    _shoulders(c, rig, back)
    _head(c, rig, cloth["peak"])


LOOK = Look(
    "isk", BUILD, MANNER,
    [
        Strand("back", _back, 50, 5, stiff=0.03, weight=2.2, drift=1.7),
        Strand("front", _front, 48, 5, stiff=0.03, weight=2.2, drift=1.3),
        Strand("peak", _peak, 9, 2, stiff=0.3, drift=0.4),
    ],
    _draw,
)  # fmt: skip
