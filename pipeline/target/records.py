"""What the console demands: the target file's records, and where shipped targets are found."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Annotated, Literal

from msgspec import Meta, field

from pipeline.plain.bits import BitPattern, ByteOrder, parse_pattern
from pipeline.plain.sizes import parse_size
from pipeline.plain.written import Record, Written, about


def _pattern(letters: str) -> Callable[[str], BitPattern]:
    return functools.partial(parse_pattern, allowed=letters)


Size = Annotated[
    int,
    Written(int | str, parse_size),
    Meta(title="a size", description="Bytes, or text with a binary unit.", examples=["64 KiB"]),
]
Address = Annotated[int, Meta(ge=0, le=2**40, description="An address as the console sees it.", examples=[0x2000000])]
Place = Annotated[int | str, Meta(title="a number or the name of a place")]
Positive = Annotated[int, Meta(ge=1, le=1 << 24)]
Side = Annotated[int, Meta(ge=1, le=256)]
Percent = Annotated[int, Meta(ge=50, le=100)]
# Percent of each side, around the middle, that televisions show and in which captions stay: SMPTE ST 2046-1:2009, EBU R 95 (from
# memory: both give 93 % for action and 90 % for titles).
ACTION_SAFE, TITLE_SAFE = 93, 90
PixelPattern = Annotated[
    BitPattern,
    Written(str, _pattern("IRGBA")),
    Meta(
        description="Bit pattern of one pixel: 1, 2, 4 or 8 I for an index (in planes 1 to 8), or R G B (A opaque) for direct colour.",
        examples=["IIIIIIII", "xBBBBBGGGGGRRRRR"],
    ),
]
EntryPattern = Annotated[
    BitPattern,
    Written(str, _pattern("RGBA")),
    Meta(
        description="Bit pattern of one palette entry: R, G and B.",
        examples=["xBBBBBGGGGGRRRRR"],
    ),
]
MapPattern = Annotated[
    BitPattern,
    Written(str, _pattern("tHVcP")),
    Meta(
        description="Bit pattern of one map entry: t tile number, H and V mirrored, c line of the palette, P priority (written 0).",
        examples=["HVccPxtttttttttt"],
    ),
]
CommandPattern = Annotated[
    BitPattern,
    Written(str, _pattern("SNXYLHV")),
    Meta(
        description="Bit pattern of one number of a command: S source and L length in units, N number of the cell, X and Y place, "
        "H and V mirrored.",
        examples=["YYYYYYYYYYYYYYYY"],
    ),
]
TileSize = Annotated[tuple[Side, Side], Meta(description="Width and height of a tile in pixels.", examples=[[8, 8]])]
Alignment = Annotated[int, Meta(ge=1, le=1 << 20, description="Bytes; a power of two.", examples=[4])]


MAIN_AREA = "main"  # what an asset calls main memory, where areas are named


class Reserved(Record):
    """A part of memory the game cannot use for assets."""

    name: Annotated[str, about("What it is for.")]
    bytes: Size
    address: Annotated[Address | None, about("Where it starts; left out when it does not matter.")] = None


class Area(Record):
    """A memory apart from main memory, such as that of pictures or of the sound unit."""

    size: Size
    kinds: Annotated[list[str], about("Kinds of assets loaded there unless an asset names another area.")] = field(default_factory=list)
    base: Address = 0
    granularity: Annotated[Alignment, about("Allocations are rounded up to a multiple of this many bytes.")] = 1
    reserved: list[Reserved] = field(default_factory=list)


class Memory(Record):
    """Main memory, where unpacked assets live."""

    size: Size
    base: Address = 0
    granularity: Annotated[Alignment, about("Allocations are rounded up to a multiple of this many bytes.")] = 1
    reserved: list[Reserved] = field(default_factory=list)
    area: Annotated[dict[str, Area], about("Memories apart from main memory, by name, each with a budget of its own.")] = field(
        default_factory=dict
    )


class Banks(Record):
    """A cartridge seen through a window; an asset may not cross a bank's end, except between fixed banks."""

    size: Size
    window: Annotated[Address, about("Address at which a switched-in bank is seen.")]
    home: Annotated[Address | None, about("Address of bank 0 when it is always visible elsewhere.")] = None
    fixed: Annotated[int, about("Banks always visible, from bank 0 at home on; what is in them may span them.", ge=1, le=256)] = 1

    @property
    def fixed_end(self) -> int:
        """Return the offset after the banks whose addresses alone say which bank is meant."""
        return self.fixed * self.size


