"""The layout of a blob's own tables: field definitions only, shared by what writes blobs and by the image reader.

All offsets are from the start of the blob, all numbers in the target's byte order, all fields naturally aligned when
the blob starts at a multiple of 4. Strings do not occur: names are their CRC-32/ISO-HDLC (``name_hash``).
"""

from __future__ import annotations

import zlib
from typing import NamedTuple


class Part(NamedTuple):
    """One number of a record: name, width in bytes, what it is, and whether it is signed."""

    name: str
    bytes: int
    note: str = ""
    signed: bool = False


VERSION = 1
NO_PALETTE = 0  # a name with this CRC-32 is refused
OWN_POOL = 0

SPRITE = (
    Part("version", 1, "of this layout, 1"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("frame_count", 2, "frames"),
    Part("width", 2, "of a stored frame in pixels, whole cells"),
    Part("height", 2, "of a stored frame in pixels, whole cells"),
    Part("anchor_x", 2, "the point that stays in place, in pixels from a frame's left", signed=True),
    Part("anchor_y", 2, "in pixels from its top", signed=True),
    Part("animation_count", 2, "animations"),
    Part("step_count", 2, "steps of all animations"),
    Part("palette", 4, "name hash of its palette, 0 for direct colour"),
    Part("frame_bytes", 4, "bytes of one frame"),
    Part("animations", 4, "offset of the animation table"),
    Part("steps", 4, "offset of the step table"),
    Part("pixels", 4, "offset of frame 0; the others follow"),
)
PIECED_VERSION = 2  # of a sprite's record: its frames are made of cells at any pixel
PIECED = (
    Part("version", 1, "of this layout, 2"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("frame_count", 2, "frames"),
    Part("width", 2, "of a frame in pixels"),
    Part("height", 2, "of a frame in pixels"),
    Part("anchor_x", 2, "the point that stays in place, in pixels from a frame's left", signed=True),
    Part("anchor_y", 2, "in pixels from its top", signed=True),
    Part("animation_count", 2, "animations"),
    Part("step_count", 2, "steps of all animations"),
    Part("palette", 4, "name hash of its palette"),
    Part("pool", 4, "name hash of the pool that holds its cells, 0 for its own"),
    Part("clear", 4, "what a transparent pixel holds"),
    Part("cell_count", 4, "cells of the pool"),
    Part("animations", 4, "offset of the animation table"),
    Part("steps", 4, "offset of the step table"),
    Part("frames", 4, "offset of the frame table"),
    Part("pieces", 4, "offset of the piece table"),
    Part("pixels", 4, "offset of cell 0; the others follow, each packed by itself; 0 when a pool holds them"),
)
FRAME = (
    Part("first_piece", 4, "rank in the piece table"),
    Part("piece_count", 2, "pieces, drawn in their order; transparent pixels are not drawn"),
    Part("spare", 2, "0"),
)
PIECE = (
    Part("x", 2, "left of the cell in the frame, may be negative", signed=True),
    Part("y", 2, "top of the cell in the frame", signed=True),
    Part("cell", 2, "rank in the pool"),
    Part("flips", 2, "1 mirrored left to right, 2 top to bottom, 3 both"),
)
PREPARED_VERSION = 4  # of a sprite's record: in pieces, which are there in the form in which they are drawn as well
PREPARED = (
    *(part if part.name != "version" else Part("version", 1, "of this layout, 4") for part in PIECED),
    Part("draws", 4, "offset of the prepared pieces: one for each of the piece table, in its order"),
    Part("draw_bytes", 2, "bytes of one"),
    Part("commands", 2, "1: each is a command as the target's patterns say, 0: source, place and length"),
)
DRAW = (
    Part("source", 4, "of its pixels, counted from cell 0"),
    Part("x", 2, "left of the cell in the frame, may be negative", signed=True),
    Part("y", 2, "top of the cell in the frame", signed=True),
    Part("bytes", 2, "of the cell"),
    Part("flips", 2, "1 mirrored left to right, 2 top to bottom, 3 both"),
)
FRAMED_VERSION = 3  # of a sprite's record: each frame trimmed to its opaque pixels
FRAMED = (
    Part("version", 1, "of this layout, 3"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("frame_count", 2, "frames"),
    Part("width", 2, "of a frame in pixels"),
    Part("height", 2, "of a frame in pixels"),
    Part("anchor_x", 2, "the point that stays in place, in pixels from a frame's left", signed=True),
    Part("anchor_y", 2, "in pixels from its top", signed=True),
    Part("animation_count", 2, "animations"),
    Part("step_count", 2, "steps of all animations"),
    Part("palette", 4, "name hash of its palette, 0 for direct colour"),
    Part("clear", 4, "what a transparent pixel holds"),
    Part("animations", 4, "offset of the animation table"),
    Part("steps", 4, "offset of the step table"),
    Part("boxes", 4, "offset of the table of boxes, one for each frame"),
    Part("pixels", 4, "offset of the first stored box; the others follow"),
)
BOX = (
    Part("x", 2, "left of the box in the frame, negative where a mirrored one begins with clear pixels outside", signed=True),
    Part("y", 2, "top of the box in the frame", signed=True),
    Part("width", 2, "in pixels, whole cells; 0 when the frame is empty"),
    Part("height", 2, "in pixels, whole cells; 0 when the frame is empty"),
    Part("flips", 2, "1 mirrored left to right, 2 top to bottom, 3 both"),
    Part("spare", 2, "0"),
    Part("pixels", 4, "offset of its pixels; equal frames have one offset"),
)
POOL = (
    Part("version", 1, "of this layout, 1"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("spare", 2, "0"),
    Part("clear", 4, "what a transparent pixel holds"),
    Part("cell_count", 4, "cells"),
    Part("pixels", 4, "offset of cell 0; the others follow, each packed by itself"),
)
ANIMATION = (
    Part("name_hash", 4, "of the animation's name"),
    Part("first_step", 2, "rank in the step table"),
    Part("step_count", 2, "steps"),
    Part("loop", 2, "1 starts again, 0 stays on the last step"),
    Part("spare", 2, "0"),
)
STEP = (
    Part("frame", 2, "which frame"),
    Part("ticks", 2, "screen pictures for which it is shown, at least 1"),
)
BACKGROUND = (
    Part("version", 1, "of this layout, 1"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("width", 2, "in pixels, whole cells"),
    Part("height", 2, "in pixels, whole cells"),
    Part("spare", 2, "0"),
    Part("palette", 4, "name hash of its palette, 0 for direct colour"),
    Part("pixels", 4, "offset of the picture"),
)
TILED_VERSION = 2  # of a background's record: distinct tiles, and a map of where each goes
TILED = (
    Part("version", 1, "of this layout, 2"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("width", 2, "in pixels, whole tiles"),
    Part("height", 2, "in pixels, whole tiles"),
    Part("entry_bytes", 2, "bytes of one map entry"),
    Part("palette", 4, "name hash of its palette, 0 for direct colour"),
    Part("tile_width", 2, "of a tile in pixels"),
    Part("tile_height", 2, "of a tile in pixels"),
    Part("columns", 2, "map entries of a row"),
    Part("rows", 2, "rows of the map"),
    Part("tile_count", 4, "tiles"),
    Part("tile_bytes", 4, "bytes of one tile"),
    Part("first_tile", 4, "what a map entry says for tile 0"),
    Part("tile_mask", 4, "bits of a map entry that hold the tile's number"),
    Part("flip_x_mask", 4, "the bit that mirrors left to right, 0 without"),
    Part("flip_y_mask", 4, "the bit that mirrors top to bottom, 0 without"),
    Part("line_mask", 4, "bits that hold the palette's line, 0 without"),
    Part("map", 4, "offset of the map: row by row, entries in the byte order of the target's tiles"),
    Part("tiles", 4, "offset of tile 0; the others follow, each packed by itself"),
)
SCREEN = (
    Part("version", 1, "of this layout, 1"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("width", 2, "in pixels, whole cells"),
    Part("height", 2, "in pixels, whole cells"),
    Part("entry_count", 2, "entries of its own palette, 0 for direct colour"),
    Part("entries", 4, "offset of the palette entries"),
    Part("pixels", 4, "offset of the picture"),
)
TILED_SCREEN_VERSION = 2  # of a screen's record: as a tiled background's, with a palette of its own
TILED_SCREEN = (
    *TILED,
    Part("entry_count", 2, "entries of its own palette, 0 for direct colour"),
    Part("line_entries", 2, "entries from one line of that palette to the next, 0 for direct colour"),
    Part("entries", 4, "offset of the palette entries, for the console's from 0 on"),
    Part("tile_room", 4, "tiles for which the blob has room, whatever the build code; those after the last tile are bytes of 0"),
)
PALETTE = (
    Part("version", 1, "of this layout, 1"),
    Part("transparent", 1, "1: the first entry is transparent"),
    Part("first", 2, "where it is loaded in the console's palette"),
    Part("entry_count", 2, "entries"),
    Part("line_entries", 2, "entries from one line's start to the next where it has several lines, else 0"),
    Part("entries", 4, "offset of the entries"),
)
FONT = (
    Part("version", 1, "of this layout, 1"),
    Part("pixel_format", 1, "rank of the format in the target file, from 0"),
    Part("glyph_count", 2, "glyphs"),
    Part("width", 2, "of a glyph's box in pixels; the same for all"),
    Part("height", 2, "of the box in pixels"),
    Part("left", 2, "columns of the box left of the pen: draw the box this far left of it"),
    Part("baseline", 2, "rows of the box above the baseline: draw the box this far above it"),
    Part("line_height", 2, "rows from one baseline to the next"),
    Part("advance", 2, "pixels the pen moves on with every glyph, 0 when each has its own width"),
    Part("picture_count", 2, "pictures; glyphs that look the same share one"),
    Part("spare", 2, "0"),
    Part("palette", 4, "name hash of its palette, 0 for direct colour"),
    Part("clear", 4, "what a transparent pixel holds"),
    Part("picture_bytes", 4, "bytes of one picture"),
    Part("glyphs", 4, "offset of the glyph table, by rising code point"),
    Part("pixels", 4, "offset of picture 0; the others follow"),
)
GLYPH = (
    Part("code", 4, "its character's Unicode code point"),
    Part("advance", 2, "pixels the pen moves on"),
    Part("picture", 2, "rank of its picture"),
)
SOUND = (
    Part("version", 1, "of this layout, 1"),
    Part("format", 1, "0 unsigned 8-bit, 1 signed 8-bit, 2 signed 16-bit, 3 mu-law, 4 A-law, 5 ADPCM of 4 bits"),
    Part("spare", 2, "0"),
    Part("rate", 4, "samples a second"),
    Part("sample_count", 4, "samples"),
    Part("samples", 4, "offset of the first sample"),
)
LEVEL = (
    Part("version", 1, "of this layout, 1"),
    Part("cell_bytes", 1, "bytes of a cell, 1 or 2"),
    Part("width", 2, "cells of a row"),
    Part("height", 2, "rows"),
    Part("least", 2, "the smallest number that a cell may hold"),
    Part("most", 2, "the largest number that a cell may hold"),
    Part("spare", 2, "0"),
    Part("cells", 4, "offset of the first cell; the others follow, row by row"),
)
LISTS_VERSION = 2
LISTS = (
    Part("version", 1, "of this layout, 2"),
    Part("spare", 1, "0"),
    Part("scene_count", 2, "scenes"),
    Part("slot_count", 2, "slots of all scenes"),
    Part("group_count", 2, "groups of all scenes"),
    Part("step_count", 2, "steps of all groups"),
    Part("place_count", 2, "places of all groups and bundles"),
    Part("bundle_count", 2, "bundles"),
    Part("buffer_count", 2, "records of buffers and windows of all groups"),
    Part("memory_bytes", 4, "bytes of main memory; places in it are from its first byte"),
    Part("scenes", 4, "offset of the scene table"),
    Part("slots", 4, "offset of the slot table"),
    Part("groups", 4, "offset of the group table"),
    Part("steps", 4, "offset of the step table"),
    Part("places", 4, "offset of the place table"),
    Part("bundles", 4, "offset of the bundle table"),
    Part("buffers", 4, "offset of the table of buffers and windows"),
)
LIST_SCENE = (
    Part("name_hash", 4, "of the scene's name"),
    Part("group", 2, "rank of the group that is there whatever is chosen"),
    Part("first_slot", 2, "rank in the slot table"),
    Part("slot_count", 2, "slots, those of one choice after those of the choice before"),
    Part("spare", 2, "0"),
)
LIST_SLOT = (
    Part("at", 4, "its first byte in memory"),
    Part("bytes", 4, "how many it has"),
    Part("first_group", 2, "rank of the first member that fits it in the group table"),
    Part("group_count", 2, "members"),
)
LIST_GROUP = (
    Part("name_hash", 4, "of the member, or of the scene"),
    Part("first_step", 2, "rank in the step table"),
    Part("step_count", 2, "steps"),
    Part("first_place", 2, "rank in the place table"),
    Part("place_count", 2, "places"),
    Part("first_buffer", 2, "rank in the table of buffers and windows"),
    Part("buffer_count", 2, "records there"),
)
LIST_STEP = (
    Part("source", 4, "first byte in its bank, or in the image without banks"),
    Part("bytes", 4, "how many there are in the image"),
    Part("at", 4, "where they go in memory; of a member of a choice, in the slot"),
    Part("unpacked_bytes", 4, "how many there are in memory"),
    Part("bank", 2, "bank of the source; 0 without banks"),
    Part("codec", 1, "how to unpack them"),
    Part("spare", 1, "0"),
)
LIST_PLACE = (
    Part("name_hash", 4, "of the asset's name"),
    Part("at", 4, "first byte in memory, or in the slot; of one in the cartridge, in its bank, or in the image without banks"),
    Part("bytes", 4, "how many there are at that place"),
    Part("unpacked_bytes", 4, "how many there are unpacked"),
    Part("bank", 2, "of one in the cartridge; else 0"),
    Part("kind", 1, "of the asset"),
    Part("codec", 1, "how it is packed at that place"),
    Part("in_memory", 1, "1 in memory, 0 in the cartridge, 2 in part: its tables in memory, the rest fetched from its other place"),
    Part("spare", 1, "0"),
    Part("spare_too", 2, "0"),
)
LIST_BUFFER = (
    Part("name_hash", 4, "of the asset that is fetched into them"),
    Part("at", 4, "first byte of the first set in memory, or in the slot"),
    Part("set_bytes", 4, "from one set to the next"),
    Part("bytes", 4, "of each buffer, or of the window; those of a set follow one another"),
    Part("tiles", 4, "of a window whose tiles are fetched: for how many there is room, in front of the map; else 0"),
    Part("sets", 2, "sets, at least 1"),
    Part("count", 2, "buffers of a set; 1 of a window"),
    Part("columns", 2, "of a window: units across, in memory that wraps around; 0 of buffers"),
    Part("rows", 2, "of a window: units down; 0 of buffers"),
    Part("unit_width", 2, "of a window: pixels of a unit across; 0 of buffers"),
    Part("unit_height", 2, "of a window: pixels of a unit down; 0 of buffers"),
    Part("unit_bytes", 2, "of a window: bytes of a unit; 0 of buffers"),
    Part("apart", 2, "of a window: 1 when the bytes of a unit are apart in the cartridge, else 0"),
)
LIST_BUNDLE = (
    Part("name_hash", 4, "of the bundle's name"),
    Part("source", 4, "of a contiguous one its first byte, in its bank, or in the image without banks; else 0"),
    Part("bytes", 4, "of a contiguous one from its first byte to its last; else 0"),
    Part("bank", 2, "of a contiguous one; else 0"),
    Part("first_place", 2, "rank in the place table of its first asset in the cartridge"),
    Part("place_count", 2, "assets, in the order of use"),
    Part("contiguous", 2, "1 when it is one run, else 0"),
)
NO_FONT = 0
TEXT = (
    Part("version", 1, "of this layout, 1"),
    Part("unit_bytes", 1, "bytes of a unit, 1, 2 or 4: a glyph's rank in the font, or a code point"),
    Part("language_count", 2, "languages"),
    Part("key_count", 2, "texts of each language"),
    Part("spare", 2, "0"),
    Part("font", 4, "name hash of the font, 0: units are Unicode code points"),
    Part("end", 4, "the unit after a text's last"),
    Part("line_break", 4, "the unit that begins another line"),
    Part("texts", 4, "offset of the table of texts: all of the first language, by key, then all of the next"),
)
STRING = (
    Part("text", 4, "offset of its first unit; equal texts have one offset"),
    Part("units", 2, "units, without its end"),
    Part("lines", 2, "lines, at least 1"),
)
NOTES = (
    Part("version", 1, "of this layout, 1"),
    Part("number_count", 1, "numbers of a frame"),
    Part("frame_count", 2, "frames, as many as the sprite has"),
    Part("sprite", 4, "name hash of the sprite"),
    Part("box_count", 4, "boxes of all frames"),
    Part("point_count", 4, "points of all frames"),
    Part("frames", 4, "offset of the table of frames"),
    Part("boxes", 4, "offset of the table of boxes"),
    Part("points", 4, "offset of the table of points"),
    Part("numbers", 4, "offset of the numbers, two bytes each, signed: all of frame 0, then all of frame 1; 0 where nothing is said"),
)
NOTED_FRAME = (
    Part("first_box", 4, "rank in the table of boxes"),
    Part("first_point", 4, "rank in the table of points"),
    Part("box_count", 2, "boxes, by kind"),
    Part("point_count", 2, "points, by kind; each kind once at most"),
    Part("events", 2, "bit 0 is the first event of the project, bit 1 the second, ..."),
    Part("ticks", 2, "screen pictures for which it is shown where no animation says it, 0 where not said"),
)
NOTED_BOX = (
    Part("kind", 2, "rank of its kind in the project"),
    Part("x", 2, "left of the box in the frame, in pixels", signed=True),
    Part("y", 2, "top of the box in the frame", signed=True),
    Part("width", 2, "in pixels, at least 1"),
    Part("height", 2, "in pixels, at least 1"),
)
NOTED_POINT = (
    Part("kind", 2, "rank of its kind in the project"),
    Part("x", 2, "its pixel in the frame, from the left", signed=True),
    Part("y", 2, "from the top", signed=True),
)
SAMPLE_BITS = {"u8": 8, "s8": 8, "s16": 16, "ulaw": 8, "alaw": 8, "adpcm": 4}
SOUND_FORMATS = tuple(SAMPLE_BITS)

# Of load lists, which the program reads apart from assets.
LIST_RECORDS = ("LISTS", "LIST_SCENE", "LIST_SLOT", "LIST_GROUP", "LIST_STEP", "LIST_PLACE", "LIST_BUFFER", "LIST_BUNDLE")
# Every record by its name, in the order of this file.
RECORDS = {name: record for name, record in list(globals().items()) if isinstance(record, tuple) and isinstance(record[0], Part)}


def name_hash(name: str) -> int:
    """Return the number by which a program knows a name: CRC-32/ISO-HDLC of its ASCII."""
    return zlib.crc32(name.encode("ascii"))


def record_bytes(record: tuple[Part, ...]) -> int:
    """Return the size of a record."""
    return sum(part.bytes for part in record)
