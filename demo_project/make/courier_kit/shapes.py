"""Plane geometry for the courier drawings.

All lengths are canvas pixels, x to the right and y down, with the origin at
the ground point under the body.  Outlines are float arrays of shape (N, 2).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Points = np.ndarray


def pt(x: float, y: float) -> Points:
    """Return one point, shape (2,), in pixels."""
    return np.array([x, y], dtype=float)


def turn(points: Points, degrees: float) -> Points:
    """Rotate points (..., 2) clockwise on screen by an angle in degrees."""
    a = np.radians(degrees)
    c, s = np.cos(a), np.sin(a)
    p = np.asarray(points, dtype=float)
    return np.stack([p[..., 0] * c - p[..., 1] * s, p[..., 0] * s + p[..., 1] * c], axis=-1)


def place(local: Sequence, origin: Points, degrees: float = 0.0, scale: float = 1.0) -> Points:
    """Map local points (..., 2) to the canvas: scale, turn clockwise, move."""
    return turn(np.asarray(local, dtype=float) * scale, degrees) + origin


def heading(degrees: float) -> Points:
    """Return the unit vector (2,) of a limb angle: 0 hangs down, + is forward."""
    a = np.radians(degrees)
    return pt(np.sin(a), np.cos(a))


def lerp(a: Points, b: Points, t: float) -> Points:
    """Blend two points (2,) with weight t of the second."""
    return np.asarray(a) * (1.0 - t) + np.asarray(b) * t


def smooth(points: Sequence, closed: bool = True, steps: int = 6) -> Points:
    """Pass a Catmull-Rom curve through points (N, 2); returns (M, 2)."""
    p = np.asarray(points, dtype=float)
    if closed:
        q = np.concatenate([p[-1:], p, p[:2]])
    else:
        q = np.concatenate([2 * p[:1] - p[1:2], p, 2 * p[-1:] - p[-2:-1]])
    t = np.linspace(0.0, 1.0, steps, endpoint=False)[:, None]
    spans = []
    for a, b, c, d in zip(q[:-3], q[1:-2], q[2:-1], q[3:], strict=True):
        spans.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    if not closed:
        spans.append(p[-1:])
    return np.concatenate(spans)


def ellipse(centre: Points, rx: float, ry: float, degrees: float = 0.0, count: int = 28) -> Points:
    """Return an ellipse outline (count, 2) with radii in pixels."""
    a = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    return place(np.stack([rx * np.cos(a), ry * np.sin(a)], axis=-1), centre, degrees)


def capsule(a: Points, b: Points, ra: float, rb: float) -> Points:
    """Return a tapered capsule outline (N, 2) from a (radius ra) to b (rb)."""
    gap = b - a
    length = float(np.hypot(*gap))
    if length <= abs(ra - rb) + 1e-6:
        return ellipse(a if ra > rb else b, max(ra, rb), max(ra, rb))
    base = np.arctan2(gap[1], gap[0])
    open_angle = np.arccos((ra - rb) / length)
    back = np.linspace(base + open_angle, base + 2 * np.pi - open_angle, 14)
    front = np.linspace(base - open_angle, base + open_angle, 14)
    ends = [a + ra * np.stack([np.cos(back), np.sin(back)], -1), b + rb * np.stack([np.cos(front), np.sin(front)], -1)]
    return np.concatenate(ends)


def limb(joints: Sequence, radii: Sequence[float]) -> list[Points]:
    """Return capsules covering a bent limb.

    joints: three points (3, 2); radii: five pixel radii at the root, the upper
    middle, the joint, the lower middle and the end.
    """
    a, b, c = (np.asarray(j, dtype=float) for j in joints)
    # A short curve around the middle joint keeps the bend from looking broken.
    path = smooth([a, lerp(a, b, 0.45), lerp(a, b, 0.93), lerp(b, c, 0.07), lerp(b, c, 0.5), c], closed=False, steps=4)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    knots = [0.0, 0.24, 0.5, 0.7, 1.0]
    rad = np.interp(run / run[-1], knots, radii)
    return [capsule(path[i], path[i + 1], rad[i], rad[i + 1]) for i in range(len(path) - 1)]


def ribbon(spine: Points, widths: Sequence[float]) -> Points:
    """Return the outline (2N, 2) of a band of given half widths along a spine."""
    s = np.asarray(spine, dtype=float)
    d = np.gradient(s, axis=0)
    d /= np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-6)[:, None]
    n = np.stack([-d[:, 1], d[:, 0]], axis=-1)
    w = np.interp(np.linspace(0, 1, len(s)), np.linspace(0, 1, len(widths)), widths)[:, None]
    return np.concatenate([s + n * w, (s - n * w)[::-1]])
