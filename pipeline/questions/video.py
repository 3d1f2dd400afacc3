"""A video file as pictures, read by FFmpeg where it is installed."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np

from pipeline.plain.errors import refuse, shown

_QUIET = ("-hide_banner", "-loglevel", "error", "-protocol_whitelist", "file,pipe")  # a playlist must not fetch from elsewhere
_MOST_SIDE = 16_384  # pixels


class Video:
    """A video file.

    Args:
        path: of the file.
        widest: pixels across; a wider one is made smaller.
        most: pictures that are taken.

    Attributes:
        ticks: pictures in a second, as the file says.
        scaled: how it was made smaller, in words; empty where it was not.

    Raises:
        ProjectError: FFmpeg is not installed, or cannot read the file.
    """

    def __init__(self, path: Path, widest: int, most: int) -> None:
        self._path, self._most = path, most
        for tool in ("ffmpeg", "ffprobe"):
            if shutil.which(tool) is None:
                remedy = "install FFmpeg, which reads video files; or capture play as a folder of PNG files, a GIF or an animated PNG"
                raise refuse("of=", "", f"{shown(path)} is not a GIF or PNG, and {tool} is not installed", remedy)
        width, height, rate = self._probe()
        self.ticks = float(rate)
        self._rate = rate
        self._size = (width, height) if width <= widest else (widest, max(1, round(height * widest / width)))
        self.scaled = f", made smaller from {width} x {height} to {self._size[0]} x {self._size[1]} pixels" if width > widest else ""

    def _probe(self) -> tuple[int, int, Fraction]:
        command = ["ffprobe", *_QUIET, "-select_streams", "v:0", "-show_entries", "stream=width,height,r_frame_rate", "-of", "json"]
        found = subprocess.run([*command, str(self._path)], capture_output=True, stdin=subprocess.DEVNULL, check=False)
        try:
            stream = json.loads(found.stdout)["streams"][0]
            width, height, rate = int(stream["width"]), int(stream["height"]), Fraction(stream["r_frame_rate"])
        except (ValueError, KeyError, IndexError, TypeError, ZeroDivisionError):
            raise self._refused(found.stderr, "holds no video that FFmpeg reads") from None
        if not (0 < width <= _MOST_SIDE and 0 < height <= _MOST_SIDE and 1 <= rate <= 240):
            wrong = f"has {width} x {height} pixels at {float(rate):g} pictures in a second"
            raise refuse(self._path.name, "", wrong, "1 to 240 pictures in a second are measured, of at most 16,384 x 16,384 pixels")
        return width, height, rate

    def pictures(self) -> Iterator[np.ndarray]:
        """Yield each picture: uint8 sRGB, shape (height, width, 3).

        Raises:
            ProjectError: the file is damaged, or too long.
        """
        width, height = self._size
        made = f"fps={self._rate.numerator}/{self._rate.denominator},scale={width}:{height}:flags=area"
        command = ["ffmpeg", *_QUIET, "-nostdin", "-i", str(self._path), "-map", "0:v:0", "-vf", made]
        command += ["-f", "rawvideo", "-pix_fmt", "rgb24"]
        with tempfile.TemporaryFile() as errors, subprocess.Popen(
            [*command, "pipe:1"], stdout=subprocess.PIPE, stderr=errors, stdin=subprocess.DEVNULL
        ) as process:
            assert process.stdout is not None
            count = 0
            try:
                while len(data := process.stdout.read(width * height * 3)) == width * height * 3:
                    count += 1
                    if count > self._most:
                        wrong = f"has more than {self._most:,} pictures"
                        raise refuse(self._path.name, "", wrong, "check it in parts that overlap by a second")
                    yield np.frombuffer(data, np.uint8).reshape(height, width, 3)
                failed = process.wait() != 0
            finally:
                process.kill()
            errors.seek(0)
            said = errors.read()
        if failed or not count:
            raise self._refused(said, "cannot be read to its end")

    def _refused(self, errors: bytes, wrong: str):
        last = errors.decode(errors="replace").strip().splitlines()[-1:]
        why = f": {last[0].replace(str(self._path), self._path.name)}" if last else ""
        return refuse(self._path.name, "", f"{wrong}{why}", "write it again, or as a folder of PNG files")
