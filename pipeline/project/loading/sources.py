"""Finding a project's sources: names of assets, files, patterns; what is missing or leads outside is noted."""

from __future__ import annotations

import functools
import glob
import itertools
import os
import re
import zlib
from pathlib import Path

import pipeline.project.assets as pa
import pipeline.project.file as pf
from pipeline.joints.layouts import NO_PALETTE
from pipeline.plain.bounds import FILES
from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.project.art import PICTURES, is_picture
from pipeline.project.boxes import FOUND
from pipeline.project.issues import frame_shown
from pipeline.project.model import ASSET_RECORDS, Asset, LoadedProject

_FRAME = "write SPRITE/FRAME, with the name of the frame's file without ending or its number from 0; or the name of a background"
COMMAND_WORDS = ("include", "output", "address", "bank", "project")
IDENTIFIER = re.compile(r"[a-z][a-z0-9_]{0,31}")


def find_files(document: Document, folder: Path, spec: pf.Project) -> dict[str, Asset]:
    """Return the project's assets with their source files; notes names that cannot be and files that are not there."""
    assets: dict[str, Asset] = {}
    hashes: dict[int, str] = {}
    for kind in ASSET_RECORDS:
        for name, record in getattr(spec, kind).items():
            path = (kind, name)
            if not IDENTIFIER.fullmatch(name):
                remedy = "start with a small letter; then small letters, digits and underscores, 32 at most"
                document.say(path, f"{name!r} is not a valid name", remedy)
                continue
            if name in assets:
                document.say(path, f"the name {name!r} is already a {assets[name].kind}", "give one of them another name")
                continue
            mark = zlib.crc32(name.encode())
            if mark == NO_PALETTE:
                document.say(path, f"{name!r} has the CRC-32 0, which means no name", "give it another name")
            if mark in hashes:
                document.say(path, f"{name!r} and {hashes[mark]!r} have the same CRC-32", "rename one of them")
            hashes[mark] = name
            assets[name] = Asset(name, kind, record, _files_of(document, folder, path, record))
    return assets


def _files_of(document: Document, folder: Path, path: tuple, record) -> tuple[str, ...]:
    if isinstance(record, pa.Sprite):
        return _sprite_files(document, folder, path, record)
    if isinstance(record, pa.Program):
        return _program_files(document, folder, path, record)
    if isinstance(record, pa.Background):
        return _background_files(document, folder, path, record)
    if isinstance(record, pa.Font):
        return _font_files(document, folder, path, record)
    if isinstance(record, pa.Text):
        return _text_files(document, folder, path, record)
    if isinstance(record, pa.Notes):
        return _notes_files(document, folder, path, record)
    if isinstance(record, pa.Level) and record.picture and not record.file:
        return _one_file(document, folder, (*path, "picture"), record.picture)
    key = "locked_file" if getattr(record, "locked_file", None) and not record.file else "file"
    name = getattr(record, key, None)
    return _one_file(document, folder, (*path, key), name) if name else ()


def _sprite_files(document: Document, folder: Path, path: tuple, record: pa.Sprite) -> tuple[str, ...]:
    given = [key for key in ("frames", "animated", "sheet") if getattr(record, key) is not None]
    if len(given) != 1:
        if path[1] not in document.broken:
            document.say(path, f"has {' and '.join(given) or 'no frames'}", "give exactly one of frames, animated and sheet")
    elif record.frames:
        return _glob(document, folder, (*path, "frames"), record.frames)
    elif record.animated:
        return _one_file(document, folder, (*path, "animated"), record.animated)
    elif record.sheet:
        if record.sheet.boxes not in (None, FOUND):
            _one_file(document, folder, (*path, "sheet", "boxes"), record.sheet.boxes)
        return _one_file(document, folder, (*path, "sheet", "file"), record.sheet.file)
    return ()


def _background_files(document: Document, folder: Path, path: tuple, record: pa.Background) -> tuple[str, ...]:
    """Return its own picture, then the file of each part in their order; where one is missing, none."""
    own = [_one_file(document, folder, (*path, "file"), record.file)]
    own += [_one_file(document, folder, (*path, "part", rank, "file"), part.file) for rank, part in enumerate(record.part)]
    return tuple(name for found in own for name in found) if all(own) else ()


def _font_files(document: Document, folder: Path, path: tuple, record: pa.Font) -> tuple[str, ...]:
    """Return the font or strip, then its text files, each once."""
    found = _one_file(document, folder, (*path, "file"), record.file)
    texts = [name for rank, pattern in enumerate(record.texts) for name in _glob(document, folder, (*path, "texts", rank), pattern)]
    return (*found, *dict.fromkeys(texts))


