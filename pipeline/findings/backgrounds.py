"""A background looked at for stripes, from the image's own bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pipeline.findings.measured import kept
from pipeline.joints.found.flashes import write_flashes
from pipeline.joints.map import read_map
from pipeline.proofs.subject import coloured, take_both
from pipeline.safety.stripes import still
from pipeline.safety.swings import luminance
from pipeline.target.calls import Call
from pipeline.target.records import Target


def measure_background(
    image: Path, map_file: Path, out: Path, name: str, palette: str | None, decoders: dict[str, Call], target: Target
) -> str:
    """Write whether a background is striped, see ``joints.found.flashes``; return one line about it.

    Args:
        palette: its palette's name; None for direct colour.
        decoders: see ``proofs.subject.take``.
    """
    pixels = background_pixels(image, map_file, name, palette, decoders, target)
    light = luminance(pixels.reshape(-1, 3)).reshape(pixels.shape[:2])
    screen = (target.screen.width, target.screen.height)
    played = kept("", "", [still(light, screen)], None, screen)
    write_flashes(out, "background", name, target.screen.refresh, [played])
    return "no stripes" if played.verdict == "pass" else "striped: see doit flashes"


def background_pixels(
    image: Path, map_file: Path, name: str, palette: str | None, decoders: dict[str, Call], target: Target
) -> np.ndarray:
    """Return a background as the image holds it: uint8 sRGB, shape (height, width, 3)."""
    return coloured(*take_both(image, name, palette, read_map(map_file).by_name(), target, decoders))[0][0]
