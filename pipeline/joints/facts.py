"""Facts: what conversion found out about an asset, a record for each kind, in the file beside its blob.

``blobs/NAME.json`` holds one of the records below, its ``kind`` first; ``blobs/NAME.packed.json`` a ``PackedFacts``, where the
asset is packed (see ``places``). Only this module reads and writes them. Sizes are whole numbers of at least 0, of bytes unless
a field says otherwise; sums are lower-case hex; a colour error is CIEDE2000 between the scaled art and what the console shows.
"""

from __future__ import annotations

import functools
import operator
from pathlib import Path
from typing import Annotated, Literal, TypeVar

import msgspec
from msgspec import Meta

from pipeline.joints.places import FactsFiles
from pipeline.plain.errors import refuse
from pipeline.plain.files import FileRecord, decode_record, read_record, write_record

FORMAT = 1
Count = Annotated[int, Meta(ge=0)]
Side = Annotated[int, Meta(ge=1)]
Number16 = Annotated[int, Meta(ge=-0x8000, le=0x7FFF)]
Rgb = tuple[Annotated[int, Meta(ge=0, le=255)], Annotated[int, Meta(ge=0, le=255)], Annotated[int, Meta(ge=0, le=255)]]
Crc32 = Annotated[str, Meta(pattern="^[0-9a-f]{8}$(?!\\n)")]
Sha256 = Annotated[str, Meta(pattern="^[0-9a-f]{64}$(?!\\n)")]


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a field of facts holds."""


class Facts(FileRecord, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind"):
    """What the facts of every kind hold.

    Attributes:
        name: of the asset.
        bytes: of the blob; in what ``image_facts`` returns, of its form in the image. The same goes for the next four fields.
        unpacked_bytes: what it takes in memory, unpacked.
        codec: a name of ``target.fields.CODEC_NUMBERS``; ``stored`` in the file.
        crc32: CRC-32/ISO-HDLC.
        sha256: SHA-256.
        origin: where the art comes from and under which terms, as the author says; empty where nothing is said.
        remarks: what the author should know of it and the build does not refuse, a sentence without a full stop each.
        padding: bytes of the blob, unpacked, that are there only because rows, frames, cells, tiles or glyphs start where the target says.
        unpacked_sha256, tried: of a packed asset, in what ``image_facts`` returns; see ``PackedFacts``. None in the file.
    """

    name: str
    bytes: Count
    unpacked_bytes: Count
    codec: str
    crc32: Crc32
    sha256: Sha256
    origin: str
    remarks: list[str] = msgspec.field(default_factory=list)
    padding: Count = 0
    unpacked_sha256: Sha256 | None = None
    tried: dict[str, Count] | None = None

    @property
    def kind(self) -> str:
        """Return the kind of the asset, one of ``target.kinds.KINDS``."""
        return str(self.__struct_config__.tag)


class IntentFacts(_Part, frozen=True, kw_only=True):
    """What the image must decode to.

    Attributes:
        shape: of pictures frames, height and width, padded to whole cells; of a sound its samples.
        sha256: of pixels (indices or words) as unsigned, of samples as signed 32-bit little-endian numbers.
    """

    shape: list[Count]
    sha256: Sha256


class ColourError(_Part, frozen=True, kw_only=True):
    """How far colours are from the art; all numbers to 3 decimals.

    Attributes:
        frames, pixels: how many were compared: all frames, their opaque pixels.
        mean, p95: over these pixels; None where there is none, as the next two.
        worst_frame: number of the frame with the largest mean, the first of those as bad.
        worst_mean: its mean.
    """

    frames: Count
    pixels: Count
    mean: float | None
    p95: float | None
    worst_frame: Count | None
    worst_mean: float | None


class SeenError(_Part, frozen=True, kw_only=True):
    """What a Gaussian blur of one pixel in linear light, as of an eye, leaves of a picture's colour error.

    Attributes:
        nearest: mean CIEDE2000 of the blurred picture and of the blurred one in which each pixel has its nearest entry, to 3 decimals.
        stored: the same of what is stored.
        mixed: pixels that hold another entry than the nearest.
    """

    nearest: float
    stored: float
    mixed: Count


class Animation(_Part, frozen=True, kw_only=True):
    """An animation of a sprite: its name, whether it starts again at its end, and for each step a frame and screen pictures."""

    name: str
    loop: bool
    steps: list[tuple[Count, Annotated[int, Meta(ge=1, le=65535)]]]


class HardwareSprites(_Part, frozen=True, kw_only=True):
    """What a sprite's frames ask of hardware that draws sprites line by line; only where the target limits that.

    Attributes:
        unit: largest picture of one hardware sprite, in pixels.
        frames: for each frame its hardware sprites, most of them on one line, the first such line from its top, and most pixels on a line.
    """

    unit: tuple[Side, Side]
    frames: list[tuple[Count, Count, int, Count]]

    def most(self, limit: str) -> int:
        """Return the most that a frame takes of ``line_sprites``, ``line_pixels`` or ``picture_sprites``."""
        place = {"picture_sprites": 0, "line_sprites": 1, "line_pixels": 3}[limit]
        return max((frame[place] for frame in self.frames), default=0)


class StoredSheet(_Part, frozen=True, kw_only=True, tag_field="arrangement", tag="sheet"):
    """Frames as whole rectangles: cells across and down, and bytes of each."""

    cells: tuple[Count, Count]
    frame_bytes: Count


class StoredFrames(_Part, frozen=True, kw_only=True, tag_field="arrangement", tag="frames"):
    """Trimmed frames: how many different ones are stored, and their cells."""

    stored_frames: Count
    stored_cells: Count


class Trade(_Part, frozen=True, kw_only=True):
    """What fewer transfers cost a sprite in pieces.

    Attributes:
        cells, runs: distinct cells stored, and runs of cells over all frames, each in one run.
        shared_cells, shared_runs: the same where equal cells are stored once.
        cell_bytes: of one cell.
    """

    cells: Count
    runs: Count
    shared_cells: Count
    shared_runs: Count
    cell_bytes: Count


def show_trade(trade: Trade) -> str:
    """Return what fewer transfers cost a sprite, for a person."""
    more = (trade.cells - trade.shared_cells) * trade.cell_bytes
    cells = f"{trade.cells:,} cells instead of {trade.shared_cells:,} ({more:+,} bytes)"
    return f"{cells} for {trade.runs:,} runs of cells instead of {trade.shared_runs:,} over all frames"


class StoredPieces(_Part, frozen=True, kw_only=True, omit_defaults=True, tag_field="arrangement", tag="pieces"):
    """Frames made of cells.

    Attributes:
        pieces: of all frames.
        cell_count: cells that a piece can name: the sprite's own, or all of its pool.
        own_cells: different cells of the sprite itself.
        pool: that holds the cells; None where the blob holds them.
        prepared: the form in which its pieces are drawn, as in the project file.
        trade: with each frame's cells in one run: what that costs.
    """

    pieces: Count
    cell_count: Count
    own_cells: Count
    pool: str | None
    prepared: str = "none"
    trade: Trade | None = None


class SpriteFacts(Facts, frozen=True, kw_only=True, tag="sprite"):
    """Facts of a sprite.

    Attributes:
        frames: how many.
        width, height: of a scaled frame, in pixels; ``source_width``, ``source_height``: as drawn.
        scale: factors across and down, above 0.
        anchor: the point that stays in place, in pixels from a frame's top left.
        stored: how frames are stored; its tag is the arrangement of the project file.
        palette: that colours it; None for direct colour.
        wander: of a sprite with align, for each animation the pixels across and down over which the figure's feet wander.
        sheet_bytes: pixels of all frames as whole rectangles; ``frames_bytes``: of all different frames, trimmed, and their
            table; ``opaque_bytes``: of their opaque pixels alone.
        hardware: what its frames ask of the console; None where the target limits nothing of that.
    """

    frames: Side
    width: Side
    height: Side
    source_width: Side
    source_height: Side
    scale: tuple[float, float]
    anchor: tuple[Number16, Number16]
    stored: StoredSheet | StoredFrames | StoredPieces
    palette: str | None
    animations: list[Animation]
    sheet_bytes: Count
    frames_bytes: Count
    opaque_bytes: Count
    intent: IntentFacts
    colour_error: ColourError
    wander: dict[str, tuple[Count, Count]] = {}
    hardware: HardwareSprites | None = None

    @property
    def arrangement(self) -> str:
        """Return the arrangement of the project file, which is the tag of ``stored``."""
        return str(self.stored.__struct_config__.tag)


class PoolFacts(Facts, frozen=True, kw_only=True, tag="pool"):
    """Facts of a pool.

    Attributes:
        cell_count: different cells.
        cell: width and height of one, in pixels.
        pieces: of all sprites that use it.
        users: their names, in the order in which their cells are kept.
        clear: what a transparent pixel holds.
        sheet_bytes, frames_bytes, opaque_bytes: the sums of theirs; see ``SpriteFacts``.
    """

    cell_count: Count
    cell: tuple[Side, Side]
    pieces: Count
    users: list[str]
    clear: Count
    sheet_bytes: Count
    frames_bytes: Count
    opaque_bytes: Count
    intent: IntentFacts


class FormBytes(_Part, frozen=True, kw_only=True):
    """What a form of a background takes; see ``pixels.tiles.compare.compare``."""

    image_bytes: Count
    memory_bytes: Count
    window_bytes: Count
    moved_bytes: Count


class TilesBytes(FormBytes, frozen=True, kw_only=True):
    """The same of tiles, and how many tiles there are, a window needs, and the step brings that moves most bytes."""

    tiles: Count
    window_tiles: Count
    moved_tiles: Count


class Forms(_Part, frozen=True, kw_only=True):
    """Both forms of a background, whichever is stored, and what a comparison of layers needs.

    Attributes:
        size: of the picture in pixels, without padding; ``window``: of the part that is seen.
        pan: pixels that the window moves across and down from one screen picture to the next.
        tile: width and height of a tile, in pixels.
        mirrored: whether a map entry can mirror its tile left to right, and top to bottom.
        distinct, distinct_mirrored: different tiles as they are, and where mirrored ones count once.
        lines: of palettes that tiles use.
        tile_count: tiles that are, or would be, stored; ``tile_bytes``, ``entry_bytes``: of a tile and of a map entry.
        pixel_bits: of a pixel of the bitmap; ``bitmap_bytes``: of its whole.
    """

    size: tuple[Side, Side]
    window: tuple[Side, Side]
    pan: tuple[int, int]
    tile: tuple[Side, Side]
    mirrored: tuple[bool, bool]
    distinct: Count
    distinct_mirrored: Count
    lines: Count
    tile_count: Count
    tile_bytes: Count
    entry_bytes: Count
    pixel_bits: Count
    bitmap_bytes: Count
    bitmap: FormBytes
    tiles: TilesBytes


class TilesError(_Part, frozen=True, kw_only=True):
    """Colour error over pixels (``mean``, ``p95``), mean of the worst tile, and that tile's column and row."""

    mean: float
    p95: float
    worst: float
    worst_cell: tuple[Count, Count]