def _text_files(document: Document, folder: Path, path: tuple, record: pa.Text) -> tuple[str, ...]:
    """Return the file of each language, in their order; where one is missing, none."""
    found = [_one_file(document, folder, (*path, "languages", one), name) for one, name in record.languages.items()]
    return tuple(name for some in found for name in some) if all(found) else ()


def _notes_files(document: Document, folder: Path, path: tuple, record: pa.Notes) -> tuple[str, ...]:
    """Return the pictures of its layer, then the notes file."""
    pictures = _glob(document, folder, (*path, "layer"), record.layer) if record.layer else ()
    return (*pictures, *(_one_file(document, folder, (*path, "file"), record.file) if record.file else ()))


def _program_files(document: Document, folder: Path, path: tuple, record: pa.Program) -> tuple[str, ...]:
    if path[1] in document.broken and not (record.file or record.command):
        return ()
    if (record.file is None) == (record.command is None):
        document.say(path, "needs either file or command", "name the finished file, or the command that makes it")
        return ()
    if record.file:
        return _one_file(document, folder, (*path, "file"), record.file)
    command = record.command or []
    if not command:
        document.say((*path, "command"), "an empty list", "write the program first, then its arguments")
    for word in command:
        for name in re.findall(r"\{(\w+)\}", word):
            if name not in COMMAND_WORDS:
                near = nearest_name(name, COMMAND_WORDS)
                remedy = f"did you mean {{{near}}}?" if near else "known are " + ", ".join(f"{{{word}}}" for word in COMMAND_WORDS)
                document.say((*path, "command"), f"there is no {{{name}}}", remedy)
    if not any("{output}" in word for word in command):
        document.say((*path, "command"), "{output} does not occur", "put {output} where the command takes its output file")
    # A script of the project that the command names is a source like those it depends on.
    found = [Path(word).as_posix() for word in command if _is_source(folder, word)]
    for rank, pattern in enumerate(record.depends):
        found.extend(_glob(document, folder, (*path, "depends", rank), pattern))
    return tuple(sorted(set(found)))


def _counting(name: str) -> tuple:
    """Sort key that counts numbers in names: walk_2 before walk_10."""
    parts = re.split(r"([0-9]+)", name)
    return tuple((int(part), part) if rank % 2 else part for rank, part in enumerate(parts))


def _is_source(folder: Path, word: str) -> bool:
    try:
        path = (folder / word).resolve()
        return path.is_relative_to(folder) and not path.is_relative_to(folder / "build") and path.is_file()
    except (OSError, ValueError, RuntimeError):
        return False


def check_issue_pictures(document: Document, project: LoadedProject) -> None:
    """Note pictures of known issues that are not there: files, and frames by name.

    Args:
        document: the file with the issues.
    """
    for rank, issue in enumerate(project.spec.issue):
        path = ("issue", rank)
        if issue.picture and issue.frame:
            document.say((*path, "frame"), f"{issue.id} has a picture and a frame", "keep one of the two")
        elif issue.picture and not is_picture(issue.picture):
            document.say((*path, "picture"), f"{issue.picture!r} does not end like a picture", f"known are {', '.join(PICTURES)}")
        elif issue.picture:
            _one_file(document, project.folder, (*path, "picture"), issue.picture)
        elif issue.frame and issue.frame.partition("/")[0] not in document.broken:
            _check_frame(document, (*path, "frame"), project, issue)


def _check_frame(document: Document, path: tuple, project: LoadedProject, issue: pf.Issue) -> None:
    name, number = frame_shown(issue, project)
    asset = project.assets.get(name)
    if number is not None:
        return
    if asset is None:
        near = nearest_name(name, [one.name for one in project.of_kind("sprite", "background")])
        document.say(path, f"there is no asset {name!r}", f"did you mean {near}?" if near else _FRAME)
    elif asset.kind == "sprite" and "/" in issue.frame:
        stems = [Path(file).stem for file in project.frame_names(asset)]
        near = nearest_name(issue.frame.partition("/")[2], stems)
        document.say(path, f"{name} has no frame {issue.frame.partition('/')[2]!r}", f"did you mean {name}/{near}?" if near else _FRAME)
    else:
        document.say(path, f"{issue.frame!r} is not a frame: {name} is a {asset.kind}", _FRAME)


