"""``tables.h`` and ``tables.c``: what is in assets, known when the program is compiled, for a program that looks nothing up.

``tables.h`` has the offset of every table and of the pixels in each asset, and declares sprites and palettes, which ``tables.c``
holds as constant structures: frames, pieces, animations and colours. Read from the blobs, with the definitions all rooms share.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.joints import layouts
from pipeline.plain.bits import ByteOrder
from pipeline.plain.files import read_json, write_bytes
from pipeline.plain.rendering import Template, render
from pipeline.target.kinds import KINDS

Blob = tuple[bytes, ByteOrder]


def write_tables(
    blobs: dict[str, Path],
    layout: Path,
    templates: dict[str, Template],
    outs: dict[str, Path],
    kinds: dict[str, str],
    order: ByteOrder,
    entry: tuple[int, ByteOrder],
    game: dict[str, str],
) -> str:
    """Write ``tables.h`` and ``tables.c``; return one line about them.

    Args:
        blobs: of every asset whose bytes are known before the program, by name; unpacked.
        layout: the file that says where assets are.
        kinds: name -> kind of those assets.
        order: byte order of the target.
        entry: bytes and byte order of a palette entry.
        game: title and version, for the heading.
    """
    places = read_json(layout)
    made = {name: _asset(name, kinds[name], file.read_bytes(), order, entry) for name, file in sorted(blobs.items())}
    assets = [one | {"address": places[name]["address"]} for name, one in made.items() if one["offsets"]]
    values = {"game": game, "assets": assets, "wide": entry[0] > 2}
    for name, template in templates.items():
        write_bytes(outs[name], render(template, values).encode())
    return f"{len(assets)} assets with tables"


def _asset(name: str, kind: str, blob: bytes, order: ByteOrder, entry: tuple[int, ByteOrder]) -> dict[str, Any]:
    """Return what the two templates say of an asset."""
    one: dict[str, Any] = {"name": name, "kind": kind, "offsets": [], "sprite": None, "colours": None}
    known = KINDS[kind].layouts
    if not known or not 1 <= blob[0] <= len(known):
        return one
    record = layouts.RECORDS[known[blob[0] - 1]]
    head = _read(record, (blob, order), 0)
    one["offsets"] = [(f"{name}_{part.name}_at".upper(), head[part.name], part.note) for part in record if part.note.startswith("offset")]
    if kind == "sprite":
        one["sprite"] = _sprite(head, (blob, order))
    elif kind == "palette":
        size, entries = entry[0], head["entries"]
        words = (blob[at : at + size] for at in range(entries, entries + head["entry_count"] * size, size))
        one["colours"] = [int.from_bytes(word, entry[1]) for word in words]
    return one


def _sprite(head: dict[str, int], blob: Blob) -> dict[str, Any]:
    frames, pieces = _drawn(head, blob)
    animations = []
    for rank in range(head["animation_count"]):
        one = _read(layouts.ANIMATION, blob, head["animations"] + rank * layouts.record_bytes(layouts.ANIMATION))
        animations.append((one["first_step"], one["step_count"], one["loop"]))
    size = layouts.record_bytes(layouts.STEP)
    steps = [_read(layouts.STEP, blob, head["steps"] + rank * size) for rank in range(head["step_count"])]
    return {
        "head": head,
        "frames": frames,
        "pieces": pieces,
        "animations": animations,
        "steps": [(step["frame"], step["ticks"]) for step in steps],
        "pooled": bool(head.get("pool")),
    }


def _drawn(head: dict[str, int], blob: Blob) -> tuple[list[tuple[int, int]], list[tuple[int, ...]]]:
    """Return for each frame its first piece and how many; and of every piece cell, x, y, width, height, flips and offset of its pixels.

    A piece's width and height are 0 where it is a cell, and so is its offset: cells follow one another.
    """
    frames, pieces = [], []
    for rank in range(head["frame_count"]):
        if "pieces" in head:
            one = _read(layouts.FRAME, blob, head["frames"] + rank * layouts.record_bytes(layouts.FRAME))
            frames.append((one["first_piece"], one["piece_count"]))
        elif "boxes" in head:
            box = _read(layouts.BOX, blob, head["boxes"] + rank * layouts.record_bytes(layouts.BOX))
            shown = int(bool(box["width"] or box["height"]))
            frames.append((len(pieces), shown))
            if shown:
                pieces.append((rank, box["x"], box["y"], box["width"], box["height"], box["flips"], box["pixels"]))
        else:
            frames.append((rank, 1))
            pieces.append((rank, 0, 0, head["width"], head["height"], 0, head["pixels"] + rank * head["frame_bytes"]))
    if "pieces" in head:
        size = layouts.record_bytes(layouts.PIECE)
        for rank in range(max((first + count for first, count in frames), default=0)):
            one = _read(layouts.PIECE, blob, head["pieces"] + rank * size)
            pieces.append((one["cell"], one["x"], one["y"], 0, 0, one["flips"], 0))
    return frames, pieces


def _read(record: tuple[layouts.Part, ...], blob: Blob, at: int) -> dict[str, int]:
    values, (data, order) = {}, blob
    for part in record:
        values[part.name] = int.from_bytes(data[at : at + part.bytes], order, signed=part.signed)
        at += part.bytes
    return values
