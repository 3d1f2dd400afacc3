"""A sprite in pieces inside an image: changing its tables, and what its frames then are."""

from __future__ import annotations

import copy

from small_project import Built, places

from pipeline.reading.decoded import Decoded
from tests.reading.decoding import decode_blob

SPRITE = 1
ROOM = 400  # pixels round a frame in which the model follows pieces that leave it; more than the screen is wide
FRAME_BYTES = PIECE_BYTES = 8


class Pieced:
    """The one sprite of an image.

    Attributes:
        image: to be changed.
        head: the sprite's record as it was built.
        at: place of its blob in the image; ``entry`` of its entry in the directory.
        piece_count: pieces of all frames.
    """

    def __init__(self, built: Built, name: str) -> None:
        self.image, self.head, self._target = bytearray(built.image), built.assets[name].head, built.target
        self.entry, self.at = next((entry, at) for kind, entry, at in places(built.image) if kind == SPRITE)
        self.bytes = int.from_bytes(self.image[self.entry + 12 : self.entry + 16], "big")
        self.piece_count = sum(self.number(self.frame(rank) + 4, 2) for rank in range(self.head["frame_count"]))

    def frame(self, rank: int) -> int:
        """Return where a frame's record is in the blob."""
        return self.head["frames"] + FRAME_BYTES * rank

    def piece(self, rank: int) -> int:
        """Return where a piece's record is in the blob."""
        return self.head["pieces"] + PIECE_BYTES * rank

    def table(self, name: str) -> tuple[int, int]:
        """Return where the record has a table's offset, and the bytes of the table."""
        return {
            "animations": (32, 12 * self.head["animation_count"]),
            "steps": (36, 4 * self.head["step_count"]),
            "frames": (40, FRAME_BYTES * self.head["frame_count"]),
            "pieces": (44, PIECE_BYTES * self.piece_count),
        }[name]

    def number(self, place: int, count: int, *, signed: bool = False) -> int:
        """Return the number at a place of the blob."""
        return int.from_bytes(self.image[self.at + place : self.at + place + count], "big", signed=signed)

    def put(self, place: int, count: int, value: int) -> None:
        """Write a number into the blob."""
        self.image[self.at + place : self.at + place + count] = (value & (1 << 8 * count) - 1).to_bytes(count, "big")

    def copy_to_end(self, place: int, count: int, beyond: int = 0) -> int:
        """Copy bytes of the blob over its last ones, some of them beyond its end; return where they now are."""
        end = self.at + self.bytes + beyond
        self.image[end - count : end] = self.image[self.at + place : self.at + place + count]
        return self.bytes + beyond - count

    def decoded(self) -> Decoded:
        """Return the sprite as the image's reader sees it, its frames enlarged so that no piece on the screen is outside.

        The pieces, moved as far, are in a new table after the blob.
        """
        wide, start = copy.deepcopy(self), self.number(44, 4)
        wide.image[self.at + self.bytes :] = self.image[self.at + start : self.at + start + PIECE_BYTES * self.piece_count]
        wide.put(44, 4, self.bytes)
        for part, name in ((4, "width"), (6, "height")):
            wide.put(part, 2, self.head[name] + 2 * ROOM)
        for place in range(self.bytes, self.bytes + PIECE_BYTES * self.piece_count, PIECE_BYTES):
            for part in (0, 2):
                wide.put(place + part, 2, min(wide.number(place + part, 2, signed=True) + ROOM, 0x7FFF))
        found = decode_blob("sprite", bytes(wide.image[self.at :]), self._target)
        for name in ("anchor_x", "anchor_y"):
            found.head[name] += ROOM
        return found
