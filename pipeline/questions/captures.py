"""Captured play: a folder of pictures, an animated GIF or PNG, or a video, as pictures that are shown one after another."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.plain.bounds import FRAMES
from pipeline.plain.errors import refuse, shown
from pipeline.project.art import is_picture
from pipeline.questions.video import Video

WIDEST = 640  # pixels across; of a wider picture every second or third pixel is looked at, and so on
_CAPTURED = 36_000  # pictures: ten minutes at 60 in a second


class Capture:
    """What was captured, and at which pace.

    Args:
        path: a folder of pictures in the order of their names, numbers in them compared as numbers; an animated GIF or PNG; or a
            video that FFmpeg reads.
        refresh: pictures in a second, of a folder; an animation and a video have their own times.

    Attributes:
        ticks: in a second.
        scaled: how pictures were made smaller, in words after a comma; empty where they were not.

    Raises:
        ProjectError: there is no such thing, or no picture in the folder, or too many.
    """

    def __init__(self, path: Path, refresh: float) -> None:
        self._path, self._video, self.scaled = path, None, ""
        if path.is_dir():
            self._names = sorted((file.name for file in path.iterdir() if is_picture(file.name)), key=_in_order)
            self.ticks = refresh
            if not self._names:
                raise refuse("of=", "", f"{shown(path)} holds no pictures", "capture play as PNG files, one for each picture of the screen")
            if len(self._names) > _CAPTURED:
                wrong = f"{shown(path)} holds {len(self._names):,} pictures, at most {_CAPTURED:,} are taken"
                raise refuse("of=", "", wrong, "check it in parts that overlap by a second")
        elif path.is_file() and is_picture(path.name):
            self._names, self.ticks = [], 1000
        elif path.is_file():
            self._names, self._video = [], Video(path, WIDEST, _CAPTURED)
            self.ticks, self.scaled = self._video.ticks, self._video.scaled
        else:
            raise refuse("of=", "", f"{shown(path)} does not exist", "name a folder of pictures, an animated GIF or PNG, or a video")

    def pictures(self) -> Iterator[tuple[np.ndarray, int]]:
        """Yield each picture, uint8 sRGB of shape (height, width, 3), and its ticks; clear pixels are black.

        Raises:
            ProjectError: one cannot be read, or is of another size than the first.
        """
        if self._video is not None:
            yield from ((picture, 1) for picture in self._video.pictures())
            return
        size = None
        for name, picture, ticks in self._read():
            if size and picture.size != size:
                wrong = f"has {picture.width} x {picture.height} pixels, the first picture {size[0]} x {size[1]}"
                raise refuse(name, "", wrong, "capture the whole screen each time, at one size")
            size = picture.size
            every = -(-picture.width // WIDEST)
            if every > 1:
                self.scaled = f", every {every}{'nd' if every == 2 else 'rd' if every == 3 else 'th'} pixel across and down"
            whole = Image.alpha_composite(Image.new("RGBA", size, "black"), picture)
            yield np.asarray(whole)[::every, ::every, :3], ticks

    def _read(self) -> Iterator[tuple[str, Image.Image, int]]:
        for name in self._names:
            yield name, open_picture(self._path, name), 1
        if not self._names:
            late = Fraction(0)  # of the times so far, what whole milliseconds leave over
            for picture, ms in open_animation(self._path.parent, self._path.name, FRAMES):
                ticks = max(1, round(Fraction(ms) + late))
                late += Fraction(ms) - ticks
                yield self._path.name, picture, ticks


def _in_order(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", name)]
