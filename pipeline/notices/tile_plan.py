"""The boot notice of a console that draws tiles: where its parts are, and the most tiles it takes. Numbers only, no drawing.

All that counts is known before the build code is, so that the notice has its place in the image before its content. Every part
is at whole tiles: text in boxes of one size, so that a letter is the same tiles wherever it is; codes on light cards.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import unicodedata
from dataclasses import dataclass
from typing import NamedTuple

from pipeline.joints.links import CORRECTIONS, QUIET, Correction, code_modules, code_version, longest_link
from pipeline.joints.notice import (
    BUG,
    BUILD_LINE,
    FEEDBACK,
    GROUND,
    INK,
    LEAST_MODULE_PIXELS,
    LINE,
    PAPER,
    QUIET_TEXT,
    STRONG,
    notice_colours,
    safe_area,
)
from pipeline.plain.sizes import counted
from pipeline.target.records import PictureRules, Target, picture_rules
from pipeline.target.tiles import TileRules, tile_rules

LETTER = 8  # width of a letter's box in pixels
CAPITALS = 7  # height of the small form, in capitals
_AIR = 1  # pixels at least between two lines of text, and between a label and the edges of its bar
_MARGIN = 2  # letters by which a line is shorter than the screen, if as many lines are enough then
_BALANCED = 3  # lines of which all ways to break them are looked at
_SENTENCE = 8  # characters that lines may be longer for a break after a sentence
_LARGEST = 32  # pixels of a module that are tried
_BUILD = "BUILD "  # before the build code, which ends its line
_BARE = 3  # tiles of one colour: ground, card, dark label
_EDGE = 1  # tiles of two colours: a card with the upper edge of a dark label
_TEXT, _CODES = 0, 1  # lines of the palette where the pixels have two bits


@dataclass(frozen=True)
class TileScreen:
    """What a notice must know of a tile console.

    Attributes:
        size: of the screen in pixels.
        safe: percent of each side in which text and codes stay.
        tile: width and height in pixels.
        bits: of a pixel that is an index; 0 for direct colour.
        lines: of the console's palette that a map entry can choose.
        most: tiles that the notice may take.
    """

    size: tuple[int, int]
    safe: int
    tile: tuple[int, int]
    bits: int
    lines: int
    most: int


@dataclass(frozen=True)
class Console:
    """What decides how a notice is stored: the screen, its pixels, how tiles are cut, and the alignment of tile 0 in the blob."""

    screen: TileScreen
    rules: PictureRules
    cutting: TileRules
    alignment: int


class Words(NamedTuple):
    """What a notice says; a build code has its place in ``build`` as six signs, of which any may be another one later."""

    title: str
    version: str
    build: str
    warning: str
    labels: tuple[str, str]


class Role(NamedTuple):
    """How a part is coloured: ink and ground, and the line of the palette that has both."""

    ink: tuple[int, int, int]
    ground: tuple[int, int, int]
    line: int = _TEXT


TITLE, INFO, BUILD, WARNING = (Role(ink, GROUND) for ink in (PAPER, QUIET_TEXT, STRONG, QUIET_TEXT))
LABELS = Role(FEEDBACK, PAPER, _CODES), Role(PAPER, BUG, _CODES)
CODES = Role(INK, PAPER, _CODES)


class TextLine(NamedTuple):
    """One line of text: its role, its words, left and top in pixels, how many times its letters are enlarged, and their form."""

    role: Role
    words: str
    left: int
    top: int
    scale: int
    tall: bool


@dataclass(frozen=True)
class TilePlan:
    """Where the parts of a notice are.

    Attributes:
        columns, rows: of the map, which covers the whole screen.
        texts: every line of text.
        bars: left, top, width and height in tiles of the two labels.
        rise: pixels by which a label's bar begins higher, in its card.
        cards: left and top in tiles of the light cards that hold the codes.
        card: their width and height in tiles.
        module: pixels of one module.
        version, correction: of both codes.
        inset: from a card's left and top to the first module, in pixels.
        planes: how many tiles' worth of a code's cells one tile holds, each under a line of the palette of its own; 0: each cell
            of a code is a tile in the colours of its card.
        tiles: the most that it takes, whatever the build code.
    """

    columns: int
    rows: int
    texts: tuple[TextLine, ...]
    bars: tuple[tuple[int, int, int, int], ...]
    rise: int
    cards: tuple[tuple[int, int], tuple[int, int]]
    card: tuple[int, int]
    module: int
    version: int
    correction: Correction
    inset: tuple[int, int]
    planes: int
    tiles: int

    def code_cells(self, tile: tuple[int, int]) -> tuple[range, range]:
        """Return the columns and rows of a card that modules of its code touch."""
        side = self.module * (code_modules(self.version) - 2 * QUIET)
        across, down = (_touched(inset, side, one) for inset, one in zip(self.inset, tile, strict=True))
        return across, down


class _Line(NamedTuple):
    """A line of text without its place; see ``TextLine``."""

    role: Role
    words: str
    scale: int
    tall: bool


class _Style(NamedTuple):
    """Scale of the title and of a line for the build code (0: it shares one), whether letters are tall, and free rows; roomy to tight."""

    title: int
    title_tall: bool
    build: int
    tall: bool
    spare: int


_STYLES = (
    _Style(3, False, 3, True, 2),
    _Style(2, False, 2, True, 2),
    _Style(2, False, 2, False, 3),
    _Style(2, False, 0, False, 1),
    _Style(1, True, 0, False, 0),
    _Style(1, False, 0, False, 0),
)
_PLAIN = 4  # styles for whose sake modules are not made larger: those after them are tight


def tile_screen(target: Target, pixels: str) -> TileScreen:
    """Return what a notice must know of a target whose tiles have a pixel format."""
    rules, cutting = picture_rules(target, pixels), tile_rules(target, None, None)
    bits = rules.pixel_format.pixel.bits("I")
    lines = min(1 << cutting.entry.bits("c"), target.palette.entries >> bits) if bits else 1
    screen, most = target.screen, min(cutting.most, target.limits.cells or cutting.most)
    return TileScreen((screen.width, screen.height), screen.title_safe, cutting.tile, bits, max(1, lines), most)


def line_colours(screen: TileScreen, planes: int = 0) -> list[list[tuple[int, int, int]]]:
    """Return the colours of each line of the notice's own palette; none for direct colour.

    The last ``planes`` lines show one bit of a pixel each, dark where it is set.
    """
    if not screen.bits:
        return []
    lines = [list(notice_colours(screen.bits))]
    if screen.bits == 2 and screen.lines > 1:
        lines = [[GROUND, PAPER, QUIET_TEXT, STRONG], [INK, PAPER, FEEDBACK, BUG]]
    return lines + [[INK if value >> plane & 1 else PAPER for value in range(1 << screen.bits)] for plane in range(planes)]


def entry_count(screen: TileScreen, planes: int = 0) -> int:
    """Return the entries of the notice's own palette, up to the last that is used."""
    lines = line_colours(screen, planes)
    return ((len(lines) - 1) << screen.bits) + len(lines[-1]) if lines else 0


