"""Palettes: loaded from a picture or a text palette, or computed over all frames of the assets that use them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from pipeline.assets.blob import entry_bytes, put_record, save_blob, save_facts
from pipeline.assets.data import read_file
from pipeline.assets.sources.pictures import open_picture
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.cache.results import Results, key_of
from pipeline.joints.facts import PaletteFacts
from pipeline.joints.layouts import PALETTE, VERSION, record_bytes
from pipeline.joints.places import BlobFiles, FrameFiles, Sources
from pipeline.joints.views import PaletteEntries
from pipeline.pixels.colours.colour import DRAWN, to_rgb, to_words
from pipeline.pixels.colours.numbers import OPAQUE, packed, tallied, unpacked
from pipeline.pixels.colours.palette_text import read_palette_text
from pipeline.pixels.colours.quantise import choose_words, kept_exact
from pipeline.plain.bounds import PALETTE_BYTES, PALETTE_PIXELS
from pipeline.plain.errors import refuse
from pipeline.plain.files import sha256_of
from pipeline.plain.sizes import counted, round_up
from pipeline.project.assets import Palette
from pipeline.target.records import PictureRules

TEXT = (".gpl", ".pal")
_NAMED_AT_MOST = 8  # colours named in a refusal


def compute_palette(
    users: tuple[FrameFiles, ...],
    sources: Sources,
    out: BlobFiles,
    name: str,
    spec: Palette,
    most: int,
    rules: PictureRules,
    cache: Path | None = None,
) -> str:
    """Choose a palette for the prepared frames of some assets and write its blob; return one line about it.

    Args:
        users: scaled art of the assets, in project order.
        most: entries it may have, the transparent one included.
        rules: of any pixel format of the target; only byte orders and the entry's pattern are used.
        cache: where the users' colours are kept; see ``cache.results``.

    Raises:
        ProjectError: ``exact`` is set and there are more colours than fit, too many are locked, or their file cannot be read.
    """
    with Results(cache) as results:
        colours, counts = _count(users, results)
    shown = np.unique(to_words(to_rgb(colours, DRAWN), rules.entry))
    locked = np.unique(_locked(sources.folder, spec, rules))
    room, seen = most - spec.transparent, len(np.union1d(shown, locked))
    if len(locked) > room or (spec.exact and seen > room):
        wrong = f"{len(locked)} locked colours, {room} fit" if len(locked) > room else f"{seen} colours, {room} fit"
        remedy = "reduce the colours in the art, raise colours, or set exact = false to have the best ones chosen"
        if len(locked) > room:
            remedy = "lock fewer, or raise colours if the pixels can hold more"
        raise refuse("project.toml", f"[palette.{name}]", wrong, remedy)
    chosen, exact = locked, seen <= room and (spec.exact or kept_exact(colours, DRAWN, rules.entry))
    if exact:
        chosen = np.union1d(shown, locked)
    elif len(colours):
        chosen = choose_words(colours, counts, room, rules.entry, locked=locked, counted=DRAWN)
    return save_palette(out, name, [chosen], 0, spec, rules, len(shown), exact=exact)


def _locked(folder: Path, spec: Palette, rules: PictureRules) -> np.ndarray:
    rgb = np.array([[int(colour[at : at + 2], 16) for at in (1, 3, 5)] for colour in spec.locked], dtype=np.uint8).reshape(-1, 3)
    if spec.locked_file:
        rgb = np.concatenate([rgb, _colours_of(folder, spec.locked_file)])
    return to_words(rgb, rules.entry)


def _colours_of(folder: Path, file: str) -> np.ndarray:
    """Return the colours of a text palette, or of a picture's opaque pixels in reading order: uint8, shape (n, 3), n >= 1."""
    if Path(file).suffix.lower() in TEXT:
        opaque = np.array(read_palette_text(read_file(folder, file, PALETTE_BYTES), file), dtype=np.uint8).reshape(-1, 3)
    else:
        pixels = np.asarray(open_picture(folder, file, PALETTE_PIXELS)).reshape(-1, 4)
        opaque = pixels[pixels[:, 3] >= 128, :3]
    if not len(opaque):
        raise refuse(file, "", "has no opaque pixel, so no colour", "draw the palette's colours opaque")
    return opaque


def load_palette(
    users: tuple[FrameFiles, ...], sources: Sources, out: BlobFiles, name: str, spec: Palette, most: int, rules: PictureRules
) -> str:
    """Take a palette from a picture's pixels in reading order, or from a text palette; write its blob, return a line.

    Args:
        users: scaled art of the assets whose colours must all be in it; none unless ``exact`` is set.

    Raises:
        ProjectError: the file cannot be read, has more colours than fit, or lacks one of the users'.
    """
    file = spec.file
    if file is None:
        raise ValueError(f"palette {name} has no file")  # such a palette is computed
    words = to_words(_colours_of(sources.folder, file), rules.entry)
    kept, first_seen = np.unique(words, return_index=True)
    ordered = kept[np.argsort(first_seen)]
    room = most - spec.transparent
    if len(ordered) > room:
        wrong = f"{len(ordered)} colours as the console shows them, palette {name!r} holds {room}"
        raise refuse(file, "", wrong, "remove colours from the file, or raise colours of the palette if the pixels can hold more")
    if users:
        check_exact(name, users, kept, rules)
    return save_palette(out, name, [ordered], 0, spec, rules, len(ordered), exact=bool(users))


