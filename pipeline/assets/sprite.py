"""Sprites: prepared frames to a blob with its frame, animation and step tables."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.art import Artwork
from pipeline.assets.blob import save_blob
from pipeline.assets.prepared import PreparedFrames
from pipeline.assets.sprite_blobs import pieced_blob, sheet_blob
from pipeline.errors import refuse
from pipeline.project_checks import animation_frames
from pipeline.project_file import Sprite
from pipeline.target import PictureRules

_MOST_TICKS = 65535


def convert_sprite(
    work: Path,
    blobs: Path,
    name: str,
    files: tuple[str, ...],
    spec: Sprite,
    rules: PictureRules,
    refresh: float,
    flips: tuple[bool, bool],
    alignment: int,
) -> str:
    """Write a sprite's blob and facts; return one line about it.

    Args:
        refresh: pictures a second, which animation steps are counted in.
        flips: whether the console can mirror a cell left to right, and top to bottom.

    Raises:
        ProjectError: an animation names a frame that is not there, or a number leaves its field.
    """
    frames = PreparedFrames(work, name)
    art = Artwork(frames, blobs, spec.palette, rules, name, spec.dither)
    animations = _animations(name, spec, files, frames, refresh)
    make = pieced_blob if spec.arrangement == "pieces" else sheet_blob
    try:
        blob, facts = make(art, animations, spec, rules, flips, max(alignment, 4))
    except OverflowError:
        remedy = "a sprite holds at most 65,535 frames, steps and cells, and anchors within 32,767 pixels; split it"
        raise refuse("project.toml", f"[sprite.{name}]", "a number leaves its field in the blob", remedy) from None
    said = save_blob(blobs, name, "sprite", blob, _facts(spec, art, animations) | facts)
    more = f", {facts['pieces']} pieces of {facts['cell_count']} cells" if spec.arrangement == "pieces" else ""
    return f"{frames.count} frames of {frames.width} x {frames.height}{more}, {said}"


def _animations(name: str, spec: Sprite, files: tuple[str, ...], frames: PreparedFrames, refresh: float) -> list[dict]:
    """Return name, loop and the steps (frame, ticks) of every animation, in the order of the project file."""
    if not spec.animations and frames.facts["ms"]:
        return [_animation(name, "play", True, list(range(frames.count)), frames.facts["ms"], refresh)]
    found = []
    for key, animation in spec.animations.items():
        numbers = animation_frames(animation, files)
        outside = [number for number in numbers if not 0 <= number < frames.count]
        if outside:
            place = f"[sprite.{name}.animations.{key}] frames"
            raise refuse("project.toml", place, f"there is no frame {outside[0]}", f"frames are numbered 0 to {frames.count - 1}")
        durations = animation.ms if isinstance(animation.ms, list) else [animation.ms] * len(numbers)
        found.append(_animation(name, key, animation.loop, numbers, durations, refresh))
    return found


def _animation(name: str, key: str, loop: bool, numbers: list[int], durations: list[float], refresh: float) -> dict:
    steps = [[number, max(1, round(ms * refresh / 1000))] for number, ms in zip(numbers, durations, strict=True)]
    longest = max((ticks for _, ticks in steps), default=0)
    if longest > _MOST_TICKS:
        wrong = f"a frame is shown for {longest} screen pictures, {_MOST_TICKS} can be stored"
        raise refuse("project.toml", f"[sprite.{name}] {key}", wrong, "shorten it, or repeat the frame")
    return {"name": key, "loop": loop, "steps": steps}


def _facts(spec: Sprite, art: Artwork, animations: list[dict]) -> dict:
    frames = art.frames
    return {
        "frames": frames.count,
        "width": frames.width,
        "height": frames.height,
        "source_width": frames.facts["source"][0],
        "source_height": frames.facts["source"][1],
        "scale": frames.facts["scale"],
        "anchor": frames.facts["anchor"],
        "arrangement": spec.arrangement,
        "palette": spec.palette,
        "animations": animations,
        "intent": art.intent.facts(),
        "colour_error": art.errors.facts(),
        "origin": spec.origin,
    }
