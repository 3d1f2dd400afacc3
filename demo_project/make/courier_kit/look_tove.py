"""Tove: wide skirt, tall hat with a plume, satchel and a long braid."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face, props
from courier_kit.canvas import Canvas, Mask
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import BRASS, ramp
from courier_kit.shapes import Points, capsule, ellipse, heading, lerp, pt, ribbon, smooth
from courier_kit.skeleton import Build, Rig

BODICE = ramp("9c2f4a")
SKIRT = ramp("e0b045")
TRIM = ramp("9c2f4a")
PETTICOAT = ramp("f2e6d4")
STOCKINGS = ramp("54465c")
BOOTS = ramp("6b3a34")
SOLE = ramp("2c2228")
HAT = ramp("4a3f74")
PLUME = ramp("f4efe4")
SKIN = ramp("c58a5c")
FACE = face.Face(SKIN, ramp("3a2630"), ramp("4a3020"), nose=0.15, chin=0.98, eye=1.1, brow=0.07)
BUILD = Build(27, 26, 4.8, 5, 7, 31, 4, 12.8, 18, 17, 8, 4)
MANNER = Manner(stride=0.9, bob=0.9, lift=0.55, arms=0.9, lean=-2, spread=9)
PROFILE = [(0.1, 7.4, 7.0), (0.3, 6.9, 6.5), (0.66, 10.4, 8.2), (0.86, 8.5, 8.6), (1.0, 4.4, 5.0)]


def _sway(rig: Rig) -> tuple[Points, Points]:
    """Hang the skirt's back edge."""
    return rig.spine(0.1, -7), heading(-31 - 0.2 * rig.lean)


def _fore(rig: Rig) -> tuple[Points, Points]:
    """Hang the skirt's front edge."""
    return rig.spine(0.1, 7.4), heading(27 - 0.2 * rig.lean)


def _braid(rig: Rig) -> tuple[Points, Points]:
    """Hang the braid from the back of the head."""
    return rig.head + pt(-9.5, 5), heading(-14)


def _plume(rig: Rig) -> tuple[Points, Points]:
    """Root the plume at the hat band."""
    return face.Head(rig).at((-0.35, -1.25)), heading(-128 - rig.head_turn)


def _skirt_outline(rig: Rig, fore: np.ndarray, sway: np.ndarray) -> list[Points]:
    """Return skirt points from waist front around the hem to waist back."""
    knees = [rig.near.knee[0], rig.far.knee[0]]
    shins = [rig.near.ankle[0], rig.far.ankle[0]]
    front = fore.copy()
    fore_knee = max((rig.near.knee, rig.far.knee), key=lambda k: k[0])
    # Cloth hangs from a raised knee and falls back below it.
    raised = max(0.0, rig.pelvis[1] + 24.0 - fore_knee[1])
    hang = fore_knee[0] + 6.0 - raised * np.linspace(0.1, 0.6, len(front) - 2)
    front[2:, 0] = np.maximum(front[2:, 0], hang)
    back = sway.copy()
    reach = min(*knees, 0.5 * (min(shins) + min(knees)))
    back[3:, 0] = np.minimum(back[3:, 0], reach - 6)
    # The hem rides up with the feet, so tucked or bent legs still show boots.
    waist = rig.spine(0.1)[1]
    low = max(rig.near.ankle[1], rig.far.ankle[1]) - 5.0
    for edge in (front, back):
        edge[:, 1] = waist + (edge[:, 1] - waist) * min(1.0, (low - waist) / (edge[-1, 1] - waist))
    hem = [lerp(front[-1], back[-1], t) + pt(0, 3.2 * np.sin(np.pi * t)) for t in (0.2, 0.4, 0.6, 0.8)]
    return [*front, *hem, *back[::-1]]


def _skirt(c: Canvas, rig: Rig, fore: np.ndarray, sway: np.ndarray) -> None:
    """Draw the bell skirt with pleats, trim and a petticoat edge."""
    points = _skirt_outline(rig, fore, sway)
    n = len(fore)
    hem = [points[n - 1], *points[n : n + 4], points[n + 4]]
    lace = [p + pt(0, 3.2) for p in hem]
    c.fill([smooth([*hem, *lace[::-1]], steps=4)], PETTICOAT, depth=1.5, cast=2)
    thighs = [capsule(s.hip, s.knee, 8.0, 7.0) for s in (rig.near, rig.far)]
    knee = max((rig.near.knee, rig.far.knee), key=lambda k: k[0])
    drape = smooth(
        [
            points[0],
            lerp(points[0], knee, 0.5) - pt(0, 6),
            knee + pt(2, -7),
            knee + pt(7, -1),
            points[n - 1],
            points[-2],
        ]
    )
    mask = c.fill([smooth(points, steps=5), drape, *thighs], SKIRT, depth=9, cast=3)
    path = smooth([p - pt(0, 4.5) for p in hem], closed=False)
    c.detail(mask, [ribbon(path, (1.5, 1.5))], TRIM, line=0.5)
    tops = [rig.spine(0.06, x) for x in (-4.5, -1.5, 1.5, 4.5)]
    body.folds(c, mask, tops, [lerp(hem[0], hem[-1], t) + pt(0, 1) for t in (0.86, 0.62, 0.38, 0.14)], 3.4)
    body.folds(c, mask, [knee + pt(1, 1), knee + pt(4, 5)], [lerp(hem[0], hem[-1], t) + pt(0, 1) for t in (0.26, 0.08)], 3.0)