def _one_file(document: Document, folder: Path, path: tuple, name: str) -> tuple[str, ...]:
    if not _inside(document, folder, path, name):
        return ()
    file = folder / name
    if file.is_dir():
        document.say(path, f"{name!r} is a folder", "name a file in it")
        return ()
    if not file.is_file():
        other = _other_case(folder, name)
        if other:
            document.say(path, f"there is no file {name!r}, but {other!r}", "write the name as it is; small and capital letters differ")
            return ()
        siblings = [entry.name for entry in file.parent.glob("*")] if file.parent.is_dir() else []
        near = nearest_name(file.name, siblings)
        remedy = f"did you mean {near}?" if near else "check the path; it starts at the project folder"
        document.say(path, f"there is no file {name!r}", remedy)
        return ()
    return (file.relative_to(folder).as_posix(),)


def _glob(document: Document, folder: Path, path: tuple, pattern: str) -> tuple[str, ...]:
    if not _inside(document, folder, path, pattern):
        return ()
    try:
        matches = folder.glob(_meant(folder, pattern)) if Path(pattern).parts else ()  # glob itself fails on "." alone
        named = Path(pattern).parts
        files = itertools.islice((file for file in matches if not _left_out(file.relative_to(folder), named) and file.is_file()), FILES + 1)
        found = sorted((file.relative_to(folder).as_posix() for file in files), key=_counting)
    except (ValueError, NotImplementedError) as error:
        document.say(path, f"{pattern!r} is not a valid pattern: {error}", "for example art/ada/*.png")
        return ()
    found = [name for name in found if not name.startswith("build/")]
    if len(found) > FILES:
        document.say(path, f"{len(found):,} files or more match {pattern!r}, at most {FILES:,} are taken", "name fewer, or split the asset")
        return ()
    if not found:
        document.say(path, f"no file matches {pattern!r}", "check the pattern; it starts at the project folder")
    stays = _Inside(folder)
    for name in found:
        if not name.isascii() and any("\ud800" <= char <= "\udfff" for char in name):
            document.say(path, f"the name {name!r} is not UTF-8", "rename the file; other machines could not find it")
        if not stays(name):
            document.say(path, f"{name!r} leads outside the project folder", "copy the file into the project")
    return tuple(found)


class _Inside:
    """Whether files of a folder, itself without links, are in it once links are followed; each folder below is looked at once."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._known = folder, functools.cache(self._look)

    def __call__(self, name: str) -> bool:
        place = os.path.join(self._folder, name)
        return self._known(place if os.path.islink(place) else os.path.dirname(place))

    def _look(self, place: str) -> bool:
        return Path(os.path.realpath(place)).is_relative_to(self._folder)


_SYSTEM = ("thumbs.db", "desktop.ini", "__macosx")  # what file managers leave in folders, in small letters


def _left_out(file: Path, named: tuple[str, ...]) -> bool:
    """Return whether a file is hidden or the system's, or in such a folder, and the pattern's parts do not name it."""
    return any((part[0] == "." or part.lower() in _SYSTEM) and part not in named for part in file.parts)


def _meant(folder: Path, pattern: str) -> str:
    """Return a pattern as ``Path.glob`` takes it: a name with brackets that is there is itself; an ending matches in any case."""
    parts, at = list(Path(pattern).parts), folder
    for rank, part in enumerate(parts):
        at = at / part
        if "[" in part and at.exists():
            parts[rank] = glob.escape(part)
    stem, dot, ending = parts[-1].rpartition(".")
    if dot and ending.isalnum() and ending.isascii():
        parts[-1] = stem + dot + "".join(f"[{char.lower()}{char.upper()}]" if char.isalpha() else char for char in ending)
    return "/".join(parts)


def _other_case(folder: Path, name: str) -> str | None:
    """Return the file that a name would be if small and capital letters were the same; None where there is none."""
    at = folder
    for part in Path(name).parts:
        found = sorted(entry.name for entry in at.iterdir() if entry.name.casefold() == part.casefold()) if at.is_dir() else []
        if not found:
            return None
        at = at / (part if part in found else found[0])
    return at.relative_to(folder).as_posix() if at.is_file() else None


def _inside(document: Document, folder: Path, path: tuple, name: str) -> bool:
    try:
        full = (folder / name).resolve()
        full.is_file()
    except (OSError, ValueError, RuntimeError):  # too long a name, a NUL, a link to itself
        document.say(path, f"{name!r} is not a path that can be followed", "correct it; it starts at the project folder")
        return False
    if Path(name).is_absolute() or not full.is_relative_to(folder):
        document.say(path, f"{name!r} leads outside the project folder", "copy the file into the project; paths start there")
        return False
    if "\\" in name:
        document.say(path, f"{name!r} has a backslash", "part folders with /")
        return False
    if full.is_relative_to(folder / "build"):
        document.say(path, f"{name!r} lies in the build folder", "keep sources elsewhere in the project; builds clear that folder")
        return False
    return True
