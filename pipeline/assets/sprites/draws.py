"""The pieces of a sprite in the form in which they are drawn: source, place and length, or commands as a target's patterns say."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from pipeline.assets.blob import put_record
from pipeline.joints.layouts import DRAW
from pipeline.joints.pixel_size import stored_bytes
from pipeline.plain.bits import BitPattern
from pipeline.plain.errors import refuse
from pipeline.target.records import DrawRules, PictureRules


def draw_table(frames: Iterable[np.ndarray], draws: DrawRules, rules: PictureRules) -> bytes:
    """Return the prepared pieces of all frames, in the order of the piece table.

    Args:
        frames: for each its pieces, x, y, cell, flips: integers, shape (pieces, 4).

    Raises:
        ProjectError: a number does not fit its bits of a command.
        OverflowError: a number leaves its field.
    """
    shown = f"[sprite.{draws.sprite}]"
    size, table = stored_bytes(*rules.cell, rules, rules.starts.cell), bytearray()
    if draws.commands and size % draws.unit:
        wrong = f"a cell of {size} bytes is not a whole number of units of {draws.unit} bytes, which commands count"
        raise refuse("project.toml", shown, wrong, 'use prepared = "cells", or correct command_unit of the target')
    for pieces in frames:
        for x, y, cell, flips in pieces.tolist():
            if draws.commands:
                source = {"S": cell * size // draws.unit, "N": cell, "L": size // draws.unit}
                values = {**source, "X": x, "Y": y, "H": flips & 1, "V": flips >> 1}
                table += b"".join(_number(pattern, values, shown).to_bytes(pattern.bytes, rules.byte_order) for pattern in draws.commands)
            else:
                table += put_record(DRAW, rules.byte_order, source=cell * size, x=x, y=y, bytes=size, flips=flips)
    return bytes(table)


def _number(pattern: BitPattern, values: dict[str, int], shown: str) -> int:
    held = {}
    for letter in pattern.fields:
        bits, value = pattern.bits(letter), values[letter]
        least, most = (-(1 << bits - 1), (1 << bits - 1) - 1) if letter in "XY" else (0, (1 << bits) - 1)
        if not least <= value <= most:
            wrong = f"{letter} of a command is {value}, its {bits} bits of {pattern.text} hold {least} to {most}"
            raise refuse("project.toml", shown, wrong, 'use smaller frames or fewer cells, or prepared = "cells"')
        held[letter] = value & ((1 << bits) - 1)
    return pattern.encode(**held)
