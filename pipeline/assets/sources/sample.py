"""A few frames as drawn and as scaled, for the proof that shows them beside what the image holds.

``work/NAME.before.png`` is one RGBA picture. For each sampled frame it has a row: at the left the source frame, right of it
the scaled frame, tops in line, a row as high as the higher of the two, nothing between. Three text chunks hold the rest:
``frames`` the frames' numbers, ``source`` and ``scaled`` width and height of each, numbers with a space between.

Sampled are the first frame and the one that lost most to the palette, once if they are the same.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image, PngImagePlugin

from pipeline.assets.sources.frames import SourceFrames
from pipeline.assets.sources.keyed import cleared
from pipeline.assets.sources.pictures import open_picture
from pipeline.assets.sources.prepare import on_black
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.facts import SpriteFacts, read_facts
from pipeline.joints.places import FrameFiles, Sources
from pipeline.plain.files import replacing
from pipeline.project.assets import Background, Sprite
from pipeline.target.calls import Call


def sample_sprite(
    sources: Sources,
    frames: FrameFiles,
    facts: Path,
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
    numbers = _frames_shown(facts)
    drawn = SourceFrames(sources, spec, boxes=boxes, boxed=boxed)
    return _write(PreparedFrames(frames), out, numbers, [drawn.one(number) for number in numbers])


def sample_background(sources: Sources, frames: FrameFiles, out: Path, spec: Background) -> str:
    """Write a background as drawn and as scaled; return one line about it. ``spec``: of which only the key is looked at."""
    return _write(PreparedFrames(frames), out, [0], [on_black(cleared(open_picture(sources.folder, sources.names[0]), spec))])


def _frames_shown(facts: Path) -> list[int]:
    worst = read_facts(facts, SpriteFacts).colour_error.worst_frame
    return [0, worst] if worst else [0]


def _write(frames: PreparedFrames, out: Path, numbers: list[int], sources: list[Image.Image]) -> str:
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
    with replacing(out) as file:
        sheet.save(file, "PNG", pnginfo=info, compress_level=1)  # read once and not handed out: quick rather than small
    return f"{len(numbers)} frame{'s' if len(numbers) > 1 else ''} as drawn and as scaled"
