"""What keys of art mean, for the checks and for the steps: frames of an animation, a strip's characters, the two ways to give a size."""

from __future__ import annotations

import fnmatch
import functools
from pathlib import Path

from pipeline.project.assets import Animation, Font

SIZES = {"scale", "height"}  # two ways to say how large art becomes; one of them is given
NOT_WITH_FILE = ("locked", "locked_file")  # keys of a palette that count only where it is computed
# Endings of pictures, each with the format that such a file must have.
PICTURES = {
    **{".png": "PNG", ".apng": "PNG", ".gif": "GIF", ".bmp": "BMP", ".tga": "TGA", ".pcx": "PCX", ".webp": "WEBP"},
    **{".jpg": "JPEG", ".jpeg": "JPEG", ".ppm": "PPM", ".pgm": "PPM", ".pbm": "PPM"},
}


def animation_frames(animation: Animation, files: tuple[str, ...]) -> list[int]:
    """Return the frame numbers of an animation; a pattern is matched against file names without folder and ending."""
    return animation.frames if isinstance(animation.frames, list) else frames_named(animation.frames, files)


def frames_named(pattern: str, files: tuple[str, ...]) -> list[int]:
    """Return the numbers of the frames whose file name, without folder and ending, matches a pattern."""
    return [rank for rank, stem in enumerate(_stems(files)) if fnmatch.fnmatchcase(stem, pattern)]


@functools.lru_cache(64)  # each animation of a sprite asks again
def _stems(files: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(Path(name).stem for name in files)


def is_picture(file: str) -> bool:
    """Return whether a file has the ending of a picture; a font's is then a strip of letters."""
    return Path(file).suffix.lower() in PICTURES


def strip_order(spec: Font) -> str:
    """Return a strip's characters in reading order, without the line breaks an author writes between rows."""
    return spec.order.replace("\n", "").replace("\r", "")