class Merging(_Part, frozen=True, kw_only=True):
    """What merging tiles cost: tiles there were, tiles merged into others, cells that changed, colour error before and after."""

    tiles: Count
    merged: Count
    changed_cells: Count
    before: TilesError
    after: TilesError


class StoredBitmap(_Part, frozen=True, kw_only=True, tag_field="arrangement", tag="bitmap"):
    """A bitmap: its cells across and down."""

    cells: tuple[Count, Count]


class StoredTiles(_Part, frozen=True, kw_only=True, tag_field="arrangement", tag="tiles"):
    """Tiles and a map.

    Attributes:
        tile_count, tile_bytes: tiles, and bytes of each.
        columns, rows: of the map.
        first_tile: number of the first tile in the console's memory.
        map_entry: the bit pattern of a map entry, of the target.
        merging: None where no tiles were merged.
    """

    tile_count: Count
    tile_bytes: Count
    columns: Side
    rows: Side
    first_tile: Count
    map_entry: str
    merging: Merging | None


class BackgroundFacts(Facts, frozen=True, kw_only=True, tag="background"):
    """Facts of a background: fields as those of a sprite and of ``Forms``; the tag of ``stored`` is the arrangement.

    ``seen_error`` is None where no mixture of entries was looked for.
    """

    width: Side
    height: Side
    source_width: Side
    source_height: Side
    scale: tuple[float, float]
    stored: StoredBitmap | StoredTiles
    tile: tuple[Side, Side]
    window: tuple[Side, Side]
    palette: str | None
    colour_error: ColourError
    forms: Forms
    intent: IntentFacts
    seen_error: SeenError | None = None

    @property
    def arrangement(self) -> str:
        """Return the arrangement of the project file, which is the tag of ``stored``."""
        return str(self.stored.__struct_config__.tag)


