"""Opening pictures: what is accepted, what is refused, and why."""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Iterator
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from pipeline.assets.png_rows import check_chunks, check_rows, load_whole
from pipeline.errors import ProjectError, refuse

_ACCEPTED = ("PNG", "GIF", "BMP")
_KNOWN = (*_ACCEPTED, "JPEG", "TIFF", "WEBP", "TGA", "PPM")  # opened only to say what the file is
MAX_PIXELS = 1 << 26  # 8192 x 8192, far above any console's art
_ENDINGS = {".png": "PNG", ".gif": "GIF", ".bmp": "BMP"}
_UNREADABLE = (OSError, SyntaxError, ValueError, IndexError, EOFError, struct.error)


def open_picture(folder: Path, name: str) -> Image.Image:
    """Return one still picture as RGBA.

    Args:
        folder: the project folder.
        name: the file, relative to it.

    Raises:
        ProjectError: missing, empty, truncated, of another format, 16 bits a channel, CMYK, animated, or too large.
    """
    data = _read(folder / name, name)
    with _opened(data, name) as picture:
        count = _count(picture, name)
        if count > 1:
            remedy = "name it under animated of a sprite, or save one frame"
            raise refuse(name, "", f"an animation of {count} frames where one picture is expected", remedy)
        if picture.format == "PNG":
            try:
                load_whole(picture, data, name)
            except _UNREADABLE as error:
                raise _damaged(name, error) from None
        return _rgba(picture, name)


def open_animation(folder: Path, name: str) -> Iterator[tuple[Image.Image, float]]:
    """Yield the frames of an animated GIF or PNG as RGBA, each with the milliseconds it is shown.

    Raises:
        ProjectError: as ``open_picture``, or only one frame.
    """
    data = _read(folder / name, name)
    with _opened(data, name) as picture:
        count = _count(picture, name)
        if count < 2:
            raise refuse(name, "", "holds one frame, no animation", "name it under frames, or save it as an animation")
        if picture.format == "PNG":
            check_rows(data, name)
        # A separate default image is for readers that know no animation; it is not one of its frames.
        for rank in range(1 if picture.info.get("default_image") else 0, count):
            yield _rgba(picture, name, rank), float(picture.info.get("duration", 0) or 100)


def _opened(data: bytes, name: str) -> Image.Image:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(data), formats=_KNOWN)
        _check_kind(picture, name)
        if picture.format == "PNG":
            check_chunks(data, name)
            _scale_key(picture, data[24])
        return picture
    except ProjectError:
        picture.close()
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise refuse(name, "", "is larger than any console's art", "scale it down first") from None
    except UnidentifiedImageError:
        raise refuse(name, "", "is no picture that can be read", "save it as PNG") from None
    except _UNREADABLE as error:
        raise _damaged(name, error) from None


def _scale_key(picture: Image.Image, depth: int) -> None:
    """Bring a transparent grey of 2 or 4 bits to 8 bits, as Pillow does with the pixels and not with it."""
    key = picture.info.get("transparency")
    if picture.mode == "L" and depth < 8 and isinstance(key, int):
        picture.info["transparency"] = key * (255 // ((1 << depth) - 1))


def _read(path: Path, name: str) -> bytes:
    """Return a file's bytes, read once: what is checked is what is decoded."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise refuse(name, "", f"cannot be read: {error.strerror}", "check the file and its permissions") from None
    if not data:
        raise refuse(name, "", "is an empty file", "save it again from the paint program")
    if data.startswith(b"\x89PNG\r\n\x1a\n") and len(data) > 24:
        _check_png(data, name)
    return data


def _check_png(data: bytes, name: str) -> None:
    # Pillow opens 16-bit RGB as 8-bit without a word, so the depth is read where the PNG specification puts it.
    if data[24] == 16:
        raise refuse(name, "", "has 16 bits a channel", "save it with 8 bits a channel")
    width, height = struct.unpack_from(">II", data, 16)
    if not width or not height:
        raise refuse(name, "", f"has {width} x {height} pixels", "export it with a canvas of at least one pixel")
    if width * height > MAX_PIXELS:
        raise refuse(name, "", f"has {width} x {height} pixels, more than any console's art", "scale it down first")


def _check_kind(picture: Image.Image, name: str) -> None:
    if picture.mode in ("CMYK", "LAB", "YCbCr", "HSV") and picture.format != "JPEG":
        raise refuse(name, "", f"has {picture.mode} colours", "convert it to RGB and save it as PNG")
    if picture.format not in _ACCEPTED:
        colours = f" with {picture.mode} colours" if picture.mode == "CMYK" else ""
        raise refuse(name, "", f"is a {picture.format} file{colours}", "save it as RGB in a PNG, GIF or BMP file")
    meant = _ENDINGS.get(Path(name).suffix.lower(), picture.format)
    if picture.format != meant:
        raise refuse(name, "", f"is a {picture.format} file with the ending of a {meant} file", "rename it, or save it again")
    if picture.mode not in ("1", "L", "LA", "P", "PA", "RGB", "RGBA"):
        raise refuse(name, "", f"has pixels of mode {picture.mode}", "save it with 8 bits a channel, as RGB or palette")
    if picture.width * picture.height > MAX_PIXELS:
        wrong = f"has {picture.width} x {picture.height} pixels, more than any console's art"
        raise refuse(name, "", wrong, "scale it down first")


def _count(picture: Image.Image, name: str) -> int:
    try:
        return getattr(picture, "n_frames", 1)
    except _UNREADABLE as error:
        raise _damaged(name, error) from None


def _rgba(picture: Image.Image, name: str, rank: int = 0) -> Image.Image:
    try:
        if rank:
            picture.seek(rank)
            picture.decoderconfig = ()  # Pillow adds to it with every interlaced frame, until its decoder takes no more
        picture.load()
        return picture.convert("RGBA")
    except _UNREADABLE as error:
        raise _damaged(name, error) from None


def _damaged(name: str, error: Exception) -> ProjectError:
    return refuse(name, "", f"is damaged or cut short: {error}", "save it again from the paint program")
