"""Key poses of the single actions: jump, throw and stumble."""

from __future__ import annotations

from dataclasses import replace

from courier_kit.cycles import Manner
from courier_kit.skeleton import Arm, Foot, Pose


def _manner(pose: Pose, manner: Manner) -> Pose:
    """Adapt a key pose to a courier's stance, lean and load."""
    near, far = pose.near_foot, pose.far_foot
    scale = min(manner.stride, 1.0) * manner.stance**0.5
    pose = replace(
        pose,
        near_foot=replace(near, x=near.x * scale),
        far_foot=replace(far, x=far.x * scale),
        lean=pose.lean + manner.lean * 0.5,
    )
    if manner.carry is not None:
        held = Arm(manner.carry.swing + manner.loose * (pose.far_arm.swing - 20), manner.carry.bend)
        pose = replace(pose, far_arm=held)
    return pose


# Feet are raised by tucking; the game itself carries the sprite along its arc.
JUMP = (
    Pose(Foot(-0.14), Foot(0.16), Arm(-22, 22), Arm(-10, 26), 0.16, -0.01, 8, 4, 4),
    Pose(Foot(-0.16, 0, -8), Foot(0.14, 0, -4), Arm(-62, 16), Arm(-50, 18), 0.38, -0.05, 24, 8, -12, mood="effort"),
    Pose(
        Foot(-0.16, 0, -34),
        Foot(0.10, 0, -30),
        Arm(40, 60),
        Arm(62, 50),
        0.02,
        0.04,
        8,
        0,
        -10,
        chest=2,
        mood="effort",
        wind=(-0.5, 1.2),
    ),
    Pose(
        Foot(-0.34, 0.08, -58),
        Foot(0.06, 0.10, -44),
        Arm(86, 48),
        Arm(112, 34),
        -0.05,
        0.05,
        6,
        -4,
        -10,
        chest=2,
        mood="effort",
        wind=(-0.7, 1.8),
    ),
    Pose(
        Foot(-0.38, 0.34, -62),
        Foot(0.30, 0.36, -16),
        Arm(62, 64),
        Arm(98, 44),
        -0.05,
        0.03,
        10,
        0,
        -6,
        wind=(-0.8, 0.8),
    ),
    Pose(
        Foot(-0.26, 0.48, -48),
        Foot(0.38, 0.46, -6),
        Arm(-34, 52),
        Arm(84, 46),
        -0.06,
        0.02,
        12,
        2,
        -4,
        twist=-0.2,
        wind=(-0.8, -0.6),
    ),
    Pose(
        Foot(-0.20, 0.34, -28),
        Foot(0.36, 0.30, 6),
        Arm(-64, 40),
        Arm(92, 30),
        -0.05,
        0.0,
        8,
        2,
        4,
        twist=-0.2,
        mood="shout",
        wind=(-0.7, -1.2),
    ),
    Pose(
        Foot(-0.10, 0.12, -14),
        Foot(0.30, 0.08, 12),
        Arm(-82, 30),
        Arm(104, 22),
        -0.05,
        -0.02,
        4,
        2,
        8,
        mood="shout",
        wind=(-0.6, -1.9),
    ),
    Pose(Foot(-0.16), Foot(0.24), Arm(-46, 40), Arm(38, 46), 0.40, -0.02, 20, 10, 2, mood="effort", wind=(-0.3, -0.2)),
    Pose(Foot(-0.15), Foot(0.18), Arm(-18, 30), Arm(18, 34), 0.15, 0.0, 7, 3, 2, wind=(-0.2, 0.8)),
)

