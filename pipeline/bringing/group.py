"""Single pictures that belong together: numbered rows, rows that are one figure's animations, things of one size in one folder."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import PurePosixPath

from pipeline.bringing.names import holds_many, inner_number, is_action, is_generic, natural, read_name, split_action, words_of

_MANY = 8  # things of one size in one folder that become one sprite
_LEAST_INNER = 3  # files whose only number is inside their names, to be a row


@dataclass(frozen=True)
class Picture:
    """What grouping looks at: the name from the folder, and width and height in pixels."""

    name: str
    size: tuple[int, int]


@dataclass(frozen=True)
class Row:
    """Files that differ in a number, in its order, or one file.

    Attributes:
        folder: that they are in, as its parts.
        words: of their names, without the number.
    """

    folder: tuple[str, ...]
    words: tuple[str, ...]
    pictures: tuple[Picture, ...]


@dataclass(frozen=True)
class Figure:
    """Pictures that make one sprite.

    Attributes:
        folder: that it is named after or is in, as its parts.
        subject: words that name it.
        rows: its animations: words of the action, perhaps none, and the files in order.
        reason: why they belong together.
        other: the second-best guess.
    """

    folder: tuple[str, ...]
    subject: tuple[str, ...]
    rows: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    reason: str
    other: str


@dataclass
class _Entry:
    """A row with what its name says: whose it is and what it shows."""

    row: Row
    folder: tuple[str, ...]
    subject: tuple[str, ...]
    action: tuple[str, ...]


def group_pictures(pictures: Iterable[Picture], root: str) -> list[Figure]:
    """Return the sprites that single pictures make, each picture in one of them.

    Args:
        root: name of the folder that all names start from.
    """
    by_folder: dict[tuple[str, ...], list[_Entry]] = defaultdict(list)
    for row in number_rows(pictures):
        entry = _read_row(row)
        by_folder[entry.folder].append(entry)
    return [figure for folder, entries in by_folder.items() for figure in _figures(folder, entries, root)]


def number_rows(pictures: Iterable[Picture]) -> list[Row]:
    """Return the pictures as rows of numbered files, and those that are in none as rows of one."""
    places: dict[tuple, list[tuple[int, Picture, tuple[str, ...]]]] = defaultdict(list)
    alone: list[Picture] = []
    for picture in pictures:
        path = PurePosixPath(picture.name)
        named = read_name(path.stem)
        if named.number is None:
            alone.append(picture)
        else:
            places[(path.parent.parts, path.suffix.lower(), named.skeleton.lower())].append((named.number, picture, named.words))
    rows = []
    for key, members in places.items():
        if len(members) > 1 and not _are_sizes(members):
            rows.append(_row(key[0], members))
        else:
            alone += [picture for _, picture, _ in members]
    return rows + _inner_rows(alone)


def _inner_rows(pictures: list[Picture]) -> list[Row]:
    places: dict[tuple, list[tuple[int, Picture, tuple[str, ...]]]] = defaultdict(list)
    rows = []
    for picture in pictures:
        path = PurePosixPath(picture.name)
        named = inner_number(path.stem)
        key = (path.parent.parts, path.suffix.lower(), named.skeleton.lower() if named else path.stem, named is None)
        places[key].append((named.number or 0 if named else 0, picture, named.words if named else words_of(path.stem)))
    for key, members in places.items():
        at = key[2].find("\0")
        apart = at == 0 or (at > 0 and not key[2][at - 1].isalnum())
        if len(members) >= _LEAST_INNER and apart and not _are_sizes(members):
            rows.append(_row(key[0], members))
        else:
            rows += [Row(key[0], words_of(PurePosixPath(one.name).stem), (one,)) for _, one, _ in members]
    return rows


def _are_sizes(members: list[tuple[int, Picture, tuple[str, ...]]]) -> bool:
    """Return whether the numbers are the pictures' own sizes, as of an icon in 16, 32 and 64 pixels."""
    return all(number in picture.size for number, picture, _ in members) and len({picture.size for _, picture, _ in members}) > 1


def _row(folder: tuple[str, ...], members: list[tuple[int, Picture, tuple[str, ...]]]) -> Row:
    ordered = sorted(members, key=lambda one: (one[0], natural(one[1].name)))
    return Row(folder, ordered[0][2], tuple(picture for _, picture, _ in ordered))


def _read_row(row: Row) -> _Entry:
    """Return whose a row is: names of folders that are movements (``hero/walk/01.png``) say what it shows."""
    subject, action = split_action(row.words)
    folder = list(row.folder)
    if subject and folder and subject == words_of(folder[-1]):
        subject = ()
    while folder and (not subject or not action) and _is_movement(folder[-1]):
        action = words_of(folder.pop()) + action
    if subject and folder and len(folder) < len(row.folder) and subject == words_of(folder[-1]):
        subject = ()
    return _Entry(row, tuple(folder), subject, action)


