"""What a sprite's frames ask of hardware that draws sprites line by line, and whether the console can."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pipeline.joints.facts import HardwareSprites
from pipeline.pixels.pieces.lines import count_lines
from pipeline.plain.errors import Problem, ProjectError
from pipeline.target.records import SpriteLimits


def hardware_sprites(drawn: Sequence[np.ndarray], unit: tuple[int, int]) -> HardwareSprites:
    """Return the facts about frames.

    Args:
        drawn: for each frame x, y, width and height of what is drawn of it, integers of shape (n, 4).
        unit: largest picture of one hardware sprite.
    """
    counted = [count_lines(places, unit) for places in drawn]
    return HardwareSprites(unit=unit, frames=[(one.sprites, one.line_sprites, one.line, one.line_pixels) for one in counted])


def show_hardware(asked: HardwareSprites) -> str:
    """Return the worst line of all frames, for a step's line."""
    frame = max(range(len(asked.frames)), key=lambda rank: asked.frames[rank][1])
    _, sprites, line, _ = asked.frames[frame]
    return f"at most {sprites} hardware sprites on a line (frame {frame}, line {line})"


def check_hardware(name: str, asked: HardwareSprites, limits: SpriteLimits) -> list[str]:
    """Return a remark for each limit that a frame passes by itself, with the worst frame; none where the console draws them all.

    Raises:
        ProjectError: there is one, and the target refuses it.
    """
    found = []
    for key, most in limits.hardware().items():
        place = {"picture_sprites": 0, "line_sprites": 1, "line_pixels": 3}[key]
        rank = max(range(len(asked.frames)), key=lambda one: asked.frames[one][place])
        frame = asked.frames[rank]
        if frame[place] <= most:
            continue
        where = f"frame {rank} takes {frame[place]:,}"
        found.append(
            {
                "picture_sprites": f"{where} hardware sprites, the console draws {most:,}",
                "line_sprites": f"{where} hardware sprites on line {frame[2]}, the console draws {most:,}",
                "line_pixels": f"{where} pixels of hardware sprites on one line, the console draws {most:,}",
            }[key]
        )
    if found and limits.over == "refuse":
        remedy = 'use a smaller scale, or arrangement = "pieces" where much of a frame is transparent, or set over = "warn" in the target'
        raise ProjectError(Problem("project.toml", f"[sprite.{name}]", wrong, remedy) for wrong in found)
    return found
