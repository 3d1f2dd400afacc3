"""Figures brought to size: source pictures to scaled frames; ``prepared`` documents the files."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import IO, NamedTuple

import lz4.block
import msgspec
from PIL import Image

from pipeline.assets.sources.canvas import Canvas, Drawn
from pipeline.assets.sources.frames import SourceFrames, odd_sizes
from pipeline.assets.sources.pictures import check_drawn
from pipeline.assets.sources.prepared import Placed, write_frames
from pipeline.cache.results import Results, key_of
from pipeline.joints.places import FrameFiles, Sources
from pipeline.pixels.feet import feet
from pipeline.pixels.scaling.scale import cut_alpha, exact_factors, least_seen, origin_about, scale_about, scaled_about
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import FRAME_PIXELS, PICTURE_BYTES, SPRITE_PIXELS, most_frames
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
    cache: Path | None = None,
) -> str:
    """Scale a sprite's frames and write them; return one line about it.

    Args:
        noted: there are notes on its frames, so that it is kept where places of the art are in the scaled frames.
        boxes, boxed, cuts: of a sheet; see ``frames.SourceFrames``.
        cache: where scaled frames are kept; see ``cache.results``.

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
    with Results(cache) as results, replacing(out.pixels) as file, numbers_file(out) as numbered:
        kept = _KeptFrames(results, frames, sources, spec)
        for frame in kept:
            here = frame.size if isinstance(frame, _KnownFrame) else frame.picture.size
            source = source if any(source) else here
            sizes.append((frame.shown, here))
            if frames.problems or here != source:
                continue  # only to find the others
            factors = chosen_factors("sprite", name, spec, here[1])
            point = _point(spec, frames.canvas, here)
            least = least_seen(spec.resample, spec.alpha)
            size, anchor = scaled_about(here, factors, point, least)
            _check_anchor(name, anchor)
            _check_limits(*size, frame.shown, limits)
            if not made and not spec.sheet:
                check_drawn(frame.shown, frames.count, here)
            _check_all(name, max(frames.count, made + 1), *size)
            made += 1
            if isinstance(frame, _KnownFrame):
                file.write(frame.scaled)
                places.append((0, 0, *here, 0, 0))
                continue
            scaled = cut_alpha(scale_about(frame.picture, factors, point, spec.resample, spec.light, least), spec.alpha)
            file.write(scaled.data)
            kept.keep(here, scaled.tobytes())
            if numbered:
                numbered.write(scaled_numbers(frame.numbers, factors, scaled.shape[:2]))
            if spec.align:
                stands.append(feet(scaled[..., 3] > 0))
            left, top, width, height = frame.own or (0, 0, *here)
            places.append((left, top, width, height, *frame.place))
            if frame.ms:
                milliseconds.append(frame.ms)
        problems = frames.problems + odd_sizes(sizes)
        if problems:
            raise ProjectError(problems)
    origin = _origin(anchor, point, factors)
    placed = _placed(factors, origin_about(source, factors, point, least_seen(spec.resample, spec.alpha)), places) if noted else None
    scale = (float(factors[0]), float(factors[1]))
    write_frames(out.described, made, size, source, scale, anchor, origin, milliseconds, feet=stands, placed=placed)
    return "; ".join([f"{counted(made, 'frame')}, {size[0]} x {size[1]} pixels", *frames.notes])


class _KnownFrame(NamedTuple):
    """A frame that need not be opened.

    Attributes:
        shown: name of its file.
        size: width and height of its picture as drawn.
        scaled: its pixels as ``prepared`` keeps them.
    """

    shown: str
    size: tuple[int, int]
    scaled: bytes


class _KeptFrames:
    """Frames kept by the content of their files, so that a saved one does not scale all others again; of other sources all are made.

    Args:
        results: where they are kept.
        given: all that scaled pixels depend on, apart from the file.
    """

    def __init__(self, results: Results, frames: SourceFrames, sources: Sources, given: Sprite) -> None:
        self._results, self._frames, self._sources = results, frames, sources
        self._given = msgspec.json.encode(msgspec.structs.replace(given, frames=None))
        self._key = b""  # of the frame handed out last, if it may be kept

    def __iter__(self) -> Iterator[Drawn | _KnownFrame]:
        """Yield what ``SourceFrames.placed`` yields, or what is known of it."""
        if not (self._results.keeps and self._frames.are_files):
            yield from self._frames.placed()
            return
        for name in self._sources.names:
            key = self._key_of(name)
            known = self._results.get(key) if key else None
            frame = _unpacked(name, known) if known is not None else self._frames.of_file(name)
            # What there is to say about a picture is said each time, so only those are kept of which nothing is.
            self._key = b"" if self._frames.notes else key
            if frame is not None:
                yield frame

    def keep(self, size: tuple[int, int], scaled: bytes) -> None:
        """Keep the pixels of the frame handed out last; ``size``: of its picture as drawn."""
        if self._key:
            self._results.put(self._key, msgspec.msgpack.encode((size, lz4.block.compress(scaled))))

    def _key_of(self, name: str) -> bytes:
        try:
            data = read_source(self._sources.folder, name, PICTURE_BYTES)
        except ProjectError:
            return b""  # opening it says why
        ending = Path(name).suffix.lower()  # of which a file's format is expected
        return key_of("pipeline.assets.sources.prepare:prepare_sprite", self._given, ending.encode(), data)


def _unpacked(name: str, known: bytes) -> _KnownFrame:
    (width, height), scaled = msgspec.msgpack.decode(known)
    return _KnownFrame(name, (width, height), lz4.block.decompress(scaled))


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
