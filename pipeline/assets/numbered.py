"""Palettes that keep the numbers their file gives the colours: an indexed PNG, or a text palette."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.assets.data import read_file
from pipeline.assets.palette import TEXT, check_exact, save_palette
from pipeline.assets.sources.pictures import open_indexed
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import BlobFiles, FrameFiles, Sources
from pipeline.pixels.cells import cut_into_cells, pad_with_edge
from pipeline.pixels.colours.colour import to_words
from pipeline.pixels.colours.palette_text import read_palette_text
from pipeline.plain.bounds import PALETTE_BYTES, PALETTE_PIXELS
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted, listed
from pipeline.project.assets import Palette
from pipeline.target.records import PictureRules

_NAMED_AT_MOST = 8  # numbers named in a refusal


@dataclass(frozen=True)
class Numbered:
    """The colours of a palette file by their numbers.

    Attributes:
        file: its name.
        colours: uint8, shape (n, 3), n >= 1.
        clear: numbers that the file says are transparent; a text palette cannot say so of any.
        used: numbers that its own pixels have; those of a text palette are all used.
        text: it is a text palette.
    """

    file: str
    colours: np.ndarray
    clear: frozenset[int]
    used: frozenset[int]
    text: bool

    def cut(self, most: int, holder: str) -> Numbered:
        """Return its first ``most`` entries; what comes after must not be used.

        Raises:
            ProjectError: a later number is used.
        """
        over = sorted(number for number in self.used if number >= most)
        if over:
            wrong = f"uses {_numbers(over)}, {holder} holds numbers 0 to {most - 1}"
            remedy = "move these colours to lower numbers, or raise colours of the palette if the pixels can hold more"
            raise refuse(self.file, "", wrong, remedy)
        kept = frozenset(number for number in self.clear if number < most)
        return Numbered(self.file, self.colours[:most], kept, self.used, self.text)


def read_numbered(folder: Path, file: str) -> Numbered:
    """Return the colours of an indexed PNG or a text palette by their numbers.

    Raises:
        ProjectError: it cannot be read, or has no numbers.
    """
    if Path(file).suffix.lower() in TEXT:
        colours = np.array(read_palette_text(read_file(folder, file, PALETTE_BYTES), file), dtype=np.uint8).reshape(-1, 3)
        return Numbered(file, colours, frozenset(), frozenset(range(len(colours))), True)
    with open_indexed(folder, file, PALETTE_PIXELS) as picture:
        colours = np.array(picture.getpalette("RGB"), dtype=np.uint8).reshape(-1, 3)
        used = np.unique(np.asarray(picture)).tolist()
        if used[-1] >= len(colours):
            wrong = f"is damaged: pixels have number {used[-1]}, and the file's last colour is number {len(colours) - 1}"
            raise refuse(file, "", wrong, "save it again from the paint program")
        alpha = picture.info.get("transparency", b"")
    # One number, or the opacity of the first numbers (PNG specification, 11.3.1.1).
    clear = [alpha] if isinstance(alpha, int) else [number for number, value in enumerate(alpha) if value < 128]
    return Numbered(file, colours, frozenset(clear), frozenset(used), False)


def load_numbered(
    users: tuple[FrameFiles, ...], sources: Sources, out: BlobFiles, name: str, spec: Palette, most: int, rules: PictureRules
) -> str:
    """Take a palette's entries from a file by the file's own numbers; write its blob, return a line.

    Args:
        users: scaled art of the assets whose colours must all be in it; none unless ``exact`` is set.
        most: entries it may have, the transparent one included.

    Raises:
        ProjectError: the file cannot be read, uses a number that does not fit, has another transparent number than the palette, or lacks
            one of the users' colours.
    """
    given = read_numbered(sources.folder, sources.names[0]).cut(most, f"palette {name!r}")
    check_clear(given, name, spec.transparent, given.clear - {0} if spec.transparent else given.clear)
    own = int(spec.transparent)
    if len(given.colours) <= own:
        raise refuse(given.file, "", "has no colour after the transparent number 0", "add the palette's colours")
    words = to_words(given.colours[own:], rules.entry)
    if users:
        check_exact(name, users, words, rules)
    return save_palette(out, name, [words], 0, spec, rules, len(np.unique(words)), exact=bool(users), drawn=given.colours)


def load_lines(
    users: tuple[FrameFiles, ...],
    sources: Sources,
    out: BlobFiles,
    name: str,
    spec: Palette,
    most: int,
    size: int,
    rules: PictureRules,
    tile: tuple[int, int] = (8, 8),
) -> str:
    """Take the lines of a palette from a file by the file's own numbers: line n begins at number n times ``size``.

    Transparent numbers at the end of a line are not used by it. A file may end within a line, and have fewer than ``spec.lines``.

    Args:
        users: scaled art of the backgrounds whose tiles must each have a line with all their colours; none unless ``exact`` is set.
        most: entries a line may use, the transparent one included.
        size: entries from one line's start to the next.
        tile: width and height of a tile of every user.

    Raises:
        ProjectError: as of ``load_numbered``, or a line is empty, or has a transparent number before one of its colours.
    """
    own = int(spec.transparent)
    given = read_numbered(sources.folder, sources.names[0])
    given = given.cut((spec.lines or 1) * size, f"palette {name!r} of {spec.lines} lines of {size}")
    count = 1 + max((number // size for number in range(len(given.colours)) if number not in given.clear), default=0)
    lines, drawn, odd = [], np.zeros((count * size, 3), dtype=np.uint8), {one for one in given.clear if one < count * size}
    drawn[: len(given.colours)] = given.colours[: count * size]
    for start in range(0, count * size, size):
        numbers = range(start, min(start + size, len(given.colours)))
        used = max((number + 1 - start for number in numbers if number not in given.clear), default=0)
        if used <= own or used > most:
            wrong = f"line {start // size}, numbers {start} to {start + size - 1}, has {counted(max(0, used - own), 'colour')}"
            raise refuse(given.file, "", f"{wrong}, 1 to {most - own} fit", "correct the file, or lines or colours of the palette")
        odd -= {start} if own else set()
        odd -= set(range(start + used, start + size))
        lines.append(to_words(drawn[start + own : start + used], rules.entry))
    check_clear(given, name, spec.transparent, frozenset(odd), frozenset(range(0, count * size, size)))
    if users:
        _check_tiles(name, users, tile, lines, rules)
    seen = len(np.unique(np.concatenate(lines)))
    return save_palette(out, name, lines, size, spec, rules, seen, exact=bool(users), drawn=drawn)


def check_clear(
    given: Numbered, name: str, transparent: bool, odd: frozenset[int], slots: frozenset[int] = frozenset({0})
) -> None:
    """Refuse a file whose transparent numbers are not those at which the palette keeps its transparent entries.

    Args:
        odd: transparent numbers of the file that must be colours.
        slots: where the palette has transparent entries, if ``transparent``.

    Raises:
        ProjectError: there are ``odd`` numbers, or a slot that the file's pixels show as a colour.
    """
    if odd and transparent:
        moved = "make number 0 the transparent one in the paint program, and save again"
        remedy = f"{moved}; or leave order out if the numbers do not matter"
        raise refuse(given.file, "", f"{_which(odd)} transparent, but the palette's transparent entry is number 0", remedy)
    if odd:
        remedy = "set transparent = true in that palette, or make the number opaque in the file"
        raise refuse(given.file, "", f"{_which(odd)} transparent, palette {name!r} keeps no transparent entry", remedy)
    shown = sorted(slots & given.used - given.clear)
    if transparent and shown and not given.text:
        remedy = "make it transparent in the paint program, or move that colour to a number of its own"
        raise refuse(given.file, "", f"pixels show {_numbers(shown)} as a colour, the palette keeps it for transparent pixels", remedy)


def _check_tiles(
    name: str, users: tuple[FrameFiles, ...], tile: tuple[int, int], lines: list[np.ndarray], rules: PictureRules
) -> None:
    missing = 0
    for user in users:
        frame = next(iter(PreparedFrames(user)))[..., :3]
        tiles = cut_into_cells(pad_with_edge(to_words(frame, rules.entry), *tile), *tile).reshape(-1, tile[0] * tile[1])
        held = np.stack([np.isin(tiles, line).all(axis=1) for line in lines])
        missing += int((~held.any(axis=0)).sum())
    if missing:
        wrong = f"exact, and {counted(missing, 'tile')} {'has' if missing == 1 else 'have'} colours that no line of the file has"
        raise refuse("project.toml", f"[palette.{name}]", wrong, "add them to a line, correct the art, or set exact = false")


def _which(numbers: frozenset[int]) -> str:
    return f"{_numbers(sorted(numbers))} {'is' if len(numbers) == 1 else 'are'}"


def _numbers(numbers: list[int]) -> str:
    """Return numbers for a sentence: ``number 3``, ``numbers 3, 5 and 9``."""
    named = [str(number) for number in numbers[:_NAMED_AT_MOST]]
    if len(numbers) > _NAMED_AT_MOST:
        named.append(f"{len(numbers) - _NAMED_AT_MOST} more")
    return f"number{'' if len(named) == 1 else 's'} {listed(named)}"
