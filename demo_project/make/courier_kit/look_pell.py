"""Pell: tall and thin, long coat, flat cap, a parcel on a pole."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face, props
from courier_kit.canvas import Canvas, Mask
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import BRASS, ramp
from courier_kit.shapes import Points, capsule, heading, lerp, place, pt, smooth, turn
from courier_kit.skeleton import Arm, Build, Rig

COAT = ramp("3f7a5c")
LINING = ramp("2d5547")
TROUSERS = ramp("4a4a5c")
BOOTS = ramp("5a3b2e")
SOLE = ramp("2c2430")
CAP = ramp("8a6a4a")
NECKCLOTH = ramp("e0a93a")
SKIN = ramp("e8b48c")
FACE = face.Face(SKIN, ramp("6b3f26"), ramp("3c6e8f"), nose=0.32, chin=1.12, jaw=0.02)
BUILD = Build(30, 29, 5, 5.5, 7.5, 37, 3.5, 12.5, 21, 19, 8, 3)
MANNER = Manner(stride=1.0, carry=Arm(26, 112), loose=0.1, arms=0.9)
PROFILE = [(0.0, 8.5, 8.0), (0.3, 7.6, 7.2), (0.62, 9.8, 9.0), (0.84, 9.5, 9.5), (0.98, 5.0, 5.5)]


def _tail(rig: Rig) -> tuple[Points, Points]:
    """Hang the coat tail from the back of the waist."""
    return rig.spine(0.2, -7.5), heading(-10 - 0.4 * rig.lean)


def _bundle(rig: Rig) -> tuple[Points, Points]:
    """Hang the parcel from the back end of the pole."""
    return _pole_end(rig), pt(0, 1)


def _pole_angle(rig: Rig) -> float:
    """Return the pole's tilt in degrees; the back end rides high."""
    return 17 + 0.35 * rig.chest_lean


def _grip(rig: Rig) -> Points:
    """Return the far hand's grip (2,)."""
    return rig.far.wrist + heading(rig.far.forearm) * 3.5


def _pole_end(rig: Rig) -> Points:
    """Return the back end of the pole (2,)."""
    return place((-57, 0), _grip(rig), _pole_angle(rig))


def _coat(c: Canvas, rig: Rig, tail: np.ndarray) -> Mask:
    """Draw the coat, from the shoulders to the open skirt over the near leg."""
    front, _ = body.skirt_edges(rig, 0.2, 8.0, 7.5, 33, 5.5)
    upper_front = [rig.spine(t, f) for t, f, _ in reversed(PROFILE[1:])]
    upper_back = [rig.spine(t, -b) for t, _, b in PROFILE[1:]]
    hem = [lerp(front[-1], tail[-1], 0.35) + pt(0, 2.0), lerp(front[-1], tail[-1], 0.7) + pt(0, 2.5)]
    outline = upper_front + front[1:] + hem + list(tail[::-1]) + upper_back
    # A raised knee stays under the cloth.
    high = [s for s in (rig.near, rig.far) if s.knee[1] - s.hip[1] < 0.62 * BUILD.thigh and s.knee[0] > s.hip[0]]
    thighs = [capsule(s.hip, lerp(s.hip, s.knee, 0.86), 7.6, 6.2) for s in high]
    mask = c.fill([smooth(outline, steps=5), *thighs], COAT, depth=7, cast=4)
    body.folds(c, mask, [rig.spine(0.14, 0), rig.spine(0.14, 4), rig.spine(0.14, -4)],
               [hem[0], lerp(front[-1], hem[0], 0.4), lerp(hem[1], tail[-1], 0.3)])  # fmt: skip
    return mask


def _trim(c: Canvas, rig: Rig, coat: Mask) -> None:
    """Draw belt, opening, pocket and buttons."""
    opening = smooth([rig.spine(0.95, 4), rig.spine(0.6, 6), rig.spine(0.2, 5), rig.spine(-0.15, 6.5)], closed=False)
    c.stroke(coat, opening, 0.8, COAT)
    c.detail(coat, [body.band(rig, 0.14, 0.25)], BOOTS, line=0.6)
    c.detail(coat, [place([(-2, -2.2), (2, -2.2), (2, 2.2), (-2, 2.2)], rig.spine(0.2, 4.5), rig.lean)], BRASS, line=0.5)
    for t in (0.42, 0.58, 0.74):
        props.button(c, coat, rig.spine(t, 2.5))
    lapel = [rig.spine(0.98, 5), rig.spine(0.7, 7.5), rig.spine(0.62, 3.5), rig.spine(0.95, -2)]
    c.detail(coat, [np.array(lapel)], LINING, line=0.55)


