"""Wick: a youngster with an oversized scarf and a lantern."""

from __future__ import annotations

import numpy as np

from courier_kit import body, face, props
from courier_kit.canvas import Canvas
from courier_kit.cloth import Strand
from courier_kit.cycles import Manner
from courier_kit.look import Cloth, Look, near_hand
from courier_kit.ramps import ramp
from courier_kit.shapes import Points, heading, lerp, limb, pt, ribbon, smooth
from courier_kit.skeleton import Arm, Build, Rig

SCARF = ramp("2fa7a4")
STRIPE = ramp("f3e6c4")
JACKET = ramp("d9583f")
SHORTS = ramp("53506e")
SOCKS = ramp("e0a63c")
BOOTS = ramp("70422f")
SOLE = ramp("2e2028")
SKIN = ramp("b87a50")
FACE = face.Face(SKIN, ramp("3d2a33"), ramp("5a3a20"), nose=0.11, chin=0.9, eye=1.28, brow=0.08)
BUILD = Build(21.5, 21, 4.6, 5.2, 7.5, 28, 3, 15.5, 15.5, 14.5, 8, 3.5)
MANNER = Manner(stride=1.05, bob=1.35, arms=1.15, lean=1, carry=Arm(42, 48), loose=0.45)
PROFILE = [(-0.12, 9.2, 9.0), (0.15, 9.0, 8.6), (0.5, 8.6, 8.2), (0.8, 9.4, 9.2), (1.0, 5, 6)]


def _tail(rig: Rig) -> tuple[Points, Points]:
    """Hang the long scarf end behind the near shoulder."""
    return rig.spine(0.98, -9), heading(-30)


def _short(rig: Rig) -> tuple[Points, Points]:
    """Hang the short scarf end on the chest."""
    return rig.spine(0.9, 5), heading(4)


def _cord(rig: Rig) -> tuple[Points, Points]:
    """Hang the lantern from the far hand."""
    return rig.far.wrist + heading(rig.far.forearm) * 3.5, pt(0, 1)


def _scarf_end(c: Canvas, path: np.ndarray, widths: tuple[float, ...]) -> None:
    """Draw one scarf end with stripes and a fringe."""
    line = smooth(path, closed=False)
    way = line[-1] - line[-3]
    way = way / max(float(np.hypot(*way)), 1e-6)
    across = pt(-way[1], way[0])
    for x in (-0.7, 0.0, 0.7):
        root = line[-1] + across * x * widths[-1]
        c.fill([ribbon(np.array([root - way, root + way * 3.5]), (1.1, 0.7))], STRIPE, depth=0.8, line=0.5)
    mask = c.fill([ribbon(line, widths)], SCARF, depth=4, cast=2)
    for t in (0.42, 0.62, 0.82):
        i = int(t * (len(line) - 1))
        c.detail(mask, [ribbon(line[i : i + 3], (9, 9))], STRIPE)


def _jacket(c: Canvas, rig: Rig) -> None:
    """Draw the short jacket over the hips."""
    mask = c.fill([body.trunk(rig, PROFILE)], JACKET, depth=5.5, cast=2.5)
    c.stroke(mask, smooth([rig.spine(0.9, 4.5), rig.spine(0.4, 4.5), rig.spine(-0.12, 5)], closed=False), 0.8, JACKET)
    for t in (0.12, 0.32, 0.52):
        props.button(c, mask, rig.spine(t, 2.2), 1.2)
    c.stroke(mask, np.array([rig.spine(0.2, -5), rig.spine(0.16, -0.5)]), 0.9, JACKET)


def _shorts(c: Canvas, rig: Rig, near: bool) -> None:
    """Draw one bare leg with sock, boot and short trousers."""
    side, dim = (rig.near, 0) if near else (rig.far, 1)
    body.leg(c, side, SKIN, (6.5, 5.8, 4.7, 4.6, 3.7), dim)
    top = lerp(side.knee, side.ankle, 0.3)
    c.fill(
        limb((top, lerp(top, side.ankle, 0.5), side.ankle), (4.9, 5.1, 4.9, 4.4, 4.0)),
        SOCKS,
        depth=4,
        dim=dim,
        line=0.6,
    )
    body.boot(c, rig, side, BOOTS, SOLE, size=7, shaft=0.26, dim=dim)
    end = lerp(side.hip, side.knee, 0.84)
    c.fill(limb((side.hip, lerp(side.hip, end, 0.5), end), (7.6, 7.4, 7.2, 7.0, 7.0)), SHORTS, depth=5, dim=dim, cast=1.5)


