"""Bram: stout and barrel-chested, great beard, striped shirt and apron."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face, props
from courier_kit.canvas import Canvas, Mask
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import BRASS, ramp
from courier_kit.shapes import Points, capsule, heading, lerp, place, pt, ribbon, smooth, turn
from courier_kit.skeleton import Build, Rig

SHIRT = ramp("eee6d6", 0.8)
STRIPE = ramp("3f68a8")
APRON = ramp("cf7d33")
TROUSERS = ramp("3d4663")
BOOTS = ramp("4a3a3a")
SOLE = ramp("241e2a")
SKIN = ramp("9c6244")
FACE = face.Face(SKIN, ramp("4b4148", 0.9), ramp("5a3a20"), nose=0.26, brow=0.13, blush=False, mouth=False)
BUILD = Build(23, 21, 5.5, 6.5, 9, 44, 3, 14.5, 19, 17, 15, 3.5)
MANNER = Manner(stride=1.18, bob=1.1, lift=0.85, arms=0.72, lean=-3, spread=8, stance=1.7, breath=1.3)
PROFILE = [
    (-0.2, 13, 14),
    (0.0, 19, 17),
    (0.25, 23, 18.5),
    (0.52, 22.5, 19),
    (0.76, 19, 18.5),
    (0.93, 11, 14),
    (1.0, 5, 7),
]


def _hem(rig: Rig) -> tuple[Points, Points]:
    """Hang the apron hem in front of the belly."""
    return rig.spine(0.0, 19), heading(4 + 0.3 * rig.lean)


def _knot(rig: Rig) -> tuple[Points, Points]:
    """Hang the apron ribbons from the back of the waist."""
    return rig.spine(0.2, -18.5), heading(-25)


def _shirt(c: Canvas, rig: Rig) -> Mask:
    """Draw the striped trunk."""
    mask = c.fill([body.trunk(rig, PROFILE)], SHIRT, depth=11, cast=3)
    for t in (0.02, 0.2, 0.38, 0.56, 0.74, 0.92):
        c.detail(mask, [body.band(rig, t, t + 0.075, sag=2.5)], STRIPE)
    return mask


def _apron(c: Canvas, rig: Rig, shirt: Mask, hem: np.ndarray) -> None:
    """Draw the bib and the skirt of the apron with its strap and pocket."""
    strap = smooth([rig.spine(0.98, -3), rig.spine(0.84, 4), rig.spine(0.62, 12)], closed=False)
    props.strap(c, shirt, strap, 2.6)
    c.detail(shirt, [body.band(rig, 0.15, 0.24, sag=2.0)], APRON, line=0.6)
    low_back = rig.spine(-0.3, -5) + pt(0, 5)
    knee = max(rig.near.knee[0], rig.far.knee[0]) + 4
    low_front = pt(max(hem[-1][0], min(knee, hem[-1][0] + 14)), hem[-1][1])
    outline = [
        rig.spine(0.66, 20), rig.spine(0.66, 5), rig.spine(0.45, 2), rig.spine(0.24, -8), rig.spine(0.0, -9),
        low_back, lerp(low_back, low_front, 0.5) + pt(0, 2.5), low_front,
        rig.spine(0.0, 20.5), rig.spine(0.25, 23.8), rig.spine(0.5, 23),
    ]  # fmt: skip
    mask = c.fill([smooth(outline, steps=5)], APRON, depth=8, cast=2.5)
    pocket = [(-6, -4), (6, -4), (5.4, 4), (0, 5), (-5.4, 4)]
    c.detail(mask, [place(pocket, rig.spine(0.04, 7), rig.lean)], APRON, line=0.7)
    c.shade(mask, [place([(-6, -4), (6, -4), (6, -2.4), (-6, -2.4)], rig.spine(0.04, 7), rig.lean)])
    body.folds(
        c,
        mask,
        [rig.spine(0.1, -2), rig.spine(0.1, 16)],
        [lerp(low_back, low_front, 0.3), lerp(low_back, low_front, 0.85)],
    )
    props.button(c, mask, rig.spine(0.6, 8), 1.3)


def _head(c: Canvas, rig: Rig) -> None:
    """Draw the shaven head with beard, moustache and earring."""
    h, skin = face.head(c, rig, FACE)
    c.shade(skin, [h.curve([(-1.0, -0.3), (-0.7, -0.8), (-0.5, -0.5), (-0.6, 0.1), (-0.9, 0.3)])])
    shout = 0.14 if rig.pose.mood in ("shout", "ouch") else 0.0
    beard = [
        (-0.46, 0.02), (-0.3, 0.34), (0.1, 0.5), (0.6, 0.52), (1.0, 0.5), (1.1, 0.8 + shout),
        (1.0, 1.3 + shout), (0.62, 1.75 + shout),
        (0.1, 1.6), (-0.4, 1.25), (-0.66, 0.7), (-0.6, 0.2),
    ]  # fmt: skip
    mask = c.fill([h.curve(beard)], FACE.hair, depth=6, cast=3.5, line=0.7)
    face.strands(
        c,
        h,
        FACE,
        mask,
        [[(-0.2, 0.7), (0.0, 1.3)], [(0.2, 0.9), (0.35, 1.5)], [(0.62, 1.0), (0.66, 1.6)], [(0.92, 0.9), (0.86, 1.4)]],
    )
    c.detail(mask, [h.oval(0.72, 0.78, 0.17, 0.07 + shout)], face.MOUTH, band=2)
    tache = [(0.42, 0.48), (0.7, 0.4), (1.06, 0.42), (1.24, 0.62), (1.0, 0.68), (0.76, 0.6), (0.44, 0.74), (0.2, 0.66)]
    c.fill([h.curve(tache)], FACE.hair, depth=2.4, cast=1.2, line=0.6)
    c.fill([h.oval(-0.37, 0.46, 0.1, 0.11)], BRASS, depth=1, line=0.5)


def _arm(c: Canvas, rig: Rig, near: bool) -> None:
    """Draw one thick arm with a rolled striped sleeve."""
    side, dim = (rig.near, 0) if near else (rig.far, 1)
    mask = body.bare_arm(c, side, SKIN, (8.6, 8.0, 6.4, 6.6, 4.8), SHIRT, 0.96, dim)
    for t in (0.06, 0.34, 0.62):
        a, b = (lerp(side.shoulder, side.elbow, v) for v in (t, t + 0.14))
        across = np.array([b[1] - a[1], a[0] - b[0]]) * 3.4
        c.detail(mask, [np.array([a - across, a + across, b + across, b - across])], STRIPE)
    way = turn((side.elbow - side.shoulder) / rig.build.upper_arm, 90)
    roll = lerp(side.shoulder, side.elbow, 0.92)
    c.fill([capsule(roll - way * 5.6, roll + way * 5.6, 2.7, 2.7)], SHIRT, depth=3, dim=dim, cast=1.2, line=0.6)
    if near:
        near_hand(c, rig, SKIN, 5.6)
    else:
        body.hand(c, side, SKIN, 5.4, dim=1)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Bram."""
    _arm(c, rig, near=False)
    from_knot = cloth["knot"]
    for offset in (0.0, 4.0):
        c.fill([ribbon(from_knot + np.linspace(0, 1, len(from_knot))[:, None] * (offset, 2), (1.2, 1.6))], APRON, depth=1.2)
    for side, dim in ((rig.far, 1), (rig.near, 0)):
        body.leg(c, side, TROUSERS, (11.5, 10.0, 8.0, 7.4, 5.6), dim)
        body.boot(c, rig, side, BOOTS, SOLE, size=8, shaft=0.32, dim=dim)
    shirt = _shirt(c, rig)
    _apron(c, rig, shirt, cloth["hem"])
    face.neck(c, rig, SKIN, 7.5)
    _head(c, rig)
    _arm(c, rig, near=True)


LOOK = Look(
    "bram", BUILD, MANNER,
    [Strand("hem", _hem, 19, 3, stiff=0.12, drift=0.35), Strand("knot", _knot, 12, 3, stiff=0.08)],
    _draw,
)  # fmt: skip
