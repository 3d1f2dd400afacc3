"""What JPEG, WebP, TGA, PCX and PPM files say of themselves: kinds that are not taken are refused before anything is decoded.

Sources: ITU-T T.81, B.1 and B.2 (JPEG); RFC 9649, 2.5 to 2.7 (WebP); Truevision TGA File Format Specification 2.0; ZSoft PCX File
Format Technical Reference Manual 5; netpbm's descriptions of PBM, PGM and PPM.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

from PIL import Image

from pipeline.plain.bounds import JPEG_SCANS
from pipeline.plain.errors import ProjectError, refuse
from pipeline.project.art import PICTURES

_AGAIN = "save it as PNG"
_TGA_MAPPED, _TGA_COLOUR, _TGA_GREY, _TGA_PACKED = 1, 2, 3, 8
_TGA_HEADER, _TGA_FOOTER = 18, 26
_PCX_HEADER, _PCX_PALETTE = 128, 769
_PPM_HEADER = 4096  # bytes, remarks included, that are looked at
# JPEG markers without a length: TEM, and RST0 to SOI.
_ALONE = (0x01, *range(0xD0, 0xD9))
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9
_ORDERS: dict[bytes, Literal["little", "big"]] = {b"II": "little", b"MM": "big"}  # of bytes in EXIF data (TIFF 6.0, section 2)
_ORIENTATION = 274


# What files of a format begin with. PCX and TGA have no mark of their own: their files are known by their ending.
_MARKS: dict[str, Callable[[bytes], bool]] = {
    "PNG": lambda data: data.startswith(b"\x89PNG\r\n\x1a\n"),
    "GIF": lambda data: data.startswith(b"GIF8"),
    "BMP": lambda data: data.startswith(b"BM"),
    "JPEG": lambda data: data.startswith(b"\xff\xd8\xff"),
    "WEBP": lambda data: data.startswith(b"RIFF") and data[8:12] == b"WEBP",
    "PPM": lambda data: data[:1] == b"P" and data[1:2].isdigit() and data[2:3].isspace(),
    "TIFF": lambda data: data[:4] in (b"II*\0", b"MM\0*"),  # not taken, but named
}


def kind_of(data: bytes, name: str) -> str:
    """Return Pillow's name of a picture file's format; empty if it is of none that is known here."""
    kind = next((kind for kind, begins in _MARKS.items() if begins(data)), "")
    meant = PICTURES.get(Path(name).suffix.lower(), "")
    return kind or (meant if meant in ("TGA", "PCX") else "")


def check_structure(data: bytes, kind: str, name: str, check_size: Callable[[int, int], None]) -> None:
    """Refuse a file of a kind that Pillow does not read exactly, or at a cost that does not go with its pixels.

    Args:
        data: the file, perhaps damaged: Pillow says what this does not see.
        kind: Pillow's name of its format; others than those above are not looked at.
        check_size: raises a ProjectError for a width and a height that are too large.
    """
    if kind == "WEBP":
        _check_webp(data, name, check_size)
    elif kind in _CHECKS:
        _CHECKS[kind](data, name)


def is_lossy(data: bytes, kind: str) -> bool:
    """Return whether a file keeps colours only approximately: a JPEG, or a WebP with a lossy picture."""
    return kind == "JPEG" or (kind == "WEBP" and any(chunk == b"VP8 " for chunk, _ in _webp_chunks(data)))


def is_turned(exif: bytes) -> bool:
    """Return whether a picture's EXIF data asks viewers to turn or flip it: an orientation other than 1 (JEITA CP-3451, tag 274).

    Args:
        exif: with or without its mark of six bytes; what cannot be read asks for nothing.
    """
    data = exif.removeprefix(b"Exif\0\0")
    if data[:2] not in _ORDERS:
        return False
    order = _ORDERS[data[:2]]
    start = int.from_bytes(data[4:8], order)
    fields = range(start + 2, start + 2 + 12 * int.from_bytes(data[start : start + 2], order), 12)
    values = [data[at + 8 : at + 10] for at in fields if int.from_bytes(data[at : at + 2], order) == _ORIENTATION]
    return bool(values) and 1 < int.from_bytes(values[0], order) <= 8


def _check_jpeg(data: bytes, name: str) -> None:
    """Refuse more scans than any encoder writes: each costs as much as decoding the picture once."""
    scans = _scans(data)
    if scans > JPEG_SCANS:
        raise refuse(name, "", f"has {scans:,} scans, at most {JPEG_SCANS} are decoded", _AGAIN)


def _scans(data: bytes) -> int:
    at, scans = 2, 0
    while at + 4 <= len(data):
        if data[at] != 0xFF:  # the bits of a scan; in them a marker's FF is followed by 00
            at = data.find(b"\xff", at)
            if at < 0:
                break
            continue
        marker = data[at + 1]
        if marker == _END_OF_IMAGE:
            break
        scans += marker == _START_OF_SCAN
        bare = marker in (0x00, 0xFF) or marker in _ALONE
        at += (1 if marker == 0xFF else 2) if bare else 2 + max(2, int.from_bytes(data[at + 2 : at + 4], "big"))
    return scans


def _webp_chunks(data: bytes) -> Iterator[tuple[bytes, int]]:
    """Yield the name of each chunk of a WebP file and the place of its content."""
    at = 12
    while at + 8 <= len(data):
        yield data[at : at + 4], at + 8
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        at += 8 + size + size % 2


def _check_webp(data: bytes, name: str, check_size: Callable[[int, int], None]) -> None:
    """Refuse animations, and canvases that are too large: Pillow makes room for one as soon as it opens the file."""
    for chunk, at in _webp_chunks(data):
        head = data[at : at + 10]
        if chunk == b"VP8X" and len(head) == 10:
            if head[0] & 2:
                raise refuse(name, "", "is an animated WebP file", "save it as an animated GIF or PNG, or one frame of it as PNG")
            check_size(1 + int.from_bytes(head[4:7], "little"), 1 + int.from_bytes(head[7:10], "little"))
        elif chunk == b"VP8 " and len(head) == 10:
            check_size(int.from_bytes(head[6:8], "little") & 0x3FFF, int.from_bytes(head[8:10], "little") & 0x3FFF)
        elif chunk == b"VP8L" and len(head) >= 5:
            sides = int.from_bytes(head[1:5], "little")
            check_size(1 + (sides & 0x3FFF), 1 + (sides >> 14 & 0x3FFF))
        elif chunk in (b"ANIM", b"ANMF"):
            raise refuse(name, "", "is an animated WebP file", "save it as an animated GIF or PNG, or one frame of it as PNG")


def _check_tga(data: bytes, name: str) -> None:
    if len(data) < _TGA_HEADER:
        raise _cut_short(name, f"it ends in its header, after {len(data)} bytes")
    kind, depth, map_depth = data[2], data[16], data[7]
    plain = kind & ~_TGA_PACKED
    if plain not in (_TGA_MAPPED, _TGA_COLOUR, _TGA_GREY):
        raise refuse(name, "", f"is a TGA file of type {kind}, not 1, 2, 3, 9, 10 or 11", _AGAIN)
    if (plain, depth) not in ((_TGA_MAPPED, 8), (_TGA_GREY, 8), (_TGA_COLOUR, 24), (_TGA_COLOUR, 32)):
        raise refuse(name, "", f"is a TGA file with {depth} bits a pixel", "save it with 24 or 32 bits a pixel, or as PNG")
    if (plain == _TGA_MAPPED) != data[1] or (data[1] and map_depth not in (24, 32)):
        raise refuse(name, "", f"is a TGA file with a palette of {map_depth} bits a colour", "save it with 24 bits a colour, or as PNG")


def _check_pcx(data: bytes, name: str) -> None:
    if len(data) < _PCX_HEADER:
        raise _cut_short(name, f"it ends in its header, after {len(data)} bytes")
    bits, planes = data[3], data[65]
    if (bits, planes) == (8, 1) and data[-_PCX_PALETTE : len(data) - _PCX_PALETTE + 1] != b"\x0c":
        raise _cut_short(name, "the palette at its end is missing")


def _check_ppm(data: bytes, name: str) -> None:
    form = data[:2].decode("latin-1")
    if form not in ("P4", "P5", "P6"):
        raise refuse(name, "", f"is a PPM file of the form {form}", "save it in binary form (P4, P5 or P6), or as PNG")
    head = re.sub(rb"#[^\r\n]*", b"", data[:_PPM_HEADER]).split()[:4]
    if len(head) < 4 - (form == "P4"):
        raise _cut_short(name, "its header is not whole")
    if form != "P4" and head[3] != b"255":  # Pillow scales others in Python, a minute for the largest picture
        raise refuse(name, "", "is a PPM file whose largest value is not 255", "save it with 8 bits a channel, or as PNG")


_CHECKS: dict[str, Callable[[bytes, str], None]] = {"JPEG": _check_jpeg, "TGA": _check_tga, "PCX": _check_pcx, "PPM": _check_ppm}


def padded(data: bytes, kind: str) -> bytes:
    """Return what Pillow is given to read: it looks for a TGA file's footer even where the file is shorter than one."""
    return data + bytes(_TGA_FOOTER) if kind == "TGA" and len(data) < _TGA_FOOTER else data


def without_false_alpha(picture: Image.Image, data: bytes) -> Image.Image:
    """Return a loaded TGA picture opaque where its alpha is empty throughout and its header says that no bit of it is alpha."""
    if data[17] & 15:
        return picture
    whole = picture.convert("RGBA")
    if whole.getchannel("A").getextrema() != (0, 0):
        return picture
    whole.putalpha(255)
    whole.format = picture.format
    return whole


def _cut_short(name: str, how: str) -> ProjectError:
    return refuse(name, "", f"is damaged or cut short: {how}", "save it again from the paint program")
