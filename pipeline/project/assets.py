"""The records of assets in ``project.toml``: one for each kind, and the defaults of a kind."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from msgspec import Meta, field

from pipeline.plain.written import Record, Written, about
from pipeline.target.records import Address, Alignment, MapPattern, Positive, SampleFormat, Size, TileSize

File = Annotated[str, Meta(min_length=1, description="A file inside the project folder.", examples=["art/a.png"])]
Glob = Annotated[str, Meta(min_length=1, description="A pattern for files inside the project folder.", examples=["art/ada/*.png"])]
Factor = Annotated[float, Meta(ge=0.01, le=8)]
Scale = Annotated[
    Factor | Annotated[list[Factor], Meta(min_length=2, max_length=2)],
    about(
        "Factor in each direction, or two of them: [across, down]; 0.77 leaves 59 % of the area.",
        title="a number, 0.01 to 8, or two of them",
    ),
]
Height = Annotated[
    int | None,
    about("Instead of scale: pixels the height of the whole source frame is brought to; its width goes with it.", ge=1, le=65535),
]
Resample = Annotated[
    Literal["nearest", "area", "lanczos", "dominant"],
    about("How pixels are scaled. dominant is for pixel art: each pixel takes the colour that covers most of it, none is invented."),
]

Light = Annotated[
    Literal["as stored", "linear"],
    about(
        "What area and lanczos take means of: the numbers in the file, or the light they represent (sRGB); linear keeps fine bright marks."
    ),
]
Pan = Annotated[tuple[Annotated[int, Meta(ge=0, le=4096)], Annotated[int, Meta(ge=0, le=4096)]], Meta(examples=[[4, 4]])]
Side = Annotated[int, Meta(ge=1, le=256)]
Cell = Annotated[int, Meta(ge=0, le=65535)]
Packing = Annotated[
    Literal["stored", "packbits", "lz4", "best"],
    Meta(description="Its form in the image: as it is, packed by a codec, or as the smallest that the target's codecs make."),
]


Colour = Annotated[str, Meta(pattern="^#[0-9a-fA-F]{6}$(?!\n)", title="a colour such as #ff8800")]
Replacement = Annotated[
    tuple[Colour | Annotated[int, Meta(ge=0, le=65535)], Colour],
    Meta(title="a pair: a colour or an entry's number, then a colour", examples=[["#ff8800", "#0088ff"]]),
]


def _read_key(value: str | list[str]) -> tuple[str, ...]:
    colours = (value,) if isinstance(value, str) else tuple(value)
    for colour in colours:
        if not re.fullmatch("#[0-9a-fA-F]{6}", colour):
            raise ValueError(f"{colour!r} is not a colour; write it as #ff00ff")
    if not colours:
        raise ValueError("an empty list; name a colour, or leave key out")
    return colours


# The pattern is not msgspec's: a union of a text with a pattern and a list makes it read freed memory (0.22).
Key = Annotated[
    Annotated[tuple[str, ...], Written(str | list[str], _read_key)] | None,
    about("The colour of the art, or several, that means transparent, in art without transparency.", examples=["#ff00ff"]),
]
Tolerance = Annotated[int, about("How far a pixel may be from a key colour, in each channel.", ge=0, le=255)]
Lines = Annotated[int, Meta(ge=0, le=4096)]
Lines2 = Lines | Annotated[list[Lines], Meta(min_length=2, max_length=2)]
FrameSide = Annotated[int, Meta(ge=1, le=4096)]


AreaName = Annotated[
    str,
    about("The memory it is loaded to: an area of the target, or main; left out: that of its kind.", examples=["sound"], min_length=1),
]
Split = Annotated[bool, about("The game fetches it in several transfers, so it may cross the target's boundary of transfers.")]


class Sheet(Record):
    """One picture that holds all frames, row by row: on a grid, or anywhere with boxes; see sheets.md."""

    file: File
    columns: Annotated[Positive | None, about("Frames across; left out: as many as frame allows.")] = None
    rows: Annotated[Positive | None, about("Frames down; left out: as many as frame allows.")] = None
    frame: Annotated[
        tuple[FrameSide, FrameSide] | None, about("Width and height of a frame; left out: from columns and rows.", examples=[[32, 48]])
    ] = None
    margin: Annotated[Lines2, about("Pixels around all frames: one number, or across and down.", title="a number, or two of them")] = 0
    gap: Annotated[Lines2, about("Pixels between frames: one number, or across and down.", title="a number, or two of them")] = 0
    count: Annotated[Positive | None, about("Frames used, where the last row is not full.")] = None
    boxes: Annotated[
        str | None,
        about(
            "Instead of a grid: the file that says where frames are. found: the figures are found in the picture and written to a file "
            "beside it, which is yours from then on.",
            examples=["found", "art/ada.boxes.toml"],
            min_length=1,
        ),
    ] = None
    join: Annotated[
        int | None,
        about("For boxes = \"found\": clear pixels that parts of one figure may be apart; left out: found from the art.", ge=0, le=256),
    ] = None
    cut: Annotated[
        Literal["clear", "anyway"], about("clear: refuses a cut through opaque pixels. anyway: cuts them.")
    ] = "clear"


class Animation(Record):
    """Frames shown one after another."""

    frames: Annotated[str | list[int], about("Pattern over the frames' file names, or frame numbers from 0.", examples=["walk_*"])]
    ms: Annotated[float | list[float], about("Milliseconds a frame is shown: one number, or one for each.", examples=[80])]
    loop: Annotated[bool, about("Starts again at the end.")] = True


class Sprite(Record):
    """A figure of many frames. Give frames, animated or sheet."""

    frames: Glob | None = None
    animated: Annotated[File | None, about("An animated GIF or PNG, taken with its own timing.")] = None
    sheet: Sheet | None = None
    scale: Scale = 1.0
    height: Height = None
    key: Key = None
    tolerance: Tolerance = 0
    align: Annotated[
        Literal["bottom", "centre", "top", "anchors"] | None,
        about(
            "Puts frames of different sizes on one canvas: by the middle of their lower edge, their centre or the middle of their upper "
            "edge, or by an anchor of each: from its box, from marker, or from anchor = \"feet\"."
        ),
    ] = None
    marker: Annotated[
        Colour | None, about("Colour of one pixel in each frame that marks its anchor, and is not drawn.", examples=["#ff0000"])
    ] = None
    anchor: Annotated[
        tuple[float, float] | Literal["feet"] | None,
        about(
            "Point of the source frame, or of the canvas, that stays in place, in pixels from the top left; default: the middle of its "
            "lower edge. feet: of each frame the middle of its lowest opaque row, with align = \"anchors\".",
            title="a point, or \"feet\"",
        ),
    ] = None
    palette: Annotated[str | None, about("The palette used; only a direct-colour pixel format goes without.")] = None
    pixels: Annotated[str | None, about("Pixel format, by its name in the target; left out: the screen's.")] = None
    dither: Annotated[
        Literal["none", "ordered", "diffusion"], about("How colours the palette lacks are mixed; what does not move does not crawl.")
    ] = "none"
    alpha: Annotated[int, about("Pixels at least this opaque stay.", ge=1, le=255)] = 128
    resample: Resample = "area"
    light: Light = "as stored"
    arrangement: Annotated[
        Literal["sheet", "frames", "pieces"],
        about(
            "sheet: every frame as one rectangle of whole cells. frames: each trimmed to its opaque pixels, equal ones once. "
            "pieces: as few cells as cover it, at any pixel, equal ones once."
        ),
    ] = "sheet"
    pool: Annotated[str, about("The pool that holds the cells of its pieces; empty: it has its own.")] = ""
    prepared: Annotated[
        Literal["none", "cells", "commands"],
        about(
            "Pieces also in the form in which they are drawn. cells: source, place and length of each. commands: each as the "
            "target's blitter takes it; see commands under [sprites] of the target."
        ),
    ] = "none"
    prefer: Annotated[
        Literal["bytes", "transfers"],
        about("bytes: equal cells once. transfers: each frame's cells in one run, so that one transfer fetches them; takes more bytes."),
    ] = "bytes"
    animations: dict[str, Animation] = field(default_factory=dict)
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Pool(Record):
    """Cells that sprites in pieces share: equal ones are stored once over all sprites that name it.

    A bundle or scene that holds such a sprite holds its whole pool too, without naming it (a palette is named); so put
    sprites together that are in memory together.
    """

    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


Whole = Annotated[int, Meta(ge=0, le=65535)]
Times = Annotated[int, Meta(ge=1, le=4096)]


class Part(Record):
    """A detail put onto a background before colours are chosen. Parts are laid in their order, later ones on top; see parts.md."""

    file: File
    at: Annotated[
        tuple[float, float],
        about("Where its top left corner goes, across and down, in pixels of the background's own file.", examples=[[310, 120]]),
    ]
    name: Annotated[str, about("What proofs call it; left out: its file's name.", max_length=40)] = ""
    box: Annotated[
        tuple[Whole, Whole, Whole, Whole] | None,
        about(
            "Left, top, width and height of what is taken of its file, in the file's pixels; left out: all of it.",
            examples=[[40, 8, 24, 64]],
        ),
    ] = None
    scale: Annotated[
        Factor | Annotated[list[Factor], Meta(min_length=2, max_length=2)],
        about(
            "Pixels of the background's file for one of the part's, or two numbers: [across, down]. The background's own scale "
            "multiplies it.",
            title="a number, 0.01 to 8, or two of them",
        ),
    ] = 1.0
    mirror: Annotated[
        Literal["x", "y", "both"] | None, about("x: left and right change places. y: top and bottom. both: turned by half a turn.")
    ] = None
    repeat: Annotated[tuple[Times, Times], about("Copies across and down.", examples=[[6, 1]])] = (1, 1)
    every: Annotated[
        tuple[float, float] | None,
        about(
            "From one copy to the next, across and down, in pixels of the background's file; left out: the placed size.", examples=[[22, 0]]
        ),
    ] = None
    key: Key = None
    tolerance: Tolerance = 0
    blend: Annotated[
        float,
        about(
            "Pixels of the background's file over which each edge of the box passes into what is below; 0: hard edges.", ge=0, le=65535
        ),
    ] = 0.0
    clip: Annotated[bool, about("Cuts off what reaches beyond the background, instead of refusing it.")] = False


class Background(Record):
    """One large picture."""

    file: File
    part: list[Part] = field(default_factory=list)
    key: Key = None
    tolerance: Tolerance = 0
    scale: Scale = 1.0
    height: Height = None
    dither: Annotated[
        Literal["none", "where needed", "ordered", "diffusion"] | None,
        about(
            "How colours the palette lacks are mixed. where needed: only where the eye sees a clear gain. Left out: where needed for a "
            "bitmap; none for tiles, of which every mixture makes more, and where every colour is an entry; see palettes.md."
        ),
    ] = None
    palette: Annotated[str | None, about("The palette used; only a direct-colour pixel format goes without.")] = None
    pixels: Annotated[str | None, about("Pixel format, by its name in the target; left out: the screen's.")] = None
    resample: Resample = "area"
    light: Light = "as stored"
    arrangement: Annotated[
        Literal["bitmap", "tiles"], about("bitmap: one picture. tiles: distinct tiles once, and a map that says where each goes.")
    ] = "bitmap"
    tile: Annotated[TileSize | None, about("Width and height of a tile; left out: the target's tile, else its cell.")] = None
    map_entry: Annotated[
        MapPattern | None,
        about("Bit pattern of a map entry (letters as in the target's [tiles]); left out: the target's. Needed where the target has none."),
    ] = None
    tiles_at_most: Annotated[int | None, about("Most distinct tiles; left out: as many as fit.", ge=1, le=1 << 24)] = None
    merge: Annotated[bool, about("Too many tiles: draws the nearest ones alike until they fit, instead of refusing.")] = False
    first_tile: Annotated[int, about("Number of its first tile in the console's tile memory.", ge=0, le=1 << 24)] = 0
    pan: Annotated[
        Pan, about("Pixels the window moves across and down from one screen picture to the next, for the comparison of bitmap and tiles.")
    ] = (4, 4)
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Palette(Record):
    """Colours shared by the assets that name it: loaded from a file, or computed from those assets."""

    colours: Annotated[
        int | None, about("Entries at most, the transparent one included; left out: what the target allows.", ge=2, le=65536)
    ] = None
    first: Annotated[
        int,
        about(
            "Entry of the console's palette at which it is loaded; pixels hold first + own index, modulo what a pixel can hold.",
            ge=0,
            le=65535,
        ),
    ] = 0
    transparent: Annotated[bool, about("Puts an entry for transparent pixels before the colours.")] = False
    locked: Annotated[
        list[Colour],
        about("Colours that must be in a computed palette.", examples=[["#ff8800"]]),
    ] = field(default_factory=list)
    lines: Annotated[
        int | None,
        about(
            "Deals the colours to this many lines of the console's palette, each as long as a pixel can address; for backgrounds of tiles, "
            "whose map chooses the line. colours and transparent then count for each line.",
            ge=2,
            le=256,
        ),
    ] = None
    locked_file: Annotated[
        File | None, about("A picture or text palette (.gpl, .pal) whose colours must be in a computed palette, in addition to locked.")
    ] = None
    exact: Annotated[bool, about("Refuses more colours than fit, or than its file has, instead of choosing the best ones.")] = False
    file: Annotated[
        File | None, about("A picture whose colours are taken in reading order, or a text palette (.gpl, .pal); left out: computed.")
    ] = None
    order: Annotated[
        Literal["reading", "file"],
        about(
            "How the colours of file are numbered. reading: as they are first met, each once, after the transparent entry. file: by the "
            "file's own numbers, in an indexed PNG or a text palette, where number 0 is the transparent entry; see palettes.md."
        ),
    ] = "reading"
    variant_of: Annotated[
        str | None,
        about(
            "Makes it a variant: other colours at the numbers of that palette, from file, replace, or hue, lightness and chroma. Which "
            "entries there are, and where it is loaded if first is left out, is as in that palette."
        ),
    ] = None
    worn_by: Annotated[
        list[str],
        about("Of a variant: the sprites, backgrounds and fonts shown in it; left out: all that name its palette.", examples=[["ada"]]),
    ] = field(default_factory=list)
    replace: Annotated[
        list[Replacement],
        about(
            "Of a variant: pairs of a colour of its palette, or an entry's number, and the colour instead; applied after hue, lightness "
            "and chroma.",
            examples=[[["#ff8800", "#0088ff"], [3, "#000000"]]],
        ),
    ] = field(default_factory=list)
    hue: Annotated[float, about("Of a variant: degrees by which hues are turned in OKLCh, from red to yellow.", ge=-180, le=180)] = 0.0
    lightness: Annotated[float, about("Of a variant: factor of the lightness in OKLCh.", ge=0, le=4)] = 1.0
    chroma: Annotated[float, about("Of a variant: factor of the chroma in OKLCh; 0 leaves greys.", ge=0, le=4)] = 1.0
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Font(Record):
    """Letters for the game's own texts, from a font file at one size or from a strip of drawn letters; see fonts.md."""

    file: Annotated[
        str,
        about(
            "A font (.ttf, .otf), or a picture of letters on a grid (.png, .gif, .bmp and others).",
            examples=["art/letters.png"],
            min_length=1,
        ),
    ]
    size: Annotated[int | None, about("Of a font file: pixels of its em square; capitals take about 0.7 of it.", ge=4, le=256)] = None
    colour: Annotated[
        str | None,
        about(
            "Of a font file: the colour its letters are drawn in; left out: white.",
            pattern="^#[0-9a-fA-F]{6}$(?!\n)",
            title="a colour such as #ff8800",
            examples=["#ff8800"],
        ),
    ] = None
    key: Key = None
    tolerance: Tolerance = 0
    cell: Annotated[tuple[Side, Side] | None, about("Of a strip: width and height of one letter's cell.", examples=[[8, 8]])] = None
    order: Annotated[str, about("Of a strip: its characters in reading order; line breaks do not count.", examples=["ABC"])] = ""
    characters: Annotated[str, about("Characters the game needs; line breaks do not count.", examples=["0123456789"])] = ""
    texts: Annotated[
        list[Glob], about("UTF-8 files whose characters the game needs. A strip with neither is taken whole.", examples=[["text/*.txt"]])
    ] = field(default_factory=list)
    spacing: Annotated[
        Literal["proportional", "fixed"], about("proportional: a letter advances by its own width. fixed: all by the widest.")
    ] = "proportional"
    gap: Annotated[int | None, about("For a proportional strip: columns after a letter; default: 1.", ge=0, le=64)] = None
    space: Annotated[int | None, about("Of a proportional strip: advance of an empty cell; left out: half a cell.", ge=0, le=256)] = None
    baseline: Annotated[int | None, about("Of a strip: rows of a cell above the baseline; left out: all.", ge=0, le=256)] = None
    line_height: Annotated[int | None, about("Rows from one line to the next; left out: the font's own, or the cell's.", ge=1, le=1024)] = (
        None
    )
    box: Annotated[
        tuple[Side, Side] | None, about("Size every glyph is stored in; left out: the smallest that cuts nothing.", examples=[[8, 16]])
    ] = None
    palette: Annotated[str | None, about("The palette used; only a direct-colour pixel format goes without.")] = None
    pixels: Annotated[str | None, about("Pixel format, by its name in the target; left out: the screen's.")] = None
    alpha: Annotated[int, about("Of a strip: pixels at least this opaque stay.", ge=1, le=255)] = 128
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Sound(Record):
    """A recording."""

    file: File
    rate: Annotated[int | None, about("Samples a second; left out: as recorded.", ge=1000, le=192000)] = None
    channels: Annotated[
        Literal["left", "right", "mix"] | None,
        about("The channel to take of a stereo recording, or their mean; left out: the mean, unless the channels cancel out."),
    ] = None
    format: Annotated[SampleFormat | None, about("Sample format; left out: the target's first.")] = None
    offset: Annotated[Literal["keep", "remove"], about("remove: moves the sound so that its mean is silence.")] = "keep"
    trim: Annotated[float | None, about("Cuts off both ends what is quieter than this, in dBFS.", ge=-96, le=-20, examples=[-50])] = None
    fade: Annotated[float, about("Milliseconds over which both ends rise from silence and fall to it.", ge=0, le=1000)] = 0.0
    gain: Annotated[
        float, about("Decibels by which it is made louder, below 0 quieter; in a mix, than the mix makes it.", ge=-60, le=60)
    ] = 0.0
    mix: Annotated[str | None, about("The [mix.NAME] in which it sits together with other sounds.", min_length=1)] = None
    dither: Annotated[
        Literal["none", "plain", "triangular", "shaped"],
        about("Noise added before rounding, so that quiet ends hiss instead of rasping; see sounds.md."),
    ] = "none"
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Mix(Record):
    """Sounds that sit together: those that name it."""

    loudness: Annotated[
        float | None,
        about(
            "Loudness that each is brought to, in LUFS (ITU-R BS.1770); left out: all keep what they have beside one another.",
            ge=-50,
            le=-5,
            examples=[-20],
        ),
    ] = None
    peak: Annotated[float, about("No sample is above this, in dBFS: if one were, all are lowered together.", ge=-40, le=0)] = -1.0