class Cartridge(Record):
    """Sizes that can be made, and how the console sees them."""

    sizes: Annotated[list[Size], about("Sizes an image may be padded to.", examples=[["1 MiB", "2 MiB"]])]
    base: Annotated[Address, about("Address of the image's first byte (without banks).")] = 0
    pad: Annotated[int, about("Byte that fills unused room.", ge=0, le=255)] = 0xFF
    banks: Banks | None = None
    boundary: Annotated[
        Size | None, about("No transfer may cross a multiple of this many bytes, so no asset does unless it says split; left out: any may.")
    ] = None


class Screen(Record):
    """The picture the console shows."""

    width: Annotated[int, about("Pixels across.", ge=1, le=4096)]
    height: Annotated[int, about("Pixels down.", ge=1, le=4096)]
    pixels: Annotated[str, about("Pixel format of the screen, by its name under [pixel_formats].")]
    pixel_aspect: Annotated[tuple[Positive, Positive], about("Width and height of one pixel on the tube.")] = (1, 1)
    refresh: Annotated[float, about("Pictures a second.", gt=0, le=1000)] = 60.0
    buffers: Annotated[int, about("Screen buffers kept in main memory.", ge=0, le=8)] = 0
    action_safe: Annotated[Percent, about("Percent of each side that every television shows; 100 for a screen of its own.")] = ACTION_SAFE
    title_safe: Annotated[Percent, about("Percent of each side in which text and codes stay; 100 for a screen of its own.")] = TITLE_SAFE


class Cells(Record):
    """The grid art is laid out on."""

    width: Positive
    height: Positive


class PaletteRules(Record):
    """What the console's colour converter takes."""

    entry: EntryPattern
    entries: Annotated[int, about("Entries one palette may have.", ge=2, le=65536)]
    byte_order: Annotated[ByteOrder | None, about("Byte order of an entry, where it differs.")] = None


class PixelFormat(Record):
    """How pixels become bytes."""

    pixel: PixelPattern
    planes: Annotated[
        Literal["chunky", "by byte", "by pair", "by word", "by row", "by picture"],
        about(
            "chunky: a pixel's bits are adjacent. Otherwise planar, and how the planes alternate; by pair: planes 0 and 1 by byte, row "
            "after row, then 2 and 3, and so on."
        ),
    ] = "chunky"
    first: Annotated[Literal["high", "low"], about("Which end of a byte holds the leftmost pixel.")] = "high"
    order: Annotated[
        Literal["rows", "cells", "columns"],
        about("Rows across the whole picture, or cell after cell: along rows of cells (cells), or down columns of cells (columns)."),
    ] = "rows"
    tile: Annotated[
        tuple[Side, Side] | None,
        about("Width and height of the tiles that take the place of cells in these orders, where a cell is several of the hardware's."),
    ] = None
    byte_order: Annotated[ByteOrder | None, about("Byte order of a pixel wider than a byte, where it differs.")] = None
    row_unit: Annotated[Alignment, about("Each row, of planes each row of a plane, takes a whole multiple of this many bytes.")] = 1

    def part(self, cell: tuple[int, int]) -> tuple[int, int] | None:
        """Return width and height of what pictures are stored in one after another; None where that is the whole picture."""
        return None if self.order == "rows" else self.tile or cell