class FontFacts(Facts, frozen=True, kw_only=True, tag="font"):
    """Facts of a font.

    Attributes:
        glyph_count: glyphs; ``picture_count``: different pictures of them.
        width, height: of each picture, in pixels; padded to whole cells where pixels are stored cell by cell.
        left, baseline, line_height: in pixels; see ``joints.layouts.FONT``.
        advance: of every glyph, in pixels; 0 where they differ.
        spacing: ``proportional`` or ``fixed``.
        characters: code point and advance of each glyph, by rising code point.
        palette: that colours it; None for direct colour.
    """

    glyph_count: Side
    picture_count: Side
    width: Side
    height: Side
    left: int
    baseline: int
    line_height: int
    advance: Count
    spacing: str
    characters: list[tuple[Count, Count]]
    palette: str | None
    intent: IntentFacts
    colour_error: ColourError


class Margins(_Part, frozen=True, kw_only=True):
    """Percent of a television's usual bandwidth, and the screen's width in a photo, in pixels."""

    bandwidth: Side
    photo: Side


class TvMargins(Margins, frozen=True, kw_only=True):
    """The least with which both codes of a notice read, and the least that was tried."""

    tried: Margins


class ScreenCode(_Part, frozen=True, kw_only=True):
    """A code of a boot notice: the label under it, what it says, and its place and side in pixels of the screen."""

    label: str
    link: str
    left: Count
    top: Count
    side: Side


