"""Courier bodies: measures, poses and the joints they lead to."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from courier_kit.shapes import Points, heading, place, pt, turn

# How far a wrist may be from the middle, and what a hand adds when it points
# sideways, empty and with a parcel, in pixels.
HAND_ROOM = (54.0, 11.0)
LOADED_ROOM = (50.0, 14.0)


@dataclass(frozen=True)
class Build:
    """Bone lengths in pixels of one courier."""

    thigh: float
    shin: float
    ankle: float
    heel: float
    ball: float
    torso: float
    neck: float
    head: float
    upper_arm: float
    forearm: float
    shoulder: float
    hip: float

    @property
    def leg(self) -> float:
        """Length of the straight leg, hip to ankle, in pixels."""
        return self.thigh + self.shin


@dataclass(frozen=True)
class Foot:
    """Foot target: x and lift in leg lengths, pitch in degrees (toe up is +)."""

    x: float = 0.0
    lift: float = 0.0
    pitch: float = 0.0


@dataclass(frozen=True)
class Arm:
    """Arm angles in degrees: 0 hangs down, + is forward; bend folds the elbow."""

    swing: float = 5.0
    bend: float = 15.0


@dataclass(frozen=True)
class Pose:
    """One frame of an action; pelvis offsets in leg lengths, angles in degrees."""

    near_foot: Foot = Foot(-0.13)
    far_foot: Foot = Foot(0.15)
    near_arm: Arm = Arm()
    far_arm: Arm = Arm()
    sink: float = 0.03
    shift: float = 0.0
    lean: float = 2.0
    bend: float = 0.0
    nod: float = 0.0
    twist: float = 0.0
    chest: float = 0.0
    mood: str = "calm"
    wind: tuple[float, float] = (0.0, 0.0)
    parcel: tuple[float, float] | str | None = None


@dataclass
class Side:
    """Joints (2,) of one side, the foot pitch and the forearm angle in degrees."""

    shoulder: Points
    elbow: Points
    wrist: Points
    hip: Points
    knee: Points
    ankle: Points
    pitch: float
    grounded: bool
    forearm: float


@dataclass
class Rig:
    """All joints of one frame, in pixels from the ground point."""

    pose: Pose
    build: Build
    pelvis: Points
    middle: Points
    neck: Points
    head: Points
    head_turn: float
    near: Side
    far: Side
    lean: float
    chest_lean: float
    extra: dict[str, Points] = field(default_factory=dict)

    def spine(self, t: float, out: float = 0.0) -> Points:
        """Return the point (2,) at t along the spine (0 pelvis, 1 neck).

        out moves it forward, across the spine, by that many pixels.
        """
        u = min(max(t, 0.0), 1.0)
        a, b, c = self.pelvis, self.middle, self.neck
        base = (1 - u) ** 2 * a + 2 * u * (1 - u) * b + u**2 * c
        slope = 2 * (1 - u) * (b - a) + 2 * u * (c - b)
        slope = slope / np.hypot(*slope)
        base = base + slope * (t - u) * self.build.torso
        return base + turn(slope, 90.0) * out


def two_bone(root: Points, target: Points, upper: float, lower: float, forward: bool = True) -> tuple[Points, Points]:
    """Return middle joint and end (2,) reaching for target.

    Knees bend forward; elbows (forward=False) bend the other way.
    """
    gap = target - root
    reach = float(np.clip(np.hypot(*gap), abs(upper - lower) + 0.5, upper + lower - 0.05))
    way = gap / max(float(np.hypot(*gap)), 1e-6)
    cosine = (upper**2 + reach**2 - lower**2) / (2 * upper * reach)
    fold = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    middle = root + turn(way, -fold if forward else fold) * upper
    return middle, root + way * reach


def ankle_of(build: Build, foot: Foot, offset: float) -> Points:
    """Return the ankle (2,) when the heel or the ball carries the pitched foot."""
    flat = pt(foot.x * build.leg + offset, -build.ankle - 1.0)
    pivot = pt(-build.heel, build.ankle) if foot.pitch > 0 else pt(build.ball, build.ankle)
    ankle = flat + pivot + turn(-pivot, -foot.pitch)
    return ankle - pt(0.0, foot.lift * build.leg)


def _pelvis(build: Build, pose: Pose, ankles: list[tuple[Points, Foot, float]]) -> Points:
    """Return the pelvis (2,), sunk as far as planted feet need to be reached."""
    x = pose.shift * build.leg
    y = -(build.leg + build.ankle + 1.0) + pose.sink * build.leg
    for ankle, foot, offset in ankles:
        if foot.lift > 0.0:
            continue
        across = ankle[0] - (x + offset)
        y = max(y, ankle[1] - np.sqrt(max((0.99 * build.leg) ** 2 - across**2, 0.0)))
    return pt(x, y)


def solve(build: Build, pose: Pose) -> Rig:
    """Turn a pose into joints for a body."""
    near_x, far_x = -build.hip, build.hip
    near_ankle = ankle_of(build, pose.near_foot, near_x)
    far_ankle = ankle_of(build, pose.far_foot, far_x)
    pelvis = _pelvis(build, pose, [(near_ankle, pose.near_foot, near_x), (far_ankle, pose.far_foot, far_x)])
    chest_lean = pose.lean + pose.bend
    middle = pelvis + turn(pt(0, -build.torso * 0.5), pose.lean)
    neck = middle + turn(pt(0, -build.torso * 0.5 - pose.chest), chest_lean)
    head_turn = pose.nod + 0.35 * chest_lean
    head = neck + turn(pt(0.06 * build.head, -build.neck - 0.8 * build.head), 0.6 * chest_lean + 0.4 * head_turn)
    drop = 0.13 * build.torso
    slide = pose.twist * build.shoulder * 0.65
    near_shoulder = place((-build.shoulder * 0.75 + slide, drop), neck, chest_lean)
    far_shoulder = place((build.shoulder * 0.75 - slide, drop * 0.8), neck, chest_lean)
    room = LOADED_ROOM if pose.parcel == "held" else HAND_ROOM
    near = _side(build, near_shoulder, pose.near_arm, pelvis + pt(near_x, 0), near_ankle, pose.near_foot, room)
    far = _side(build, far_shoulder, pose.far_arm, pelvis + pt(far_x, 0), far_ankle, pose.far_foot, HAND_ROOM)
    return Rig(pose, build, pelvis, middle, neck, head, head_turn, near, far, pose.lean, chest_lean)


def _side(build: Build, shoulder: Points, arm: Arm, hip: Points, ankle: Points, foot: Foot, room: tuple[float, float]) -> Side:
    """Solve one arm by angles and one leg by reaching.

    An arm that would leave the frame (room, in pixels) folds instead.
    """
    elbow = shoulder + heading(arm.swing) * build.upper_arm
    forearm = arm.swing + arm.bend
    wrist = elbow + heading(forearm) * build.forearm
    for _ in range(4):
        limit = room[0] - room[1] * abs(float(heading(forearm)[0]))
        kept = pt(np.clip(wrist[0], -limit, limit), wrist[1])
        if kept[0] == wrist[0]:
            break
        elbow, wrist = two_bone(shoulder, kept, build.upper_arm, build.forearm, forward=arm.bend < 0)
        forearm = float(np.degrees(np.arctan2(*(wrist - elbow))))
    knee, end = two_bone(hip, ankle, build.thigh, build.shin)
    return Side(shoulder, elbow, wrist, hip, knee, end, foot.pitch, foot.lift <= 0.0, forearm)