class TileUnit(Record):
    """How the console puts a background together from tiles and a map. A console without a tile unit leaves it out."""

    width: Annotated[Side, about("Of a tile in pixels.")]
    height: Annotated[Side, about("Of a tile in pixels.")]
    map_entry: MapPattern
    pixels: Annotated[str | None, about("Pixel format of tiles, by its name under [pixel_formats]; left out: the screen's.")] = None
    byte_order: Annotated[ByteOrder | None, about("Byte order of a map entry, where it differs.")] = None
    most: Annotated[int | None, about("Tiles the tile memory holds; left out: as many as a map entry can number.", ge=1, le=1 << 24)] = None


class SpriteLimits(Record):
    """The largest frame the console or the game's engine can draw, in pixels after scaling."""

    max_width: Positive = 4096
    max_height: Positive = 4096
    max_frames: Positive = 65535
    flip_x: Annotated[bool, about("The console can draw a cell mirrored left to right.")] = False
    flip_y: Annotated[bool, about("The console can draw a cell mirrored top to bottom.")] = False
    commands: Annotated[
        list[CommandPattern],
        about("How the blitter or sprite unit takes a command to draw a cell: numbers of 8, 16, 24 or 32 bits, in the order of memory."),
    ] = field(default_factory=list)
    command_unit: Annotated[int, about("Bytes that S and L of a command count.", ge=1, le=4096)] = 1
    unit: Annotated[
        tuple[Side, Side] | None, about("Largest picture that one hardware sprite shows, in pixels; left out: a cell.")
    ] = None
    per_line: Annotated[Positive | None, about("Hardware sprites on one line; left out: not checked, as the next two.")] = None
    pixels_per_line: Annotated[Positive | None, about("Pixels of hardware sprites on one line.")] = None
    per_picture: Annotated[Positive | None, about("Hardware sprites in one picture.")] = None
    over: Annotated[Literal["refuse", "warn"], about("What is done about a frame or scene that needs more of these.")] = "refuse"

    def hardware(self) -> dict[str, int]:
        """Return what hardware draws at most, by the key of the budget's limit; empty where nothing is said."""
        said = {"line_sprites": self.per_line, "line_pixels": self.pixels_per_line, "picture_sprites": self.per_picture}
        return {key: most for key, most in said.items() if most is not None}


SampleFormat = Literal["u8", "s8", "s16", "ulaw", "alaw", "adpcm"]


class AdpcmRules(Record):
    """How the published IMA ADPCM lies in memory; its 16-bit values have the byte order of samples."""

    block: Annotated[
        int | None,
        about(
            "Bytes of a block, which begins with a sample of 16 bits, the place in the table of steps and a 0; left out: one stream from "
            "silence and the first step.",
            ge=8,
            le=65536,
        ),
    ] = None
    first: Annotated[Literal["low", "high"], about("Half of a byte that holds the first of its two samples.")] = "low"


class SoundRules(Record):
    """What the sound unit plays, or the program."""

    formats: Annotated[
        list[SampleFormat],
        about(
            "Sample formats; of a console without sound name any one. ulaw, alaw: 8 bits of ITU-T G.711; adpcm: 4 bits.",
            examples=[["s8"]],
            min_length=1,
        ),
    ]
    max_rate: Annotated[int, about("Highest sample rate in hertz.", ge=1000, le=192000)] = 48000
    byte_order: Annotated[ByteOrder | None, about("Byte order of 16-bit samples, where it differs.")] = None
    adpcm: Annotated[AdpcmRules | None, about("Of the format adpcm; left out: one stream, low halves first.")] = None


class Limits(Record):
    """What one scene may use at most, apart from main memory; what you leave out is not checked."""

    palette_entries: Annotated[Positive | None, about("Palette entries.")] = None
    cells: Annotated[Positive | None, about("Distinct cells and tiles: of sprites, pools and tiled backgrounds.")] = None
    video: Annotated[Size | None, about("Bytes of pixels of sprites, pools, backgrounds and fonts, where video memory is apart.")] = None


