"""Looking through a folder: every file opened once, as far as its kind asks for; what cannot be used is noted with the reason."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np

from pipeline.assets.fonts.cmap import read_cmap
from pipeline.assets.sources.file_frames import announced_frames
from pipeline.assets.sources.pictures import open_animation, open_picture
from pipeline.bringing.measuring.measure import measure
from pipeline.bringing.names import natural
from pipeline.bringing.records import FileKind, Looked
from pipeline.pixels.colours.palette_text import read_palette_text
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import BROUGHT_FILES, FONT_BYTES, PALETTE_BYTES, PICTURE_BYTES, SOUND_BYTES
from pipeline.plain.errors import ProjectError, refuse
from pipeline.project.art import PICTURES
from pipeline.sound.recording import Recording

SOUNDS = (".wav", ".flac", ".ogg", ".oga", ".aiff", ".aif", ".mp3")
_FONTS = (".ttf", ".otf")
_PALETTES = (".gpl", ".pal")
# Kinds of art that an author may well have meant, to say why they are not taken.
_ELSEWHERE = {
    "is not a picture that can be read; export it as PNG": (".tif", ".tiff", ".xpm", ".svg", ".jp2", ".avif", ".heic"),
    "is a paint program's own file; export its frames as PNG": (".psd", ".xcf", ".kra", ".ora", ".ase", ".aseprite", ".clip", ".afphoto"),
    "is not a recording; export it as WAV": (".mid", ".midi", ".mod", ".xm", ".it", ".s3m"),
    "is an archive; unpack it first": (".zip", ".7z", ".rar", ".tar", ".gz"),
}
_SYSTEM = ("thumbs.db", "desktop.ini", "__macosx")
NOT_ART = ("build", "reports", "program", "templates", "ledger")  # folders of a project whose own folder is looked through
_DEEPEST = 32  # folders below one another


def look_through(folder: Path, but: Collection[Path] = ()) -> dict[str, Looked]:
    """Return the files of a folder and of the folders in it, by name, in an order that counts numbers in names.

    Hidden and system files are skipped; a link is not followed if it leads out of the folder.

    Args:
        but: files and folders that are left out.

    Raises:
        ProjectError: it cannot be listed, or holds more files than are looked at.
    """
    return {name: _look(folder, name) for name in list_files(folder, but)}


def list_files(folder: Path, but: Collection[Path] = ()) -> list[str]:
    """Return the names of the files that ``look_through`` opens, from the folder, with slashes; and of folders it does not look into."""
    names: list[str] = []
    waiting, skipped = [(folder, 0)], {os.path.realpath(one) for one in but}
    while waiting:
        here, depth = waiting.pop()
        try:
            with os.scandir(here) as entries:
                found = sorted(entries, key=lambda entry: entry.name)
        except OSError as error:
            remedy = "name another folder, or change its permissions"
            raise refuse(here.name, "", f"cannot be looked into: {error.strerror or error}", remedy) from None
        for entry in found:
            if entry.name.startswith(".") or entry.name.lower() in _SYSTEM:
                continue
            if os.path.realpath(entry.path) in skipped:
                continue
            if entry.is_dir(follow_symlinks=False) and depth < _DEEPEST:
                waiting.append((Path(entry.path), depth + 1))
                continue
            names.append(os.path.relpath(entry.path, folder).replace(os.sep, "/"))
        if len(names) > BROUGHT_FILES:
            remedy = "name a folder inside it, and bring in one after the other"
            raise refuse(folder.name, "", f"holds more than {BROUGHT_FILES:,} files", remedy)
    return sorted(names, key=natural)


def art_in(folder: Path, but: Collection[str]) -> int:
    """Return how many files of known kinds of art a project's folder holds.

    Args:
        but: names of files that do not count, from the folder.

    Raises:
        ProjectError: as of ``look_through``.
    """
    return sum(1 for name in list_files(folder, [folder / one for one in NOT_ART]) if kind_of(name) and name not in but)


def kind_of(name: str) -> FileKind:
    """Return what a file of this name is looked at as; empty if it is of no known kind."""
    ending = os.path.splitext(name)[1].lower()
    kinds: dict[FileKind, tuple[str, ...]] = {"picture": tuple(PICTURES), "sound": SOUNDS, "font": _FONTS, "palette": _PALETTES}
    for kind, endings in kinds.items():
        if ending in endings:
            return kind
    return ""


def _look(folder: Path, name: str) -> Looked:
    kind = kind_of(name)
    ending = os.path.splitext(name)[1].lower()
    if (folder / name).is_dir():
        return Looked(name, "", wrong="is a link to a folder, or too many folders deep; bring it in by itself")
    if not kind:
        return Looked(name, "", wrong=next((why for why, endings in _ELSEWHERE.items() if ending in endings), ""))
    try:
        _check_place(folder, name)
        data = read_whole(folder / name, name, _MOST[kind], folder)
        return _LOOKS[kind](folder, name, data)
    except FileNotFoundError:
        return Looked(name, kind, wrong="went away, or is a link that leads nowhere")
    except OSError as error:
        return Looked(name, kind, wrong=f"cannot be read: {error.strerror or error}")
    except ProjectError as error:
        return Looked(name, kind, wrong="; ".join(problem.wrong for problem in error.problems))


def _check_place(folder: Path, name: str) -> None:
    if any("\ud800" <= char <= "\udfff" for char in name):
        raise refuse(name, "", "has a name that is not UTF-8", "rename it")
    if not os.path.realpath(folder / name).startswith(os.path.realpath(folder) + os.sep):
        raise refuse(name, "", "is a link that leads out of the folder", "copy the file into it")
    if not stat.S_ISREG(os.stat(folder / name).st_mode):
        raise refuse(name, "", "is not a regular file", "leave it out")


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _look_at_picture(folder: Path, name: str, data: bytes) -> Looked:
    if announced_frames(data) > 1:
        shown = open_animation(folder, name)
        first = next(shown)[0]
        count = 1 + sum(1 for _ in shown)
        return Looked(name, "animation", _digest(data), len(data), look=measure(np.array(first)), frames=count)
    picture = open_picture(folder, name)
    look = measure(np.array(picture), bool(picture.info.get("lossy")))._replace(turned=bool(picture.info.get("turned")))
    return Looked(name, "picture", _digest(data), len(data), look=look)


def _look_at_sound(folder: Path, name: str, data: bytes) -> Looked:
    recording = Recording(data, name)
    return Looked(name, "sound", _digest(data), len(data), seconds=recording.count / recording.rate, rate=recording.rate)


def _look_at_font(folder: Path, name: str, data: bytes) -> Looked:
    try:
        known = read_cmap(data)
    except ValueError as error:
        return Looked(name, "font", wrong=str(error))
    letters = "".join(chr(code) for code in range(32, 127) if code in known)
    wrong = "" if letters.strip() else "has no letter of ASCII; give its characters yourself"
    return Looked(name, "font", _digest(data), len(data), wrong, letters=letters)


def _look_at_palette(folder: Path, name: str, data: bytes) -> Looked:
    return Looked(name, "palette", _digest(data), len(data), entries=len(set(read_palette_text(data, name))))


_MOST = {"picture": PICTURE_BYTES, "sound": SOUND_BYTES, "font": FONT_BYTES, "palette": PALETTE_BYTES}
_LOOKS: dict[str, Callable[[Path, str, bytes], Looked]] = {
    "picture": _look_at_picture,
    "sound": _look_at_sound,
    "font": _look_at_font,
    "palette": _look_at_palette,
}
