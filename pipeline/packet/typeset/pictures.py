"""Pictures of what art was before and is now."""

from __future__ import annotations

import base64
from io import BytesIO
from typing import Any

from PIL import Image as Picture
from reportlab.platypus import Flowable, Spacer, Table

from pipeline.joints.map import ASSETS
from pipeline.packet.typeset import style
from pipeline.packet.typeset.crisp import crisp
from pipeline.packet.typeset.page import Draft
from pipeline.packet.typeset.tables import grid, name_width
from pipeline.packet.typeset.tagged import Paragraph
from pipeline.packet.typeset.text import mark

_KINDS = ("sprite", "background", "font")  # what a tester looks at first
_UNSEEN = ("sound",)  # a waveform says nothing to who is to listen
_MOST = 12  # assets shown
_LARGEST = 1.5  # points a pixel
_GAP = 10
_STACKED = 2.2  # times as wide as high, from which one picture is placed above the other


def pictures_before_and_now(draft: Draft) -> list[Flowable]:
    """Return what art looked like in the release before and looks like now; nothing where none has a picture."""
    wording, seen = draft.wording, _seen(draft.content["changes"])
    if not seen:
        return []
    rows = [[_named(draft, one, key), _both(draft, one)] for one, key in seen[:_MOST]]
    look = [("LINEABOVE", (0, 0), (-1, -1), 0.5, style.RULE)]
    name = name_width(draft)
    table = grid(rows, [name, draft.width - name], look, (0, 4, 6, 8), said=True)
    more = wording.text("changes.more", count=str(len(seen) - _MOST)) if len(seen) > _MOST else ""
    note = wording.text("changes.pictures")
    before = [Paragraph(mark(note), draft.look.NOTE_OF_LIST)] if note else []
    return [Spacer(1, 8), *before, table, *([Paragraph(mark(more), draft.look.NOTE)] if more else [])]


def _seen(changes: dict[str, Any]) -> list[tuple[dict[str, Any], str]]:
    """Return the assets that have a picture, each with what became of it; colours come last, figures and changes first."""
    found = [(one, key) for key in ASSETS for one in changes[key] if any(one["pictures"].values()) and one["kind"] not in _UNSEEN]
    return sorted(found, key=lambda pair: (pair[1] == "recoloured", _rank(pair[0]["kind"]), pair[1] != "changed"))


def _rank(kind: str) -> int:
    return _KINDS.index(kind) if kind in _KINDS else len(_KINDS)


def _named(draft: Draft, one: dict[str, Any], key: str) -> list[Flowable]:
    how = draft.wording.text(f"changes.{key}")
    return [Paragraph(mark(one["name"]), draft.look.BODY_STRONG), Paragraph(mark(how), draft.look.CELL_QUIET)]


def _both(draft: Draft, one: dict[str, Any]) -> Flowable | list[Flowable]:
    name = one["name"]
    shown = [(draft.wording.text(f"changes.{key}"), _opened(png)) for key, png in one["pictures"].items() if png]
    room = draft.width - name_width(draft) - 4
    if len(shown) == 1 or any(picture.width > picture.height * _STACKED for _, picture in shown):
        scale = min(_LARGEST, *(room / picture.width for _, picture in shown))
        blocks = [(*_labelled(draft, name, *pair, scale), Spacer(1, 0 if rank else 5)) for rank, pair in enumerate(shown)]
        return [flowable for block in blocks for flowable in block]
    column = (room - _GAP) / 2
    scale = min(_LARGEST, *(column / picture.width for _, picture in shown))
    width = min(column, max(picture.width for _, picture in shown) * scale + 2 * _GAP)
    return _beside([_labelled(draft, name, *pair, scale) for pair in shown], width)


def _beside(cells: list[list[Flowable]], width: float) -> Table:
    table = grid([cells], [width + _GAP, width], [])
    table.hAlign = "LEFT"
    return table


def _labelled(draft: Draft, name: str, label: str, picture: Picture.Image, scale: float) -> list[Flowable]:
    return [Paragraph(mark(label), draft.look.LABEL), Spacer(1, 2), crisp(picture, scale, f"{name}, {label}")]


def _opened(png: str) -> Picture.Image:
    with Picture.open(BytesIO(base64.b64decode(png)), formats=["PNG"]) as opened:
        return opened.convert("RGB")