class Screen(Record):
    """The boot notice, drawn by the pipeline: title, version, phase, build code, warning and two codes."""

    warning: Annotated[str, about("One line under the title.", max_length=80)] = "Test build. Not for sale."
    feedback_label: Annotated[str, about("Words under the feedback code.", min_length=1, max_length=24)] = "FEEDBACK"
    bugs_label: Annotated[str, about("Words under the bug code.", min_length=1, max_length=24)] = "REPORT A BUG"
    arrangement: Annotated[
        Literal["bitmap", "tiles"] | None,
        about("One picture, or tiles and a map; left out: tiles where the console's screen is drawn from tiles."),
    ] = None
    correction: Annotated[
        Literal["M", "L"], about("The least error correction of its codes; L is used only where codes of level M do not fit.")
    ] = "M"
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = "Drawn by Romwright."


Bank = Annotated[
    Annotated[int, Meta(ge=0, le=65535)] | Literal["any"],
    Meta(
        title="a bank",
        description="The bank it starts in; an address is then as that bank is seen. Or any: the bank is chosen, and an address is one in "
        "the window that it is linked for. Left out: a program goes to the fixed banks, data to any.",
        examples=["any"],
    ),
]


class Program(Record):
    """What the console runs: a file that is ready, or a command that makes it. Never run through a shell."""

    file: File | None = None
    command: Annotated[
        list[str] | None,
        about(
            "The command as a list; it runs only with your yes. {include}, {output}, {project} (folders and file), {address} "
            "(written 0x...) and {bank} are replaced.",
            examples=[["make-it", "-I", "{include}", "-o", "{output}"]],
        ),
    ] = None
    depends: Annotated[list[Glob], about("What the command reads, apart from the generated include files.")] = field(default_factory=list)
    entry: Annotated[int, about("Offset of the first instruction.", ge=0)] = 0
    reserve: Annotated[Size | None, about("Room kept for it; needed with address or banks.")] = None
    address: Address | None = None
    bank: Bank | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Data(Record):
    """Bytes taken as they are."""

    file: File
    packing: Packing = "stored"
    address: Address | None = None
    bank: Bank | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Level(Record):
    """A map of the game as a grid of numbers, stored row by row. Give file or picture; see levels.md."""

    file: Annotated[
        str | None,
        about(
            "A text with a row of numbers in each line, between commas, semicolons or blanks (.csv, .txt); or an indexed picture, whose "
            "pixels are the numbers (.png).",
            examples=["levels/quay.csv"],
            min_length=1,
        ),
    ] = None
    picture: Annotated[
        File | None,
        about(
            "A picture made of the tiles of set, in the colours of its art: each tile-sized cell becomes the number of the tile it shows.",
            examples=["levels/quay.png"],
        ),
    ] = None
    set: Annotated[
        str | None,
        about(
            "A background of tiles, or a sprite, whose tiles or frames the numbers are, counted from 0: none may be higher.",
            examples=["quay"],
        ),
    ] = None
    cell_bytes: Annotated[Literal[1, 2], about("Bytes of a cell: 1 for numbers to 255, 2 for numbers to 65535.")] = 1
    bounds: Annotated[
        tuple[Cell, Cell] | None,
        about(
            "Smallest and largest number that may be in it; left out: from 0 to what a cell holds, or to the last tile of set.",
            examples=[[0, 63]],
        ),
    ] = None
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""

    @property
    def limits(self) -> tuple[int, int]:
        """Return the smallest and largest number that may be in it."""
        return self.bounds or (0, 256**self.cell_bytes - 1)


