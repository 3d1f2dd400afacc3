"""Limbs, hands, boots, trunks and skirts shared by the couriers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from courier_kit.canvas import Canvas, Mask
from courier_kit.ramps import DEEP, SHADE, Ramp
from courier_kit.shapes import Points, capsule, ellipse, heading, lerp, limb, place, pt, smooth
from courier_kit.skeleton import Rig, Side

# Height of the soles; the outlines below them end at the ground line.
SOLE_Y = -1.0
# Front and back distances in pixels at heights along the spine.
Profile = Sequence[tuple[float, float, float]]


def leg(c: Canvas, side: Side, cloth: Ramp, radii: Sequence[float], dim: int = 0) -> Mask:
    """Draw hip to ankle with five radii in pixels."""
    return c.fill(limb((side.hip, side.knee, side.ankle), radii), cloth, depth=radii[2] * 0.95, dim=dim, cast=2.0)


def _foot(rig: Rig, side: Side, size: float) -> tuple[Points, list[Points]]:
    """Return the outline of a shod foot and the outlines of its sole.

    The toe bends flat while the ball of the foot carries the weight.
    """
    b = rig.build
    tilt = -side.pitch
    toe_tilt = tilt * 0.25 if side.grounded and tilt > 0 else tilt
    ball = place((b.ball, b.ankle), side.ankle, tilt)
    back, low, long = -b.heel, b.ankle, b.ball * 0.62
    heel = [(back * 0.3, low), (back, low), (back * 1.06, low - size * 0.7)]
    cuff = [(back * 0.62, -size * 0.35), (low * 0.75, -size * 0.45)]
    toe = [(0, -size * 0.92), (long * 0.7, -size * 0.72), (long, -size * 0.2), (long * 0.9, 0), (0, 0)]
    foot = smooth(np.concatenate([place(heel + cuff, side.ankle, tilt), place(toe, ball, toe_tilt)]), steps=5)
    # Leather gives way at the ground instead of sinking into it.
    foot[:, 1] = np.minimum(foot[:, 1], SOLE_Y)
    under = [(back * 1.1, low - 1.9), (b.ball, low - 1.9), (b.ball, low + 2), (back * 1.1, low + 2)]
    front = [(-0.5, -1.9), (long * 1.2, -1.9), (long * 1.2, 2), (-0.5, 2)]
    return foot, [place(under, side.ankle, tilt), place(front, ball, toe_tilt)]


def boot(c: Canvas, rig: Rig, side: Side, ramp: Ramp, sole: Ramp, *, size: float, shaft: float, dim: int = 0) -> Mask:
    """Draw a boot: toe height in pixels, shaft as a share of the shin."""
    foot, under = _foot(rig, side, size)
    ankle = rig.build.ankle
    shin = capsule(lerp(side.ankle, side.knee, shaft), side.ankle, ankle * 0.95, ankle * 0.78)
    mask = c.fill([foot, shin], ramp, depth=size * 0.55, dim=dim, cast=1.5)
    c.detail(mask, under, sole, band=DEEP if dim else SHADE)
    return mask


def arm(c: Canvas, side: Side, cloth: Ramp, radii: Sequence[float], dim: int = 0, cast: float = 2.0) -> Mask:
    """Draw shoulder to wrist with five radii in pixels."""
    joint = ellipse(lerp(side.shoulder, side.elbow, -0.05), radii[0] * 1.3, radii[0] * 1.3)
    polys = limb((side.shoulder, side.elbow, side.wrist), radii)
    return c.fill(polys, cloth, depth=radii[2] * 0.95, dim=dim, cast=cast, soft=joint)


def bare_arm(c: Canvas, side: Side, skin: Ramp, radii: Sequence[float], cloth: Ramp, cover: float, dim: int = 0) -> Mask:
    """Draw a skin arm with a sleeve over a share of the upper arm."""
    mask = arm(c, side, skin, radii, dim)
    stop = lerp(side.shoulder, side.elbow, cover)
    mid = lerp(side.shoulder, stop, 0.5)
    wide = [radii[0] + 0.7, radii[1] + 0.8, radii[2] + 1.0, radii[2] + 1.0, radii[2] + 1.0]
    joint = ellipse(lerp(side.shoulder, side.elbow, -0.05), wide[0] * 1.3, wide[0] * 1.3)
    polys = limb((side.shoulder, mid, stop), wide)
    return mask | c.fill(polys, cloth, depth=radii[2] * 0.9, dim=dim, cast=1.5, soft=joint)


def cuff(c: Canvas, side: Side, ramp: Ramp, radius: float, dim: int = 0, at: float = 0.86) -> None:
    """Draw a band around the forearm at a share of its length."""
    a = lerp(side.elbow, side.wrist, at - 0.09)
    b = lerp(side.elbow, side.wrist, at + 0.06)
    c.fill([capsule(a, b, radius, radius)], ramp, depth=radius * 0.8, dim=dim, line=0.6)


def hand(c: Canvas, side: Side, skin: Ramp, size: float, *, open_hand: bool = False, dim: int = 0) -> Points:
    """Draw a hand of a radius in pixels; returns the centre of its grip (2,)."""
    way = side.forearm
    centre = side.wrist + heading(way) * size * 0.75
    tilt = -way
    palm = ellipse(centre, size * 0.88, size, tilt)
    thumb = [
        capsule(
            place((size * 0.5, -size * 0.3), centre, tilt),
            place((size * 1.05, size * 0.45), centre, tilt),
            size * 0.36,
            size * 0.3,
        )
    ]
    fingers = []
    if open_hand:
        fingers = [capsule(centre, place((x * size, size * 1.75), centre, tilt), size * 0.5, size * 0.34) for x in (-0.35, 0.25)]
    c.fill([palm, *thumb, *fingers], skin, depth=size * 0.7, dim=dim, cast=1.2, line=0.65)
    knuckle = place([(-size * 0.35, size * 0.35), (size * 0.3, size * 0.5)], centre, tilt)
    c.stroke(None, knuckle, 0.5, skin, DEEP)
    return centre


def trunk(rig: Rig, profile: Profile) -> Points:
    """Return the outline of the body from (height, front, back) in pixels."""
    front = [rig.spine(t, f) for t, f, _ in profile]
    back = [rig.spine(t, -b) for t, _, b in reversed(profile)]
    return smooth(front + back, steps=5)


def band(rig: Rig, low: float, high: float, reach: float = 40.0, sag: float = 1.5) -> Points:
    """Return a belt outline between two heights along the spine."""
    xs = (-reach, -reach * 0.3, 0.0, reach * 0.3, reach)
    dips = [pt(0, sag if abs(x) < reach * 0.5 else 0.0) for x in xs]
    lower = [rig.spine(low, x) + d for x, d in zip(xs, dips, strict=True)]
    upper = [rig.spine(high, x) + d for x, d in zip(xs, dips, strict=True)]
    return np.array(lower + upper[::-1])


def skirt_edges(rig: Rig, waist: float, front: float, back: float, drop: float, pad: float) -> tuple[list[Points], list[Points]]:
    """Return the front and back edges (3 points each) of cloth over the thighs.

    waist: height along the spine; front, back: half widths there; drop: length
    below the waist; pad: room kept around the knees.  All but waist in pixels.
    """
    top_front, top_back = rig.spine(waist, front), rig.spine(waist, -back)
    knees = sorted((rig.near.knee, rig.far.knee), key=lambda k: k[0])
    fore, aft = knees[1], knees[0]
    front_x = max(fore[0] + pad, top_front[0] + pad * 0.4)
    back_x = min(aft[0] - pad, top_back[0] - pad * 0.4)
    knee_y = min(fore[1] - pad * 0.3, top_front[1] + drop * 0.62)
    low_y = top_back[1] + drop
    lift = max(0.0, top_front[1] + drop * 0.62 - fore[1]) * 0.5
    front_edge = [top_front, pt(front_x, knee_y), pt(front_x - (0 if lift == 0 else 1.5), low_y - lift)]
    back_edge = [top_back, pt(lerp(top_back, pt(back_x, 0), 0.75)[0], top_back[1] + drop * 0.55), pt(back_x, low_y)]
    return front_edge, back_edge


def folds(c: Canvas, clip: Mask, tops: Sequence[Points], ends: Sequence[Points], width: float = 2.2) -> None:
    """Shade tapering creases (from tops to ends, each (2,)) inside a part."""
    for top, end in zip(tops, ends, strict=True):
        side = pt(width, 0)
        c.shade(clip, [np.array([top, end - side * 0.5, end + side * 0.7])])