THROW = (
    Pose(Foot(-0.16), Foot(0.16), Arm(24, 78), Arm(30, 60), 0.06, -0.02, 2, 2, 6, parcel="held"),
    Pose(Foot(-0.18), Foot(0.16), Arm(-14, 86), Arm(44, 40), 0.12, -0.06, -5, -3, 2, twist=-0.3, parcel="held"),
    Pose(
        Foot(-0.22),
        Foot(0.20, 0.06, 8),
        Arm(-62, 40),
        Arm(66, 22),
        0.13,
        -0.06,
        -10,
        -6,
        0,
        twist=-0.7,
        mood="effort",
        parcel="held",
        wind=(0.4, 0),
    ),
    Pose(
        Foot(-0.22, 0, -4),
        Foot(0.34, 0.14, 16),
        Arm(-96, -58),
        Arm(80, 14),
        0.12,
        -0.05,
        -13,
        -6,
        2,
        twist=-0.55,
        mood="effort",
        parcel="held",
        wind=(0.4, 0),
    ),
    Pose(
        Foot(-0.24, 0, -22),
        Foot(0.40, 0, 6),
        Arm(-158, -6),
        Arm(64, 26),
        0.14,
        -0.04,
        -2,
        -4,
        -4,
        twist=-0.2,
        chest=1,
        mood="shout",
        parcel="held",
        wind=(-0.7, 0),
    ),
    Pose(
        Foot(-0.26, 0, -38),
        Foot(0.38),
        Arm(146, -6),
        Arm(10, 44),
        0.13,
        0.04,
        12,
        4,
        -8,
        twist=0.7,
        chest=1,
        mood="shout",
        parcel=(7.0, -9.0),
        wind=(-0.9, 0),
    ),
    Pose(
        Foot(-0.26, 0, -46),
        Foot(0.38),
        Arm(92, 4),
        Arm(-26, 50),
        0.16,
        0.07,
        21,
        7,
        -12,
        twist=0.9,
        mood="shout",
        parcel=(10.0, -40.0),
        wind=(-0.6, 0),
    ),
    Pose(
        Foot(-0.24, 0, -34),
        Foot(0.36),
        Arm(38, 16),
        Arm(-30, 48),
        0.19,
        0.06,
        23,
        7,
        -12,
        twist=0.6,
        wind=(-0.2, 0),
    ),
    Pose(Foot(-0.22, 0.03, -12), Foot(0.30), Arm(16, 22), Arm(-10, 34), 0.12, 0.02, 12, 4, -6, twist=0.2),
    Pose(Foot(-0.16), Foot(0.19), Arm(0, 20), Arm(8, 24), 0.06, 0.0, 4, 2, -2),
)

STUMBLE = (
    Pose(
        Foot(-0.36, 0, -46),
        Foot(0.12, 0.06, -34),
        Arm(-20, 50),
        Arm(40, 50),
        0.05,
        -0.02,
        17,
        5,
        -8,
        mood="ouch",
        wind=(-1.2, 0),
    ),
    Pose(
        Foot(-0.46, 0.12, -66),
        Foot(0.26, 0, -8),
        Arm(34, 34),
        Arm(96, 20),
        0.12,
        -0.06,
        27,
        8,
        -18,
        mood="ouch",
        wind=(-1.6, -0.4),
    ),
    Pose(
        Foot(0.10, 0.16, -12),
        Foot(0.10),
        Arm(-84, 26),
        Arm(108, 16),
        0.22,
        -0.12,
        30,
        9,
        -22,
        twist=-0.4,
        mood="ouch",
        wind=(-1.0, -1.0),
    ),
    Pose(
        Foot(0.48, 0, 8),
        Foot(-0.20, 0, -40),
        Arm(-58, 34),
        Arm(66, 40),
        0.30,
        -0.02,
        17,
        5,
        -6,
        mood="ouch",
        wind=(-0.6, -0.6),
    ),
    Pose(
        Foot(0.34),
        Foot(-0.24, 0, -14),
        Arm(58, 40),
        Arm(-46, 40),
        0.20,
        0.02,
        -7,
        -4,
        8,
        twist=0.3,
        mood="ouch",
        wind=(0.5, 0.2),
    ),
    Pose(Foot(0.16), Foot(-0.12), Arm(16, 56), Arm(-8, 40), 0.10, 0.0, 6, 4, 12, mood="blink", wind=(0.1, 0)),
)


def jump(manner: Manner) -> list[Pose]:
    """Return 10 poses: crouch, rise, apex, fall, land."""
    return [_manner(p, manner) for p in JUMP]


def throw(manner: Manner) -> list[Pose]:
    """Return 10 poses: wind up, release of the parcel, recovery."""
    return [_manner(p, manner) for p in THROW]


def stumble(manner: Manner) -> list[Pose]:
    """Return 6 poses: trip, flail, catch the balance."""
    return [_manner(p, manner) for p in STUMBLE]
