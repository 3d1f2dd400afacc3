"""Which names in a build folder are the tool's: those go when no step makes them any more, every other is the author's and stays.

The rule needs no memory of earlier builds, so that whatever happens to the records, a rebuild equals a clean build. The folder
``work`` is the tool's whole, as is ``.state``; in the other folders it is files whose names have the form given here.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection
from pathlib import Path

from pipeline.joints.links import BUILD_DIGITS
from pipeline.plain.files import TEMPORARY, remove_tree

WORK = "work"
TESTERS = "testers"  # folder of testers' packets in the work folder, and of their kits in that of the kit
_ASSET = r"[a-z][a-z0-9_]{0,31}"
_CODE = r"[A-Z][A-Z0-9]{1,7}"
_KIT = rf"{_CODE}-[0-9]+\.[0-9]+\.[0-9]+(-[0-9A-Za-z.-]+)?-[0-9A-Z]{{{BUILD_DIGITS}}}"
_LONG = r"(\.(even|odd|swapped|[1-4]of4))?(\.[0-9]{1,3})?\.(bin|hex|s19|s28|s37)"
_SHORT = r"(EV|OD|SW|Q[1-4])?([0-9A-F]{2})?0?\.(BIN|HEX|S19|S28|S37)"
# Folder below the build folder -> form of the names of the files that the tool writes there, whatever the project says.
_FORMS = {
    "": r"(map|budget|backgrounds|burn|findings|lists)\.json|report\.html|triage\.(html|csv)|packet(-author)?\.pdf|packet\.html"
    r"|announcement(\.md|(-short)?\.txt)|growth\.svg|(found|flashes)\.png",
    "blobs": rf"{_ASSET}(\.packed)?\.(bin|json)",
    "burn": rf"CHECKSUM\.TXT|{_CODE.replace('A-Z', 'a-z')}{_LONG}|[A-Z][A-Z0-9]{{1,3}}{_SHORT}",
    "forms": r"(report|feedback)-form\.html|questions\.txt|intake\.toml",
    "include": r"assets\.(h|inc)|assets_equ\.inc|(load|reader|reader8|tables|unpack)\.[hc]",
    "kit": rf"kit\.json|{_KIT}\.zip",
    f"kit/{TESTERS}": rf"{_KIT}-T[0-9]{{2,3}}\.zip",
    "proofs": rf"{_ASSET}(\.(anim|before-after|onion|originals|parts|tv|worn))?\.png",
    "rom": rf"{_CODE.replace('A-Z', 'a-z')}\.rom",
    "schema": r"(project|target|issues|testers)\.schema\.json",
}
# Manifest -> folders of the files that it names.
GOVERNED = {"burn.json": ("burn",), "kit/kit.json": ("kit", f"kit/{TESTERS}")}
_COMPILED = {folder: re.compile(form) for folder, form in _FORMS.items()}
_LEFTOVER = re.compile(rf".+\.[0-9]+{re.escape(TEMPORARY)}")


def own_folders(build: Path) -> set[Path]:
    """Return the folders that the tool writes into and clears, the build folder first."""
    return {build / folder for folder in (*_FORMS, WORK, f"{WORK}/{TESTERS}")}


def clear(build: Path, keep: Collection[str], only: Collection[str] = tuple(_FORMS), except_for: Collection[str] = ()) -> list[str]:
    """Remove the tool's own files from folders of the build folder, but for those to keep; return what was removed.

    Half-written files of builds that were killed go too, and folders left empty. In place of a file to keep, a link or
    whatever else is neither a file nor a folder goes as well: the tool makes none. Nothing is followed.

    Args:
        build: the build folder, whose own folders are not links (``files.refuse_links``).
        keep: names from the build folder, with slashes.
        only: the folders to clear, named from the build folder; all without.
        except_for: those of them to leave alone.

    Raises:
        OSError: the system would not remove something.
    """
    gone = []
    for folder in sorted(set(only) - set(except_for), reverse=True):  # those inside before those around them
        gone += _clear_folder(build / folder, f"{folder}/" if folder else "", _COMPILED[folder], keep)
    return gone


def _clear_folder(path: Path, inside: str, form: re.Pattern, keep: Collection[str]) -> list[str]:
    gone, left = [], 0
    for entry in _entries(path):
        name, kept = inside + entry.name, inside + entry.name in keep
        plain, folder = entry.is_file(follow_symlinks=False), entry.is_dir(follow_symlinks=False)
        if not folder and (not plain if kept else form.fullmatch(entry.name) or _LEFTOVER.fullmatch(entry.name)):
            os.unlink(entry.path)
            gone.append(name)
        elif folder and _LEFTOVER.fullmatch(entry.name):
            remove_tree(Path(entry.path))
        else:
            left += 1
    if inside and not left and path.is_dir():
        path.rmdir()
    return gone


def clear_work(build: Path, keep: Collection[str]) -> list[str]:
    """Remove everything from the folder ``work`` but plain files to keep; return what was removed. See ``clear``."""
    return _clear_whole(build / WORK, f"{WORK}/", keep, {part for name in keep for part in _parents(name)})


def _clear_whole(path: Path, inside: str, keep: Collection[str], around: Collection[str]) -> list[str]:
    gone = []
    for entry in _entries(path):
        name = inside + entry.name
        if name in around and entry.is_dir(follow_symlinks=False):
            gone += _clear_whole(Path(entry.path), f"{name}/", keep, around)
        elif name not in keep or not entry.is_file(follow_symlinks=False):
            remove_tree(Path(entry.path))
            gone.append(name)
    return gone


def _parents(name: str) -> list[str]:
    parts = name.split("/")
    return ["/".join(parts[:count]) for count in range(1, len(parts))]


def _entries(path: Path) -> list[os.DirEntry]:
    try:
        with os.scandir(path) as entries:
            return list(entries)
    except FileNotFoundError:
        return []