def line_of(role: Role, screen: TileScreen) -> int:
    """Return the line of the palette that a role's colours are on."""
    return role.line if screen.bits == 2 and screen.lines > 1 else 0


@functools.lru_cache(64)  # asked for at every start, by several steps
def plan_tiles(words: Words, link_bytes: tuple[int, int], screen: TileScreen, correction: Correction = "M") -> TilePlan | None:
    """Return the roomiest plan whose codes have as large modules as they can, or None when there is none.

    Args:
        link_bytes: lengths of both links, with the build code.
        correction: the least error correction that codes may have: a lower one is used only if nothing fits with a higher.
    """
    for level in CORRECTIONS[: CORRECTIONS.index(correction) + 1]:
        versions = [code_version(length, level) for length in link_bytes]
        if None in versions:
            continue
        version = max(one for one in versions if one is not None)
        for styles, least in ((_STYLES[:_PLAIN], LEAST_MODULE_PIXELS + 1), (_STYLES, LEAST_MODULE_PIXELS)):
            for module in range(_largest_module(screen, version), least - 1, -1):
                for style in styles:
                    plan = _Trial(words, screen, version, level, module, style).plan()
                    if plan is not None:
                        return plan
    return None


def words_of(title: str, version: str, phase: str, warning: str, labels: tuple[str, str], build_code: str = BUILD_LINE) -> Words:
    """Return what a notice says, each letter one character where Unicode has it so."""
    title, warning, first, second = (unicodedata.normalize("NFC", text) for text in (title.upper(), warning, *labels))
    return Words(title, f"{version}  {phase.upper()}", f"{_BUILD}{build_code}", warning, (first, second))


