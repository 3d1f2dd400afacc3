"""A few frames as drawn and as scaled, for the proof that shows them beside what the image holds.

``work/NAME.before.png`` is one RGBA picture. For each sampled frame it has a row: at the left the source frame, right of it
the scaled frame, tops in line, a row as high as the higher of the two, nothing between. Four text chunks hold the rest:
``frames`` the frames' numbers, ``source`` and ``scaled`` width and height of each, ``origin`` where the source's top left corner is in
the scaled frame, numbers with a space between.

Sampled are the first frame and the one that lost most to the palette, once if they are the same.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image, PngImagePlugin

from pipeline.assets.sources.frames import SourceFrames
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import FrameFiles, Sources
from pipeline.joints.views import WorstFrameView
from pipeline.plain.files import replacing
from pipeline.project.assets import Sprite
from pipeline.target.calls import Call


def sample_sprite(
    sources: Sources,
    frames: FrameFiles,
    worst: WorstFrameView,
    out: Path,
    spec: Sprite,
    boxes: Path | None = None,
    boxed: Call | None = None,
) -> str:
    """Write the sampled frames of a sprite; return one line about them.

    Args:
        spec: of which only what says how art is read is looked at.
        boxes, boxed: of a sheet; see ``frames.SourceFrames``.
    """
    numbers = _frames_shown(worst)
    drawn = SourceFrames(sources, spec, boxes=boxes, boxed=boxed)
    return write_sample(PreparedFrames(frames), out, numbers, [drawn.one(number) for number in numbers])


def _frames_shown(worst: WorstFrameView) -> list[int]:
    number = worst.read().colour_error.worst_frame
    return [0, number] if number else [0]


def write_sample(frames: PreparedFrames, out: Path, numbers: list[int], sources: list[Image.Image]) -> str:
    """Write some frames as drawn and as scaled; return one line about them.

    Args:
        numbers: of the frames, in the order of ``sources``, the same frames as drawn.
    """
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
    info.add_text("origin", f"{frames.facts.origin[0]} {frames.facts.origin[1]}")
    with replacing(out) as file:
        sheet.save(file, "PNG", pnginfo=info, compress_level=1)  # read once and not handed out: quick rather than small
    return f"{len(numbers)} frame{'s' if len(numbers) > 1 else ''} as drawn and as scaled"
