"""The boot notice of a console that draws tiles: drawn at whole tiles, cut into tiles and a map, and its codes read back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.blob import entry_bytes, put_record, save_blob, save_facts
from pipeline.assets.intent import Intent
from pipeline.assets.map_words import map_bytes, map_masks
from pipeline.assets.notices.codes import (
    SAFE,
    CodePlaces,
    NoticeText,
    Safe,
    notice_text,
    on_television,
    paste_code,
    read_back,
    shown_reading,
)
from pipeline.assets.notices.letters import letter_box
from pipeline.joints.codes import code_matrix
from pipeline.joints.facts import ScreenFacts, ScreenTiles
from pipeline.joints.layouts import TILED_SCREEN, TILED_SCREEN_VERSION
from pipeline.joints.links import QUIET, code_modules
from pipeline.joints.notice import GROUND, INK, LINE, PAPER
from pipeline.joints.pixel_size import one_part
from pipeline.joints.places import BlobFiles
from pipeline.notices.places import tiled_screen_places
from pipeline.notices.tile_plan import (
    CAPITALS,
    CODES,
    LABELS,
    LETTER,
    Console,
    TextLine,
    TilePlan,
    TileScreen,
    entry_count,
    line_colours,
    line_of,
    plan_tiles,
    tiles_problem,
    words_of,
)
from pipeline.pixels.colours.apply import EntryFinder
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.pack import pack_picture
from pipeline.pixels.tiles.tiles import Tiles, cut, encode_map, join
from pipeline.plain.errors import refuse
from pipeline.project.assets import Screen
from pipeline.target.records import PictureRules


def make_tiled_screen(
    code_file: Path,
    out: BlobFiles,
    name: str,
    spec: Screen,
    game: dict[str, str],
    links: dict[str, str],
    console: Console,
    pixel_aspect: tuple[int, int] = (1, 1),
    safe: Safe = SAFE,
) -> str:
    """Draw the notice of the build whose code is in ``work/build_code.json``; see ``draw_tiled_screen``."""
    return draw_tiled_screen(out, name, spec, notice_text(code_file, game, links), console, pixel_aspect, safe)


def draw_tiled_screen(
    out: BlobFiles,
    name: str,
    spec: Screen,
    text: NoticeText,
    console: Console,
    pixel_aspect: tuple[int, int] = (1, 1),
    safe: Safe = SAFE,
) -> str:
    """Draw the notice, write its blob of tiles and map, and facts; return one line about it.

    Args:
        safe: percents of each side that televisions show, and in which text and codes stay.

    Raises:
        ProjectError: something does not fit the title-safe part of the screen or the tile memory, or a code does not read after
            conversion, cut off as televisions do, or from a photo of a television.
    """
    screen, rules, cutting, alignment = console.screen, console.rules, console.cutting, console.alignment
    plan = _plan(name, spec, text, screen)
    picture, lines = _draw(plan, text, screen)
    tiles, lines = _cut(picture, lines, plan, console)
    if len(tiles.tiles) > plan.tiles:
        raise RuntimeError(f"{len(tiles.tiles)} tiles, at most {plan.tiles} were reckoned")
    entries = _entries(screen, plan.planes, rules)
    places = _places(plan, screen)
    pixels = _placed(tiles, lines, console)
    wide, high = screen.size
    shown = np.ascontiguousarray(_shown(pixels, entries, rules)[:high, :wide])
    read_back(name, shown, places, text, safe)
    television = on_television(name, shown, places, text, pixel_aspect)
    intent = Intent()
    intent.add(pixels)
    at = tiled_screen_places(plan, len(entries), rules, cutting, alignment)
    facts = ScreenFacts(
        **save_blob(out.content, name, [_blob(tiles, lines, entries, plan, console)], spec.origin),
        width=wide,
        height=high,
        **places.facts((spec.feedback_label, spec.bugs_label), text),
        intent=intent.facts(),
        tv=television,
        tiles=ScreenTiles(
            tile=screen.tile,
            tile_count=len(tiles.tiles),
            tile_room=plan.tiles,
            tile_bytes=at.tile_bytes,
            columns=plan.columns,
            rows=plan.rows,
            map_entry=cutting.entry.text,
            first_tile=0,
            planes=plan.planes,
            entry_count=len(entries),
        ),
    )
    count = f"{len(tiles.tiles)} tiles of at most {screen.most:,}"
    return f"{wide} x {high}, {count}, {shown_reading(places, television)}, {save_facts(out.facts, facts)}"


def _plan(name: str, spec: Screen, text: NoticeText, screen: TileScreen) -> TilePlan:
    words = words_of(text.title, text.version, text.phase, spec.warning, (spec.feedback_label, spec.bugs_label), text.build_code)
    given = words, text.link_bytes(), screen, spec.correction
    plan, problem = plan_tiles(*given), tiles_problem(*given)
    if plan is None or problem is not None:
        raise refuse("project.toml", f"[screen.{name}]", *(problem or ("does not fit", "shorten it")))
    return plan


def _draw(plan: TilePlan, text: NoticeText, screen: TileScreen) -> tuple[Image.Image, np.ndarray]:
    """Return the whole map's picture, and the line of the palette of each of its cells."""
    wide, high = screen.tile
    picture = Image.new("RGB", (plan.columns * wide, plan.rows * high), GROUND)
    lines = np.zeros((plan.rows, plan.columns), dtype=np.int64)
    boxes = [(*card, *plan.card, CODES, 0) for card in plan.cards]
    boxes += [(*bar, role, plan.rise) for bar, role in zip(plan.bars, LABELS, strict=True)]
    for left, top, across, down, role, rise in boxes:
        picture.paste(role.ground, (left * wide, top * high - rise, (left + across) * wide, (top + down) * high))
        lines[top : top + down, left : left + across] = line_of(role, screen)
    for line in plan.texts:
        _write(picture, line)
    for (left, top), link in zip(_places(plan, screen).codes, (text.feedback, text.bugs), strict=True):
        paste_code(picture, code_matrix(link, plan.version, plan.correction), left, top, plan.module)
    return picture, lines


