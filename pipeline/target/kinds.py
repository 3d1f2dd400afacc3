"""The kinds of assets, in the order in which they are listed everywhere: a kind is one entry of ``KINDS``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pipeline.target.calls import Call


@dataclass(frozen=True)
class Kind:
    """What the rooms must know of a kind, apart from its own modules.

    Attributes:
        number: what an entry of the directory says; never changed, since programs compare with it.
        plural: word for several, as a heading has it.
        constants: facts that the include files give as constants, by their keys.
        proofs: part of a proof's file name after the asset's -> what draws it, given a ``proofs.subject.Subject``; "" is the
            proof itself. None for a kind without anything to look at.
        video: it takes video memory when it is loaded.
        thumbnail: it has a small picture in the ledger and in the packet.
    """

    number: int
    plural: str
    constants: tuple[str, ...] = ()
    proofs: Mapping[str, Call] = field(default_factory=dict)
    video: bool = False
    thumbnail: bool = False


def _drawn(**parts: str) -> dict[str, Call]:
    return {part.replace("_", "-").removeprefix("itself"): Call(f"pipeline.proofs.{name}") for part, name in parts.items()}


KINDS = {
    "sprite": Kind(
        1, "sprites", ("frames", "width", "height"),
        _drawn(itself="sprite:contact_sheet", anim="animation:animation", onion="onion:onion_skins", before_after="before:before_after"),
        video=True, thumbnail=True,
    ),
    "pool": Kind(8, "pools", ("cell_count",), _drawn(itself="sprite:contact_sheet"), video=True),
    "background": Kind(
        2, "backgrounds", ("width", "height"), _drawn(itself="background:background", before_after="before:before_after"),
        video=True, thumbnail=True,
    ),
    "palette": Kind(3, "palettes", ("first", "entry_count"), _drawn(itself="palette:palette"), thumbnail=True),
    "sound": Kind(4, "sounds", ("rate", "samples"), _drawn(itself="sound:sound"), thumbnail=True),
    "screen": Kind(5, "screens", (), _drawn(itself="screen:screen", tv="screen:television")),
    "program": Kind(6, "programs"),
    "data": Kind(7, "data"),
    "font": Kind(
        9, "fonts", ("glyph_count", "width", "height", "left", "baseline", "line_height", "advance"),
        _drawn(itself="font:font_sheet"), video=True, thumbnail=True,
    ),
}  # fmt: skip

KIND_NUMBERS = {name: kind.number for name, kind in sorted(KINDS.items(), key=lambda pair: pair[1].number)}


def kinds_with(trait: str) -> tuple[str, ...]:
    """Return the kinds of which a field of ``Kind`` is true or not empty, in their order."""
    return tuple(name for name, kind in KINDS.items() if getattr(kind, trait))