def _neckcloth(c: Canvas, rig: Rig) -> None:
    """Draw the yellow cloth around the neck."""
    wrap = smooth([rig.spine(1.08, 5.0), rig.spine(0.96, 7.0), rig.spine(0.88, 2), rig.spine(0.93, -6), rig.spine(1.06, -5)])
    mask = c.fill([wrap], NECKCLOTH, depth=3, cast=2)
    c.stroke(mask, smooth([rig.spine(1.02, 5), rig.spine(0.96, 0), rig.spine(1.0, -5)], closed=False), 0.6, NECKCLOTH, 1)
    c.fill([smooth([rig.spine(0.94, 4), rig.spine(0.8, 7.5), rig.spine(0.74, 4.5), rig.spine(0.9, 2)])], NECKCLOTH, depth=2)


def _head(c: Canvas, rig: Rig) -> None:
    """Draw the head with side hair and the flat cap."""
    h, _ = face.head(c, rig, FACE)
    lock = face.hair_lock(
        c,
        h,
        FACE,
        [
            (-0.98, -0.4),
            (-0.3, -0.6),
            (-0.12, -0.3),
            (-0.22, 0.02),
            (-0.42, -0.12),
            (-0.55, 0.42),
            (-0.86, 0.5),
            (-1.05, 0.1),
        ],
    )
    face.strands(c, h, FACE, lock, [[(-0.8, -0.3), (-0.85, 0.2)], [(-0.6, -0.3), (-0.68, 0.3)]])
    crown = [
        (-1.12, -0.42),
        (-1.2, -0.85),
        (-0.75, -1.3),
        (0.1, -1.42),
        (0.95, -1.05),
        (1.1, -0.62),
        (0.3, -0.55),
        (-0.6, -0.4),
    ]
    mask = c.fill([h.curve(crown)], CAP, depth=5, cast=2.5)
    c.stroke(mask, h.curve([(-0.6, -1.25), (-0.1, -0.9), (-0.05, -0.55)], closed=False), 0.6, CAP, 1)
    c.stroke(mask, h.curve([(0.2, -1.38), (0.42, -0.95), (0.4, -0.6)], closed=False), 0.6, CAP, 1)
    c.fill(
        [h.curve([(0.28, -0.66), (0.9, -0.78), (1.42, -0.48), (1.36, -0.36), (0.9, -0.48), (0.3, -0.48)])],
        CAP,
        depth=2,
        cast=2,
    )
    c.fill([h.oval(-0.1, -1.42, 0.14, 0.09)], CAP, depth=1, line=0.5)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Pell."""
    tail = cloth["tail"]
    props.pole(c, _grip(rig), _pole_angle(rig), 12, 57)
    props.hung_bundle(c, cloth["bundle"], 8)
    far_tail = tail + np.linspace(0, 1, len(tail))[:, None] * (6, -1)
    back = [rig.spine(0.2, 6), *far_tail[::-1]]
    c.fill(
        [smooth([rig.spine(0.2, 7), lerp(rig.near.knee, rig.far.knee, 0.5) + turn(pt(2, 3), 0), *back[1:]])],
        LINING,
        depth=3,
        dim=1,
    )
    for side, dim in ((rig.far, 1), (rig.near, 0)):
        body.leg(c, side, TROUSERS, (6.8, 6.0, 5.0, 4.9, 3.9), dim)
        body.boot(c, rig, side, BOOTS, SOLE, size=6.5, shaft=0.42, dim=dim)
    coat = _coat(c, rig, tail)
    _trim(c, rig, coat)
    face.neck(c, rig, SKIN, 4.0)
    _neckcloth(c, rig)
    body.arm(c, rig.far, COAT, (5.0, 4.6, 4.2, 4.0, 3.8), 1)
    body.hand(c, rig.far, SKIN, 4.1, dim=1)
    _head(c, rig)
    body.arm(c, rig.near, COAT, (5.8, 5.2, 4.6, 4.4, 4.2))
    body.cuff(c, rig.near, LINING, 4.9)
    near_hand(c, rig, SKIN, 4.4)


LOOK = Look(
    "pell", BUILD, MANNER,
    [Strand("tail", _tail, 38, 4, stiff=0.02, drift=0.6), Strand("bundle", _bundle, 9, 2, stiff=0.08, drift=0.4)],
    _draw,
)  # fmt: skip
