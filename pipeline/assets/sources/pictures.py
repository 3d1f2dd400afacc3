"""Opening pictures: what is accepted, what is refused, and why."""

from __future__ import annotations

import contextlib
import io
import struct
from collections.abc import Iterator
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from pipeline.assets.sources.file_frames import PNG_MARK, announced_frames, check_frames
from pipeline.assets.sources.png_rows import check_chunks, check_rows, load_whole, used_chunks
from pipeline.assets.sources.structure import check_structure, is_lossy, is_turned, kind_of, padded, without_false_alpha
from pipeline.joints.places import Sources
from pipeline.plain.bounded import read_source
from pipeline.plain.bounds import DRAWN_PIXELS, FRAMES, PICTURE_BYTES, PICTURE_PIXELS
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import write_bytes
from pipeline.project.art import PICTURES

_SHOWN = 960  # pixels of the longer side of a picture beside a known issue; more does not show at the width of a page
_UNREADABLE = (OSError, SyntaxError, ValueError, IndexError, EOFError, struct.error, Image.DecompressionBombError)


def open_picture(folder: Path, name: str, most: int = PICTURE_PIXELS) -> Image.Image:
    """Return one still picture as RGBA; ``info["lossy"]`` is set if its format keeps colours only approximately, and
    ``info["turned"]`` if it asks to be turned, which it is not.

    Args:
        folder: the project folder.
        name: the file, relative to it.
        most: pixels it may have.

    Raises:
        ProjectError: missing, empty, truncated, of another format, 16 bits a channel, CMYK, animated, or too large.
    """
    with _still(folder, name, most) as picture:
        return _rgba(picture, name)


def show_picture(written: Sources, out: Path, issue: str) -> str:
    """Write a picture to show beside a known issue as PNG, opaque on white; return one line about it.

    It is made small enough for a packet, and what a camera wrote beside its pixels is left out.

    Args:
        written: the picture.
        issue: id of the known issue.

    Raises:
        ProjectError: see ``open_picture``.
    """
    with open_picture(written.folder, written.names[0]) as picture:
        ground = Image.new("RGBA", picture.size, (255, 255, 255, 255))
        ground.alpha_composite(picture)
    shown = ground.convert("RGB")
    shown.thumbnail((_SHOWN, _SHOWN), Image.Resampling.LANCZOS)
    data = io.BytesIO()
    shown.save(data, "PNG")
    write_bytes(out, data.getvalue())
    return f"picture of {issue}, {shown.width} x {shown.height} pixels"


def open_numbered(folder: Path, name: str) -> tuple[Image.Image, Image.Image | None]:
    """Return one still picture as RGBA, and each pixel's number in its own palette (mode L); None for other than an indexed PNG.

    Raises:
        ProjectError: as ``open_picture``.
    """
    with _still(folder, name, PICTURE_PIXELS) as picture:
        indexed = picture.mode == "P" and picture.format == "PNG"
        return _rgba(picture, name), Image.frombytes("L", picture.size, picture.tobytes()) if indexed else None


def open_indexed(folder: Path, name: str, most: int = PICTURE_PIXELS) -> Image.Image:
    """Return one still PNG whose pixels are places in its own palette (mode P), as they are in the file.

    Args:
        folder, name, most: as of ``open_picture``.

    Raises:
        ProjectError: as ``open_picture``, or it has no palette.
    """
    picture = _still(folder, name, most)
    if picture.mode != "P":
        picture.close()
        raise refuse(name, "", "is not an indexed picture", "save it with a palette: its pixels are then the numbers")
    return picture


def _still(folder: Path, name: str, most: int) -> Image.Image:
    """Return an opened still picture, a PNG with its pixels loaded."""
    data = _read(folder, name, most)
    announced = announced_frames(data)
    if announced > FRAMES:
        raise _not_still(name, announced)
    check_frames(data, name, FRAMES)
    picture = _opened(data, name, most)
    try:
        count = _count(picture, name)
        if count > 1:
            raise _not_still(name, count)
        if picture.format == "PNG":
            load_whole(picture, data, name)
        if picture.format == "TGA":
            picture.load()
            picture = without_false_alpha(picture, data)
        if is_lossy(data, picture.format or ""):
            picture.info["lossy"] = True
        if is_turned(picture.info.get("exif", b"")):
            picture.info["turned"] = True
        return picture
    except ProjectError:
        picture.close()
        raise
    except _UNREADABLE as error:
        picture.close()
        raise _damaged(name, error) from None


def _not_still(name: str, count: int) -> ProjectError:
    remedy = "name it under animated of a sprite, or save one frame"
    return refuse(name, "", f"an animation of {count:,} frames where one picture is expected", remedy)


def open_animation(folder: Path, name: str, most: int = FRAMES) -> Iterator[tuple[Image.Image, float]]:
    """Yield the frames of an animated GIF or PNG as RGBA, each with the milliseconds it is shown.

    Args:
        folder, name: as of ``open_picture``.
        most: frames it may have.

    Raises:
        ProjectError: as ``open_picture``; only one frame, too many, or too many pixels in all. Too many are seen before any is decoded.
    """
    data = _read(folder, name, PICTURE_PIXELS)
    # Before it is opened: Pillow makes room for a frame that is larger than its canvas.
    announced = check_frames(data, name, most)
    with _opened(data, name, PICTURE_PIXELS) as picture:
        width, height = announced.size
        check_drawn(name, announced.count, (max(picture.width, width), max(picture.height, height)))
        count = _count(picture, name)
        if count < 2:
            raise refuse(name, "", "holds one frame, no animation", "name it under frames, or save it as an animation")
        if picture.format == "PNG":
            check_rows(data, name)
        # A separate default image is for readers that know no animation; it is not one of its frames.
        for rank in range(1 if picture.info.get("default_image") else 0, count):
            yield _rgba(picture, name, rank), float(picture.info.get("duration", 0) or 100)


