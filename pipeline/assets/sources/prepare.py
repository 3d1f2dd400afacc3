"""Figures brought to size: source pictures to scaled frames; ``prepared`` documents the files."""

from __future__ import annotations

import contextlib
import math
from fractions import Fraction
from pathlib import Path
from typing import IO

from PIL import Image

from pipeline.assets.sources.canvas import Canvas
from pipeline.assets.sources.frames import SourceFrames, odd_sizes
from pipeline.assets.sources.pictures import check_drawn
from pipeline.assets.sources.prepared import Placed, write_frames
from pipeline.joints.places import FrameFiles, Sources
from pipeline.pixels.feet import feet
from pipeline.pixels.scaling.scale import cut_alpha, exact_factors, least_seen, origin_about, scale_about, scaled_about
from pipeline.plain.bounds import FRAME_PIXELS, SPRITE_PIXELS, most_frames
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import replacing
from pipeline.plain.sizes import counted
from pipeline.project.assets import Background, Sprite
from pipeline.target.calls import Call
from pipeline.target.records import SpriteLimits


def prepare_sprite(
    sources: Sources,
    out: FrameFiles,
    name: str,
    spec: Sprite,
    limits: SpriteLimits,
    boxes: Path | None = None,
    boxed: Call | None = None,
    cuts: Path | None = None,
    noted: bool = False,
) -> str:
    """Scale a sprite's frames and write them; return one line about it.

    Args:
        noted: there are notes on its frames, so that it is kept where places of the art are in the scaled frames.
        boxes, boxed, cuts: of a sheet; see ``frames.SourceFrames``.

    Raises:
        ProjectError: a frame cannot be read, differs in size, or is too large; too many frames; an anchor far outside.
    """
    most = most_frames(limits.max_frames)
    frames = SourceFrames(sources, spec, most, boxes, boxed, cuts, numbered=out.numbers is not None)
    made, milliseconds, factors = 0, [], (Fraction(1), Fraction(1))
    source, size, anchor, point = (0, 0), (0, 0), (0, 0), (Fraction(0), Fraction(0))
    sizes: list[tuple[str, tuple[int, int]]] = []
    stands: list[tuple[int, int]] = []
    places: list[tuple[int, int, int, int, int, int]] = []
    if frames.count > most:
        wrong = f"{frames.count:,} frames, at most {most:,} are taken"
        raise refuse("project.toml", f"[sprite.{name}]", wrong, "split the sprite in two")
    with replacing(out.pixels) as file, numbers_file(out) as numbered:
        for picture, shown, shown_for, _, cut_at, numbers, own in frames.placed():
            source = source if any(source) else picture.size
            sizes.append((shown, picture.size))
            if frames.problems or picture.size != source:
                continue  # only to find the others
            factors = chosen_factors("sprite", name, spec, picture.height)
            point = _point(spec, frames.canvas, picture.size)
            least = least_seen(spec.resample, spec.alpha)
            size, anchor = scaled_about(picture.size, factors, point, least)
            _check_anchor(name, anchor)
            _check_limits(*size, shown, limits)
            if not made and not spec.sheet:
                check_drawn(shown, frames.count, picture.size)
            _check_all(name, max(frames.count, made + 1), *size)
            scaled = cut_alpha(scale_about(picture, factors, point, spec.resample, spec.light, least), spec.alpha)
            file.write(scaled.data)
            if numbered:
                numbered.write(scaled_numbers(numbers, factors, scaled.shape[:2]))
            made += 1
            if spec.align:
                stands.append(feet(scaled[..., 3] > 0))
            if noted:
                left, top, width, height = own or (0, 0, *picture.size)
                places.append((left, top, width, height, cut_at[0], cut_at[1]))
            if shown_for:
                milliseconds.append(shown_for)
        problems = frames.problems + odd_sizes(sizes)
        if problems:
            raise ProjectError(problems)
    origin = _origin(anchor, point, factors)
    placed = _placed(factors, origin_about(source, factors, point, least_seen(spec.resample, spec.alpha)), places) if noted else None
    scale = (float(factors[0]), float(factors[1]))
    write_frames(out.described, made, size, source, scale, anchor, origin, milliseconds, feet=stands, placed=placed)
    return "; ".join([f"{counted(made, 'frame')}, {size[0]} x {size[1]} pixels", *frames.notes])


