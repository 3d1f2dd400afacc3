"""What a console makes of what was found: scale, palettes, arrangement, rates, and what must be read straight from the cartridge.

Sizes are estimated from above: every frame as whole cells around what is drawn of it. So what fits here fits when it is built.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pipeline.bringing.measuring.shapes import Box
from pipeline.bringing.names import identifier, unique
from pipeline.bringing.records import Found, Left
from pipeline.joints.layouts import SAMPLE_BITS
from pipeline.plain.sizes import round_up, show_size
from pipeline.target.records import Target

# Of the scale that the backgrounds suggest; figures that are smaller still cannot be recognised.
_SCALES = tuple(Fraction(part, 16) for part in (16, 12, 8, 6, 4))
_RATES = (22050, 16000, 11025, 8000, 5512, 4000)
_SPARE = Fraction(15, 16)  # of cartridge and memory that estimates may fill
TOGETHER = {"sprite": 2, "background": 1, "sound": 2}  # of each kind that a scene holds at once
_LEAST_SHARE = 8  # colours of a group of sprites that has a palette of its own
_FEW_COLOURS = 64  # at most as many are pixel art, in which no colour is to be mixed
_BESIDE = 64  # bytes of a frame's and an asset's own tables, at most
_PIECE = 8  # bytes of the table for a cell


@dataclass(frozen=True)
class Table:
    """A ``[palette.NAME]`` that is computed: its keys, and why they are so."""

    name: str
    keys: dict[str, Any]
    reason: str


@dataclass(frozen=True)
class Fitted:
    """What was found, as it fits a console.

    Attributes:
        assets: with the keys of each that depend on the console, beside those of its art.
        palettes: computed ones.
        scale, scale_reason: of sprites, as the project's default.
        rate, rate_reason: of sounds.
        direct: names that are read straight from the cartridge, since memory does not hold them.
        left: what does not fit.
    """

    assets: tuple[tuple[Found, dict[str, Any]], ...]
    palettes: tuple[Table, ...]
    scale: float
    scale_reason: str
    rate: int
    rate_reason: str
    direct: tuple[str, ...]
    left: tuple[Left, ...]


def fit(found: tuple[Found, ...], target: Target, taken: set[str], scale: float | None = None, used: int = 0) -> Fitted:
    """Return assets with all that makes them fit a console.

    Args:
        taken: names that are not free, those of the assets among them.
        scale: of sprites in a project that has one; None: the largest at which all fit.
        used: bytes of the cartridge that the project takes already.
    """
    console = Console(target)
    room = int(_SPARE * (max(target.cartridge.sizes) - used)) - 2 * console.screen_bytes
    first, reason = _first_scale(found, target)
    sounds = [one for one in found if one.kind == "sound"]
    rate, rate_reason = _rate(sounds, target, room // 3)
    factors = [Fraction(str(scale))] if scale else [_rounded(first * part) for part in _SCALES]
    chosen = factors[-1]
    for factor in factors:
        if sum(console.bytes_of(one, factor, rate) for one in found) <= room:
            chosen = factor
            break
    if scale:
        reason = "the project's own"
    elif chosen != factors[0]:
        reason = f"the largest of those tried at which the {show_size(max(target.cartridge.sizes))} cartridge holds all"
    kept, left = _kept(found, console, chosen, rate, room, target)
    palettes, named = _palettes(kept, target, taken)
    assets = tuple((one, console.keys_of(one, chosen, rate) | named.get(one.name, {})) for one in kept)
    return Fitted(assets, palettes, float(chosen), reason, rate, rate_reason, _direct(kept, console, chosen, rate), left)


class Console:
    """What a target takes of each asset, estimated from above."""

    def __init__(self, target: Target) -> None:
        self.target = target
        self.bits = target.pixel_formats[target.screen.pixels].pixel.width
        self.indexed = bool(target.pixel_formats[target.screen.pixels].pixel.bits("I"))
        self.screen_bytes = target.screen.width * target.screen.height * self.bits // 8
        banks = target.cartridge.banks
        self.asset_room = banks.size - 512 if banks else max(target.cartridge.sizes)

    def bytes_of(self, one: Found, scale: Fraction, rate: int) -> int:
        """Return the most bytes that an asset takes; ``scale`` is of sprites that need no smaller one."""
        if one.kind == "sprite":
            return self._sprite_bytes(one, self.sprite_scale(one, scale))
        if one.kind == "background":
            factor = self.background_scale(one)
            return self._pixels(math.ceil(one.canvas[0] * factor), math.ceil(one.canvas[1] * factor)) * 9 // 8 + _BESIDE
        if one.kind == "sound":
            bits = math.ceil(one.seconds * self.rate_of(one, rate)) * SAMPLE_BITS[self.target.sound.formats[0]]
            return -(-bits // 8) + _BESIDE
        if one.kind == "font":
            return len(one.letters) * (self._pixels(self.font_size(), 2 * self.font_size()) + _BESIDE)
        return 4 * one.colours + _BESIDE

    def _pixels(self, width: int, height: int) -> int:
        cells = self.target.cells
        return round_up(width, cells.width) * round_up(height, cells.height) * self.bits // 8

    def _sprite_bytes(self, one: Found, factor: Fraction) -> int:
        whole = one.source == "animated"  # of which only the first frame was measured
        boxes = (Box(0, 0, *one.canvas) if whole else frame.drawn for frame in one.frames)
        return _BESIDE + sum(self._frame_bytes(math.ceil(box.width * factor) + 1, math.ceil(box.height * factor) + 1) for box in boxes)

    def _frame_bytes(self, width: int, height: int) -> int:
        cells = self.target.cells
        across, down = round_up(width, cells.width) // cells.width, round_up(height, cells.height) // cells.height
        return self._pixels(width, height) + _PIECE * across * down + _BESIDE

    def sprite_scale(self, one: Found, scale: Fraction) -> Fraction:
        """Return the scale of a sprite: that of all, or less if the console could not draw it or no bank holds it."""
        limits = self.target.sprites
        factor = min(scale, Fraction(limits.max_width, one.canvas[0]), Fraction(limits.max_height, one.canvas[1]))
        factor = scale if factor == scale else Fraction(max(1, int(factor * 100)), 100)
        while self._sprite_bytes(one, factor) > self.asset_room and factor > Fraction(1, 16):
            factor = Fraction(max(1, int(factor * 80)), 100)
        return factor

    def background_scale(self, one: Found) -> Fraction:
        """Return the scale at which a background just covers the screen; 1 if it is smaller already."""
        screen = self.target.screen
        return _rounded(min(Fraction(1), max(Fraction(screen.width, one.canvas[0]), Fraction(screen.height, one.canvas[1]))))

    def rate_of(self, one: Found, rate: int) -> int:
        """Return the rate of a sound: that of all, or less if it was recorded with less or no bank holds it."""
        width = SAMPLE_BITS[self.target.sound.formats[0]] / 8
        fitting = [least for least in (rate, *_RATES) if least <= rate and one.seconds * least * width + _BESIDE <= self.asset_room]
        return min(one.rate, fitting[0] if fitting else rate)

    def font_size(self) -> int:
        """Return the size of letters that goes with the screen: one of 8, 12, 16."""
        return next(size for size in (16, 12, 8) if size * 20 <= self.target.screen.width or size == 8)

    def keys_of(self, one: Found, scale: Fraction, rate: int) -> dict[str, Any]:
        """Return the keys of an asset that this console asks for."""
        if one.kind == "sprite":
            return self._sprite_keys(one, scale)
        if one.kind == "background":
            return self._background_keys(one)
        if one.kind == "sound":
            return {"rate": self.rate_of(one, rate)}
        return {"size": self.font_size()} if one.kind == "font" else {}

    def _sprite_keys(self, one: Found, scale: Fraction) -> dict[str, Any]:
        factor = self.sprite_scale(one, scale)
        keys: dict[str, Any] = {} if factor == scale else {"scale": float(factor)}
        return keys | ({"resample": "dominant"} if factor < 1 and one.colours <= _FEW_COLOURS else {})

    def _background_keys(self, one: Found) -> dict[str, Any]:
        factor = self.background_scale(one)
        keys: dict[str, Any] = {} if factor == 1 else {"scale": float(factor)}
        keys |= {"resample": "dominant"} if factor < 1 and one.colours <= _FEW_COLOURS else {}
        return keys | ({"arrangement": "tiles"} | ({"merge": True} if self.indexed else {}) if self.target.tiles else {})


def _rounded(factor: Fraction) -> Fraction:
    """Return a factor that can be written with three digits, not smaller."""
    return Fraction(math.ceil(factor * 1000), 1000)


def _first_scale(found: tuple[Found, ...], target: Target) -> tuple[Fraction, str]:
    """Return the scale of sprites that the backgrounds suggest: that of most of them."""
    factors = Counter(Console(target).background_scale(one) for one in found if one.kind == "background")
    if not factors:
        return Fraction(1), "as drawn"
    factor = max(factors.items(), key=lambda one: (one[1], one[0]))[0]
    return factor, "as drawn" if factor == 1 else "that of the backgrounds, which then just cover the screen"


def _rate(sounds: list[Found], target: Target, room: int) -> tuple[int, str]:
    width = SAMPLE_BITS[target.sound.formats[0]] / 8
    for rate in _RATES:
        if rate <= target.sound.max_rate and sum(one.seconds for one in sounds) * rate * width <= room:
            return rate, f"{sum(one.seconds for one in sounds):.1f} s of sound fill at most a third of the cartridge"
    return _RATES[-1], "the lowest of those tried"


def _kept(
    found: tuple[Found, ...], console: Console, scale: Fraction, rate: int, room: int, target: Target
) -> tuple[tuple[Found, ...], tuple[Left, ...]]:
    """Return what the cartridge holds, the smallest first where not all fit, and the files of the rest with the reason."""
    most = 1 << console.bits if console.indexed else target.palette.entries
    kept, left, filled = [], [], 0
    for one in sorted(found, key=lambda one: console.bytes_of(one, scale, rate)):
        size = console.bytes_of(one, scale, rate)
        why = ""
        if one.kind == "palette" and one.colours > most:
            why = f"has {one.colours} colours, pixels of {target.name} know {most}"
        elif size > console.asset_room:
            why = f"takes about {show_size(size)}, more than a bank of the cartridge"
        elif filled + size > room:
            why = f"takes about {show_size(size)} more than the largest cartridge of {target.name} holds"
        if why:
            left += [Left(file, why) for file in one.files]
        else:
            kept.append(one)
            filled += size
    return tuple(one for one in found if one in kept), tuple(left)


def _direct(kept: tuple[Found, ...], console: Console, scale: Fraction, rate: int) -> tuple[str, ...]:
    """Return the assets that are read straight from the cartridge: the largest, until the rest of a scene fits the memory."""
    target = console.target
    reserved = sum(one.bytes for one in target.memory.reserved) + target.screen.buffers * console.screen_bytes
    room = int(_SPARE * (target.memory.size - reserved)) - 2048
    sizes = {one.name: console.bytes_of(one, scale, rate) for one in kept}
    direct: set[str] = set()
    while True:
        rest = [one for one in kept if one.name not in direct]
        largest = {kind: max((sizes[one.name] for one in rest if one.kind == kind), default=0) for kind in TOGETHER}
        worst = sum(largest[kind] * count for kind, count in TOGETHER.items())
        worst += sum(sizes[one.name] for one in rest if one.kind in ("font", "palette"))
        if worst <= room or not rest:
            return tuple(one.name for one in kept if one.name in direct)
        direct.add(max(rest, key=lambda one: (sizes[one.name], one.name)).name)


def _palettes(kept: tuple[Found, ...], target: Target, taken: set[str]) -> tuple[tuple[Table, ...], dict[str, dict[str, Any]]]:
    """Return computed palettes (for each group of sprites, for each background, for all fonts), and the ``palette`` key of each asset."""
    bits, entries = target.pixel_formats[target.screen.pixels].pixel.bits("I"), target.palette.entries
    if not bits:
        return (), {one.name: {"arrangement": "frames"} for one in kept if one.kind == "sprite"}
    dealt = _Dealt(min(1 << bits, entries), entries, any(one.kind == "font" for one in kept))
    names, tables = set(taken) | {one.name for one in kept}, []
    keys: dict[str, dict[str, Any]] = {}
    groups = _groups([one for one in kept if one.kind == "sprite"], dealt.most_groups)
    for rank, (title, members) in enumerate(groups):
        first, colours = dealt.group(rank, len(groups))
        name = _free(f"{title}_colours", names)
        more = f" and {len(members) - 4} more" if len(members) > 4 else ""
        reason = f"for {', '.join(one.name for one in members[:4])}{more}"
        tables.append(Table(name, {"colours": colours, **({"first": first} if first else {}), "transparent": True}, reason))
        keys |= {one.name: {"palette": name} for one in members}
    if any(one.kind == "font" for one in kept):
        name, (first, colours) = _free("letters_colours", names), dealt.letters
        tables.append(Table(name, {"colours": colours, "first": first, "transparent": True}, "letters are drawn in one colour"))
        keys |= {one.name: {"palette": name} for one in kept if one.kind == "font"}
    for one in kept:
        if one.kind == "background":
            name = _free(f"{one.name}_colours", names)
            tables.append(Table(name, dealt.background(target.tiles is not None), "after the sprites' colours in the console's palette"))
            keys[one.name] = {"palette": name}
    return tuple(tables), keys


def _free(wanted: str, names: set[str]) -> str:
    name = unique(identifier(wanted, "palette"), names)
    names.add(name)
    return name


def _groups(sprites: list[Found], most: int) -> list[tuple[str, list[Found]]]:
    """Return sprites by the folder they share, at most as many groups as there is room for; the smallest are put together."""
    by_folder: dict[str, list[Found]] = {}
    for one in sprites:
        by_folder.setdefault(one.group, []).append(one)
    ordered = sorted(by_folder.items(), key=lambda one: (-sum(len(sprite.frames) for sprite in one[1]), one[0]))
    kept, rest = (ordered, []) if len(ordered) <= most else (ordered[: most - 1], ordered[most - 1 :])
    groups = [(_title(folder), members) for folder, members in kept]
    return groups + ([("other", [one for _, members in rest for one in members])] if rest else [])


def _title(folder: str) -> str:
    last = folder.rpartition("/")[2]
    return identifier(last, "figures") if last and last != "." else "figures"


class _Dealt:
    """The console's palette, dealt out: sprites first, then backgrounds, letters where they are in nobody's way.

    Args:
        line: entries that a pixel can choose from. entries: of the console's palette.
    """

    def __init__(self, line: int, entries: int, letters: bool) -> None:
        self._line, self._entries, self._lines = line, entries, entries // line
        if self._lines > 1:
            self._sprite_lines = max(1, self._lines // 2)
            self.most_groups = self._sprite_lines
            last = max(self._lines - 1, 0) if letters else self._lines
            self._ground = (self._sprite_lines, max(1, last - self._sprite_lines))
            self.letters = ((self._lines - 1) * line, min(2, line))
        else:
            share = entries * 7 // 16
            self._sprites = share - (2 if letters else 0)
            self.most_groups = max(1, self._sprites // (2 * _LEAST_SHARE))
            self._ground = (share, entries - share)
            self.letters = (self._sprites, 2)

    def group(self, rank: int, count: int) -> tuple[int, int]:
        """Return first entry and entries of a group of sprites."""
        if self._lines > 1:
            return rank * self._line, self._line
        each = self._sprites // count
        return rank * each, each

    def background(self, tiles: bool) -> dict[str, Any]:
        """Return the keys of a background's palette."""
        first, size = self._ground
        if self._lines == 1:
            return {"colours": size, "first": first}
        return {"first": first * self._line, **({"lines": size} if tiles and size > 1 else {"colours": self._line})}