class Transfer(Record):
    """What the console's bus or DMA carries from the cartridge while the game runs, for scenes that stream; what you leave out is not
    checked."""

    blank: Annotated[
        Size | None, about("Bytes in one vertical blank, where memory on screen can only be written then.", examples=["16 KiB"])
    ] = None
    picture: Annotated[Size | None, about("Bytes in a whole picture, its blank included.", examples=["64 KiB"])] = None
    start: Annotated[
        int, about("What starting a transfer costs: bytes that could be carried in that time.", ge=0, le=65536, examples=[16])
    ] = 0


class Field(Record):
    """One field of the header or of a directory entry.

    Exactly one of text, hex, number, value and checksum says what it holds.
    """

    name: str
    offset: Annotated[int, about("Byte offset from the start of the image (header) or of the entry (directory).", ge=0)]
    bytes: Annotated[int, about("Width.", ge=1, le=65536)]
    text: Annotated[str | None, about("Fixed text, padded with pad.")] = None
    hex: Annotated[str | None, about("Fixed bytes in hexadecimal.")] = None
    number: Annotated[int | None, about("A fixed number.", ge=0)] = None
    value: Annotated[str | None, about("A value of the build, by name; the guide lists them.")] = None
    pad: Annotated[int, about("Byte that pads text.", ge=0, le=255)] = 0x20
    table: Annotated[dict[str, int] | None, about("Replaces the value: what is written for each value.")] = None
    byte_order: Annotated[ByteOrder | None, about("Byte order, where it differs.")] = None
    checksum: Annotated[str | None, about("Algorithm: a RevEng CRC name, sum8, sum16, sum16-words, sum32, xor8, sha256, or same.")] = None
    covers: Annotated[list[tuple[Place, Place]] | None, about("Ranges from-to (to not included).")] = None
    placeholder: Annotated[int, about("What the field holds while checksums are computed.", ge=0)] = 0
    skip_own: Annotated[bool, about("Leave the field's own bytes out of the sum.")] = False
    mirrored: Annotated[
        bool, about("Counts an image as a console sees it that repeats its end up to the next power of two.")
    ] = False
    each: Annotated[int, about("Added to a sum with every unit.", ge=0, le=255)] = 0
    finish: Annotated[Literal["as is", "negate", "invert"], about("Last step of a checksum.")] = "as is"
    of: Annotated[str | None, about('With checksum = "same": the field whose value is taken.')] = None


class Header(Record):
    """The part of the image the console reads first."""

    size: Size
    offset: Annotated[int, about("Where the room of the header starts in the image.", ge=0)] = 0
    program: Annotated[str, about("Name of the program that the program values are about, where there are several.", min_length=1)] = "main"
    fields: list[Field] = field(default_factory=list)


class Directory(Record):
    """The table by which the program finds a blob.

    Its entries must hold asset.name_hash, asset.bytes, asset.crc32 and asset.offset or asset.address (with banks also
    asset.bank), and the header directory.count, so that an image can be checked from its own bytes.
    """

    fields: list[Field]
    entry_bytes: Annotated[int, about("Bytes of one entry.", ge=1, le=256)]
    offset: Annotated[int | None, about("Its place; default: right after the header.", ge=0)] = None
    alignment: Alignment = 4
    sorted: Annotated[bool, about("Entries by rising name hash, so that a program finds one by halving; otherwise in image order.")] = False