class ScreenTiles(_Part, frozen=True, kw_only=True):
    """A boot notice as tiles and a map.

    Attributes:
        tile: width and height in pixels.
        tile_count: different tiles; ``tile_room``: tiles for which the blob has room, since a build code changes their number.
        tile_bytes: of one.
        columns, rows: of the map; ``map_entry``: the bit pattern of its entries; ``first_tile``: the number of tile 0.
        planes: cells of the codes that one tile may hold, 0 where each is a tile.
        entry_count: entries of its own palette.
    """

    tile: tuple[Side, Side]
    tile_count: Side
    tile_room: Side
    tile_bytes: Side
    columns: Side
    rows: Side
    map_entry: str
    first_tile: Count
    planes: Count
    entry_count: Count


class ScreenFacts(Facts, frozen=True, kw_only=True, tag="screen"):
    """Facts of a boot notice.

    Attributes:
        width, height: in pixels.
        module_pixels: side of a module of its codes, in pixels.
        code_version: of both codes, 1 to 40.
        tv: None where the screen has too many lines for composite video.
        tiles: None where the notice is one picture.
        correction: error correction level of both codes.
    """

    width: Side
    height: Side
    module_pixels: Side
    code_version: Annotated[int, Meta(ge=1, le=40)]
    codes: list[ScreenCode]
    intent: IntentFacts
    tv: TvMargins | None
    tiles: ScreenTiles | None = None
    correction: Literal["M", "L"] = "M"


