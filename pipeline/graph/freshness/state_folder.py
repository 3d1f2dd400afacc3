"""Whose records a build trusts: ``build/.state`` is bound to the very folder it was made in, and any other is set aside.

Records say which outputs are as their step left them, so records that came with somebody else's archive could pass off
anything as built. ``.state/owner.json`` therefore holds the inode and the change time of the file ``mark`` beside it: no
copy, archive or version control system can set a change time, while moving the project by a rename keeps it.

The folder is the tool's alone. In it are plain files and the folders ``trials`` and ``cache``; what is of another kind is removed.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

import msgspec

from pipeline.graph.freshness.lock import LOCK, is_taken
from pipeline.graph.steps.site import CACHE, TRIALS
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.files import TEMPORARY, refuse_links, remove_tree, write_bytes

FORMAT = 1  # of the folder's contents; another one is set aside
_MARK, _OWNER = "mark", "owner.json"
_ASIDE = ".set-aside"
_TRIES = 5
_MOST = 64 << 20  # bytes of a record that is read
_BUSY = "another build of this project is running; wait for it to end, or stop it"


class _Owner(msgspec.Struct, forbid_unknown_fields=True):
    format: int
    inode: int
    ctime_ns: int


def claim(state: Path) -> str | None:
    """Make sure that the state folder is there and was made in this place; return text for a person, or None.

    A foreign one, or a link or file in its place, is renamed to ``.state.set-aside`` beside it and an empty one is made.

    Args:
        state: ``PROJECT/build/.state``.

    Raises:
        ProjectError: the build folder is a link or not a folder, another build is running, or the system refuses.
    """
    refuse_links(state.parent.parent, [state.parent])
    said = []
    try:
        state.parent.mkdir(parents=True, exist_ok=True)
        for _ in range(_TRIES):
            why = _foreign(state)
            if why is None:
                said += _remove_odd(state)
                if not os.access(state, os.W_OK | os.X_OK):
                    raise refuse("build/.state", "", "cannot be written", "change its permissions (chmod u+rwx) and build again")
                return "\n".join(said) or None
            if why:
                _set_aside(state)
                said.append(f"build/.state {why}; it is now build/{state.name}{_ASIDE}, and the build starts from nothing")
            _make(state)
    except OSError as error:
        wrong = f"{error.filename}: {error.strerror}"
        raise refuse("build/.state", "", wrong, "check permissions of the build folder and room on the disk, and build again") from None
    raise ProjectError(refuse("build/.state", "", "changes while it is looked at", _BUSY).problems)


def adopt(state: Path) -> None:
    """Bind a state that was copied on purpose to the place where it is now."""
    mark = state / _MARK
    remove_tree(mark)
    mark.touch()
    known = os.lstat(mark)
    write_bytes(state / _OWNER, msgspec.json.encode(_Owner(FORMAT, known.st_ino, known.st_ctime_ns)))


def read_record(path: Path, kind: type):
    """Return the content of a JSON file of the state as a type that msgspec knows, or None where it is anything else."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
        with os.fdopen(handle, "rb") as file:
            known = os.fstat(handle)
            if not stat.S_ISREG(known.st_mode) or known.st_size > _MOST:
                return None
            return msgspec.json.decode(file.read(), type=kind)
    except (OSError, ValueError, msgspec.MsgspecError, RecursionError):
        return None


def _foreign(state: Path) -> str | None:
    """Return None for a state that was made here, an empty text if there is no state, else why it is not used."""
    try:
        mode = os.lstat(state).st_mode
    except FileNotFoundError:
        return ""
    if stat.S_ISLNK(mode):
        return f"is a link to {os.readlink(state)}"
    if not stat.S_ISDIR(mode):
        return "is not a folder"
    owner = read_record(state / _OWNER, _Owner)
    if owner is None or owner.format != FORMAT:
        return "was not written by this version of the tool"
    try:
        mark = os.lstat(state / _MARK)
    except FileNotFoundError:
        mark = None
    if mark is None or (mark.st_ino, mark.st_ctime_ns) != (owner.inode, owner.ctime_ns):
        return "was not made in this folder (it was copied, unpacked or restored, or its permissions were changed)"
    return None


def _make(state: Path) -> None:
    """Put a new state in its place, whole; another process may be quicker."""
    new = state.with_name(f"{state.name}.{os.getpid()}{TEMPORARY}")
    remove_tree(new)
    new.mkdir()
    adopt(new)
    try:
        new.rename(state)
    except OSError:
        remove_tree(new)
        if not state.is_dir():
            raise


def remove_set_aside(state: Path) -> None:
    """Remove a state that was set aside, where there is one.

    Raises:
        OSError: the system would not remove it.
    """
    remove_tree(state.with_name(state.name + _ASIDE))


def _set_aside(state: Path) -> None:
    if is_taken(state / LOCK):  # for example by another version of the tool
        raise refuse("build/.state", "", "is in use", _BUSY)
    remove_set_aside(state)
    state.rename(state.with_name(state.name + _ASIDE))


def _remove_odd(state: Path) -> list[str]:
    """Remove what this tool would not have made; return a line for each."""
    with os.scandir(state) as entries:
        kinds = {one.name: "folder" if one.name in (TRIALS, CACHE) else "plain file" for one in entries}
    odd = sorted(name for name, kind in kinds.items() if not _KINDS[kind](os.lstat(state / name).st_mode))
    for name in odd:
        remove_tree(state / name)
    return [f"build/.state/{name} was not a {kinds[name]} and was removed" for name in odd]


_KINDS = {"folder": stat.S_ISDIR, "plain file": stat.S_ISREG}
