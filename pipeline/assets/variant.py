"""Variants: other colours at the numbers of a palette, from a file, replaced one by one, or turned."""

from __future__ import annotations

import numpy as np

from pipeline.assets.numbered import check_clear, read_numbered
from pipeline.assets.palette import save_palette
from pipeline.joints.places import BlobFiles, Sources
from pipeline.joints.views import PaletteEntries, PaletteView
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.colours.difference import metric_distance, metric_points
from pipeline.pixels.colours.turn import turned
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.sizes import counted
from pipeline.project.assets import Palette
from pipeline.target.records import PictureRules


def make_variant(sources: Sources, out: BlobFiles, name: str, spec: Palette, base: PaletteView, rules: PictureRules) -> str:
    """Write a variant's blob; return one line about it.

    Args:
        base: the palette that it varies.
        rules: of any pixel format of the target; only byte orders and the entry's pattern are used.

    Raises:
        ProjectError: its file cannot be read or has other numbers than the palette, or a colour to be replaced is not in the palette or is
            named twice.
    """
    known = base.read()
    shown = np.array(known.colours, dtype=np.uint8).reshape(-1, 3)
    held = _held(known)
    if spec.file:
        colours = _from_file(sources, spec, known, held)
    else:
        colours = shown.copy()
        if (spec.hue, spec.lightness, spec.chroma) != (0.0, 1.0, 1.0):
            colours[held] = turned(shown[held], spec.hue, spec.lightness, spec.chroma)
        for number, colour in _replaced(name, spec, known, held, rules).items():
            colours[number] = colour
    words, size = to_words(colours, rules.entry), known.line_entries
    starts, own = range(0, known.entry_count, size or known.entry_count), int(known.transparent)
    lines = [words[start + own : start + used] for start, used in zip(starts, known.line_used, strict=True)]
    changed = int((to_rgb(words, rules.entry) != shown).any(axis=1)[held].sum())
    seen = len(np.unique(words[held]))
    line = save_palette(out, name, lines, size, spec, rules, seen, exact=False, base=known)
    return f"{counted(changed, 'colour')} {'differs' if changed == 1 else 'differ'} from {known.name}; {line}"


def _held(palette: PaletteEntries) -> np.ndarray:
    """Return which entries of a palette are colours: bool, shape (entries,)."""
    size = palette.line_entries or palette.entry_count
    place, line = np.arange(palette.entry_count) % size, np.arange(palette.entry_count) // size
    return (place >= int(palette.transparent)) & (place < np.array(palette.line_used)[line])


def _from_file(sources: Sources, spec: Palette, base: PaletteEntries, held: np.ndarray) -> np.ndarray:
    """Return the colours of a file by the palette's numbers: uint8, shape (entries, 3)."""
    given, count = read_numbered(sources.folder, sources.names[0]), base.entry_count
    colours = given.colours
    if given.text and base.transparent and not base.line_entries and len(colours) == count - 1:
        return np.concatenate([np.zeros((1, 3), dtype=np.uint8), colours])  # a text palette that leaves the transparent entry out
    if not given.text:
        given = given.cut(count, f"palette {base.name!r}")
        slots = frozenset(range(0, count, base.line_entries or count))
        odd = frozenset(number for number in given.clear if held[number])
        check_clear(given, base.name, base.transparent, odd, slots if base.transparent else frozenset())
    last = int(np.flatnonzero(held)[-1]) + 1
    if len(colours) < last or (given.text and len(colours) > count):
        slot = ", number 0 the transparent one" if base.transparent else ""
        wrong = f"has {counted(len(colours), 'colour')}, palette {base.name!r} has numbers 0 to {last - 1}{slot}"
        raise refuse(given.file, "", wrong, "give the file one colour for each number")
    found = np.zeros((count, 3), dtype=np.uint8)
    found[: len(given.colours)] = given.colours[:count]
    return found


def _replaced(name: str, spec: Palette, base: PaletteEntries, held: np.ndarray, rules: PictureRules) -> dict[int, tuple[int, int, int]]:
    """Return number -> colour of the entries that ``replace`` names; a colour means all entries that have it."""
    found: dict[int, tuple[int, int, int]] = {}
    problems: list[Problem] = []
    for rank, (old, new) in enumerate(spec.replace):
        place = f"[palette.{name}] replace {rank + 1}"
        numbers = _numbers_of(old, base, held, rules)
        twice = [number for number in numbers if number in found]
        if not numbers:
            problems.append(Problem("project.toml", place, *_not_there(old, base, held, rules)))
        elif twice:
            wrong = f"{old!r} is entry {twice[0]}, which an earlier pair replaces"
            problems.append(Problem("project.toml", place, wrong, "replace each entry once"))
        found |= dict.fromkeys(numbers, _rgb(new))
    if problems:
        raise ProjectError(problems)
    return found


def _numbers_of(old: str | int, base: PaletteEntries, held: np.ndarray, rules: PictureRules) -> list[int]:
    if isinstance(old, int):
        return [old] if old < len(held) and held[old] else []
    exact = [number for number, colour in enumerate(base.drawn) if colour == _rgb(old) and held[number]]
    if exact:
        return exact
    word = to_words(np.array([_rgb(old)], dtype=np.uint8), rules.entry)[0]
    words = to_words(np.array(base.colours, dtype=np.uint8).reshape(-1, 3), rules.entry)
    return np.flatnonzero((words == word) & held).tolist()


def _not_there(old: str | int, base: PaletteEntries, held: np.ndarray, rules: PictureRules) -> tuple[str, str]:
    if isinstance(old, int):
        clear = old < len(held) and base.transparent and old % (base.line_entries or len(held)) == 0
        what = "is the transparent entry" if clear else "is not an entry with a colour"
        numbers = np.flatnonzero(held)
        return f"{old} {what} of {base.name!r}", f"use a number from {numbers[0]} to {numbers[-1]}, or a colour"
    colours = np.array(base.drawn or base.colours, dtype=np.uint8).reshape(-1, 3)
    wanted = metric_points(np.array([_rgb(old)], dtype=np.uint8))
    gaps = np.where(held, metric_distance(wanted, metric_points(colours)), np.inf)
    near = int(np.argmin(gaps))
    red, green, blue = colours[near].tolist()
    return f"{old!r} is not a colour of {base.name!r}", f"the nearest is #{red:02x}{green:02x}{blue:02x}, entry {near}"


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
