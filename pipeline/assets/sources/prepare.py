"""Art brought to size: source pictures to scaled frames; ``prepared`` documents the files."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from PIL import Image

from pipeline.assets.sources.pictures import check_drawn, open_animation, open_picture
from pipeline.assets.sources.prepared import write_frames
from pipeline.joints.places import FrameFiles, Sources
from pipeline.pixels.scaling.scale import cut_alpha, exact_factors, least_seen, scale_about, scale_rgba, scaled_about, scaled_size
from pipeline.plain.bounds import FRAME_PIXELS, FRAMES, SCALED_PIXELS, SPRITE_PIXELS, most_frames
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import replacing
from pipeline.plain.sizes import counted
from pipeline.project.assets import Background, Sheet, Sprite
from pipeline.target.records import SpriteLimits


def prepare_sprite(sources: Sources, out: FrameFiles, name: str, spec: Sprite, limits: SpriteLimits) -> str:
    """Scale a sprite's frames and write them; return one line about it.

    Raises:
        ProjectError: a frame cannot be read, differs in size, or is too large; too many frames; an anchor far outside.
    """
    problems: list[Problem] = []
    made, milliseconds, factors = 0, [], (Fraction(1), Fraction(1))
    source, size, anchor, point = (0, 0), (0, 0), (0, 0), (Fraction(0), Fraction(0))
    count = 0 if spec.animated else frame_count(sources.names, spec)  # an animation's are counted where its file is opened
    most = most_frames(limits.max_frames)
    if count > most:
        raise refuse("project.toml", f"[sprite.{name}]", f"{count:,} frames, at most {most:,} are taken", "split the sprite in two")
    with replacing(out.pixels) as file:
        for picture, shown, shown_for in source_frames(sources, spec, problems, most):
            source = source if any(source) else picture.size
            _check_size(source, picture, shown, problems)
            if problems:
                continue  # only to find the others
            factors = _factors("sprite", name, spec, picture.height)
            point = _point(spec, picture)
            least = least_seen(spec.resample, spec.alpha)
            size, anchor = scaled_about(picture.size, factors, point, least)
            _check_anchor(name, anchor)
            _check_limits(*size, shown, limits)
            if not made and not spec.sheet:
                check_drawn(shown, count, picture.size)
            _check_all(name, max(count, made + 1), *size)
            scaled = scale_about(picture, factors, point, spec.resample, spec.light, least)
            file.write(cut_alpha(scaled, spec.alpha).data)
            made += 1
            if shown_for:
                milliseconds.append(shown_for)
        if problems:
            raise ProjectError(problems)
    origin = _origin(anchor, point, factors)
    write_frames(out.described, made, size, source, (float(factors[0]), float(factors[1])), anchor, origin, milliseconds)
    return f"{made} frames, {size[0]} x {size[1]} pixels"


def _point(spec: Sprite, picture: Image.Image) -> tuple[Fraction, Fraction]:
    """Return the anchor in a source frame; without one the middle of its lower edge."""
    if spec.anchor is None:
        return Fraction(picture.width, 2), Fraction(picture.height)
    return Fraction(str(spec.anchor[0])), Fraction(str(spec.anchor[1]))


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


def prepare_background(sources: Sources, out: FrameFiles, name: str, spec: Background) -> str:
    """Scale a background and write it; return one line about it.

    Raises:
        ProjectError: it cannot be read, or has too many pixels after scaling.
    """
    picture = open_picture(sources.folder, sources.names[0])
    factors = _factors("background", name, spec, picture.height)
    width, height = scaled_size(*picture.size, factors)
    if width * height > SCALED_PIXELS:
        wrong = f"{width:,} x {height:,} pixels after scaling, {width * height:,} in all; at most {SCALED_PIXELS:,} are taken"
        raise refuse("project.toml", f"[background.{name}]", wrong, "use a smaller scale, or split it")
    with replacing(out.pixels) as file:
        file.write(scale_rgba(on_black(picture), factors, spec.resample, solid=True, light=spec.light).tobytes())
    write_frames(out.described, 1, (width, height), picture.size, (float(factors[0]), float(factors[1])))
    return f"{width} x {height} pixels"


def source_frames(
    sources: Sources, spec: Sprite, problems: list[Problem], most: int = FRAMES
) -> Iterator[tuple[Image.Image, str, float]]:
    """Yield picture, name and milliseconds of every frame that can be read; problems of single files are noted.

    Args:
        most: frames that an animation may have.
    """
    folder, files = sources.folder, sources.names
    if spec.animated:
        for rank, (picture, milliseconds) in enumerate(open_animation(folder, files[0], most)):
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


def frame_count(files: tuple[str, ...], spec: Sprite) -> int:
    """Return how many frames a sprite of single files or a sheet has."""
    return _in_sheet(spec.sheet) if spec.sheet else len(files)


def _in_sheet(sheet: Sheet) -> int:
    return sheet.count or sheet.columns * sheet.rows


def _cut_sheet(picture: Image.Image, name: str, sheet: Sheet) -> Iterator[tuple[Image.Image, str, float]]:
    width, rest_x = divmod(picture.width, sheet.columns)
    height, rest_y = divmod(picture.height, sheet.rows)
    if rest_x or rest_y or not width or not height:
        parts = f"{counted(sheet.columns, 'column')} and {counted(sheet.rows, 'row')}"
        wrong = f"{picture.width} x {picture.height} pixels do not part into {parts}"
        raise refuse(name, "", wrong, "correct columns and rows, or the picture's size")
    count = _in_sheet(sheet)
    if count > sheet.columns * sheet.rows:
        wrong = f"{count} frames asked for, {sheet.columns * sheet.rows} there"
        raise refuse(name, "", wrong, "lower count, or leave it out")
    for rank in range(count):
        row, column = divmod(rank, sheet.columns)
        box = (column * width, row * height, (column + 1) * width, (row + 1) * height)
        yield picture.crop(box), f"{name} frame {rank}", 0.0


def _check_size(first: tuple[int, int], picture: Image.Image, shown: str, problems: list[Problem]) -> None:
    if picture.size != first:
        wrong = f"{picture.width} x {picture.height} pixels, the first frame has {first[0]} x {first[1]}"
        problems.append(Problem(shown, "", wrong, "give all frames of a sprite one canvas size, so that they stay in place"))


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


def _factors(kind: str, name: str, spec: Sprite | Background, height: int) -> tuple[Fraction, Fraction]:
    """Return the factors across and down for sources of some height."""
    if spec.height is None:
        return exact_factors(spec.scale)
    factor = Fraction(spec.height, height)
    if not _LEAST <= factor <= _MOST:
        wrong = f"{spec.height} is {float(factor):.3g} times the {height} pixels of the source, 0.01 to 8 times can be made"
        remedy = f"use a height of {math.ceil(height * _LEAST)} to {height * _MOST}"
        raise refuse("project.toml", f"[{kind}.{name}] height", wrong, remedy)
    return factor, factor


def on_black(picture: Image.Image) -> Image.Image:
    """Put a picture on black, since nothing shows through a background; an opaque one is returned as it is."""
    if picture.getchannel("A").getextrema() == (255, 255):
        return picture
    ground = Image.new("RGBA", picture.size, (0, 0, 0, 255))
    return Image.alpha_composite(ground, picture)
