"""A few frames as drawn and as scaled, for the proof that shows them beside what the image holds.

``work/NAME.before.png`` is one RGBA picture. For each sampled frame it has a row: at the left the source frame, right of it
the scaled frame, tops in line, a row as high as the higher of the two, nothing between. Three text chunks hold the rest:
``frames`` the frames' numbers, ``source`` and ``scaled`` width and height of each, numbers with a space between.

Sampled are the first frame and the one that lost most to the palette, once if they are the same.
"""

from __future__ import annotations

import itertools
from pathlib import Path

from PIL import Image, PngImagePlugin

from pipeline.assets.sources.pictures import open_picture
from pipeline.assets.sources.prepare import on_black, source_frames
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.facts import SpriteFacts, read_facts
from pipeline.plain.errors import Problem
from pipeline.plain.files import replacing
from pipeline.project.assets import Sprite


def sample_sprite(folder: Path, work: Path, blobs: Path, name: str, files: tuple[str, ...], spec: Sprite) -> str:
    """Write the sampled frames of a sprite; return one line about them.

    Args:
        spec: of which only frames, animated and sheet are looked at.
    """
    numbers = _frames_shown(blobs, name)
    return _write(work, name, numbers, [_source(folder, files, spec, number) for number in numbers])


def sample_background(folder: Path, work: Path, name: str, file: str) -> str:
    """Write a background as drawn and as scaled; return one line about it."""
    return _write(work, name, [0], [on_black(open_picture(folder, file))])


def _frames_shown(blobs: Path, name: str) -> list[int]:
    worst = read_facts(blobs, name, SpriteFacts).colour_error.worst_frame
    return [0, worst] if worst else [0]


def _source(folder: Path, files: tuple[str, ...], spec: Sprite, number: int) -> Image.Image:
    problems: list[Problem] = []  # stays empty: the step before has read all of them
    if spec.frames:
        files, number = files[number : number + 1], 0
    return next(itertools.islice(source_frames(folder, files, spec, problems), number, None))[0]


def _write(work: Path, name: str, numbers: list[int], sources: list[Image.Image]) -> str:
    frames = PreparedFrames(work, name)
    scaled = [Image.fromarray(frame) for number, frame in enumerate(frames) if number in numbers]
    width, height = sources[0].size
    down = max(height, frames.height)
    sheet = Image.new("RGBA", (width + frames.width, down * len(numbers)))
    for rank, (source, after) in enumerate(zip(sources, scaled, strict=True)):
        sheet.paste(source, (0, rank * down))
        sheet.paste(after, (width, rank * down))
    info = PngImagePlugin.PngInfo()
    info.add_text("frames", " ".join(map(str, numbers)))
    info.add_text("source", f"{width} {height}")
    info.add_text("scaled", f"{frames.width} {frames.height}")
    with replacing(work / f"{name}.before.png") as file:
        sheet.save(file, "PNG", pnginfo=info, compress_level=1)  # read once and not handed out: quick rather than small
    return f"{len(numbers)} frame{'s' if len(numbers) > 1 else ''} as drawn and as scaled"
