"""Draws every picture of the demo anew: ``python demo_project/veillee/make/art.py``. The same bytes each time, with Pillow.

With ``font`` it also cuts the small font anew, which needs fontTools.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from creatures import draw_creatures  # noqa: E402
from far import draw_far  # noqa: E402
from keepers import draw_keepers  # noqa: E402
from letters import cut_font, draw_letters  # noqa: E402
from near import draw_near  # noqa: E402
from title import draw_title  # noqa: E402


def main(arguments: list[str]) -> None:
    """Draw into ``art`` beside this folder, or into the folder given."""
    places = [word for word in arguments if word != "font"]
    art = Path(places[0]) if places else HERE.parent / "art"
    art.mkdir(parents=True, exist_ok=True)
    for draw in (draw_keepers, draw_creatures, draw_far, draw_near, draw_title, draw_letters):
        draw(art)
    if "font" in arguments:
        cut_font(HERE.parents[2] / "templates/fonts", HERE.parent / "fonts")


if __name__ == "__main__":
    main(sys.argv[1:])