def _write(picture: Image.Image, line: TextLine) -> None:
    height = LINE if line.tall else CAPITALS
    for rank, letter in enumerate(line.words):
        box = np.kron(letter_box(letter, height, line.words), np.ones((line.scale, line.scale), dtype=bool))
        picture.paste(line.role.ink, (line.left + rank * LETTER * line.scale, line.top), Image.fromarray(box))


def _places(plan: TilePlan, screen: TileScreen) -> CodePlaces:
    quiet = QUIET * plan.module
    first, second = (
        (left * screen.tile[0] + plan.inset[0] - quiet, top * screen.tile[1] + plan.inset[1] - quiet) for left, top in plan.cards
    )
    return CodePlaces(plan.module, plan.module * code_modules(plan.version), (first, second), plan.version, plan.correction)


def _cut(picture: Image.Image, lines: np.ndarray, plan: TilePlan, console: Console) -> tuple[Tiles, np.ndarray]:
    """Return the tiles of pixels, and each cell's line of the palette."""
    screen, rules, cutting = console.screen, console.rules, console.cutting
    drawn = np.array(picture)
    if not screen.bits:
        return cut(to_words(drawn, rules.pixel_format.pixel), *screen.tile, *cutting.flips), lines
    dark = (drawn == INK).all(axis=2)
    if plan.planes:
        _blank_codes(drawn, plan, screen)
    pixels = np.zeros(drawn.shape[:2], dtype=np.uint32)
    of_pixels = np.repeat(np.repeat(lines, screen.tile[1], axis=0), screen.tile[0], axis=1)
    for line, colours in enumerate(line_colours(screen)):
        words = to_words(np.array(colours, dtype=np.uint8), rules.entry)
        found = EntryFinder(to_rgb(words, rules.entry), rules.entry).find(drawn)
        pixels = np.where(of_pixels == line, found, pixels).astype(np.uint32)
    tiles = cut(pixels, *screen.tile, *cutting.flips)
    return _with_planes(tiles, lines, dark, plan, console) if plan.planes else (tiles, lines)


def _code_places(plan: TilePlan, screen: TileScreen) -> list[tuple[int, int]]:
    """Return row and column of every cell that modules of a code touch."""
    across, down = plan.code_cells(screen.tile)
    return [(top + row, left + column) for left, top in plan.cards for row in down for column in across]


def _blank_codes(drawn: np.ndarray, plan: TilePlan, screen: TileScreen) -> None:
    wide, high = screen.tile
    for row, column in _code_places(plan, screen):
        drawn[row * high : (row + 1) * high, column * wide : (column + 1) * wide] = PAPER


