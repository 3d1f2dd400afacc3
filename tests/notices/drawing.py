"""Drawing notices of tiles for tests, and what a console's tile unit shows of one: read here from its bytes, by the blob page's offsets."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from pipeline.assets.notices.codes import NoticeText
from pipeline.assets.notices.tiles import draw_tiled_screen
from pipeline.joints.facts import ScreenFacts, read_facts
from pipeline.joints.places import blob_files, facts_file
from pipeline.notices.tile_plan import Console, tile_screen
from pipeline.project.assets import Screen
from pipeline.target.records import Target, picture_rules
from pipeline.target.tiles import tile_rules

LINKS = ("https://example.org/f/7ZK3QM", "https://example.org/b/7ZK3QM")
TEXT = NoticeText("Tin Ferry", "0.1.0", "alpha", "7ZK3QM", *LINKS)


class Drawn(NamedTuple):
    """A notice that was drawn: its blob, its facts and its console."""

    blob: bytes
    facts: ScreenFacts
    target: Target


def draw(folder: Path, target: Target, text: NoticeText = TEXT, spec: Screen | None = None) -> Drawn:
    """Draw a notice of tiles for a console."""
    pixels = target.screen.pixels
    console = Console(tile_screen(target, pixels), picture_rules(target, pixels), tile_rules(target, None, None), 4)
    screen = target.screen
    safe = (screen.action_safe, screen.title_safe)
    draw_tiled_screen(blob_files(folder, "boot"), "boot", spec or Screen(), text, console, screen.pixel_aspect, safe)
    return Drawn((folder / "boot.bin").read_bytes(), read_facts(facts_file(folder, "boot"), ScreenFacts), target)


def record(blob: bytes, order: str) -> dict[str, int]:
    """Return the fields of a notice's record that a console needs, from the offsets that the guide's page of blobs gives."""
    names = "version format width height entry_bytes palette tile_width tile_height columns rows tile_count tile_bytes first tile_mask"
    names += " flip_x flip_y line map tiles entry_count line_entries entries tile_room"
    values = struct.unpack_from(("<" if order == "little" else ">") + "BBHHHIHHHHIIIIIIIIIHHII", blob)
    return dict(zip(names.split(), values, strict=True))


def shown(drawn: Drawn, target_data: dict[str, Any]) -> np.ndarray:
    """Return what the tile unit of a console shows, from the patterns of its file: uint8, shape (height, width, 3).

    Args:
        target_data: the target file as TOML gives it, of tiles of 8 x 8 whose pixels are chunky or in planes by byte.
    """
    order, unit, entry = target_data["byte_order"], target_data["tiles"], target_data["palette"]["entry"]
    pixels = target_data["pixel_formats"][target_data["screen"]["pixels"]]
    head, blob, depth = record(drawn.blob, order), drawn.blob, len(pixels["pixel"])
    memory = blob[head["tiles"] : head["tiles"] + head["tile_room"] * head["tile_bytes"]]
    picture = np.zeros((head["rows"] * 8, head["columns"] * 8), dtype=np.int64)
    size, colour = len(unit["map_entry"]) // 8, len(entry) // 8
    for place in range(head["rows"] * head["columns"]):
        at = head["map"] + place * size
        word = int.from_bytes(blob[at : at + size], unit.get("byte_order", order))
        number, line = _bits(word, unit["map_entry"], "t"), _bits(word, unit["map_entry"], "c")
        assert number < head["tile_count"]
        tile = _tile(memory[number * head["tile_bytes"] :][: head["tile_bytes"]], depth, pixels)
        tile = tile[:, ::-1] if _bits(word, unit["map_entry"], "H") else tile
        tile = tile[::-1] if _bits(word, unit["map_entry"], "V") else tile
        row, column = divmod(place, head["columns"])
        picture[row * 8 : row * 8 + 8, column * 8 : column * 8 + 8] = tile + (line << depth)
    words = [blob[head["entries"] + colour * rank :][:colour] for rank in range(head["entry_count"])]
    values = [int.from_bytes(word, target_data["palette"].get("byte_order", order)) for word in words]
    table = np.array([[_channel(value, entry, letter) for letter in "RGB"] for value in values], dtype=np.uint8)
    return table[picture[: drawn.facts.height, : drawn.facts.width]]


def _bits(word: int, pattern: str, letter: str) -> int:
    return int("".join(bit for bit, name in zip(f"{word:0{len(pattern)}b}", pattern, strict=True) if name == letter) or "0", 2)


def _channel(value: int, pattern: str, letter: str) -> int:
    count = pattern.count(letter)
    return int((f"{_bits(value, pattern, letter):0{count}b}" * 8)[:8], 2)


def _tile(raw: bytes, depth: int, pixels: dict[str, str]) -> np.ndarray:
    bits = np.unpackbits(np.frombuffer(raw, dtype=np.uint8))
    if pixels.get("planes", "chunky") == "chunky":
        return bits.reshape(8, 8, depth) @ (1 << np.arange(depth)[::-1])
    return (bits.reshape(8, depth, 8) * (1 << np.arange(depth))[:, None]).sum(axis=1)