def _bodice(c: Canvas, rig: Rig) -> Mask:
    """Draw the bodice with lacing and a pale collar."""
    mask = c.fill([body.trunk(rig, PROFILE)], BODICE, depth=5.5, cast=2)
    front = [rig.spine(1.0, 5), rig.spine(0.7, 9), rig.spine(0.66, 5), rig.spine(0.96, -1)]
    c.detail(mask, [np.array(front)], PETTICOAT, line=0.5)
    for t in (0.28, 0.4, 0.52):
        c.stroke(mask, np.array([rig.spine(t, 2.4), rig.spine(t + 0.04, 6.4)]), 0.8, SKIRT, 3)
    c.detail(mask, [body.band(rig, 0.04, 0.17)], HAT, line=0.6)
    return mask


def _hat(c: Canvas, rig: Rig, plume: np.ndarray) -> None:
    """Draw the tall hat, its band and the plume."""
    h = face.Head(rig)
    crown = [
        (-0.72, -0.78),
        (-0.68, -1.4),
        (-0.84, -2.3),
        (-0.3, -2.42),
        (0.34, -2.4),
        (0.66, -2.24),
        (0.56, -1.4),
        (0.72, -0.78),
        (0.0, -0.66),
    ]
    mask = c.fill([h.curve(crown)], HAT, depth=6, cast=1)
    c.detail(
        mask,
        [h.at([(-0.9, -1.3), (0.0, -1.16), (0.9, -1.3), (0.9, -0.94), (0.0, -0.78), (-0.9, -0.94)])],
        SKIRT,
        line=0.5,
    )
    brim = [
        (-1.36, -0.72),
        (-0.8, -0.9),
        (0.0, -0.84),
        (0.8, -0.94),
        (1.34, -0.84),
        (1.0, -0.6),
        (0.0, -0.46),
        (-0.9, -0.5),
    ]
    c.fill([h.curve(brim)], HAT, depth=2.6, cast=3.5)
    vane = c.fill([smooth(ribbon(smooth(plume, closed=False), (0.8, 3.4, 4.6, 3.8, 0.8)), steps=2)], PLUME, depth=3, cast=1.5)
    c.stroke(vane, smooth(plume, closed=False), 0.7, PLUME, 1)
    c.fill([ellipse(plume[0], 2.0, 2.0)], BRASS, depth=1.2, line=0.5)


def _head(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw braid, face, hair and hat."""
    braid = cloth["braid"]
    path = smooth(braid, closed=False)
    for i in range(0, len(path) - 2, 4):
        c.fill([ellipse(path[i], 4.0 - 0.06 * i, 3.6 - 0.05 * i)], FACE.hair, depth=2.4, line=0.6)
    c.fill([ellipse(path[-1], 2.4, 2.4)], SKIRT, depth=1.2, line=0.6)
    h, _ = face.head(c, rig, FACE)
    c.fill([h.oval(-0.34, 0.44, 0.09, 0.1)], BRASS, depth=1, line=0.5)
    side = [
        (0.86, -0.72),
        (0.5, -0.46),
        (0.1, -0.4),
        (-0.16, -0.12),
        (-0.2, 0.02),
        (-0.44, -0.1),
        (-0.58, 0.3),
        (-0.78, 0.56),
        (-1.08, 0.3),
        (-1.12, -0.4),
        (-0.7, -0.9),
        (0.2, -1.0),
    ]
    lock = face.hair_lock(c, h, FACE, side)
    face.strands(c, h, FACE, lock, [[(-0.1, -0.6), (-0.6, -0.2), (-0.8, 0.2)], [(-0.4, -0.7), (-0.9, -0.2)]])
    _hat(c, rig, cloth["plume"])


def _sleeve(c: Canvas, rig: Rig, near: bool) -> None:
    """Draw one arm: a puffed shoulder and a pale sleeve."""
    side, dim = (rig.near, 0) if near else (rig.far, 1)
    body.arm(c, side, PETTICOAT, (4.4, 4.2, 3.8, 3.6, 3.2), dim)
    body.cuff(c, side, BODICE, 4.0, dim)
    if near:
        near_hand(c, rig, SKIN, 4.0)
    else:
        body.hand(c, side, SKIN, 3.8, dim=1)
    puff = lerp(side.shoulder, side.elbow, 0.16)
    c.fill([ellipse(puff, 6.4, 6.8)], BODICE, depth=4, dim=dim, cast=2)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Tove."""
    _sleeve(c, rig, near=False)
    for side, dim in ((rig.far, 1), (rig.near, 0)):
        body.leg(c, side, STOCKINGS, (6.2, 5.8, 4.8, 4.7, 3.6), dim)
        body.boot(c, rig, side, BOOTS, SOLE, size=6, shaft=0.45, dim=dim)
    _skirt(c, rig, cloth["fore"], cloth["sway"])
    face.neck(c, rig, SKIN, 3.8)
    mask = _bodice(c, rig)
    props.strap(c, mask, smooth([rig.spine(1.0, 3), rig.spine(0.6, -1), rig.spine(0.1, -7)], closed=False), 1.8)
    props.satchel(c, lerp(cloth["sway"][0], cloth["sway"][1], 0.7) + pt(5, 3), 8, -6 + 0.5 * rig.lean)
    _head(c, rig, cloth)
    _sleeve(c, rig, near=True)


LOOK = Look(
    "tove", BUILD, MANNER,
    [
        Strand("sway", _sway, 45, 5, stiff=0.4, drift=0.5),
        Strand("fore", _fore, 43, 5, stiff=0.4, drift=0.35),
        Strand("braid", _braid, 27, 5, stiff=0.012),
        Strand("plume", _plume, 24, 4, stiff=1.6, weight=0.6, drift=1.2),
    ],
    _draw,
)  # fmt: skip
