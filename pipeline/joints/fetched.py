"""What a program fetches from the cartridge of an asset that a scene streams: ``work/NAME.fetched.json``, ``work/NAME.windows.json``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import msgspec
from msgspec import Meta

from pipeline.plain.files import FileRecord, decode_record, read_record, write_record

FORMAT = 1
_Count = Annotated[int, Meta(ge=0)]


class Fetch(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is copied at once.

    Attributes:
        runs: bytes of each run of adjacent bytes in the cartridge, in the order of the cartridge; a transfer each.
        cells: different cells among them.
    """

    runs: list[Annotated[int, Meta(ge=1)]]
    cells: _Count

    @property
    def bytes(self) -> int:
        """Bytes of all runs."""
        return sum(self.runs)


class Frames(FileRecord, frozen=True, kw_only=True):
    """A sprite, frame by frame.

    Attributes:
        tables: bytes of its blob before the pixels of any frame: they stay in memory.
        frames: for each frame its pixels, or the cells it is put together from.
        animations: for each animation, in the sprite's order, all that its frames need, each part once.
    """

    tables: _Count
    frames: list[Fetch]
    animations: list[Fetch]


class WindowTiles(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a window needs of a tiled background.

    Attributes:
        window: its width and height in pixels; ``speed``: pixels it moves across and down.
        tiles: the most different tiles that a position needs; ``moved``: the most that one step brings.
    """

    window: tuple[int, int]
    speed: tuple[int, int]
    tiles: _Count
    moved: _Count


class Windows(FileRecord, frozen=True, kw_only=True):
    """A tiled background through the windows of all scenes that stream its tiles."""

    windows: list[WindowTiles]

    def find(self, window: tuple[int, int], speed: tuple[int, int]) -> WindowTiles:
        """Return what one window needs.

        Raises:
            KeyError: it was not measured.
        """
        for one in self.windows:
            if (one.window, one.speed) == (window, speed):
                return one
        raise KeyError(window, speed)


_FRAMES, _WINDOWS = msgspec.json.Decoder(Frames), msgspec.json.Decoder(Windows)


def window_size(seen: tuple[int, int], picture: tuple[int, int], margin: int) -> tuple[int, int]:
    """Return width and height of a window with its margin, which it has on the axes on which the picture goes on; in pixels."""
    width, height = (min(part + 2 * margin, whole) if part < whole else whole for part, whole in zip(seen, picture, strict=True))
    return width, height


def write_fetched(file: Path, fetched: Frames | Windows) -> None:
    """Write what was measured."""
    write_record(file, fetched)


def read_frames(file: Path) -> Frames:
    """Return a sprite frame by frame.

    Raises:
        ProjectError: it cannot be read, is damaged, or has another format number.
    """
    return read_record(file, _FRAMES, FORMAT)


def read_windows(file: Path) -> Windows:
    """Return a background's windows; errors as ``read_frames``."""
    return read_record(file, _WINDOWS, FORMAT)


def decode_frames(data: bytes, name: str) -> Frames:
    """Return what the content of ``NAME.fetched.json`` holds; errors as ``read_frames``."""
    return decode_record(data, f"{name}.fetched.json", _FRAMES, FORMAT)


def decode_windows(data: bytes, name: str) -> Windows:
    """Return what the content of ``NAME.windows.json`` holds; errors as ``read_frames``."""
    return decode_record(data, f"{name}.windows.json", _WINDOWS, FORMAT)