class Text(Record):
    """The game's texts in one or more languages, each under its key; see text.md."""

    languages: Annotated[
        dict[str, File],
        about(
            "Language -> its file: TOML with key = \"text\" (.toml), or a line key = text for each (.txt). The first decides the order of "
            "keys.",
            examples=[{"en": "text/en.toml", "fr": "text/fr.toml"}],
        ),
    ]
    font: Annotated[
        str | None, about("The font in whose characters texts are stored, each as its glyph's rank; left out: Unicode code points.")
    ] = None
    unit_bytes: Annotated[
        Literal[1, 2, 4] | None, about("Bytes of a character; left out: the fewest that hold all of the font, or of the texts.")
    ] = None
    width: Annotated[int | None, about("Widest line in pixels, by the font's advances; a text may have its own.", ge=1, le=65535)] = None
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Notes(Record):
    """What is noted on the frames of a sprite: boxes, points, numbers, events and times. Give file, layer or both; see notes.md."""

    of: Annotated[str, about("The sprite whose frames they are about.", examples=["ada"])]
    file: Annotated[File | None, about("A notes file.", examples=["art/ada.notes.toml"])] = None
    layer: Annotated[
        Glob | None,
        about(
            "Pictures that show boxes and points in the colours of [note_kinds.colours]: one for a frame, of the name of the frame's file; "
            "one of a sheet's size; or for an animation one for each frame.",
            examples=["art/ada_notes/*.png"],
        ),
    ] = None
    packing: Packing = "stored"
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    split: Split = False
    origin: Annotated[str, about("Where it comes from and under what rights.")] = ""


