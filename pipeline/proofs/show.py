"""What the report's script shows of one asset: decoded from the image's own bytes, left for the page to hold."""

from __future__ import annotations

from pathlib import Path

from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.joints.places import ShownFiles
from pipeline.joints.shown import write_shown
from pipeline.plain.files import write_bytes
from pipeline.proofs.subject import Subject, take, take_both
from pipeline.target.calls import Call
from pipeline.target.records import Target


def write_look(
    image: Path,
    map_file: Path,
    facts: Path,
    show: Call,
    decoders: dict[str, Call],
    out: ShownFiles,
    name: str,
    palette: str | None,
    variants: tuple[str, ...],
    target: Target,
    pixel_aspect: tuple[int, int],
) -> str:
    """Write what is shown of an asset; return one line about it.

    Args:
        facts: the asset's.
        show: see ``target.kinds``.
        decoders: see ``subject.take``; that of palettes too, where one colours it.
        palette: the palette asset that colours it; None for direct colour, or a kind without.
        variants: other palettes that it is worn in.
        pixel_aspect: width and height of one console pixel.
    """
    entries = read_map(map_file).by_name()
    decoded, colours = take_both(image, name, palette, entries, target, decoders)
    others = {one: take(image, one, entries, target, decoders) for one in variants}
    shown, content = show(Subject(name, decoded, colours, read_facts(facts), target, pixel_aspect), others)
    if out.content and content is not None:
        write_bytes(out.content, content)
    write_shown(out.described, shown)
    return f"{len(content):,} bytes" if content is not None else "no picture of its own"
