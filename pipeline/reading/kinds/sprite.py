"""Sprites back to whole frames: sheets, trimmed frames, and pieces put together as a program would draw them."""

from __future__ import annotations

import numpy as np

from pipeline.joints.facts import PoolFacts, SpriteFacts, StoredFrames, StoredPieces
from pipeline.joints.layouts import (
    ANIMATION,
    BOX,
    DRAW,
    FRAME,
    FRAMED,
    FRAMED_VERSION,
    OWN_POOL,
    PIECE,
    PIECED,
    PIECED_VERSION,
    POOL,
    PREPARED,
    PREPARED_VERSION,
    SPRITE,
    STEP,
    VERSION,
    Part,
)
from pipeline.reading.compare import name_hash, size_of, wrong_head, wrong_pixels
from pipeline.reading.decoded import BlobFault, Decoded, FindPool, read_record
from pipeline.reading.pixels import cell_octets, check_start, format_of, read_cells, read_picture, start_of
from pipeline.target.records import Target


def decode_sprite(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a sprite of any arrangement; see ``decoded.decode_blob``."""
    if blob[:1] == bytes([PIECED_VERSION]):
        return _pieced(blob, target, find_pool)
    if blob[:1] == bytes([PREPARED_VERSION]):
        return _prepared(blob, target, find_pool)
    if blob[:1] == bytes([FRAMED_VERSION]):
        return _framed(blob, target)
    head = read_record(SPRITE, blob, 0, target.byte_order)
    pixel_format = format_of(head, target)
    frames = []
    for rank in range(head["frame_count"]):
        at = head["pixels"] + rank * head["frame_bytes"]
        check_start(at, start_of("frame", target), f"frame {rank}")
        frames.append(read_picture(blob, at, head, pixel_format, target))
    if not frames:
        raise BlobFault("a sprite of no frames")
    return Decoded(head, np.stack(frames), animations=_animations(blob, head, target), pixel_format=pixel_format)


def _framed(blob: bytes, target: Target) -> Decoded:
    """Put trimmed frames at their places in the whole ones."""
    head = read_record(FRAMED, blob, 0, target.byte_order)
    pixel_format, frames = format_of(head, target), _empty_frames(head)
    for rank, canvas in enumerate(frames):
        box = read_record(BOX, blob, head["boxes"] + 16 * rank, target.byte_order)
        if box["flips"] > 3 or box["width"] % target.cells.width or box["height"] % target.cells.height:
            raise BlobFault(f"frame {rank} shows {box['width']} x {box['height']} pixels, mirrored {box['flips']}")
        if box["width"] or box["height"]:
            check_start(box["pixels"], start_of("frame", target), f"frame {rank}")
            _draw(canvas, read_picture(blob, box["pixels"], box, pixel_format, target), box, head["clear"])
    return Decoded(head, frames, animations=_animations(blob, head, target), pixel_format=pixel_format)


def _prepared(blob: bytes, target: Target, find_pool: FindPool | None) -> Decoded:
    """Put pieces together, and compare each with what is prepared of it."""
    decoded = _pieced(blob, target, find_pool, PREPARED)
    head, size = decoded.head, cell_octets(format_of(decoded.head, target), target)
    patterns = target.sprites.commands
    wide = sum(pattern.width // 8 for pattern in patterns) if head["commands"] else 12
    if head["commands"] > 1 or head["draw_bytes"] != wide or (head["commands"] and not patterns):
        raise BlobFault(f"its prepared pieces are of form {head['commands']} and {head['draw_bytes']} bytes each")
    for number in range((head["draws"] - head["pieces"]) // 8):
        piece = read_record(PIECE, blob, head["pieces"] + 8 * number, target.byte_order)
        at = head["draws"] + wide * number
        if head["commands"]:
            said, meant = _command(blob[at : at + wide], target), _meant(piece, size, target)
            said = {letter: value for letter, value in said.items() if value != meant[letter]}
        else:
            draw = read_record(DRAW, blob, at, target.byte_order)
            meant = {"source": piece["cell"] * size, "x": piece["x"], "y": piece["y"], "bytes": size, "flips": piece["flips"]}
            said = {key: value for key, value in draw.items() if value != meant[key]}
        if said:
            raise BlobFault(f"prepared piece {number} says {said}, the piece {({key: meant[key] for key in said})}")
    return decoded


def _command(raw: bytes, target: Target) -> dict[str, int]:
    """Return letter -> value of a command; places are signed."""
    values, at = {}, 0
    for pattern in target.sprites.commands:
        word = int.from_bytes(raw[at : at + pattern.width // 8], target.byte_order)
        at += pattern.width // 8
        for letter, places in pattern.fields.items():
            value = int("".join(str(word >> place & 1) for place in places), 2)
            values[letter] = value - (1 << len(places)) if letter in "XY" and word >> places[0] & 1 else value
    return values


def _meant(piece: dict[str, int], size: int, target: Target) -> dict[str, int]:
    unit = target.sprites.command_unit
    source = {"S": piece["cell"] * size // unit, "N": piece["cell"], "L": size // unit}
    return {**source, "X": piece["x"], "Y": piece["y"], "H": piece["flips"] & 1, "V": piece["flips"] >> 1 & 1}


def _pieced(blob: bytes, target: Target, find_pool: FindPool | None, record: tuple[Part, ...] = PIECED) -> Decoded:
    """Put the frames of a sprite in pieces together again, pixel by pixel as a program would draw them."""
    head = read_record(record, blob, 0, target.byte_order)
    own = head["pool"] == OWN_POOL
    cells = _cells(blob, head, target) if own else _pool_of(head, find_pool).pixels
    frames = _empty_frames(head)
    for rank, canvas in enumerate(frames):
        frame = read_record(FRAME, blob, head["frames"] + 8 * rank, target.byte_order)
        for number in range(frame["first_piece"], frame["first_piece"] + frame["piece_count"]):
            piece = read_record(PIECE, blob, head["pieces"] + 8 * number, target.byte_order)
            if piece["cell"] >= len(cells) or piece["flips"] > 3:
                raise BlobFault(f"piece {number} uses cell {piece['cell']} of {len(cells)}, mirrored {piece['flips']}")
            _draw(canvas, cells[piece["cell"]], piece, head["clear"])
    return Decoded(head, frames, animations=_animations(blob, head, target), pixel_format=format_of(head, target))


def _empty_frames(head: dict[str, int]) -> np.ndarray:
    if not head["frame_count"]:
        raise BlobFault("a sprite of no frames")
    return np.full((head["frame_count"], head["height"], head["width"]), head["clear"], dtype=np.uint32)


def _pool_of(head: dict[str, int], find_pool: FindPool | None) -> Decoded:
    """Return the pool a sprite names; what the sprite's own record says of it must be so."""
    pool = find_pool(head["pool"]) if find_pool else None
    if pool is None:
        raise BlobFault(f"its cells are in a pool of name hash {head['pool']:#010x}, which is not there")
    for key in ("pixel_format", "clear", "cell_count"):
        if head[key] != pool.head[key]:
            raise BlobFault(f"its {key.replace('_', ' ')} is {head[key]}, its pool's {pool.head[key]}")
    return pool


def decode_pool(blob: bytes, target: Target, find_pool: FindPool | None = None) -> Decoded:
    """Decode a pool; its cells are the pixels."""
    head = read_record(POOL, blob, 0, target.byte_order)
    return Decoded(head, _cells(blob, head, target), pixel_format=format_of(head, target))


def _cells(blob: bytes, head: dict[str, int], target: Target) -> np.ndarray:
    """Return consecutive cells: uint32, shape (cells, height, width)."""
    return read_cells(blob, head["pixels"], head["cell_count"], format_of(head, target), target)


def _draw(canvas: np.ndarray, cell: np.ndarray, piece: dict[str, int], clear: int) -> None:
    if piece["flips"] & 1:
        cell = cell[:, ::-1]
    if piece["flips"] & 2:
        cell = cell[::-1]
    left, top = max(piece["x"], 0), max(piece["y"], 0)
    inside = canvas[top : max(piece["y"] + cell.shape[0], 0), left : max(piece["x"] + cell.shape[1], 0)]
    shown = cell[top - piece["y"] :, left - piece["x"] :][: inside.shape[0], : inside.shape[1]]
    inside[shown != clear] = shown[shown != clear]


def _animations(blob: bytes, head: dict[str, int], target: Target) -> list:
    found = []
    for rank in range(head["animation_count"]):
        one = read_record(ANIMATION, blob, head["animations"] + 12 * rank, target.byte_order)
        steps = []
        for step in range(one["first_step"], one["first_step"] + one["step_count"]):
            if step >= head["step_count"]:
                raise BlobFault(f"animation {rank} uses step {step} of {head['step_count']}")
            numbers = read_record(STEP, blob, head["steps"] + 4 * step, target.byte_order)
            if numbers["frame"] >= head["frame_count"]:
                raise BlobFault(f"step {step} shows frame {numbers['frame']} of {head['frame_count']}")
            steps.append((numbers["frame"], numbers["ticks"]))
        found.append((one["name_hash"], bool(one["loop"]), steps))
    return found


def compare_sprite(decoded: Decoded, facts: SpriteFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    anchor_x, anchor_y = facts.anchor
    head = {"frame_count": facts.frames, "anchor_x": anchor_x, "anchor_y": anchor_y, "palette": name_hash(facts.palette)}
    faults = wrong_head(decoded, {**head, **size_of(facts.intent), **_stored_head(facts)}) + wrong_pixels(decoded, facts.intent)
    if decoded.animations != [(name_hash(one.name), one.loop, one.steps) for one in facts.animations]:
        faults.append("its animations are not the project's")
    return faults


def _stored_head(facts: SpriteFacts) -> dict[str, int]:
    stored = facts.stored
    if isinstance(stored, StoredPieces):
        pool = name_hash(stored.pool) if stored.pool else OWN_POOL
        version = PIECED_VERSION if stored.prepared == "none" else PREPARED_VERSION
        more = {} if stored.prepared == "none" else {"commands": int(stored.prepared == "commands")}
        return {"version": version, **more, "cell_count": stored.cell_count, "pool": pool}
    return {"version": FRAMED_VERSION} if isinstance(stored, StoredFrames) else {"version": VERSION, "frame_bytes": stored.frame_bytes}


def compare_pool(decoded: Decoded, facts: PoolFacts, target: Target) -> list[str]:
    """Return what differs from the facts of conversion, one text each."""
    return wrong_head(decoded, {"clear": facts.clear, "cell_count": facts.cell_count}) + wrong_pixels(decoded, facts.intent)
