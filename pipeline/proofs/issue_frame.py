"""A frame of the build to show beside a known issue, decoded from the image."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.plain.errors import refuse
from pipeline.plain.files import write_bytes
from pipeline.proofs.canvas import aspect_size, largest, on_board, png
from pipeline.proofs.subject import Subject, take_both
from pipeline.target.calls import Call
from pipeline.target.records import Target

_ROOM = (480, 360)  # pixels up to which a small frame is magnified


def show_frame(
    image: Path,
    map_file: Path,
    facts: Path,
    out: Path,
    name: str,
    frame: int,
    issue: str,
    palette: str | None,
    decoders: dict[str, Call],
    target: Target,
    pixel_aspect: tuple[int, int],
) -> str:
    """Write one frame of a sprite, or a background, as PNG; return one line about it.

    Args:
        facts: the asset's.
        name, frame: the asset, and the frame's number from 0.
        issue: id of the known issue.
        palette: the palette asset that colours it; None for direct colour.
        decoders: see ``subject.take``.
        target: without header and directory.
        pixel_aspect: width and height of one console pixel.

    Raises:
        ProjectError: there is no frame of this number.
    """
    entries = read_map(map_file).by_name()
    decoded, colours = take_both(image, name, palette, entries, target, decoders)
    subject = Subject(name, decoded, colours, read_facts(facts), target, pixel_aspect)
    rgb, clear = subject.coloured()
    if frame >= len(rgb):
        wrong = f"{issue} shows frame {frame} of {name}, whose frames are 0 to {len(rgb) - 1}"
        raise refuse("the known issues", f"frame of {issue}", wrong, "write a number that is there")
    height, width = rgb.shape[1:3]
    times = largest(width, height, _ROOM, pixel_aspect)
    picture = Image.fromarray(on_board(rgb[frame], clear[frame], aspect_size(width, height, times, pixel_aspect)))
    write_bytes(out, png(picture))
    return f"frame {frame} of {name} for {issue}, {picture.width} x {picture.height} pixels"
