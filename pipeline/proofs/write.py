"""Proofs: pictures decoded from the image's own bytes, shown at the console's pixel aspect."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.joints.facts import read_facts
from pipeline.plain.files import read_json, write_bytes
from pipeline.proofs.animation import animation
from pipeline.proofs.background import background
from pipeline.proofs.before import before_after
from pipeline.proofs.font import font_sheet
from pipeline.proofs.palette import palette as palette_swatches
from pipeline.proofs.screen import screen, television
from pipeline.proofs.sound import sound
from pipeline.proofs.sprite import contact_sheet
from pipeline.proofs.subject import Subject, take
from pipeline.target.records import Target

# Kind of asset -> what can be drawn of it, by the part of the file name after the asset's; "" is the proof itself.
# The plan says which of them are wanted: ``graph.steps.site.Site.proofs``.
DRAWN: dict[str, dict[str, Callable[[Subject], bytes]]] = {
    "sprite": {"": contact_sheet, "anim": animation, "before-after": before_after},
    "pool": {"": contact_sheet},
    "background": {"": background, "before-after": before_after},
    "screen": {"": screen, "tv": television},
    "palette": {"": palette_swatches},
    "sound": {"": sound},
    "font": {"": font_sheet},
}


def write_proofs(
    image: Path,
    map_file: Path,
    blobs: Path,
    outs: dict[str, Path],
    name: str,
    palette: str | None,
    before: Path | None,
    target: Target,
    pixel_aspect: tuple[int, int],
) -> str:
    """Draw one asset from the image; return one line about the pictures.

    Args:
        blobs: folder with the asset's facts.
        outs: part of the file name after the asset's -> file; see ``DRAWN``.
        palette: the palette asset that colours it, also taken from the image; None for direct colour or its own.
        before: the source and scaled frames to compare with; see ``assets.sources.sample``.
        pixel_aspect: width and height of one console pixel.
    """
    entries = {entry["name"]: entry for entry in read_json(map_file)["entries"]}
    decoded = take(image, name, entries, target)
    colours = take(image, palette, entries, target) if palette else None
    facts = read_facts(blobs, name)
    subject = Subject(name, decoded, colours, facts, target, pixel_aspect, before)
    total = 0
    for part, out in outs.items():
        picture = DRAWN[entries[name]["kind"]][part](subject)
        write_bytes(out, picture)
        total += len(picture)
    return f"{len(outs)} picture{'s' if len(outs) > 1 else ''}, {total:,} bytes"