class Lists(Record):
    """Load lists: where in the image the assets of bundles and scenes are, and where in memory they go; see memory.md."""

    scenes: Annotated[
        Annotated[list[str], Meta(min_length=1)] | None, about("Scenes that get a list; left out: all.", examples=[["race"]])
    ] = None
    address: Address | None = None
    alignment: Alignment | None = None
    area: AreaName | None = None
    origin: Annotated[str, about("Where it comes from and under what rights.")] = "Written by Romwright."


class Defaults(Record):
    """Keys every asset of a kind takes unless it gives its own."""

    sprite: Annotated[dict, about("Keys of [sprite.NAME].")] = field(default_factory=dict)
    pool: Annotated[dict, about("Keys of [pool.NAME].")] = field(default_factory=dict)
    background: Annotated[dict, about("Keys of [background.NAME].")] = field(default_factory=dict)
    palette: Annotated[dict, about("Keys of [palette.NAME].")] = field(default_factory=dict)
    sound: Annotated[dict, about("Keys of [sound.NAME].")] = field(default_factory=dict)
    data: Annotated[dict, about("Keys of [data.NAME].")] = field(default_factory=dict)
    font: Annotated[dict, about("Keys of [font.NAME].")] = field(default_factory=dict)
    level: Annotated[dict, about("Keys of [level.NAME].")] = field(default_factory=dict)
    text: Annotated[dict, about("Keys of [text.NAME].")] = field(default_factory=dict)
    notes: Annotated[dict, about("Keys of [notes.NAME].")] = field(default_factory=dict)
    screen: Annotated[dict, about("Keys of [screen.NAME].")] = field(default_factory=dict)
