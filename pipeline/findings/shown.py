"""The worst moment of what was measured, as a still picture."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.findings.animations import figure_of
from pipeline.findings.backgrounds import background_pixels
from pipeline.findings.cast import Drawn
from pipeline.findings.effects import Play
from pipeline.joints.found.flashes import VERDICTS, Flashes, Limit, Played
from pipeline.project.file import Effect
from pipeline.proofs.canvas import png
from pipeline.target.calls import Call
from pipeline.target.records import Target

_EDGE = ((0, "black"), (1, "white"), (2, "black"))  # around what flashes, seen on every ground


@dataclass(frozen=True)
class Read:
    """What reading the image takes; see ``proofs.subject.take``.

    Attributes:
        facts: of sprites with animations; palettes: of what has one.
    """

    image: Path
    map_file: Path
    facts: dict[str, Path]
    palettes: dict[str, str]
    decoders: dict[str, Call]
    target: Target


def worst_of(measured: Iterable[Flashes]) -> tuple[Flashes, Played, Limit] | None:
    """Return the worst that was measured; None where all passes."""
    every = [(flash, played, limit) for flash in measured for played in flash.played for limit in played.limits]
    return max(every, key=lambda one: (VERDICTS.index(one[2].verdict), one[2].transitions, one[2].area), default=None)


def picture_of(flash: Flashes, played: Played, limit: Limit, read: Read, effects: Mapping[str, tuple[Effect, Drawn]]) -> np.ndarray:
    """Return what was shown when a limit was at its worst: uint8 sRGB, shape (height, width, 3).

    Args:
        effects: each effect and the assets that it shows, by its name.
    """
    tick, name = limit.tick or 0, flash.name
    files = (read.image, read.map_file)
    if flash.kind == "effect":
        return Play(*files, name, *effects[name], read.decoders, read.target).picture_at(tick)
    palette = read.palettes.get(name)
    if flash.kind == "background":
        return background_pixels(*files, name, palette, read.decoders, read.target)
    figure, animations = figure_of(*files, read.facts[name], name, palette, read.decoders, read.target)
    loop, steps = next((loop, steps) for animation, loop, steps in animations if animation == played.name)
    return figure.picture_at(steps, loop, played.ground, tick)


def drawn(pixels: np.ndarray, box: tuple[int, int, int, int] | None) -> bytes:
    """Return a picture with a frame around a box, left, top, width and height, as a PNG; around all of it where there is none."""
    picture = Image.fromarray(pixels)
    left, top, width, height = box or (0, 0, *picture.size)
    draw = ImageDraw.Draw(picture)
    for inner, colour in _EDGE:
        draw.rectangle((left + inner, top + inner, left + width - 1 - inner, top + height - 1 - inner), outline=colour)
    return png(picture)