def check_drawn(name: str, count: int, size: tuple[int, int]) -> None:
    """Refuse frames whose pixels are more, all together, than are decoded for one sprite.

    Raises:
        ProjectError: they are.
    """
    drawn = count * size[0] * size[1]
    if drawn > DRAWN_PIXELS:
        wrong = f"{count:,} frames of {size[0]:,} x {size[1]:,} have {drawn:,} pixels in all; at most {DRAWN_PIXELS:,} are taken"
        raise refuse(name, "", wrong, "scale them down first, or split the sprite")


@contextlib.contextmanager
def _own_bounds() -> Iterator[None]:
    """Let Pillow say how large a picture is instead of refusing it: what is decoded is bounded here, and refused with the numbers."""
    before, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = before


def _opened(data: bytes, name: str, most: int) -> Image.Image:
    kind = kind_of(data, name)
    check_structure(data, kind, name, lambda width, height: _check_size(width, height, name, most))
    used = used_chunks(data, name) if data.startswith(PNG_MARK) else padded(data, kind)
    try:
        with _own_bounds():
            picture = Image.open(io.BytesIO(used), formats=[kind] if kind else [])
    except UnidentifiedImageError:
        raise refuse(name, "", "is not a picture that can be read", "save it as PNG") from None
    except _UNREADABLE as error:
        raise _damaged(name, error) from None
    try:
        _check_kind(picture, name, most)
        if picture.format == "PNG":
            check_chunks(data, name)
            _scale_key(picture, data[24])
        return picture
    except ProjectError:
        picture.close()
        raise


def _scale_key(picture: Image.Image, depth: int) -> None:
    """Scale the grey that a PNG of 2 or 4 bits names as transparent as its pixels are scaled, which Pillow leaves out.

    Source: PNG specification (third edition), 11.3.1.1 tRNS: the sample is given in the picture's own depth.
    """
    key, most = picture.info.get("transparency"), (1 << depth) - 1
    if picture.mode == "L" and depth in (2, 4) and isinstance(key, int):
        picture.info["transparency"] = (key & most) * 255 // most


def _read(folder: Path, name: str, most: int) -> bytes:
    """Return a file's bytes, read once: what is checked is what is decoded."""
    data = read_source(folder, name, PICTURE_BYTES)
    if not data:
        raise refuse(name, "", "is an empty file", "save it again from the paint program")
    if data.startswith(PNG_MARK) and len(data) > 24:
        _check_png(data, name, most)
    return data


def _check_png(data: bytes, name: str, most: int) -> None:
    # Pillow opens 16-bit RGB as 8-bit without a word, so the depth is read where the PNG specification puts it.
    if data[24] == 16:
        raise refuse(name, "", "has 16 bits a channel", "save it with 8 bits a channel")
    width, height = struct.unpack_from(">II", data, 16)
    if not width or not height:
        raise refuse(name, "", f"has {width} x {height} pixels", "export it with a canvas of at least one pixel")
    _check_size(width, height, name, most)


def _check_size(width: int, height: int, name: str, most: int) -> None:
    if width * height > most:
        wrong = f"has {width:,} x {height:,} pixels, {width * height:,} in all; at most {most:,} are taken"
        raise refuse(name, "", wrong, "scale it down first")


def _check_kind(picture: Image.Image, name: str, most: int) -> None:
    if picture.mode in ("CMYK", "LAB", "YCbCr", "HSV"):
        raise refuse(name, "", f"has {picture.mode} colours", "convert it to RGB and save it as PNG")
    if picture.format not in PICTURES.values():
        raise refuse(name, "", f"is a {picture.format} file", "save it as PNG")
    meant = PICTURES.get(Path(name).suffix.lower(), picture.format)
    if picture.format != meant:
        raise refuse(name, "", f"is a {picture.format} file with the ending of a {meant} file", "rename it, or save it again")
    if picture.mode not in ("1", "L", "LA", "P", "PA", "RGB", "RGBA"):
        raise refuse(name, "", f"has pixels of mode {picture.mode}", "save it with 8 bits a channel, as RGB or palette")
    _check_size(picture.width, picture.height, name, most)


def _count(picture: Image.Image, name: str) -> int:
    try:
        return getattr(picture, "n_frames", 1)
    except _UNREADABLE as error:
        raise _damaged(name, error) from None


def _rgba(picture: Image.Image, name: str, rank: int = 0) -> Image.Image:
    try:
        if rank:
            picture.seek(rank)
            setattr(picture, "decoderconfig", ())  # noqa: B010  # undeclared; to which Pillow adds for each frame of an interlaced animation
        picture.load()
        return picture.convert("RGBA")
    except _UNREADABLE as error:
        raise _damaged(name, error) from None


def _damaged(name: str, error: Exception) -> ProjectError:
    return refuse(name, "", f"is damaged or cut short: {error}", "save it again from the paint program")