def _is_movement(folder: str) -> bool:
    words = words_of(folder)
    return bool(words) and all(is_action(word) or word.isdigit() for word in words) and any(len(word) > 1 for word in words)


def _figures(folder: tuple[str, ...], entries: list[_Entry], root: str) -> list[Figure]:
    """Return the figures of one folder."""
    leaf = folder[-1] if folder else root
    entries = _without_folder_name(words_of(leaf), entries)
    entries = _with_own_words(leaf, entries)
    sprites: dict[tuple[str, ...], list[_Entry]] = defaultdict(list)
    for entry in entries:
        sprites[entry.subject].append(entry)
    alone = [subject for subject, own in sprites.items() if subject and sum(len(one.row.pictures) for one in own) == 1]
    figures = _things(folder, leaf, [sprites[subject][0] for subject in alone])
    taken = {name for figure in figures for _, files in figure.rows for name in files}
    rest = {subject: own for subject, own in sprites.items() if own[0].row.pictures[0].name not in taken}
    for subject, own in rest.items():
        figures.append(_figure(folder, leaf, subject, own, only=len(rest) == 1))
    return figures


def _without_folder_name(leaf: tuple[str, ...], entries: list[_Entry]) -> list[_Entry]:
    """Take the folder's own name off the names in it: ``slime/slime_zork_01`` shows what slime does."""
    begin = [entry for entry in entries if leaf and entry.subject[: len(leaf)] == leaf]
    for entry in begin:
        entry.action, entry.subject = entry.subject[len(leaf) :] + entry.action, ()
    return entries


def _with_own_words(leaf: str, entries: list[_Entry]) -> list[_Entry]:
    """Give rows of a movement that is not known here to the figure whose folder they are in, or whose name they begin with."""
    own = [entry for entry in entries if not entry.subject]
    sizes = {picture.size for entry in own for picture in entry.row.pictures}
    if own and not holds_many(leaf) and not is_generic(leaf):
        for entry in entries:
            if entry.subject and len(entry.subject) == 1 and {picture.size for picture in entry.row.pictures} <= sizes:
                entry.action, entry.subject = entry.subject + entry.action, ()
    begins = Counter(entry.subject[0] for entry in entries if entry.subject)
    whole = {entry.subject for entry in entries if len(entry.subject) == 1}
    for entry in entries:
        head = entry.subject[:1]
        kin = [one for one in entries if one.subject[:1] == head]
        acting = any(one.action for one in kin if one.subject == head)
        if len(entry.subject) > 1 and begins[head[0]] > 1 and head in whole and acting and not holds_many(leaf):
            entry.action, entry.subject = entry.subject[1:] + entry.action, head
    return entries


def _things(folder: tuple[str, ...], leaf: str, entries: list[_Entry]) -> list[Figure]:
    """Return single pictures of one size in one folder as one sprite, where there are many."""
    sizes = Counter(entry.row.pictures[0].size for entry in entries)
    figures = []
    for size, count in sizes.items():
        if count >= _MANY:
            files = tuple(entry.row.pictures[0].name for entry in entries if entry.row.pictures[0].size == size)
            reason = f"{count} pictures of {size[0]} x {size[1]} with names of their own in one folder"
            one = ((), tuple(sorted(files, key=natural)))
            subject = (*words_of(leaf), *((str(size[0]),) if len([one for one in sizes.values() if one >= _MANY]) > 1 else ()))
            figures.append(Figure(folder, subject, (one,), reason, f"{count} sprites of one frame"))
    return figures


def _figure(folder: tuple[str, ...], leaf: str, subject: tuple[str, ...], entries: list[_Entry], only: bool) -> Figure:
    actions: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for entry in entries:
        actions[entry.action] += [picture.name for picture in entry.row.pictures]
    rows = tuple((action, tuple(files)) for action, files in sorted(actions.items()))
    count = sum(len(files) for _, files in rows)
    named = not subject or (only and folder and not is_generic(leaf) and count > 1)
    if count == 1:
        reason, other = "a picture by itself, with no number that goes on", "a background, if it is one"
    elif not subject:
        reason, other = f"the folder {leaf} with {_counted(rows)}", "a sprite for each row of numbers"
    else:
        reason, other = f"names that begin with {' '.join(subject)}: {_counted(rows)}", f"{count} pictures that are not an animation"
    return Figure(folder, words_of(leaf) if named else subject, rows, reason, other)


def _counted(rows: tuple) -> str:
    several = f"{len(rows)} rows" if len(rows) > 1 else "one row"
    return f"{several} of numbered files" if any(len(files) > 1 for _, files in rows) else f"{len(rows)} pictures of it"
