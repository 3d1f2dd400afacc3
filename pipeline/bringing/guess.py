"""From files looked at to a description: which asset each becomes, why, and what it could be instead. Nothing is read here."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace
from pathlib import PurePosixPath
from typing import Any

from pipeline.assets.sources.keyed import Ground, rgb_of
from pipeline.bringing.group import Figure, Picture, Row, group_pictures, number_rows
from pipeline.bringing.measuring.measure import NOTHING, around
from pipeline.bringing.measuring.shapes import Box, Grid, Look
from pipeline.bringing.names import identifier, is_generic, natural, unique, words_of
from pipeline.bringing.records import Anim, Description, Found, Frame, Left, Looked
from pipeline.bringing.sheets import cells_of, grid_of, is_parted, is_strip_of_cells, row_animations, says_sheet
from pipeline.bringing.vocabulary import BACKGROUNDS, PALETTES
from pipeline.plain.bounds import DRAWN_PIXELS, FRAMES, SPRITE_PIXELS
from pipeline.plain.sizes import counted

_PURE = ("#ff00ff", "#00ff00", "#00ffff", "#0000ff")  # colours that mean nothing far more often than something
_KINDS = ("sprite", "background", "sound", "font", "palette")


def describe(looked: dict[str, Looked], screen: tuple[int, int], root: str, taken: Iterable[str] = ()) -> Description:
    """Return what the files of a folder make.

    Args:
        looked: by name, in natural order.
        screen: width and height of the console's screen in pixels.
        root: the folder's name.
        taken: names that are not free.
    """
    left = [Left(one.name, one.wrong or "is not art that is known here") for one in looked.values() if one.wrong or not one.kind]
    usable = [one for one in looked.values() if one.kind and not one.wrong]
    found = [_sound(one) for one in usable if one.kind == "sound"]
    found += [_font(one) for one in usable if one.kind == "font"]
    found += [_animated(one) for one in usable if one.kind == "animation"]
    found += [_palette(one, f"a text palette of {counted(one.entries, 'colour')}", "none") for one in usable if one.kind == "palette"]
    pictures, nothing = _pictures([one for one in usable if one.kind == "picture"], screen, root)
    fitting, large = _within_bounds(found + pictures)
    return Description(_named(fitting, set(taken)), tuple(sorted([*left, *nothing, *large], key=lambda one: natural(one.file))), looked)


def _stem(name: str) -> str:
    return PurePosixPath(name).stem


def _sound(one: Looked) -> Found:
    reason = f"a recording of {one.seconds:.2f} s at {one.rate:,} Hz"
    return Found("sound", _stem(one.name), (one.name,), reason, "data, taken as it is", seconds=one.seconds, rate=one.rate)


def _font(one: Looked) -> Found:
    reason = f"a font with {len(one.letters)} of the 95 characters of ASCII"
    return Found("font", _stem(one.name), (one.name,), reason, "none", letters=one.letters, colours=1)


def _animated(one: Looked) -> Found:
    look = _look(one)
    frames = (Frame(one.name, Box(0, 0, look.width, look.height), look.box),) * one.frames
    reason = f"an animation of {one.frames} frames with its own timing"
    canvas = (look.width, look.height)
    anchor = _anchor(look.box, canvas)
    extra = {"source": "animated", "frames": frames, "canvas": canvas, "anchor": anchor, "colours": look.colours, "group": _group(one.name)}
    return Found("sprite", _stem(one.name), (one.name,), reason, "a background, from its first frame", **extra)


def _palette(one: Looked, reason: str, other: str) -> Found:
    return Found("palette", _stem(one.name), (one.name,), reason, other, colours=one.entries or _look(one).colours)


def _look(one: Looked) -> Look:
    if one.look is None:
        raise ValueError(f"{one.name} is not a picture")
    return one.look


def _pictures(pictures: list[Looked], screen: tuple[int, int], root: str) -> tuple[list[Found], list[Left]]:
    """Return what still pictures become, and those on which nothing is drawn and that belong to no figure."""
    found, single = [], []
    rows = number_rows(Picture(one.name, (_look(one).width, _look(one).height)) for one in pictures)
    looks = {one.name: _look(one) for one in pictures}
    numbered = {one.name for row in rows if len(row.pictures) > 2 and not _are_strips(row, looks) for one in row.pictures}
    for one in pictures:
        made = _alone(one, screen, one.name in numbered)
        found += [made] if made else []
        single += [] if made else [one]
    left = []
    for figure in group_pictures((Picture(one.name, (_look(one).width, _look(one).height)) for one in single), root):
        files = [name for _, names in figure.rows for name in names]
        if any(looks[name].box.width for name in files):
            found.append(_sprite(figure, looks))
        else:
            left += [Left(name, "has nothing drawn on it") for name in files]
    return found, left


def _are_strips(row: Row, looks: dict[str, Look]) -> bool:
    """Return whether numbered pictures are sheets of their own: half of them or more with the same wide row of cells, none with another."""
    grids = [grid_of(picture.name, looks[picture.name]) for picture in row.pictures]
    cells = {(grid.columns, grid.rows, grid.frame) for grid in grids if grid and grid.columns > 2 and grid.rows == 1 and not _is_cut(grid)}
    return len(cells) == 1 and 2 * sum(1 for grid in grids if grid) >= len(grids)


def _is_cut(grid: Grid) -> bool:
    """Return whether cells hardly show: what is drawn crosses from one into another, and they are not four squares or more."""
    return grid.cuts and (grid.frame[0] != grid.frame[1] or grid.columns < 4)


def _alone(one: Looked, screen: tuple[int, int], numbered: bool) -> Found | None:
    """Return what a picture becomes by itself: a palette, a background, a sheet; None where it may be one frame of a sprite."""
    look, words = _look(one), set(words_of(one.name))
    if (look.strip and look.width * look.height <= 1 << 20) or (PALETTES & words and look.opaque == 1000 and look.colours <= 256):
        return _palette(one, f"a strip of {counted(look.colours, 'colour')}", "a sprite of one frame")
    cells = is_strip_of_cells(look) and not numbered  # several such pictures are levels drawn of tiles, and neither tiles nor frames
    if _is_background(look, words, screen) and not says_sheet(one.name) and not cells:
        return _background(one, look, screen)
    if numbered and not says_sheet(one.name):
        return None
    grid = grid_of(one.name, look)
    if grid is not None:
        return _sheet(one, look)
    return _parted(one, look) if is_parted(one.name, look) else None


def _is_background(look: Look, words: set[str], screen: tuple[int, int]) -> bool:
    wide, high = look.width * 5 >= screen[0] * 3, look.height * 5 >= screen[1] * 3
    if BACKGROUNDS & words:
        return look.width * 2 >= screen[0] and look.height * 4 >= screen[1]
    covers = look.width >= screen[0] or look.height >= screen[1]
    return look.opaque >= 990 and wide and high and (look.key is None or (covers and not _is_pure(look.key)))


def _is_pure(key: Ground | None) -> bool:
    return key is not None and any(_distance(key.colour, pure) <= key.tolerance for pure in _PURE)


def _background(one: Looked, look: Look, screen: tuple[int, int]) -> Found:
    by_name = sorted(BACKGROUNDS & set(words_of(one.name)))
    said = f"the name says {by_name[0]}" if by_name else f"nothing shows through its {look.width} x {look.height} pixels"
    clear = "" if look.opaque >= 990 else f"; {100 - look.opaque // 10} % of it is clear and becomes black"
    reason = f"{said}; the screen is {screen[0]} x {screen[1]}{clear}"
    extra = {"colours": look.colours, "canvas": (look.width, look.height), "lossy": look.lossy, "turned": look.turned}
    return Found("background", _stem(one.name), (one.name,), reason, "a sprite of one frame", **extra)


def _sheet(one: Looked, look: Look) -> Found:
    grid = grid_of(one.name, look)
    if grid is None:
        raise ValueError(f"{one.name} has no grid")
    frames, canvas = cells_of(one.name, grid), grid.frame
    inside = around(tuple(_in_cell(frame) for frame in frames))
    second = next((other for other in look.grids if (other.columns, other.rows) != (grid.columns, grid.rows)), None)
    other = f"{second.columns} x {second.rows} cells" if second else "a picture of one frame"
    reason = f"{counted(grid.columns, 'column')} and {counted(grid.rows, 'row')}: {grid.reason}"
    extra = {"frames": frames, "canvas": canvas, "anchor": _anchor(inside, canvas), "animations": row_animations(grid), "grid": grid}
    extra |= {"colours": look.colours, "group": _group(one.name), "source": "sheet"} | _ground([look])
    return Found("sprite", _stem(one.name), (one.name,), reason, other, **extra)


def _parted(one: Looked, look: Look) -> Found:
    frames = tuple(Frame(one.name, box, box) for box in look.parts)
    canvas = (max(box.width for box in look.parts), max(box.height for box in look.parts))
    reason = f"{len(frames)} figures apart from one another, and no cells of one size"
    extra = {"frames": frames, "canvas": canvas, "colours": look.colours, "align": True} | _ground([look])
    plays = (Anim("play", tuple(range(len(frames)))),)
    extra |= {"animations": plays, "group": _group(one.name), "source": "sheet"}
    return Found("sprite", _stem(one.name), (one.name,), reason, "a picture of one frame", **extra)


def _sprite(figure: Figure, looks: dict[str, Look]) -> Found:
    order = {name: rank for rank, name in enumerate(sorted((name for _, names in figure.rows for name in names), key=natural))}
    frames = tuple(Frame(name, Box(0, 0, looks[name].width, looks[name].height), looks[name].box) for name in order)
    canvas = (max(frame.cell.width for frame in frames), max(frame.cell.height for frame in frames))
    several = len({frame.cell[2:] for frame in frames}) > 1
    inside = around(tuple(_on_canvas(frame, canvas) for frame in frames))
    extra = {"frames": frames, "canvas": canvas, "anchor": _anchor(inside, canvas), "group": _owner(figure)}
    extra |= {"colours": max(look.colours for look in map(looks.__getitem__, order)), "source": "frames", "align": several}
    extra |= {"animations": _animations(figure, order)} | _ground([looks[name] for name in order])
    sizes = f"; frames of {len({frame.cell[2:] for frame in frames})} sizes" if several else ""
    return Found("sprite", "_".join(figure.subject), tuple(order), figure.reason + sizes, figure.other, **extra)


def _animations(figure: Figure, order: dict[str, int]) -> tuple[Anim, ...]:
    if len(order) == 1 or (len(figure.rows) == 1 and not figure.rows[0][0] and figure.reason.endswith("in one folder")):
        return ()
    made: dict[str, tuple[int, ...]] = {}
    for action, names in figure.rows:
        base = action[:-1] if len(action) > 1 and action[-1].isdigit() else action  # a number that does not go on
        name = unique(identifier("_".join(base), "play") if base else "play", made)
        made[name] = tuple(order[one] for one in names)
    return tuple(Anim(name, numbers) for name, numbers in made.items())


def _in_cell(frame: Frame) -> Box:
    """Return what is drawn of a frame, in the pixels of its cell."""
    if not frame.drawn.width:
        return NOTHING
    return frame.drawn._replace(left=frame.drawn.left - frame.cell.left, top=frame.drawn.top - frame.cell.top)


def _on_canvas(frame: Frame, canvas: tuple[int, int]) -> Box:
    """Return the same on a canvas on which the cell is in the middle of the lower edge."""
    box = _in_cell(frame)
    if not box.width:
        return box
    return box._replace(left=box.left + (canvas[0] - frame.cell.width) // 2, top=box.top + canvas[1] - frame.cell.height)


def _anchor(inside: Box, canvas: tuple[int, int]) -> tuple[int, int]:
    """Return the middle of the lower edge of all that is drawn."""
    if not inside.width:
        return canvas[0] // 2, canvas[1]
    return inside.left + inside.width // 2, inside.top + inside.height


def _ground(looks: list[Look]) -> dict[str, Any]:
    """Return what an asset's pictures have as colours that mean nothing, and whether one of them is not exact, or asks to be turned."""
    counted = Counter(look.key for look in looks if look.key)
    tolerance = max((key.tolerance for key in counted), default=0)
    kept: list[str] = []
    for key, _ in sorted(counted.items(), key=lambda one: (-one[1], one[0])):
        if all(_distance(key.colour, other) > tolerance // 2 for other in kept):  # those of a lossy ground hardly differ
            kept.append(key.colour)
    files = {"lossy": any(look.lossy for look in looks), "turned": any(look.turned for look in looks)}
    return {"keys": tuple(sorted(kept)), "tolerance": tolerance, **files}


def _distance(one: str, other: str) -> int:
    """Return how far two colours are from each other in the channel in which they differ most."""
    return max(abs(first - second) for first, second in zip(rgb_of(one), rgb_of(other), strict=True))


def _group(name: str) -> str:
    return "/".join(PurePosixPath(name).parent.parts)


def _owner(figure: Figure) -> str:
    """Return the folder that holds a figure: the one around a folder that is all its own."""
    own = bool(figure.folder) and figure.subject == words_of(figure.folder[-1])
    return "/".join(figure.folder[:-1] if own else figure.folder)


def _within_bounds(found: list[Found]) -> tuple[list[Found], list[Left]]:
    """Return the assets that can be built at all, and the files of those with too many frames or pixels."""
    fitting, left = [], []
    for one in found:
        pixels = len(one.frames) * one.canvas[0] * one.canvas[1]
        if len(one.frames) > FRAMES or pixels > min(SPRITE_PIXELS, DRAWN_PIXELS):
            why = f"belongs to {len(one.frames):,} frames with {pixels:,} pixels, more than a sprite has"
            left += [Left(file, why) for file in one.files]
        else:
            fitting.append(one)
    return fitting, left


def _named(found: list[Found], taken: set[str]) -> tuple[Found, ...]:
    """Return all with names that are free: a name that several would get is given with the folder before it."""
    by_kind = sorted(found, key=lambda one: (_KINDS.index(one.kind), natural(one.files[0])))
    wanted: dict[str, list[Found]] = defaultdict(list)
    for one in by_kind:
        wanted[identifier(one.name, one.kind)].append(one)
    made = []
    for one in by_kind:
        name = identifier(one.name, one.kind)
        parent = PurePosixPath(one.files[0]).parent.name
        told_apart = parent and not is_generic(parent) and identifier(parent, one.kind) not in (one.kind, name)
        if told_apart and (len(wanted[name]) > 1 or name in taken):
            name = identifier(f"{parent} {one.name}", one.kind)
        name = unique(f"{name}_{one.kind}"[:32] if name in taken and one.kind != "sprite" else name, taken)
        taken.add(name)
        made.append(replace(one, name=name))
    return tuple(made)
