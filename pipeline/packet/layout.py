"""How a packet is laid out, kept between builds: looking for the layout takes longer than drawing it.

A packet is laid out as it is with values that are of no build in particular, so that its layout stays the same until its words change.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import msgspec
from PIL import Image

from pipeline.cache.results import Results, key_of
from pipeline.joints.map import MappedImage
from pipeline.packet.sections.pad_leaders import Label
from pipeline.packet.typeset.page import Draft

# As wide as such values mostly are, and with as many letters, so that codes for scanning have their size.
_OF_ANY_BUILD = {"build_code": "H4N5RK", "crc32": "01234567", "sha256": "0123456789abcdef" * 4}


class Layout(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What ``Draft`` documents under the same names, the first two sorted."""

    loose: list[str]
    begins_page: list[str]
    seen: dict[str, int]
    labels: dict[str, tuple[Label, ...]]


_DECODER = msgspec.json.Decoder(Layout)


def of_any_build(image: MappedImage) -> MappedImage:
    """Return an image of the same size, with values of no build in particular."""
    return msgspec.structs.replace(image, used=image.bytes, pad=0, **_OF_ANY_BUILD)


def kept_layout(call: str, draft: Draft, results: Results, find: Callable[[Draft], Layout]) -> Layout:
    """Return the layout of a packet, from the results or found with ``find``.

    Args:
        call: name of the function that sets the packet: of the code that counts.
    """
    if not results.keeps:
        return find(draft)
    key = key_of(call, _looked_at(draft))
    known = results.get(key)
    if known is not None:
        return _DECODER.decode(known)
    layout = find(draft)
    results.put(key, msgspec.json.encode(layout))
    return layout


def _looked_at(draft: Draft) -> bytes:
    """Return all that the layout depends on: of pictures only their size counts."""
    pictures = draft.content["issue_pictures"]
    content = {**draft.content, "issue_pictures": {issue: _size(BytesIO(png)) for issue, png in pictures.items()}}
    boot, messages = _size(draft.boot) if draft.boot else None, draft.wording.messages
    return msgspec.json.encode((content, boot, messages.tables, messages.numbers, draft.paper, draft.look.large))


def _size(png: Path | BytesIO) -> tuple[int, int]:
    with Image.open(png, formats=["PNG"]) as picture:
        return picture.size