def check_exact(name: str, users: tuple[FrameFiles, ...], held: np.ndarray, rules: PictureRules) -> None:
    """Refuse art with a colour that is not among the words of a palette's entries.

    Raises:
        ProjectError: there is one; some of them are named.
    """
    shown = np.unique(to_words(to_rgb(_count(users, Results(None))[0], DRAWN), rules.entry))
    lacking = np.setdiff1d(shown, held)
    if len(lacking):
        first = to_rgb(lacking[:_NAMED_AT_MOST], rules.entry).tolist()
        summary = ", ".join(f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in first)
        more = f" and {len(lacking) - _NAMED_AT_MOST} more" if len(lacking) > _NAMED_AT_MOST else ""
        many, them = ("s", "them") if len(lacking) > 1 else ("", "it")
        wrong = f"exact, and the art has {len(lacking)} colour{many} that the file lacks, as the console shows {them}: {summary}{more}"
        raise refuse("project.toml", f"[palette.{name}]", wrong, f"add {them} to the file, correct the art, or set exact = false")


def _count(users: tuple[FrameFiles, ...], results: Results) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct colours of all opaque pixels as words of ``DRAWN``, rising, and how often each occurs, int64."""
    return _together(_count_one(user, results) for user in users)


_NONE = np.zeros(0, dtype=np.uint32), np.zeros(0, dtype=np.int64)


def _together(counted: Iterable[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Return the different ones of colours that were counted apart, rising, and how often each occurs in all."""
    keys, counts = zip(_NONE, *counted, strict=True)
    return tallied(np.concatenate(keys), np.concatenate(counts))


def _count_one(user: FrameFiles, results: Results) -> tuple[np.ndarray, np.ndarray]:
    """Return the same of one user; kept, since mostly one of them has changed."""
    known = results.get(_key(sha256_of(user.pixels))) if results.keeps else None
    if known is not None:
        both = np.frombuffer(known, dtype="<u4").reshape(2, -1)
        return both[0], both[1].astype(np.int64)
    words, counts, read = _counted(user)
    if results.keeps:
        results.put(_key(read), np.stack([words, counts]).astype("<u4").tobytes())
    return words, counts


def _key(pixels_sha256: str) -> bytes:
    return key_of("pipeline.assets.palette:compute_palette", pixels_sha256.encode())


def _counted(user: FrameFiles) -> tuple[np.ndarray, np.ndarray, str]:
    """Return the same of one user, and the SHA-256 of the pixels counted, since the file may have been another one a moment ago."""
    known, read = _NONE, hashlib.sha256()
    for frames in PreparedFrames(user).stacks():
        read.update(frames.data)
        pixels = packed(frames).ravel()
        known = _together([known, np.unique(pixels[pixels >= OPAQUE] & (OPAQUE - 1), return_counts=True)])
    return *tallied(to_words(unpacked(known[0]), DRAWN), known[1]), read.hexdigest()


def save_palette(
    out: BlobFiles,
    name: str,
    lines: list[np.ndarray],
    size: int,
    spec: Palette,
    rules: PictureRules,
    seen: int,
    exact: bool,
    drawn: np.ndarray | None = None,
    base: PaletteEntries | None = None,
) -> str:
    """Write a palette's blob and facts; return one line about it.

    Args:
        lines: words of each line, without the transparent entry; one line, where it has no others.
        size: entries from one line's start to the next; 0 where there is only one.
        seen: colours of the art, as the console shows them.
        exact: each of them is an entry.
        base: the palette that it is a variant of; None for others.
        drawn: colours that its file has at the numbers of all entries, uint8, shape (n, 3); None where it does not keep them.
    """
    used = [([rules.entry.fixed] if spec.transparent else []) + line.tolist() for line in lines]
    entries = [word for line in used for word in line + [rules.entry.fixed] * (size - len(line))]
    head = put_record(
        PALETTE,
        rules.byte_order,
        version=VERSION,
        transparent=int(spec.transparent),
        first=spec.first,
        entry_count=len(entries),
        line_entries=size,
        entries=round_up(record_bytes(PALETTE), rules.starts.entries),
    ).ljust(round_up(record_bytes(PALETTE), rules.starts.entries), b"\0")
    body = entry_bytes(entries, rules)
    facts = PaletteFacts(
        **save_blob(out.content, name, [head, body], spec.origin),
        first=spec.first,
        transparent=spec.transparent,
        entry_count=len(entries),
        line_entries=size,
        line_used=[len(line) for line in used],
        colours=[(red, green, blue) for red, green, blue in to_rgb(np.array(entries, dtype=np.uint32), rules.entry).tolist()],
        colours_seen=seen,
        exact=exact,
        variant_of=base.name if base else "",
        in_place=bool(base and base.first == spec.first),
        drawn=[] if drawn is None else [(red, green, blue) for red, green, blue in drawn.tolist()],
    )
    summary = counted(sum(facts.line_used), "entry", "entries") + (f" in {counted(len(lines), 'line')}" if size else "")
    return f"{summary} for {counted(seen, 'colour')}, {save_facts(out.facts, facts)}"
