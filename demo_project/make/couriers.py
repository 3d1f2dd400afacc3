"""Draw the couriers of Harbour Relay into demo_project/art/couriers.

Each frame is 120 x 160 RGBA with the ground point under the body at (60, 152).
Usage: python demo_project/make/couriers.py [plume=RRGGBB] [courier ...]; ``plume`` is the colour of Tove's, white when left out.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
from courier_kit import look_tove
from courier_kit.look import ACTIONS, Look, frames
from courier_kit.ramps import ramp
from courier_kit.roster import COURIERS
from PIL import Image

TARGET = Path(__file__).resolve().parent.parent / "art" / "couriers"


def check(image: np.ndarray, name: str) -> None:
    """Fail when a frame (160, 120, 4) has the wrong shape or touches its edge."""
    assert image.shape == (160, 120, 4), f"{name}: wrong shape {image.shape}"
    alpha = image[..., 3]
    edges = {"top": alpha[0], "bottom": alpha[-1], "left": alpha[:, 0], "right": alpha[:, -1]}
    touched = [side for side, line in edges.items() if line.any()]
    assert not touched, f"{name}: touches {', '.join(touched)}"


def write(look: Look) -> int:
    """Write all frames of a courier; returns the bytes written."""
    folder = TARGET / look.name
    folder.mkdir(parents=True, exist_ok=True)
    total = 0
    for action in ACTIONS:
        for i, image in enumerate(frames(look, action)):
            path = folder / f"{action}_{i:02d}.png"
            check(image, f"{look.name}/{path.name}")
            Image.fromarray(image).save(path, optimize=True)
            total += path.stat().st_size
    return total


def main(names: list[str]) -> None:
    """Write the named couriers, or all of them."""
    for word in [name for name in names if name.startswith("plume=")]:
        if not re.fullmatch("plume=[0-9a-fA-F]{6}", word):
            sys.exit(f"{word} is no colour; write for example plume=d02a2a")
        look_tove.PLUME = ramp(word.removeprefix("plume="))
        names.remove(word)
    unknown = set(names) - {look.name for look in COURIERS}
    if unknown:
        sys.exit(f"no courier is called {', '.join(sorted(unknown))}; they are {', '.join(look.name for look in COURIERS)}")
    for look in COURIERS:
        if not names or look.name in names:
            print(f"{look.name}: {write(look)} bytes")


if __name__ == "__main__":
    main(sys.argv[1:])