class Target(Record):
    """A target file."""

    format: Annotated[Literal[1], about("Version of this file's format.")]
    name: Annotated[str, about("The console's name.", max_length=60)]
    byte_order: Annotated[ByteOrder, about("Order of the bytes of a number.")]
    memory: Memory
    cartridge: Cartridge
    screen: Screen
    cells: Cells
    palette: PaletteRules
    pixel_formats: dict[str, PixelFormat]
    sound: SoundRules
    header: Header
    summary: str = ""
    sprites: SpriteLimits = field(default_factory=SpriteLimits)
    limits: Limits = field(default_factory=Limits)
    transfer: Transfer = field(default_factory=Transfer)
    tiles: TileUnit | None = None
    alignment: Annotated[
        dict[str, Alignment],
        about("Per asset kind, and default; of parts that hardware fetches by themselves frame, cell, tile, glyph and entries."),
    ] = field(default_factory=dict)
    directory: Directory | None = None
    codecs: Annotated[list[Literal["packbits", "lz4"]], about("What the game's program can unpack on this console.")] = field(
        default_factory=lambda: ["packbits", "lz4"]
    )

    def order_of(self, own: ByteOrder | None) -> ByteOrder:
        """Byte order of a part that may name its own: ``big`` or ``little``."""
        return own or self.byte_order


def has_small_banks(target: Target) -> bool:
    """Return whether 16 bits hold every address of the cartridge and every offset in one of its banks."""
    banks = target.cartridge.banks
    return banks is not None and banks.size < 1 << 16 and max(banks.window, banks.home or 0) + banks.size <= 1 << 16


@dataclass(frozen=True)
class Starts:
    """At which multiples of bytes, counted from the image's start, parts of a blob start: powers of two, 1 for any byte.

    Attributes:
        frame: each stored frame of a sprite.
        cell: each cell, where cells are stored one after another: of a pool, of pieces, and of pictures stored cell after cell.
        tile: each tile of a background; ``glyph``: each picture of a font.
        entries: the first entry of a palette.
    """

    frame: int = 1
    cell: int = 1
    tile: int = 1
    glyph: int = 1
    entries: int = 1


@dataclass(frozen=True)
class DrawRules:
    """How the pieces of a sprite are prepared for drawing.

    Attributes:
        sprite: its name.
        commands: the patterns of one command; empty for source, place and length.
        unit: bytes that source and length of a command count.
    """

    sprite: str
    commands: tuple[BitPattern, ...]
    unit: int

    @property
    def bytes(self) -> int:
        """Bytes of one command."""
        return sum(pattern.bytes for pattern in self.commands)


@dataclass(frozen=True)
class PictureRules:
    """What a target says about one picture's pixels; all that its conversion may depend on.

    Attributes:
        pixel_format: the format; ``rank`` is its place in the target file, by which blobs name it.
        pixel_order, entry_order: byte order of pixels and of palette entries.
        cell: width and height of a cell in pixels.
        entry: bit pattern of a palette entry.
        starts: where parts of a blob start.
    """

    pixel_format: PixelFormat
    rank: int
    byte_order: ByteOrder
    pixel_order: ByteOrder
    entry_order: ByteOrder
    cell: tuple[int, int]
    entry: BitPattern
    starts: Starts = Starts()


def starts_of(target: Target) -> Starts:
    """Return where parts of blobs start; what the target does not say starts at any byte."""
    return Starts(**{part.name: target.alignment.get(part.name, 1) for part in fields(Starts)})


def picture_rules(target: Target, format_name: str) -> PictureRules:
    """Return the part of a target that decides how pictures of a pixel format are stored."""
    pixel_format = target.pixel_formats[format_name]
    return PictureRules(
        pixel_format=pixel_format,
        rank=list(target.pixel_formats).index(format_name),
        byte_order=target.byte_order,
        pixel_order=target.order_of(pixel_format.byte_order),
        entry_order=target.order_of(target.palette.byte_order),
        cell=(target.cells.width, target.cells.height),
        entry=target.palette.entry,
        starts=starts_of(target),
    )


def pixel_base(first: int, bits: int) -> int:
    """Return the pixel value of a palette's first entry: its place in the console's palette, modulo what a pixel holds.

    With 8-bit pixels and 256 entries that is the place itself; with 4-bit pixels and four lines of 16, the place in its line.
    """
    return first % (1 << bits)
