"""Sprites: prepared frames to a blob with its frame, animation and step tables."""

from __future__ import annotations

from pathlib import Path

from pipeline.assets.art import Artwork, Intent
from pipeline.assets.blob import name_hash, put_record, save_blob
from pipeline.assets.prepared import PreparedFrames
from pipeline.errors import refuse
from pipeline.pixel_size import round_up
from pipeline.pixels.pack import pack_picture
from pipeline.project_checks import animation_frames
from pipeline.project_file import Sprite
from pipeline.records import ANIMATION, NO_PALETTE, SPRITE, STEP, VERSION, record_bytes
from pipeline.target import PictureRules

_MOST_TICKS = 65535


def convert_sprite(
    work: Path, blobs: Path, name: str, files: tuple[str, ...], spec: Sprite, rules: PictureRules, refresh: float, alignment: int
) -> str:
    """Write a sprite's blob and facts; return one line about it.

    Raises:
        ProjectError: an animation names a frame that is not there, or a number leaves its field.
    """
    frames = PreparedFrames(work, name)
    art = Artwork(frames, blobs, spec.palette, rules, name, spec.dither)
    packed = [pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell) for pixels in art]
    intent = art.intent
    animations = _animations(name, spec, files, frames, refresh)
    tables = _tables(animations, rules.byte_order)
    steps_at = record_bytes(SPRITE) + record_bytes(ANIMATION) * len(animations)
    pixels_at = round_up(record_bytes(SPRITE) + len(tables), max(alignment, 4))
    head = _head(name, spec, frames, intent, animations, rules, len(packed[0]), steps_at, pixels_at)
    blob = (head + tables).ljust(pixels_at, b"\0") + b"".join(packed)
    facts = _facts(spec, frames, intent, animations, rules, len(packed[0])) | {"colour_error": art.errors.facts()}
    said = save_blob(blobs, name, "sprite", blob, facts)
    return f"{frames.count} frames of {frames.width} x {frames.height}, {said}"


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


def _tables(animations: list[dict], byte_order: str) -> bytes:
    heads, steps, first = [], [], 0
    for animation in animations:
        heads.append(
            put_record(
                ANIMATION,
                byte_order,
                name_hash=name_hash(animation["name"]),
                first_step=first,
                step_count=len(animation["steps"]),
                loop=int(animation["loop"]),
            )
        )
        first += len(animation["steps"])
        steps.extend(put_record(STEP, byte_order, frame=frame, ticks=ticks) for frame, ticks in animation["steps"])
    return b"".join(heads + steps)


def _head(name, spec, frames, intent, animations, rules, frame_bytes, steps_at, pixels_at) -> bytes:
    anchor_x, anchor_y = frames.facts["anchor"]
    try:
        return put_record(
            SPRITE,
            rules.byte_order,
            version=VERSION,
            pixel_format=rules.rank,
            frame_count=frames.count,
            width=intent.shape[2],
            height=intent.shape[1],
            anchor_x=anchor_x,
            anchor_y=anchor_y,
            animation_count=len(animations),
            step_count=sum(len(animation["steps"]) for animation in animations),
            palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
            frame_bytes=frame_bytes,
            animations=record_bytes(SPRITE),
            steps=steps_at,
            pixels=pixels_at,
        )
    except OverflowError:
        remedy = "a sprite holds at most 65,535 frames and steps, and anchors within 32,767 pixels; split it"
        raise refuse("project.toml", f"[sprite.{name}]", "a number leaves its field in the blob", remedy) from None


def _facts(spec: Sprite, frames: PreparedFrames, intent: Intent, animations: list[dict], rules: PictureRules, frame_bytes: int) -> dict:
    return {
        "frames": frames.count,
        "width": frames.width,
        "height": frames.height,
        "source_width": frames.facts["source"][0],
        "source_height": frames.facts["source"][1],
        "scale": spec.scale,
        "anchor": frames.facts["anchor"],
        "cells": [intent.shape[2] // rules.cell[0], intent.shape[1] // rules.cell[1]],
        "frame_bytes": frame_bytes,
        "palette": spec.palette,
        "animations": animations,
        "intent": intent.facts(),
        "origin": spec.origin,
    }
