"""A new project that builds at once: a project file with comments, and a little art, sound and program to replace."""

from __future__ import annotations

import io
import math
import wave
from pathlib import Path

from PIL import Image, ImageDraw

from pipeline.bringing.look import art_in
from pipeline.plain.errors import refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.rendering import find_template, render
from pipeline.plain.sizes import counted
from pipeline.project.model import PROJECT_FILE

_FRAMES = 8
_RATE = 22050
# "Branch to itself" of the 68000: a program that waits for ever, to be replaced by the game's.
_WAITING_PROGRAM = bytes.fromhex("60fe")


def start_project(folder: Path, shown: str) -> str:
    """Write a new project; return one line about it.

    Args:
        folder: where; made when it is not there.
        shown: the folder as the author wrote it.

    Raises:
        ProjectError: there is a project already, another file of a name that would be written, or art that it would ignore.
    """
    files = {
        ".gitignore": b"build/\nreports/\n",
        "art/backdrop.png": _png(_backdrop()),
        "sound/pop.wav": _pop(),
        "program/wait.bin": _WAITING_PROGRAM,
    }
    files |= {f"art/hopper/hop_{rank:02}.png": _png(_hopper(rank)) for rank in range(_FRAMES)}
    # Last: the folder becomes a project only when all its files are there, and an interrupted start can continue.
    files[PROJECT_FILE] = render(find_template(folder, "start/project.toml.j2"), {}).encode()
    for name, data in files.items():
        if (folder / name).exists() and not _holds(folder / name, data):
            raise refuse(name, "", f"is already in {shown}", "choose an empty folder: doit start project=PATH")
    count = art_in(folder, files.keys()) if folder.is_dir() else 0
    if count:
        wrong = f"holds {counted(count, 'file')} of art already, which a project of placeholders would ignore"
        raise refuse(shown, "", wrong, f"to make a project of it: start from={shown} link=yes project={shown}; or choose an empty folder")
    for name, data in files.items():
        write_bytes(folder / name, data)
    return f"{len(files)} files in {shown}; next: build it with project={shown}"


def _holds(path: Path, data: bytes) -> bool:
    return path.is_file() and path.read_bytes() == data


def _png(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


def _hopper(rank: int) -> Image.Image:
    """One frame of a round figure that hops: 64 x 64, its feet at (32, 60) on the ground."""
    picture = Image.new("RGBA", (64, 64))
    draw = ImageDraw.Draw(picture)
    lift = max(0.0, math.sin(rank / _FRAMES * math.tau))
    squash = 6 if rank in (4, 5) else 0
    top, bottom = 18 - int(14 * lift) + squash, 56 - int(14 * lift)
    for side in (-1, 1):
        draw.line((32 + side * 7, bottom - 3, 32 + side * 9, bottom + 4 - int(3 * lift)), fill=(74, 40, 36), width=5)
    draw.ellipse((14 - squash // 2, top, 50 + squash // 2, bottom), fill=(228, 128, 62), outline=(74, 40, 36), width=3)
    draw.ellipse((20, top + 5, 38, top + 17), fill=(246, 170, 100))
    for left in (27, 38):
        draw.ellipse((left, top + 11, left + 8, top + 21), fill=(255, 250, 240), outline=(74, 40, 36))
        draw.ellipse((left + 3, top + 14, left + 6, top + 19), fill=(40, 28, 32))
    return picture


def _backdrop() -> Image.Image:
    """Hills under a pale sky, 320 x 240."""
    picture = Image.new("RGB", (320, 240))
    draw = ImageDraw.Draw(picture)
    for y in range(240):
        draw.line((0, y, 319, y), fill=(150 + y // 4, 196 + y // 6, 226))
    for shade, base, height, length in (((126, 164, 150), 150, 26, 95), ((92, 138, 112), 178, 20, 70), ((64, 106, 78), 206, 9, 47)):
        ridge = [(x, base - height * math.sin(x / length * math.pi) ** 2) for x in range(0, 321, 4)]
        draw.polygon([(0, 240), *ridge, (320, 240)], fill=shade)
    return picture


def _pop() -> bytes:
    """A short falling tone, 16-bit mono, well below full scale."""
    count = _RATE // 6
    samples = bytearray()
    for rank in range(count):
        level = math.sin(math.tau * rank * (520 - 900 * rank / _RATE) / _RATE) * (1 - rank / count) ** 2
        samples += int(level * 14000).to_bytes(2, "little", signed=True)
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((1, 2, _RATE, 0, "NONE", "not compressed"))
        file.writeframes(bytes(samples))
    return out.getvalue()
