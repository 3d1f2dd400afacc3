"""Proofs: pictures decoded from the image's own bytes, shown at the console's pixel aspect."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.files import read_json, write_bytes
from pipeline.report.proof_animation import animation
from pipeline.report.proof_background import background
from pipeline.report.proof_before import before_after
from pipeline.report.proof_font import font_sheet
from pipeline.report.proof_palette import palette as palette_swatches
from pipeline.report.proof_screen import screen, television
from pipeline.report.proof_sound import sound
from pipeline.report.proof_sprite import contact_sheet
from pipeline.report.proof_subject import Subject, take
from pipeline.target import Target

# Kind of asset -> what can be drawn of it, by the part of the file name behind the asset's; "" is the proof itself.
# The plan says which of them are wanted: ``graph.site.Site.proofs``.
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
        outs: part of the file name behind the asset's -> file; see ``DRAWN``.
        palette: the palette asset that colours it, also taken from the image; None for direct colour or its own.
        before: the source and scaled frames to compare with; see ``assets.sample``.
        pixel_aspect: width and height of one console pixel.
    """
    entries = {entry["name"]: entry for entry in read_json(map_file)["entries"]}
    decoded = take(image, name, entries, target)
    colours = take(image, palette, entries, target) if palette else None
    facts = read_json(blobs / f"{name}.json")
    subject = Subject(name, decoded, colours, facts, target, pixel_aspect, before)
    total = 0
    for part, out in outs.items():
        picture = DRAWN[entries[name]["kind"]][part](subject)
        write_bytes(out, picture)
        total += len(picture)
    return f"{len(outs)} picture{'s' if len(outs) > 1 else ''}, {total:,} bytes"