def _wrap(c: Canvas, rig: Rig) -> None:
    """Draw the two thick turns of scarf around the neck."""
    low = [
        rig.spine(1.0, 11),
        rig.spine(0.82, 11.5),
        rig.spine(0.7, 4),
        rig.spine(0.76, -8),
        rig.spine(0.95, -12),
        rig.spine(1.12, -9),
        rig.spine(1.1, 6),
    ]
    mask = c.fill([smooth(low, steps=5)], SCARF, depth=4.5, cast=3)
    c.detail(
        mask,
        [ribbon(smooth([rig.spine(1.1, x - 1), rig.spine(0.9, x), rig.spine(0.66, x - 1)], closed=False), (1.5, 1.5)) for x in (-6.5, 7)],
        STRIPE,
    )
    high = [
        rig.spine(1.24, 10.5),
        rig.spine(1.08, 12.5),
        rig.spine(0.97, 5),
        rig.spine(1.0, -7),
        rig.spine(1.14, -13),
        rig.spine(1.32, -11),
        rig.spine(1.28, 0),
    ]
    mask = c.fill([smooth(high, steps=5)], SCARF, depth=4, cast=2)
    c.detail(
        mask,
        [
            ribbon(smooth([rig.spine(1.34, x - 1.5), rig.spine(1.15, x), rig.spine(0.95, x - 1)], closed=False), (1.5, 1.5))
            for x in (-3, 8.5)
        ],
        STRIPE,
    )


def _head(c: Canvas, rig: Rig) -> None:
    """Draw the face, a round mass of curls and a tuft tied with the scarf's cream."""
    h, _ = face.head(c, rig, FACE)
    curls = [
        (0.86, -0.62, 0.27), (0.56, -0.84, 0.32), (0.14, -0.96, 0.38), (-0.34, -0.92, 0.42),
        (-0.74, -0.6, 0.42), (-0.9, -0.12, 0.38),
        (-0.82, 0.34, 0.3), (-0.28, -0.46, 0.3), (0.2, -0.62, 0.26),
    ]  # fmt: skip
    c.fill([h.oval(-0.62, -1.42, 0.44, 0.4)], FACE.hair, depth=4, cast=1)
    c.fill([h.oval(-0.5, -1.16, 0.3, 0.14, -24)], STRIPE, depth=1.5, line=0.6)
    scalp = h.curve([(0.7, -0.74), (0.1, -0.5), (-0.3, -0.1), (-0.6, 0.3), (-1.0, 0.2), (-0.9, -0.6), (-0.2, -1.1)])
    lock = c.fill([*(h.oval(x, y, r, r) for x, y, r in curls), scalp], FACE.hair, depth=5, cast=2, line=0.7)
    for x, y, r in curls[:7]:
        arc = [(x - r * 0.5, y + r * 0.25), (x, y - r * 0.35), (x + r * 0.5, y + r * 0.2)]
        c.stroke(lock, h.curve(arc, closed=False), 0.7, FACE.hair, 4)


def _draw(c: Canvas, rig: Rig, cloth: Cloth) -> None:
    """Draw one frame of Wick."""
    _scarf_end(c, cloth["tail"], (3.6, 5.0, 5.6, 6.0))
    _shorts(c, rig, near=False)
    _shorts(c, rig, near=True)
    props.lantern(c, cloth["cord"])
    body.arm(c, rig.far, JACKET, (5.0, 4.9, 4.4, 4.2, 4.0), 1)
    body.hand(c, rig.far, SKIN, 3.9, dim=1)
    _jacket(c, rig)
    _scarf_end(c, cloth["short"], (3.6, 4.4, 4.8))
    _head(c, rig)
    _wrap(c, rig)
    body.arm(c, rig.near, JACKET, (5.6, 5.3, 4.8, 4.6, 4.3))
    body.cuff(c, rig.near, SHORTS, 4.8)
    near_hand(c, rig, SKIN, 4.3)


LOOK = Look(
    "wick", BUILD, MANNER,
    [
        Strand("tail", _tail, 40, 6, stiff=0.006, drift=1.0),
        Strand("short", _short, 16, 3, stiff=0.05, drift=0.6),
        Strand("cord", _cord, 5, 2, stiff=0.9, drift=2.0),
    ],
    _draw,
)  # fmt: skip