def tiles_problem(
    words: Words, link_bytes: tuple[int, int], screen: TileScreen, correction: Correction = "M"
) -> tuple[str, str] | None:
    """Return what is wrong with a notice that cannot be made, and which of its words or links to shorten; or None."""
    if plan_tiles(words, link_bytes, screen, correction) is not None:
        return None
    return _wrong(words, link_bytes, screen, correction), _remedy(words, link_bytes, screen, correction)


def _wrong(words: Words, link_bytes: tuple[int, int], screen: TileScreen, correction: Correction) -> str:
    version = code_version(max(link_bytes), correction)
    if version is None:
        return f"a link of {max(link_bytes)} bytes with the build code is too long for any code"
    trial = _Trial(words, screen, version, correction, LEAST_MODULE_PIXELS, _STYLES[-1])
    across, down = trial.room
    where = f"in the {screen.safe} % of each side that are title-safe" if screen.safe < 100 else "on the screen"
    needs = [
        ("columns of tiles", trial.needed_columns(), across, where), ("rows of tiles", trial.needed_rows(), down, where),
        ("different tiles", min(trial.tiles(planes) for planes in trial.ways_to_hold()), screen.most, "in the tile memory"),
    ]  # fmt: skip
    lacking = [f"{need:,} {what} ({has:,} are {place})" for what, need, has, place in needs if need > has]
    return f"codes of {LEAST_MODULE_PIXELS} pixels a module and the text need {' and '.join(lacking)}"


def _remedy(words: Words, link_bytes: tuple[int, int], screen: TileScreen, correction: Correction) -> str:
    """Name each single thing that would be enough."""

    def fits(words: Words, lengths: tuple[int, int] = link_bytes, screen: TileScreen = screen, level: Correction = correction) -> bool:
        return plan_tiles(words, lengths, screen, level) is not None

    ways = []
    rooms = [longest_link(code_modules(version), correction) for version in range(code_version(max(link_bytes), correction) or 20, 0, -1)]
    most = next((room for room in rooms if room < max(link_bytes) and fits(words, (room, room))), 0)
    if most:
        ways.append(f"use links of at most {most} bytes with the build code: shorten by {max(link_bytes) - most}")
    for key, text in (("warning", words.warning), ("title", words.title), ("labels", max(words.labels, key=len))):
        kept = next((count for count in range(len(text) - 1, 0, -1) if fits(_cut(words, key, count))), 0)
        if kept:
            ways.append(f"shorten the {key} by {counted(len(text) - kept, 'character')}")
    if correction != CORRECTIONS[-1] and fits(words, level=CORRECTIONS[-1]):
        ways.append(f'set correction = "{CORRECTIONS[-1]}" for the screen, which makes smaller codes')
    if screen.safe < 100 and fits(words, screen=dataclasses.replace(screen, safe=100)):
        ways.append("set title_safe = 100 in the target file, if nothing is cut off on this console's screens")
    return "; or ".join(ways) or "shorten links, warning and labels, or leave the [screen] out and print the codes only"


def _cut(words: Words, key: str, count: int) -> Words:
    if key == "labels":
        return words._replace(labels=(words.labels[0][:count], words.labels[1][:count]))
    return words._replace(**{key: getattr(words, key)[:count]})