class PaletteFacts(Facts, frozen=True, kw_only=True, tag="palette"):
    """Facts of a palette.

    Attributes:
        first: its place in the console's palette, in entries.
        transparent: whether the first entry, of each line, is not a colour.
        entry_count: entries, unused ones between lines included.
        line_entries: entries from one line's start to the next; 0 where there is only one line.
        line_used: entries of each line that are used.
        colours: of all entries, as the console shows them.
        colours_seen: different colours of the art, as the console shows them.
        exact: each of them is an entry.
        drawn: colours that the palette's file has at the numbers of all entries, before the console's converter; empty where the
            palette does not keep the file's own numbers.
        variant_of: the palette whose numbers it has other colours for; empty for a palette of its own.
        in_place: of a variant, it is loaded at the entries of that palette.
    """

    first: Count
    transparent: bool
    entry_count: Count
    line_entries: Count
    line_used: list[Count]
    colours: list[Rgb]
    colours_seen: Count
    exact: bool
    drawn: list[Rgb] = msgspec.field(default_factory=list)
    variant_of: str = ""
    in_place: bool = False


class SoundFacts(Facts, frozen=True, kw_only=True, tag="sound"):
    """Facts of a sound: rates in Hz as stored and as recorded, sample format, samples, seconds to 4 decimals, clipped samples.

    Attributes:
        gain: decibels by which it was made louder.
        peak: of its samples, dBFS to two decimals; None of silence.
        loudness: LUFS to two decimals; None of silence.
        signal_to_noise: power of the sound over that of the error with which it is stored, decibels to one decimal; None where the error
            is nothing.
    """

    rate: Side
    recorded_rate: Side
    format: str
    samples: Count
    seconds: float
    clipped: Count
    gain: float = 0.0
    peak: float | None = None
    loudness: float | None = None
    signal_to_noise: float | None = None
    intent: IntentFacts


class ProgramFacts(Facts, frozen=True, kw_only=True, tag="program"):
    """Facts of a program: the offset of its first instruction, in bytes."""

    entry: Count


class DataFacts(Facts, frozen=True, kw_only=True, tag="data"):
    """Facts of data: only those of every kind."""


class LevelFacts(Facts, frozen=True, kw_only=True, tag="level"):
    """Facts of a level.

    Attributes:
        width, height: in cells.
        cell_bytes: bytes of a cell.
        least, most: numbers that a cell may hold; ``smallest``, ``largest``: those that are in it.
        different: how many different numbers.
        set: the background or sprite whose tiles or frames the numbers are; None without one.
        intent: shape (height, width), and the sum of all cells as unsigned 32-bit numbers.
    """

    width: Side
    height: Side
    cell_bytes: Side
    least: Count
    most: Count
    smallest: Count
    largest: Count
    different: Side
    intent: IntentFacts
    set: str | None = None


class ListsFacts(Facts, frozen=True, kw_only=True, tag="lists"):
    """Facts of load lists.

    Attributes:
        scenes: names of the scenes that have a list; ``bundles``: of the bundles.
        steps, places: how many there are.
        intent: all numbers of all tables in their order, as unsigned 32-bit little-endian ones.
    """

    scenes: list[str]
    bundles: list[str]
    steps: Count
    places: Count
    intent: IntentFacts


class TextFacts(Facts, frozen=True, kw_only=True, tag="text"):
    """Facts of texts.

    Attributes:
        font: whose glyphs units are; None: code points.
        unit_bytes: of a unit.
        languages, keys: by their ranks.
        characters: units of all texts, line breaks included.
        different: characters that occur.
        widest: of each language the pixels of its widest line; 0 without a font.
        intent: shape (languages, keys), and the sum, as unsigned 32-bit numbers, of each text in the order of the table: the number of its
            units, then the units.
    """

    font: str | None
    unit_bytes: Side
    languages: list[str]
    keys: list[str]
    characters: Count
    different: Count
    widest: list[Count]
    intent: IntentFacts


