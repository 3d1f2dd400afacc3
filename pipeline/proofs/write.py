"""Proofs: pictures decoded from the image's own bytes, shown at the console's pixel aspect."""

from __future__ import annotations

from pathlib import Path

from pipeline.cache.results import Results
from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.joints.places import OriginalFiles
from pipeline.plain.files import write_bytes
from pipeline.proofs.subject import Subject, take, take_both
from pipeline.target.calls import Call
from pipeline.target.records import Target


def write_proofs(
    image: Path,
    map_file: Path,
    facts: Path,
    draw: dict[str, Call],
    decoders: dict[str, Call],
    outs: dict[str, Path],
    name: str,
    palette: str | None,
    before: Path | None,
    originals: OriginalFiles | None,
    target: Target,
    pixel_aspect: tuple[int, int],
    about: str | None = None,
    about_facts: Path | None = None,
    cache: Path | None = None,
) -> str:
    """Draw one asset from the image; return one line about the pictures.

    Args:
        facts: the asset's.
        draw: part of the file name after the asset's -> what draws it, see ``target.kinds``.
        decoders: see ``subject.take``; that of palettes too, where one colours it.
        outs: the same parts -> file.
        palette: the palette asset that colours it, also taken from the image; None for direct colour or its own.
        before: the source and scaled frames to compare with; see ``assets.sources.sample``.
        originals: a background with parts at full detail; see ``joints.originals``.
        pixel_aspect: width and height of one console pixel.
        about, about_facts: the sprite that notes are about, or the font of texts, and its facts; None for other kinds.
        cache: where pictures are kept that do not change with every frame; see ``cache.results``.
    """
    entries = read_map(map_file).by_name()
    decoded, colours = take_both(image, name, palette, entries, target, decoders)
    other = None
    if about and about_facts:
        other = Subject(about, take(image, about, entries, target, decoders), colours, read_facts(about_facts), target, pixel_aspect)
    total = 0
    with Results(cache) as results:
        subject = Subject(name, decoded, colours, read_facts(facts), target, pixel_aspect, before, originals, other, results)
        for part, out in outs.items():
            picture = draw[part](subject)
            write_bytes(out, picture)
            total += len(picture)
    return f"{len(outs)} picture{'s' if len(outs) > 1 else ''}, {total:,} bytes"
