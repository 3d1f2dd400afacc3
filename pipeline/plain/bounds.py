"""The limit of every input: what follows from a target, and the fixed numbers, each with its reason.

``STATED`` is what ``pipeline/guide/bounds.md`` lists; a test compares the two.
"""

from __future__ import annotations

from typing import NamedTuple


class Most(NamedTuple):
    """A stated bound.

    Attributes:
        what: the thing counted.
        most: the largest number accepted.
        unit: ``bytes`` for sizes, else what is counted.
        why: where the number comes from.
    """

    what: str
    most: int
    unit: str
    why: str


STATED: dict[str, Most] = {}


def _stated(name: str, what: str, most: int, unit: str, why: str) -> int:
    STATED[name] = Most(what, most, unit, why)
    return most


MIB = 1 << 20
TARGET_BYTES = _stated("TARGET_BYTES", "a target's cartridge or memory", 128 * MIB, "bytes", "twice the largest of such consoles")
PIXEL_ASPECT = _stated("PIXEL_ASPECT", "a pixel's longer side", 4, "times the shorter", "the widest of such consoles' pixels are 2 to 1")
TOML_BYTES = _stated("TOML_BYTES", "a TOML file", 4 * MIB, "bytes", "the demo's project file has 15 KB")
JSON_BYTES = _stated("JSON_BYTES", "`ledger.json`", 32 * MIB, "bytes", "a release of 100 assets takes 30 KB of it")
REPORTS_BYTES = _stated("REPORTS_BYTES", "a file of kept reports", 192 * MIB, "bytes", "three times the largest export, as JSON")
WORDS_BYTES = _stated("WORDS_BYTES", "a template, `changes.md`", 1 * MIB, "bytes", "a book of 150,000 words")
TEXT_BYTES = _stated("TEXT_BYTES", "a text file for a font", 8 * MIB, "bytes", "more than a cartridge of such a console holds of text")
PALETTE_BYTES = _stated("PALETTE_BYTES", "a text palette", 4 * MIB, "bytes", "65,536 colours with a name each")
FONT_BYTES = _stated("FONT_BYTES", "a font file", 32 * MIB, "bytes", "fonts of all Chinese characters have about 20 MB")
PICTURE_BYTES = _stated("PICTURE_BYTES", "a picture file", 65 * MIB, "bytes", "all its pixels at 4 bytes each, and 1 MiB")
PICTURE_PIXELS = _stated("PICTURE_PIXELS", "a picture's own pixels", 1 << 24, "pixels", "4096 x 4096; 200 screens of 320 x 240")
SCALED_PIXELS = _stated("SCALED_PIXELS", "a background after scaling", 1 << 23, "pixels", "4096 x 2048; 100 screens of 320 x 240")
PARTS = _stated("PARTS", "parts of a background", 64, "parts", "each is shown beside its original")
PART_COPIES = _stated("PART_COPIES", "copies of a background's parts", 4096, "copies", "one in each cell of 8 x 8 of a screen, thrice over")
PART_PIXELS = _stated(
    "PART_PIXELS", "all copies of a background's parts, as drawn or as placed", 1 << 27, "pixels", "32 copies of 2048 x 2048"
)
PNG_CHUNKS = _stated("PNG_CHUNKS", "chunks of a PNG file", 1 << 16, "chunks", "one for each KiB of the largest file")
JPEG_SCANS = _stated("JPEG_SCANS", "scans of a JPEG file", 100, "scans", "progressive encoders write 6 to 14")
PALETTE_PIXELS = _stated("PALETTE_PIXELS", "a picture that gives a palette", 1 << 20, "pixels", "1024 x 1024")
FRAME_PIXELS = _stated("FRAME_PIXELS", "a sprite's frame after scaling", 1 << 22, "pixels", "2048 x 2048")
SPRITE_PIXELS = _stated("SPRITE_PIXELS", "all frames of a sprite after scaling", 1 << 25, "pixels", "500 frames of 256 x 256")
DRAWN_PIXELS = _stated("DRAWN_PIXELS", "all frames of a sprite as drawn", 1 << 29, "pixels", "2,000 frames of 512 x 512")
FRAMES = _stated("FRAMES", "frames of a sprite", 4096, "frames", "over a minute at 60 frames a second")
NOTED_FRAMES = _stated("NOTED_FRAMES", "frames named in a notes file, in all", 1 << 17, "frames", "32 parts on each of the longest sprite")
NOTED_BOXES = _stated("NOTED_BOXES", "boxes of a notes file, on all frames", 1 << 17, "boxes", "32 on each frame of the longest sprite")
FILES = _stated("FILES", "files that one pattern finds", 16384, "files", "four for each frame of the longest sprite")
EFFECT_TICKS = _stated("EFFECT_TICKS", "an effect, all its rounds", 3600, "refreshes", "a minute at 60 in a second")
LEVEL_BYTES = _stated("LEVEL_BYTES", "a text file of a level", 16 * MIB, "bytes", "four million cells of three digits")
GRID_SIDE = _stated("GRID_SIDE", "rows, and columns, of a level", 65535, "cells", "what its record in the blob can count")
BROUGHT_FILES = _stated("BROUGHT_FILES", "files of a folder that is brought in", 16384, "files", "as many as one pattern finds")
SOUND_BYTES = _stated("SOUND_BYTES", "a sound file", 128 * MIB, "bytes", "12 minutes of 44,100 Hz, 16 bits, stereo")
SOUND_SAMPLES = _stated("SOUND_SAMPLES", "a recording's samples, all channels", 1 << 27, "samples", "the largest 8-bit file")
SOUND_CHUNKS = _stated("SOUND_CHUNKS", "chunks of a sound file", 4096, "chunks", "editors write fewer than 20")
LEAST_RECORDED = 1000  # with the highest rate a project may ask for, no sound becomes more than 192 times as long
MOST_RECORDED = _stated("MOST_RECORDED", "rate of a recording", 768_000, "Hz", "four times what a project may ask for; at least 1,000")
COMMAND_BYTES = _stated("COMMAND_BYTES", "a file a command depends on", 1024 * MIB, "bytes", "it is only hashed, never held")
GLYPH_SIDE = _stated("GLYPH_SIDE", "side of a glyph", 4096, "pixels", "16 times the largest size of a font")
CHARACTERS = _stated("CHARACTERS", "characters of a font", 65535, "characters", "what its number in the blob can count")
ISSUES = _stated("ISSUES", "known issues", 1000, "issues", "they are printed in the packet")
EXPORT_BYTES = _stated("EXPORT_BYTES", "a CSV export", 64 * MIB, "bytes", "the most rows at 670 bytes each")
EXPORT_ROWS = _stated("EXPORT_ROWS", "rows of a CSV export", 100_000, "rows", "what comparing them was measured with")
EXPORT_COLUMNS = _stated("EXPORT_COLUMNS", "columns of a CSV export", 1024, "columns", "forms have fewer than 100")
EXPORT_CELL = _stated("EXPORT_CELL", "a cell of a CSV export", 131_072, "characters", "a book chapter; spreadsheets stop at 32,767")
EXPORT_ROW = _stated("EXPORT_ROW", "a row of a CSV export", 1 << 20, "characters", "eight of the longest cells")
PDF_BYTES = _stated("PDF_BYTES", "a filled report page", 64 * MIB, "bytes", "ten times a packet with many pictures")
PAGE_FILES = _stated("PAGE_FILES", "filled report pages read at once", 2000, "files", "as many testers as nobody has")
PAGE_FIELDS = _stated("PAGE_FIELDS", "fields of a filled report page", 4096, "fields", "a packet has about 30")
PAGE_LEVELS = _stated("PAGE_LEVELS", "fields inside each other of a filled report page", 16, "levels", "a packet has one")
KEPT_REPORTS = _stated("KEPT_REPORTS", "reports kept of one form", 100_000, "reports", "what comparing them was measured with")
LEDGER_PICTURE = _stated("LEDGER_PICTURE", "a picture of the ledger", 4 * MIB, "bytes", "the tool writes them smaller than 100 KB")
COMMAND_SHOWN = 1 << 16  # bytes of a command's output that are kept for a message


def asset_room(cartridges: list[int], memory: int) -> int:
    """Return the most bytes that one asset may unpack to: those of the largest cartridge, or of main memory if it is larger."""
    return max(*cartridges, memory)


def most_frames(target_frames: int) -> int:
    """Return the most frames of a sprite: the target's own limit, or the stated one if that is less."""
    return min(target_frames, FRAMES)


def most_samples(room: int, width: int) -> int:
    """Return the most samples of ``width`` bits each that an asset may hold."""
    return room * 8 // width
