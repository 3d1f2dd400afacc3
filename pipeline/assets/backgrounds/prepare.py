"""Backgrounds brought to size, their parts laid over them; and as drawn, for the proof that compares."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.backgrounds.parts import Parts
from pipeline.assets.sources.keyed import cleared, file_notes
from pipeline.assets.sources.pictures import open_numbered, open_picture
from pipeline.assets.sources.prepare import chosen_factors, numbers_file, scaled_numbers
from pipeline.assets.sources.prepared import PreparedFrames, write_frames
from pipeline.assets.sources.sample import write_sample
from pipeline.joints.places import FrameFiles, Sources
from pipeline.pixels.scaling.scale import scale_rgba, scaled_size
from pipeline.plain.bounds import SCALED_PIXELS
from pipeline.plain.errors import refuse
from pipeline.plain.files import replacing
from pipeline.project.assets import Background


def prepare_background(sources: Sources, out: FrameFiles, name: str, spec: Background) -> str:
    """Scale a background, lay its parts over it and write it; return one line about it.

    Args:
        sources: its own picture, then that of each part.

    Raises:
        ProjectError: it cannot be read, or has too many pixels after scaling; a part cannot be laid.
    """
    drawn, numbers = open_numbered(sources.folder, sources.names[0])
    picture = on_black(cleared(drawn, spec))
    factors = chosen_factors("background", name, spec, picture.height)
    width, height = scaled_size(*picture.size, factors)
    if width * height > SCALED_PIXELS:
        wrong = f"{width:,} x {height:,} pixels after scaling, {width * height:,} in all; at most {SCALED_PIXELS:,} are taken"
        raise refuse("project.toml", f"[background.{name}]", wrong, "use a smaller scale, or split it")
    scaled = scale_rgba(picture, factors, spec.resample, solid=True, light=spec.light)
    parts = Parts(sources, name, spec, picture.size, factors)
    if spec.part:
        scaled = np.array(scaled)
        parts.lay(scaled)
    with replacing(out.pixels) as file:
        file.write(scaled.tobytes())
    with numbers_file(out) as numbered:
        if numbered:  # a part's pixel takes one only where it has that very colour
            numbered.write(scaled_numbers(numbers, factors, (height, width)))
    write_frames(out.described, 1, (width, height), picture.size, (float(factors[0]), float(factors[1])))
    return "; ".join([f"{width} x {height} pixels", *file_notes(drawn, sources.names[0]).values(), *parts.notes])


def sample_background(sources: Sources, frames: FrameFiles, out: Path, name: str, spec: Background) -> str:
    """Write a background as drawn, its parts laid over it at the size of its own file, and as scaled; return one line about it.

    Args:
        spec: of which only the key, the parts and how they are scaled are looked at.
    """
    picture = open_base(sources, spec)
    if spec.part:
        drawn = np.array(picture)
        Parts(sources, name, spec, picture.size).lay(drawn)
        picture = Image.fromarray(drawn)
    return write_sample(PreparedFrames(frames), out, [0], [picture])


def open_base(sources: Sources, spec: Background) -> Image.Image:
    """Return a background's own picture as RGBA, opaque: what its key clears, or is transparent in it, is black.

    Raises:
        ProjectError: it cannot be read.
    """
    return on_black(cleared(open_picture(sources.folder, sources.names[0]), spec))


def on_black(picture: Image.Image) -> Image.Image:
    """Put a picture on black, since nothing shows through a background; an opaque one is returned as it is."""
    if picture.getchannel("A").getextrema() == (255, 255):
        return picture
    ground = Image.new("RGBA", picture.size, (0, 0, 0, 255))
    return Image.alpha_composite(ground, picture)
