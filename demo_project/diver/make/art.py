"""Draws every picture of the third demo: ``python demo_project/diver/make/art.py``. The same pixels each time, with Pillow.

It draws with the second demo's canvas and ground.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "veillee/make")]

from bowl import draw_bowl  # noqa: E402
from swimmers import draw_swimmers  # noqa: E402
from tin import draw_diver  # noqa: E402


def main(arguments: list[str]) -> None:
    """Draw into ``art`` beside this folder, or into the folder given."""
    art = Path(arguments[0]) if arguments else HERE.parent / "art"
    art.mkdir(parents=True, exist_ok=True)
    for draw in (draw_diver, draw_swimmers, draw_bowl):
        draw(art)


if __name__ == "__main__":
    main(sys.argv[1:])