def _with_planes(
    tiles: Tiles, lines: np.ndarray, dark: np.ndarray, plan: TilePlan, console: Console
) -> tuple[Tiles, np.ndarray]:
    """Return tiles with further ones for the codes: each holds as many of their cells as there are planes, one in each bit of its pixels.

    The line of the palette that a map entry chooses shows one bit and hides the others.
    """
    (wide, high), places = console.screen.tile, _code_places(plan, console.screen)
    stacked = np.concatenate([dark[row * high : (row + 1) * high, column * wide : (column + 1) * wide] for row, column in places])
    cells = cut(stacked.astype(np.uint32), wide, high, *console.cutting.flips)
    more = np.zeros((-(-len(cells.tiles) // plan.planes), high, wide), dtype=np.uint32)
    for rank, cell in enumerate(cells.tiles):
        more[rank // plan.planes] |= cell << np.uint32(rank % plan.planes)
    index, flips, lines = tiles.map_index.copy(), tiles.map_flips.copy(), lines.copy()
    first_line = len(line_colours(console.screen))
    for place, rank, flip in zip(places, cells.map_index[:, 0].tolist(), cells.map_flips[:, 0].tolist(), strict=True):
        index[place] = len(tiles.tiles) + rank // plan.planes
        flips[place] = flip
        lines[place] = first_line + rank % plan.planes
    return Tiles(np.concatenate([tiles.tiles, more]), index, flips), lines


def _entries(screen: TileScreen, planes: int, rules: PictureRules) -> np.ndarray:
    """Return the words of the notice's own palette, line after line: uint32."""
    entries = np.zeros(entry_count(screen, planes), dtype=np.uint32)
    for line, colours in enumerate(line_colours(screen, planes)):
        at = line << screen.bits
        entries[at : at + len(colours)] = to_words(np.array(colours, dtype=np.uint8), rules.entry)
    return entries


def _placed(tiles: Tiles, lines: np.ndarray, console: Console) -> np.ndarray:
    """Return what the image must decode to: pixels, as places in the console's whole palette where the map chooses lines."""
    (wide, high), bits = console.screen.tile, console.screen.bits
    pixels = join(tiles)
    if bits and console.cutting.entry.bits("c"):
        pixels = pixels + (np.repeat(np.repeat(lines, high, axis=0), wide, axis=1) << bits)
    return pixels.astype(np.uint32)


def _shown(pixels: np.ndarray, entries: np.ndarray, rules: PictureRules) -> np.ndarray:
    return to_rgb(entries[pixels], rules.entry) if len(entries) else to_rgb(pixels, rules.pixel_format.pixel)


def _blob(tiles: Tiles, lines: np.ndarray, entries: np.ndarray, plan: TilePlan, console: Console) -> bytes:
    screen, rules, cutting = console.screen, console.rules, console.cutting
    at = tiled_screen_places(plan, len(entries), rules, cutting, console.alignment)
    head = put_record(
        TILED_SCREEN,
        rules.byte_order,
        version=TILED_SCREEN_VERSION,
        pixel_format=rules.rank,
        width=plan.columns * screen.tile[0],
        height=plan.rows * screen.tile[1],
        entry_bytes=cutting.entry.bytes,
        tile_width=screen.tile[0],
        tile_height=screen.tile[1],
        columns=plan.columns,
        rows=plan.rows,
        tile_count=len(tiles.tiles),
        tile_bytes=at.tile_bytes,
        map=at.map,
        tiles=at.tiles,
        entry_count=len(entries),
        line_entries=1 << screen.bits if screen.bits else 0,
        entries=at.entries,
        tile_room=plan.tiles,
        **map_masks(cutting),
    )
    below = tiles.tiles.reshape(-1, screen.tile[0])
    packed = pack_picture(below, one_part(rules.pixel_format), rules.pixel_order, screen.tile, rules.starts.tile)
    table = map_bytes(encode_map(tiles, cutting.entry, 0, lines if cutting.entry.bits("c") else None), cutting)
    start = (head.ljust(at.entries, b"\0") + entry_bytes(entries.tolist(), rules)).ljust(at.map, b"\0")
    blob = (start + table).ljust(at.tiles, b"\0") + packed
    return blob.ljust(at.bytes, b"\0")
