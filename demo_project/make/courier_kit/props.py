"""Things the couriers carry: parcels, pole and bundle, lantern, satchel."""

from __future__ import annotations

import numpy as np

from courier_kit.canvas import Canvas, Mask
from courier_kit.ramps import BASE, BRASS, DEEP, IRON, KRAFT, LEATHER, LIGHT, SHADE, STRING, WOOD, flat
from courier_kit.shapes import Points, capsule, ellipse, lerp, place, smooth

GLOW = flat("ffe08a")
FLAME = flat("fff6cf")


def parcel(c: Canvas, centre: Points, size: float, degrees: float) -> Mask:
    """Draw a tied parcel with a half width in pixels."""
    w, h = size, size * 0.78
    mask = c.fill([place([(-w, -h), (w, -h), (w, h), (-w, h)], centre, degrees)], KRAFT, depth=size * 0.7, cast=1.5)
    for a, b in (((-w, -0.8), (w, 0.8)), ((-w * 0.1 - 0.8, -h), (-w * 0.1 + 0.8, h))):
        c.detail(mask, [place([a, (b[0], a[1]), b, (a[0], b[1])], centre, degrees)], STRING)
    for x in (-2.2, 1.6):
        bow = place((-w * 0.1 + x, -h - 1.0), centre, degrees)
        c.fill([ellipse(bow, 2.0, 1.2, degrees + x * 12)], STRING, depth=1.0, line=0.5)
    return mask


def flight_marks(c: Canvas, centre: Points, size: float, degrees: float) -> None:
    """Draw three short dashes behind a parcel that has left the hand."""
    for offset, length in ((-0.7, 5.0), (0.1, 7.0), (0.9, 5.0)):
        a, b = place([(-size * 1.5, offset * size), (-size * 1.5 - length, offset * size)], centre, degrees)
        c.fill([capsule(a, b, 0.9, 0.3)], flat("efe6d2"), depth=0, line=0.0)


def pole(c: Canvas, grip: Points, degrees: float, fore: float, aft: float) -> tuple[Points, Points]:
    """Draw a pole through a grip; returns its front and back ends (2,)."""
    front, back = place([(fore, 0), (-aft, 0)], grip, degrees)
    c.fill([capsule(front, back, 1.6, 1.9)], WOOD, depth=1.8, dim=0)
    c.fill([capsule(back, lerp(back, front, 0.06), 2.2, 2.2)], BRASS, depth=1.5, line=0.5)
    return front, back


def hung_bundle(c: Canvas, cord: np.ndarray, size: float) -> None:
    """Draw a parcel hanging from a cord (N, 2)."""
    c.stroke(None, cord, 1.5, STRING, DEEP)
    gap = cord[-1] - cord[0]
    tilt = float(np.degrees(np.arctan2(-gap[0], gap[1])))
    parcel(c, cord[-1] + gap / max(float(np.hypot(*gap)), 1e-6) * size * 0.7, size, tilt)


def lantern(c: Canvas, cord: np.ndarray) -> None:
    """Draw a lit lantern hanging from a short cord (N, 2)."""
    gap = cord[-1] - cord[0]
    tilt = float(np.degrees(np.arctan2(-gap[0], gap[1])))
    o = cord[-1]
    c.stroke(
        None,
        smooth(place([(-3.6, 3), (-3.2, -2), (0, -4.4), (3.2, -2), (3.6, 3)], o, tilt), closed=False),
        1.3,
        IRON,
        DEEP,
    )
    glass = c.fill([place([(-3.6, 2), (3.6, 2), (4.8, 11), (-4.8, 11)], o, tilt)], GLOW, depth=2.4, cast=1.0)
    c.detail(glass, [ellipse(place((0, 7.2), o, tilt), 2.0, 3.1, tilt)], FLAME, band=LIGHT)
    c.stroke(glass, place([(-1.6, 2), (-2.2, 11)], o, tilt), 0.7, IRON, DEEP)
    c.stroke(glass, place([(1.6, 2), (2.2, 11)], o, tilt), 0.7, IRON, DEEP)
    c.fill([place([(-4.6, 2.6), (-2.2, -1.2), (2.2, -1.2), (4.6, 2.6)], o, tilt)], IRON, depth=1.6, line=0.6)
    c.fill([place([(-5.4, 10.4), (5.4, 10.4), (5.0, 13.6), (-5.0, 13.6)], o, tilt)], IRON, depth=1.6, line=0.6)


def satchel(c: Canvas, centre: Points, size: float, degrees: float) -> None:
    """Draw a leather satchel with a flap and a brass clasp."""
    s = size
    body = smooth(
        place([(-s, -s * 0.7), (s, -s * 0.7), (s * 1.05, s * 0.7), (0, s * 0.86), (-s * 1.05, s * 0.7)], centre, degrees),
        steps=4,
    )
    c.fill([body], LEATHER, depth=s * 0.5, cast=2.0)
    flap = smooth(
        place(
            [(-s * 1.05, -s * 0.75), (s * 1.05, -s * 0.75), (s * 0.95, s * 0.05), (0, s * 0.34), (-s * 0.95, s * 0.05)],
            centre,
            degrees,
        ),
        steps=4,
    )
    c.fill([flap], LEATHER, depth=s * 0.35, cast=1.0, line=0.6)
    c.fill([ellipse(place((0, s * 0.3), centre, degrees), 1.6, 1.8)], BRASS, depth=1.0, line=0.5)


def button(c: Canvas, clip: Mask, centre: Points, radius: float = 1.1) -> None:
    """Draw a brass button of a radius in pixels inside a part."""
    c.detail(clip, [ellipse(centre, radius, radius)], BRASS, line=0.4, band=BASE)
    c.detail(clip, [ellipse(centre - 0.35 * radius, radius * 0.4, radius * 0.4)], BRASS, band=LIGHT)


def strap(c: Canvas, clip: Mask, path: np.ndarray, width: float) -> None:
    """Draw a leather strap (N, 2) across a part."""
    c.stroke(clip, path, width + 1.0, LEATHER, 0)
    c.stroke(clip, path, width, LEATHER, SHADE)
    c.stroke(clip, path - (0.4, 0.4), width * 0.35, LEATHER, BASE)
