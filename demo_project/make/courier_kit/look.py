"""What a courier is: a body, a manner, hanging strands and a way to be drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from courier_kit.body import hand
from courier_kit.canvas import Canvas
from courier_kit.cloth import Strand, swing
from courier_kit.cycles import Manner, idle, run, walk
from courier_kit.keyed import jump, stumble, throw
from courier_kit.props import flight_marks, parcel
from courier_kit.ramps import Ramp
from courier_kit.shapes import heading, pt
from courier_kit.skeleton import Build, Rig, solve

Cloth = dict[str, np.ndarray]
ACTIONS = {"idle": idle, "walk": walk, "run": run, "jump": jump, "throw": throw, "stumble": stumble}
LOOPED = ("idle", "walk", "run")
PARCEL = 6.5


@dataclass(frozen=True)
class Look:
    """One courier; draw paints a rig with its strands onto a canvas."""

    name: str
    build: Build
    manner: Manner
    strands: Sequence[Strand]
    draw: Callable[[Canvas, Rig, Cloth], None]


def frames(look: Look, action: str) -> list[np.ndarray]:
    """Draw an action; returns uint8 images of shape (160, 120, 4)."""
    rigs = [solve(look.build, pose) for pose in ACTIONS[action](look.manner)]
    _mark_release(rigs)
    moved = {s.name: swing(s, rigs, action in LOOPED) for s in look.strands}
    images = []
    for i, rig in enumerate(rigs):
        canvas = Canvas()
        look.draw(canvas, rig, {name: path[i] for name, path in moved.items()})
        images.append(canvas.finish())
    return images


def _mark_release(rigs: list[Rig]) -> None:
    """Tell the flying frames where the hand let the parcel go."""
    flying = [r for r in rigs if isinstance(r.pose.parcel, tuple)]
    for rig in flying:
        rig.extra["release"] = flying[0].near.wrist + heading(flying[0].near.forearm) * 6.0


def near_hand(c: Canvas, rig: Rig, skin: Ramp, size: float) -> None:
    """Draw the near hand and, in a throw, the parcel it holds or has let go."""
    state = rig.pose.parcel
    grip = rig.near.wrist + heading(rig.near.forearm) * size * 1.1
    if state == "held":
        parcel(c, grip + heading(rig.near.forearm) * PARCEL * 0.5, PARCEL, -rig.near.forearm * 0.4)
    hand(c, rig.near, skin, size, open_hand=rig.pose.mood in ("shout", "ouch") and state != "held")
    if isinstance(state, tuple):
        # The parcel stays inside the frame until it is gone.
        away = np.clip(rig.extra["release"] + pt(*state), (-48, -138), (48, 0))
        if state[1] < -20:
            flight_marks(c, away, PARCEL, -50)
        parcel(c, away, PARCEL, 24 + state[1])