def _largest_module(screen: TileScreen, version: int) -> int:
    left, top, right, bottom = safe_area(*screen.size, screen.safe)
    return min(_LARGEST, (right - left) // (2 * code_modules(version)), (bottom - top) // code_modules(version))


class _Trial:
    """A notice of one style with modules of one size: what it needs, and the plan if that is there."""

    def __init__(self, words: Words, screen: TileScreen, version: int, correction: Correction, module: int, style: _Style) -> None:
        self.screen, self.version, self.module, self.style = screen, version, module, style
        self.correction: Correction = correction
        wide, high = screen.tile
        left, top, right, bottom = safe_area(*screen.size, screen.safe)
        self.first = (-(-left // wide), -(-top // high))
        self.room = (right // wide - self.first[0], bottom // high - self.first[1])
        side = code_modules(version) * module
        self.card = (-(-side // wide), -(-side // high))
        self.inset = self._best_inset()
        self.rise = self._spare_of_card()
        self.tall_labels = self._form(1, style.tall)
        self.groups, self.labels = self._lines(words)
        if not self.tall_labels and self.needed_rows() + style.spare < self.room[1]:
            self.tall_labels = True
            self.groups, self.labels = self._lines(words)
            if self.needed_rows() + style.spare > self.room[1] or min(map(self.tiles, self.ways_to_hold())) > screen.most:
                self.tall_labels = False
                self.groups, self.labels = self._lines(words)

    def _best_inset(self) -> tuple[int, int]:
        """Return the place of the first module in its card, at least the quiet zone from its edges, that makes the fewest tiles."""
        quiet, modules = QUIET * self.module, code_modules(self.version) - 2 * QUIET
        side = modules * self.module
        places = [
            range(quiet, count * one - side - quiet + 1) for count, one in zip(self.card, self.screen.tile, strict=True)
        ]
        fewest = [min(room, key=lambda at: (len(_touched(at, side, one)), at)) for room, one in zip(places, self.screen.tile, strict=True)]
        aligned = [next((at for at in room if at % self.module == 0), fewest[axis]) for axis, room in enumerate(places)]
        insets = ((fewest[0], fewest[1]), (aligned[0], aligned[1]))
        return min(insets, key=self._code_tiles)

    def _code_tiles(self, inset: tuple[int, int]) -> int:
        """Return the most different cells that modules of both codes make."""
        side = self.module * (code_modules(self.version) - 2 * QUIET)
        cells = [len(_touched(at, side, one)) for at, one in zip(inset, self.screen.tile, strict=True)]
        count = 2 * cells[0] * cells[1]
        if all(one % self.module == 0 and at % self.module == 0 for at, one in zip(inset, self.screen.tile, strict=True)):
            modules = (self.screen.tile[0] // self.module) * (self.screen.tile[1] // self.module)
            count = min(count, 1 << min(modules, 24))
        return count

    def _spare_of_card(self) -> int:
        """Return the pixels at a card's lower edge that a label may have: below the quiet zone, where no tile holds modules."""
        high, side = self.screen.tile[1], self.module * (code_modules(self.version) - 2 * QUIET)
        bottom = self.card[1] * high
        return min(_AIR, bottom - self.inset[1] - side - QUIET * self.module, bottom - _touched(self.inset[1], side, high).stop * high)

    def _lines(self, words: Words) -> tuple[list[list[_Line | None]], list[list[str]] | None]:
        """Return groups of lines, None for one that does not fit; and the lines of each label."""
        style, across = self.style, self.room[0] * self.screen.tile[0]
        both, build = f"{words.version}  {words.build}", list[_Line | None]()
        if (len(both) + _MARGIN) * LETTER > across:
            both = both.replace("  ", " ")
        if style.build:
            info = self._text(INFO, words.version, 1, style.tall, across)
            build = self._text(BUILD, words.build, style.build, style.tall, across)
        elif len(both) * LETTER <= across:
            info = self._text(INFO, both, 1, style.tall, across)
        else:
            info = [line for part in (words.version, words.build) for line in self._text(INFO, part, 1, style.tall, across)]
        title = self._text(TITLE, words.title, style.title, style.title_tall, across)
        warning = self._text(WARNING, words.warning, 1, style.tall, across) if words.warning else []
        most = self.card[0] * self.screen.tile[0] // LETTER
        labels = [_wrapped(label if self.tall_labels else label.upper(), most) for label in words.labels]
        fitting = [lines for lines in labels if lines is not None]
        return [title, info, build, warning], fitting if len(fitting) == 2 else None

    def _text(self, role: Role, words: str, scale: int, tall: bool, across: int) -> list[_Line | None]:
        while scale > 1 and len(words) * LETTER * scale > across:
            scale, tall = scale - 1, True
        tall = self._form(scale, tall)
        words = words if tall else words.upper()
        most = across // LETTER // scale
        lines, shorter = _wrapped(words, most), _wrapped(words, most - _MARGIN)
        if lines and shorter and len(shorter) == len(lines):
            lines = shorter
        return [None] if lines is None else [_Line(role, line, scale, tall) for line in lines]

    def _form(self, scale: int, tall: bool) -> bool:
        """Return whether letters are tall: where small ones would take as many tiles, they are."""
        return tall or self.height(scale, tall) == self.height(scale, True)

    def height(self, scale: int, tall: bool) -> int:
        """Return the rows of tiles that a line of text takes."""
        return -(-(_ink_height(tall) * scale + _AIR) // self.screen.tile[1])

    def label_rows(self) -> int:
        """Return the rows of tiles that the labels take; one more where their bars would end at their letters."""
        one = self.height(1, self.tall_labels)
        rows = max((len(lines) for lines in self.labels or []), default=1) * one
        return rows + (one * self.screen.tile[1] + self.rise < _ink_height(self.tall_labels) + 2 * _AIR)

    def needed_rows(self) -> int:
        """Return the rows of tiles that all parts take one below the other."""
        texts = [line for group in self.groups for line in group if line is not None]
        return sum(self.height(scale, tall) for _, _, scale, tall in texts) + self.card[1] + self.label_rows()

    def needed_columns(self) -> int:
        """Return the columns of tiles that the widest part takes; more than there are where a word does not fit."""
        lost = self.labels is None or any(line is None for group in self.groups for line in group)
        return max(2 * self.card[0], self.room[0] + 1 if lost else 0)

    def ways_to_hold(self) -> list[int]:
        """Return the numbers of planes with which tiles may hold cells of codes, 0 first."""
        spare = min(self.screen.bits, self.screen.lines - len(line_colours(self.screen)))
        return [0, spare] if spare > 1 else [0]

    def tiles(self, planes: int) -> int:
        """Return the most tiles that all takes."""
        codes = self._code_tiles(self.inset)
        return _BARE + (_EDGE if self.rise else 0) + self._text_tiles() + (-(-codes // planes) if planes else codes)

    def _text_tiles(self) -> int:
        """Count the different columns of letters, which every line of the same role shares."""
        (wide, high), seen = self.screen.tile, dict[tuple, int]()
        for role, words, scale, tall in (line for group in self.groups for line in group if line is not None):
            for key in _columns(words, scale, wide):
                seen[role, scale, tall, key] = self.height(scale, tall)
        for role, lines in zip(LABELS, self.labels or [], strict=False):
            for words, left, top in self._label_places(lines):
                rows = _touched(top, _ink_height(self.tall_labels), high)
                for key in _columns(words, 1, wide, left):
                    seen[role, top % high, key] = len(rows)
        return sum(seen.values())

    def _label_places(self, lines: list[str]) -> list[tuple[str, int, int]]:
        """Return the lines of a label, left and top in pixels from the tiles of its bar, in whose middle they are.

        Letters of a label seldom repeat, so that it costs few tiles not to begin with one.
        """
        wide, high = self.screen.tile
        one, ink = self.height(1, self.tall_labels) * high, _ink_height(self.tall_labels)
        top = max(0, self.label_rows() * high - (len(lines) - 1) * one - ink - self.rise) // 2
        return [(words, (self.card[0] * wide - len(words) * LETTER) // 2, top + rank * one) for rank, words in enumerate(lines)]

    def plan(self) -> TilePlan | None:
        """Return the plan if all of it fits."""
        if self.needed_columns() > self.room[0] or self.needed_rows() + self.style.spare > self.room[1]:
            return None
        planes = next((planes for planes in self.ways_to_hold() if self.tiles(planes) <= self.screen.most), None)
        return None if planes is None else self._placed(planes)

    def _placed(self, planes: int) -> TilePlan:
        spare, free = self.room[1] - self.needed_rows(), [0] * len(self.groups)
        for after in self._wanted_gaps()[:spare]:
            free[after] += 1
        row = self.first[1] + (spare - sum(free)) // 2
        texts = []
        for group, below in zip(self.groups, free, strict=True):
            for line in group:
                if line is not None:
                    texts.append(self._centred(line, self.first[0], self.room[0], row))
                    row += self.height(line.scale, line.tall)
            row += below
        between = (self.room[0] - 2 * self.card[0]) // 3
        lefts = self.first[0] + between, self.first[0] + self.room[0] - between - self.card[0]
        bars = tuple((left, row + self.card[1], self.card[0], self.label_rows()) for left in lefts)
        return TilePlan(
            columns=-(-self.screen.size[0] // self.screen.tile[0]),
            rows=-(-self.screen.size[1] // self.screen.tile[1]),
            texts=(*texts, *self._label_lines(bars)),
            bars=bars,
            rise=self.rise,
            cards=((lefts[0], row), (lefts[1], row)),
            card=self.card,
            module=self.module,
            version=self.version,
            correction=self.correction,
            inset=self.inset,
            planes=planes,
            tiles=self.tiles(planes),
        )

    def _wanted_gaps(self) -> list[int]:
        """Return the groups of lines below which a free row looks best, the most wanted first; the last is above the cards."""
        title, info, build, warning = range(len(self.groups))
        if self.groups[build]:
            return [warning, build, title, info, warning, title]
        return [warning, title, info, warning, title]

    def _label_lines(self, bars: tuple[tuple[int, int, int, int], ...]) -> list[TextLine]:
        wide, high = self.screen.tile
        return [
            TextLine(role, words, left * wide + across, top * high + down, 1, self.tall_labels)
            for role, lines, (left, top, _, _) in zip(LABELS, self.labels or [], bars, strict=True)
            for words, across, down in self._label_places(lines)
        ]

    def _centred(self, line: _Line, first: int, room: int, row: int) -> TextLine:
        """Return a line in the middle of some columns of tiles, from a whole tile on, and in the middle of its rows."""
        wide, high = self.screen.tile
        taken = -(-len(line.words) * LETTER * line.scale // wide)
        free = self.height(line.scale, line.tall) * high - _ink_height(line.tall) * line.scale
        return TextLine(line.role, line.words, (first + (room - taken) // 2) * wide, row * high + free // 2, line.scale, line.tall)


def _ink_height(tall: bool) -> int:
    """Return the rows of pixels that letters take at most."""
    return LINE if tall else CAPITALS


def _columns(words: str, scale: int, tile: int, start: int = 0) -> set[tuple]:
    """Return the different columns of tiles that a line makes: which letters are in each, and where; blank ones are not counted.

    Args:
        start: of the line, in pixels from the left of a tile.
    """
    box, columns = LETTER * scale, {}
    volatile = range(words.index(_BUILD) + len(_BUILD) if _BUILD in words else len(words), len(words))
    for rank, letter in enumerate(words):
        if letter == " ":
            continue
        left = start + rank * box
        for column in _touched(left, box, tile):
            name = f"sign {rank - volatile.start}" if rank in volatile else letter
            columns.setdefault(column, []).append((name, left - column * tile))
    return {tuple(letters) for letters in columns.values()}


def _touched(start: int, count: int, tile: int) -> range:
    return range(start // tile, -(-(start + count) // tile))


def _wrapped(words: str, most: int) -> list[str] | None:
    """Return words in the fewest lines of at most this many characters; None when a word is longer than a line.

    Of several ways to break them, lines of about one length look best, and a break after a sentence better still.
    """
    lines, parts = _greedy(words, most), words.split()
    if lines is None or not 2 <= len(lines) <= _BALANCED:
        return lines
    ways = []
    for breaks in itertools.combinations(range(1, len(parts)), len(lines) - 1):
        broken = [" ".join(parts[start:end]) for start, end in itertools.pairwise((0, *breaks, len(parts)))]
        longest = max(len(line) for line in broken)
        if longest <= most:
            ways.append((longest - _SENTENCE * sum(line[-1] in ".!?…:" for line in broken[:-1]), broken))
    return min(ways)[1]


def _greedy(words: str, most: int) -> list[str] | None:
    if len(words) <= most:
        return [words]
    lines, line = [], ""
    for word in words.split():
        if len(word) > most:
            return None
        longer = f"{line} {word}".strip()
        if len(longer) > most:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line]
