"""Art brought to size: source pictures to scaled frames; what is written is told in ``assets.prepared``."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from pipeline.assets.pictures import open_animation, open_picture
from pipeline.errors import Problem, ProjectError, refuse
from pipeline.files import replacing, write_json
from pipeline.pixels.scale import cut_alpha, scale_rgba
from pipeline.project_file import Background, Sheet, Sprite
from pipeline.target import SpriteLimits


def prepare_sprite(folder: Path, work: Path, name: str, files: tuple[str, ...], spec: Sprite, limits: SpriteLimits) -> str:
    """Scale a sprite's frames and write them; return one line about it.

    Raises:
        ProjectError: a frame cannot be read, differs in size, or is larger than the target's limits.
    """
    description: dict[str, Any] = {"count": 0, "ms": []}
    problems: list[Problem] = []
    with replacing(work / f"{name}.rgba") as out:
        for picture, shown, milliseconds in source_frames(folder, files, spec, problems):
            _check_size(description, picture, shown, problems)
            if problems:
                continue  # only to find the others
            pixels = cut_alpha(scale_rgba(picture, spec.scale, spec.resample), spec.alpha)
            _check_limits(pixels, shown, limits, description["count"])
            out.write(pixels.tobytes())
            description["count"] += 1
            description["height"], description["width"] = pixels.shape[:2]
            if milliseconds:
                description["ms"].append(milliseconds)
        if problems:
            raise ProjectError(problems)
    anchor = spec.anchor or (description["source"][0] / 2, description["source"][1])
    description["anchor"] = [_scaled(value, spec.scale) for value in anchor]
    write_json(work / f"{name}.frames.json", description)
    return f"{description['count']} frames, {description['width']} x {description['height']} pixels"


def prepare_background(folder: Path, work: Path, name: str, file: str, spec: Background) -> str:
    """Scale a background and write it; return one line about it.

    Raises:
        ProjectError: it cannot be read.
    """
    picture = open_picture(folder, file)
    pixels = scale_rgba(on_black(picture), spec.scale, spec.resample).copy()
    pixels[..., 3] = 255
    height, width = pixels.shape[:2]
    with replacing(work / f"{name}.rgba") as out:
        out.write(pixels.tobytes())
    description = {"count": 1, "ms": [], "source": list(picture.size), "height": height, "width": width, "anchor": [0, 0]}
    write_json(work / f"{name}.frames.json", description)
    return f"{width} x {height} pixels"


def source_frames(
    folder: Path, files: tuple[str, ...], spec: Sprite, problems: list[Problem]
) -> Iterator[tuple[Image.Image, str, float]]:
    """Yield picture, name and milliseconds of every frame that can be read; problems of single files are noted."""
    if spec.animated:
        for rank, (picture, milliseconds) in enumerate(open_animation(folder, files[0])):
            yield picture, f"{files[0]} frame {rank}", milliseconds
    elif spec.sheet:
        yield from _cut_sheet(open_picture(folder, files[0]), files[0], spec.sheet)
    else:
        for name in files:
            try:
                picture = open_picture(folder, name)
            except ProjectError as error:
                problems.extend(error.problems)
                continue
            yield picture, name, 0.0


def _cut_sheet(picture: Image.Image, name: str, sheet: Sheet) -> Iterator[tuple[Image.Image, str, float]]:
    width, rest_x = divmod(picture.width, sheet.columns)
    height, rest_y = divmod(picture.height, sheet.rows)
    if rest_x or rest_y or not width or not height:
        wrong = f"{picture.width} x {picture.height} pixels do not part into {sheet.columns} columns and {sheet.rows} rows"
        raise refuse(name, "", wrong, "correct columns and rows, or the picture's size")
    count = sheet.count or sheet.columns * sheet.rows
    if count > sheet.columns * sheet.rows:
        wrong = f"{count} frames asked for, {sheet.columns * sheet.rows} there"
        raise refuse(name, "", wrong, "lower count, or leave it out")
    for rank in range(count):
        row, column = divmod(rank, sheet.columns)
        box = (column * width, row * height, (column + 1) * width, (row + 1) * height)
        yield picture.crop(box), f"{name} frame {rank}", 0.0


def _check_size(description: dict[str, Any], picture: Image.Image, shown: str, problems: list[Problem]) -> None:
    first = description.setdefault("source", list(picture.size))
    if list(picture.size) != first:
        wrong = f"{picture.width} x {picture.height} pixels, the first frame has {first[0]} x {first[1]}"
        problems.append(Problem(shown, "", wrong, "give all frames of a sprite one canvas size, so that they stand still"))


def _check_limits(pixels: np.ndarray, shown: str, limits: SpriteLimits, before: int) -> None:
    height, width = pixels.shape[:2]
    if width > limits.max_width or height > limits.max_height:
        wrong = f"{width} x {height} pixels after scaling, the target draws at most {limits.max_width} x {limits.max_height}"
        raise refuse(shown, "", wrong, "set a smaller scale, or split the figure")
    if before >= limits.max_frames:
        raise refuse(shown, "", f"more than {limits.max_frames} frames", "split the sprite in two")


def _scaled(value: float, scale: float) -> int:
    return math.floor(Fraction(str(value)) * Fraction(str(scale)))


def on_black(picture: Image.Image) -> Image.Image:
    """Put a picture on black, since a background has nothing behind it."""
    ground = Image.new("RGBA", picture.size, (0, 0, 0, 255))
    return Image.alpha_composite(ground, picture)
