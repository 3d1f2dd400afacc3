"""Poses of the repeating actions: idle, walk and run."""

from __future__ import annotations

import math
from dataclasses import dataclass

from courier_kit.skeleton import Arm, Foot, Pose


@dataclass(frozen=True)
class Manner:
    """How one courier moves: factors around 1, angles in degrees.

    carry: the far arm of those who hold something, and loose: how much of a
    pose it still follows; spread: how far the arms hang from the body.
    """

    stride: float = 1.0
    bob: float = 1.0
    lift: float = 1.0
    arms: float = 1.0
    lean: float = 0.0
    spread: float = 0.0
    stance: float = 1.0
    carry: Arm | None = None
    loose: float = 0.12
    breath: float = 1.0


# Foot tables hold one full cycle for one foot; the other runs half a cycle on.
# On planted frames x falls by the same amount each time, so feet never slide.
WALK_FEET = (
    Foot(0.42, 0.0, 20),
    Foot(0.29, 0.0, 6),
    Foot(0.16, 0.0, 0),
    Foot(0.03, 0.0, 0),
    Foot(-0.10, 0.0, 0),
    Foot(-0.23, 0.0, -10),
    Foot(-0.36, 0.0, -30),
    Foot(-0.50, 0.05, -50),
    Foot(-0.36, 0.16, -44),
    Foot(-0.06, 0.17, -22),
    Foot(0.24, 0.11, 2),
    Foot(0.42, 0.05, 20),
)
RUN_FEET = (
    Foot(0.40, 0.0, 10),
    Foot(0.14, 0.0, 0),
    Foot(-0.12, 0.0, -8),
    Foot(-0.38, 0.0, -44),
    Foot(-0.66, 0.24, -74),
    Foot(-0.62, 0.52, -88),
    Foot(-0.24, 0.60, -66),
    Foot(0.22, 0.48, -30),
    Foot(0.54, 0.30, -4),
    Foot(0.56, 0.10, 14),
)
RUN_SINK = (0.06, 0.12, 0.07, 0.0, -0.03)


def _scaled(foot: Foot, manner: Manner) -> Foot:
    """Return the foot with the courier's own step length and lift."""
    return Foot(foot.x * manner.stride, foot.lift * manner.lift, foot.pitch)


def _carry(manner: Manner, arm: Arm, sway: float) -> Arm:
    """Keep a loaded far arm nearly still, with a small sway in degrees."""
    if manner.carry is None:
        return arm
    return Arm(manner.carry.swing + sway, manner.carry.bend - sway * 0.5)


def idle(manner: Manner) -> list[Pose]:
    """Return 8 poses of standing and breathing, with one blink."""
    poses = []
    for i in range(8):
        w = 2 * math.pi * i / 8
        air = (0.5 - 0.5 * math.cos(w)) * manner.breath
        late = (0.5 - 0.5 * math.cos(w - 0.7)) * manner.breath
        near = Arm(-6 - manner.spread + 4 * late, 20 - 4 * late)
        far = _carry(manner, Arm(10 + manner.spread * 0.5 + 3 * late, 22 - 4 * late), 2 * late)
        poses.append(
            Pose(
                near_foot=Foot(-0.15 * manner.stance),
                far_foot=Foot(0.17 * manner.stance),
                near_arm=near,
                far_arm=far,
                sink=0.03 + 0.022 * (1 - air),
                lean=1.0 + manner.lean * 0.4 - 1.5 * air,
                bend=1.0 - 2.0 * air,
                nod=-1.0 + 3.0 * late,
                chest=1.7 * air,
                mood="blink" if i == 5 else "calm",
                wind=(-0.10 - 0.10 * math.sin(w), 0.0),
            )
        )
    return poses


def walk(manner: Manner) -> list[Pose]:
    """Return 12 poses: two steps, arms swinging against the legs."""
    poses = []
    for i in range(12):
        w = 2 * math.pi * i / 12
        lag = w - 0.35
        reach = 27 * manner.arms
        near = Arm(-reach * math.cos(lag) + 2 - manner.spread, 19 - 9 * math.cos(lag - 0.5))
        far = Arm(reach * math.cos(lag) + manner.spread * 0.3, 19 + 9 * math.cos(lag - 0.5))
        poses.append(
            Pose(
                near_foot=_scaled(WALK_FEET[i], manner),
                far_foot=_scaled(WALK_FEET[(i + 6) % 12], manner),
                near_arm=near,
                far_arm=_carry(manner, far, 3 * math.cos(lag)),
                sink=0.035 + 0.035 * manner.bob * math.cos(2 * w - 0.9),
                lean=4 + manner.lean + 1.5 * math.cos(2 * w),
                bend=1.0 - 1.5 * math.cos(2 * w - 0.6),
                nod=-2 + 2.5 * math.cos(2 * w - 1.2),
                twist=-0.45 * math.cos(lag),
                wind=(-0.55, 0.0),
            )
        )
    return poses


def run(manner: Manner) -> list[Pose]:
    """Return 10 poses: two bounds with a short flight in each."""
    poses = []
    for i in range(10):
        w = 2 * math.pi * i / 10
        lag = w - 0.45
        reach = 52 * manner.arms
        near = Arm(-reach * math.cos(lag) - 4 - manner.spread * 0.4, 88 - 22 * math.cos(lag))
        far = Arm(reach * math.cos(lag) - 4, 88 + 22 * math.cos(lag))
        poses.append(
            Pose(
                near_foot=_scaled(RUN_FEET[i], manner),
                far_foot=_scaled(RUN_FEET[(i + 5) % 10], manner),
                near_arm=near,
                far_arm=_carry(manner, far, 7 * math.cos(lag)),
                sink=RUN_SINK[i % 5] * manner.bob + 0.02,
                shift=-0.03,
                lean=13 + manner.lean + 2 * math.cos(2 * w),
                bend=3 - 2 * math.cos(2 * w - 0.6),
                nod=-9 + 3 * math.cos(2 * w - 1.0),
                twist=-0.7 * math.cos(lag),
                mood="keen",
                wind=(-1.7, 0.1 * math.cos(2 * w)),
            )
        )
    return poses
