"""The colours of the packet in pairs, to check their contrast."""

from __future__ import annotations

from pipeline.packet.typeset.style import ACCENT, BLACK, INK, PAPER, QUIET, TINT

# Every colour of text with its ground.
PAIRS = {
    "text": (INK, PAPER),
    "small print": (QUIET, PAPER),
    "headings and links": (ACCENT, PAPER),
    "table heads": (INK, TINT),
    "labels in tinted boxes": (QUIET, TINT),
    "build code and cautions": (ACCENT, TINT),
    "label of the bug code": (PAPER, INK),
    "codes": (BLACK, PAPER),
    "names on a pad's buttons": (PAPER, INK),
    "names on buttons without use": (INK, PAPER),
    "labels around a pad": (QUIET, PAPER),
}