class NotesFacts(Facts, frozen=True, kw_only=True, tag="notes"):
    """Facts of notes on a sprite's frames.

    Attributes:
        of: the sprite.
        frames, boxes, points: how many there are in all.
        box_kinds, point_kinds, number_kinds, event_kinds: the project's words, by their ranks.
        used: those words that are said of some frame, in the same order.
        intent: shape (frames, boxes, points), and the sum, as signed 32-bit numbers, of for each frame: number of boxes and points, events
            as bits, ticks; each box as kind, left, top, width, height; each point as kind, x, y; the numbers.
    """

    of: str
    frames: Side
    boxes: Count
    points: Count
    box_kinds: list[str]
    point_kinds: list[str]
    number_kinds: list[str]
    event_kinds: list[str]
    used: list[str]
    intent: IntentFacts


class PackedFacts(FileRecord, frozen=True, kw_only=True):
    """Facts of a packed asset's bytes in the image.

    Attributes:
        codec, bytes, unpacked_bytes, crc32, sha256: as in ``Facts``; the sums are those of the bytes in the image.
        unpacked_sha256: of what they unpack to.
        tried: codec -> bytes it makes.
    """

    codec: str
    bytes: Count
    unpacked_bytes: Count
    crc32: Crc32
    sha256: Sha256
    unpacked_sha256: Sha256
    tried: dict[str, Count]


_F = TypeVar("_F", bound=Facts)


@functools.cache  # takes a few milliseconds, which a build with nothing to do does not spend
def _facts() -> msgspec.json.Decoder[Facts]:
    return msgspec.json.Decoder(functools.reduce(operator.or_, Facts.__subclasses__()))


@functools.cache
def _packed() -> msgspec.json.Decoder[PackedFacts]:
    return msgspec.json.Decoder(PackedFacts)


def write_facts(file: Path, facts: Facts) -> None:
    """Write the facts of an asset."""
    write_record(file, facts)


def read_facts(file: Path, kind: type[_F] = Facts) -> _F:
    """Return the facts of an asset as conversion wrote them.

    Args:
        kind: the record they must be.

    Raises:
        ProjectError: they cannot be read, are damaged, have another format number, or are of another kind.
    """
    facts = read_record(file, _facts(), FORMAT)
    if not isinstance(facts, kind):
        wrong = f"is {facts.kind}, not {kind.__struct_config__.tag}"
        raise refuse(f"{file.parent.name}/{file.name}", "kind", wrong, "delete it and build again; only the tool writes this file")
    return facts


def decode_facts(data: bytes, name: str) -> Facts:
    """Return the facts that the content of a facts file holds; see ``read_facts``."""
    return decode_record(data, f"{name}.json", _facts(), FORMAT)


def write_packed_facts(file: Path, facts: PackedFacts) -> None:
    """Write the facts of a packed asset's bytes in the image."""
    write_record(file, facts)


def image_facts(files: FactsFiles, kind: type[_F] = Facts) -> _F:
    """Return an asset's facts, where bytes, codec, crc32 and sha256 are those of its form in the image.

    Raises:
        ProjectError: as ``read_facts``.
    """
    facts = read_facts(files.facts, kind)
    return facts if files.packed is None else _in_image(facts, read_record(files.packed, _packed(), FORMAT))


def decode_image_facts(data: bytes, packed: bytes | None, name: str) -> Facts:
    """Return an asset's facts in the image from the content of its files; ``packed``: None where it is not packed."""
    facts = decode_facts(data, name)
    return facts if packed is None else _in_image(facts, decode_record(packed, f"{name}.packed.json", _packed(), FORMAT))


def _in_image(facts: _F, packed: PackedFacts) -> _F:
    changed = msgspec.structs.asdict(packed)
    del changed["version"]
    return msgspec.structs.replace(facts, **changed)
