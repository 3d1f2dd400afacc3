"""Draw the four harbour backgrounds of Harbour Relay, 640 x 320 pixels each, and the details put onto them.

Run from anywhere: ``python harbours.py [NAME ...]``; no name draws all of them. The details' name is ``details``.
"""

import sys
from collections.abc import Callable
from pathlib import Path

import harbour_details
import harbour_emberdock
import harbour_northpier
import harbour_palmsteps
import harbour_slatequay
from harbour_finish import save
from harbour_layer import Layer

OUTPUT = Path(__file__).resolve().parent.parent / "art" / "harbours"

HARBOURS: dict[str, Callable[[], Layer]] = {
    "slatequay": harbour_slatequay.paint,
    "emberdock": harbour_emberdock.paint,
    "northpier": harbour_northpier.paint,
    "palmsteps": harbour_palmsteps.paint,
}


def main(names: list[str]) -> None:
    """Paint the named harbours and details, or all of them."""
    OUTPUT.mkdir(parents=True, exist_ok=True)
    for name in names or [*HARBOURS, "details"]:
        path = OUTPUT / f"{name}.png"
        if name == "details":
            harbour_details.save(harbour_details.paint(), path)
        else:
            save(HARBOURS[name](), path)
        print(f"{path.name}: {path.stat().st_size} bytes")


if __name__ == "__main__":
    main(sys.argv[1:])