def _placed(
    factors: tuple[Fraction, Fraction], starts: tuple[Fraction, Fraction], places: list[tuple[int, int, int, int, int, int]]
) -> Placed:
    return Placed(factors=(str(factors[0]), str(factors[1])), starts=(str(starts[0]), str(starts[1])), frames=places)


def numbers_file(out: FrameFiles) -> contextlib.AbstractContextManager[IO[bytes] | None]:
    """Open the file of the numbers that pixels have in their own files, where they are kept."""
    return replacing(out.numbers) if out.numbers else contextlib.nullcontext()


def scaled_numbers(numbers: Image.Image | None, factors: tuple[Fraction, Fraction], size: tuple[int, int]) -> bytes:
    """Return the numbers of a frame's pixels, 0 where it has none: a scaled pixel is a mixture of several."""
    return numbers.tobytes() if numbers and factors == (1, 1) else bytes(size[0] * size[1])


def _point(spec: Sprite, canvas: Canvas | None, size: tuple[int, int]) -> tuple[Fraction, Fraction]:
    """Return the anchor in pixels of a source frame; where nothing is said the middle of its lower edge."""
    if canvas and spec.align == "anchors":
        x, y = canvas.point
    elif isinstance(spec.anchor, tuple):
        x, y = spec.anchor
    else:
        return Fraction(size[0], 2), Fraction(size[1])
    return Fraction(str(x)), Fraction(str(y))


def _origin(anchor: tuple[int, int], point: tuple[Fraction, Fraction], factors: tuple[Fraction, Fraction]) -> tuple[float, float]:
    """Return where a source frame's top left corner is in the scaled one, in parts that a JSON number holds exactly."""
    left, top = (round((place - at * factor) * 2**20) / 2**20 for place, at, factor in zip(anchor, point, factors, strict=True))
    return left, top


def _check_anchor(name: str, anchor: tuple[int, int]) -> None:
    """Refuse an anchor that a blob cannot hold, in 16 bits, signed."""
    if any(not -0x8000 <= value <= 0x7FFF for value in anchor):
        wrong = f"{anchor[0]}, {anchor[1]} after scaling; -32,768 to 32,767 can be stored"
        remedy = "give a point in the source frame or near it, in pixels from its top left"
        raise refuse("project.toml", f"[sprite.{name}] anchor", wrong, remedy)


def _check_limits(width: int, height: int, shown: str, limits: SpriteLimits) -> None:
    if width > limits.max_width or height > limits.max_height:
        wrong = f"{width} x {height} pixels after scaling, the target draws at most {limits.max_width} x {limits.max_height}"
        raise refuse(shown, "", wrong, "set a smaller scale, or split the figure")
    if width * height > FRAME_PIXELS:
        wrong = f"{width:,} x {height:,} pixels after scaling, {width * height:,} in all; at most {FRAME_PIXELS:,} are taken"
        raise refuse(shown, "", wrong, "set a smaller scale, or split the figure")


def _check_all(name: str, count: int, width: int, height: int) -> None:
    pixels = count * width * height
    if pixels > SPRITE_PIXELS:
        wrong = f"{count:,} frames of {width:,} x {height:,} pixels after scaling, {pixels:,} in all; at most {SPRITE_PIXELS:,} are taken"
        raise refuse("project.toml", f"[sprite.{name}]", wrong, "set a smaller scale, or split the sprite in two")


_LEAST, _MOST = Fraction(1, 100), 8  # the factors a project file may give as scale; a height means one of them


def chosen_factors(kind: str, name: str, spec: Sprite | Background, height: int) -> tuple[Fraction, Fraction]:
    """Return the factors across and down for sources of some height.

    Raises:
        ProjectError: a height asks for a factor that cannot be made.
    """
    if spec.height is None:
        return exact_factors(spec.scale)
    factor = Fraction(spec.height, height)
    if not _LEAST <= factor <= _MOST:
        wrong = f"{spec.height} is {float(factor):.3g} times the {height} pixels of the source, 0.01 to 8 times can be made"
        remedy = f"use a height of {math.ceil(height * _LEAST)} to {height * _MOST}"
        raise refuse("project.toml", f"[{kind}.{name}] height", wrong, remedy)
    return factor, factor
