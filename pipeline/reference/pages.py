"""The reference pages of both files, as Markdown. ``python -m pipeline.reference.pages`` writes them into the guide."""

from __future__ import annotations

import typing
from pathlib import Path
from typing import Any, get_args, get_origin

import msgspec

from pipeline.joints import layouts
from pipeline.plain.checked import describe
from pipeline.plain.written import Record, written_fields
from pipeline.project.file import Project
from pipeline.reference.docs import restore_docs
from pipeline.target.fields import CHECKSUM_BYTES, CODEC_NUMBERS, ENTRY_VALUES, HEADER_VALUES
from pipeline.target.kinds import KIND_NUMBERS
from pipeline.target.ranges import RANGE_NAMES
from pipeline.target.records import Target

GUIDE = Path(__file__).parent.parent / "guide"
_NOTE = "<!-- Made by `python -m pipeline.reference.pages` from the records in the code; do not edit. -->"

_TELEVISION = [
    "## The boot notice on an old television",
    "",
    "Testers photograph the two codes from a television, so every build tries that with a model. The notice is sent as",
    "composite video of 525 and of 625 lines: brightness and colour are parted and limited to the bandwidth that each",
    "system's signal has, with the picture filling the visible part of a line. It is drawn in lines of light, photographed",
    "at an angle, a little out of focus and with noise; then a reader of codes, another library than the one that made",
    "them, must find both links. The build is refused where one does not read with half of the bandwidth and the screen",
    "1000 pixels wide in the photo. Half is asked for because sets without a comb filter lose the upper third to a trap",
    "for the colour carrier. The report shows such a photo, and says how little bandwidth and how small a photo still do; the",
    "facts (`blobs/NAME.json`) hold both under `tv`. A screen of more than 576 lines cannot be shown so and is not tried.",
    "",
    "It is a model and no promise. It knows no crawling dots or false colours, no radio noise or ghosts, no flicker between",
    "the phone's shutter and the tube, no mirrored lamp, and only one reader of codes. Worn sets are worse, and phones",
    "differ. So try a build on a set of your own, with a phone of your own, before you hand it out.",
    "",
]

_ORDER = [
    "## Order",
    "",
    "Where you choose the names (`[sprite.NAME]`, `animations`, `buttons`, `[links.more]`), and in every list, the order in which",
    "you write the entries counts: they are numbered, shown or tried in it, and moving one rebuilds what shows it.",
    "",
    "- `animations`: the program knows them by their number.",
    "- `[[background.NAME.part]]`: later parts are laid over earlier ones.",
    "- `[screen.NAME]`: the first is the packet's picture.",
    "- `[pad.NAME]` and its `buttons`, `[links.more]`, `[[control]]`, `[[issue]]`, `[[plan.task]]`: the order in the packet.",
    "- `[scene.NAME]`, `[planned.NAME]`, `[bundle]` and what they list: the order in `budget.json` and in the report.",
    "- `[sprite.NAME]` and the other assets: the order in the report. It does not decide where an asset is in the image.",
    "",
    "It does not count where an entry is only looked up by its name: `buttons` of a control, `[plan.names]`, `[defaults.KIND]`,",
    "`severities` and `names` of `[intake]`. Nor does the order of keys whose names are given below.",
    "",
]


def project_page() -> str:
    """Return the reference of ``project.toml``."""
    intro = [
        "# The project file, `project.toml`",
        "",
        _NOTE,
        "",
        "One TOML file describes one game. Paths start at its folder and stay inside it. Names of assets are identifiers:",
        "a small letter first, then small letters, digits and underscores. Every table and key is listed below; an",
        "unknown one is refused. Sizes are whole bytes or text with a binary unit (`\"64 KiB\"`, `\"2 MiB\"`).",
        "",
        "`[defaults.KIND]` takes any keys of that kind; an asset's own key wins.",
        "",
        "How large art becomes is said by `scale` (one factor, or two: across and down) or by `height` (pixels of the whole",
        "source frame, empty rows included); an asset's own `height` replaces a default `scale`, and the other way",
        "round. All frames of a sprite are scaled outwards from its anchor, which becomes a corner of pixels: feet keep one line at any",
        "scale, and a figure that turns round about its anchor does not jump. For drawn or painted art",
        "leave `resample` at `area`; `lanczos` is sharper. `dominant` keeps pixel art's hard",
        "edges and its colours, but lines thinner than half a pixel of the result go; `nearest` takes one source pixel for",
        "each, whatever lies around it. With `light = \"linear\"` small bright marks on dark ground keep their light.",
        "",
    ]
    return "\n".join(intro + _ORDER + _tables(Project) + _TELEVISION)


def target_page() -> str:
    """Return the reference of a target file."""
    intro = [
        "# The target file",
        "",
        _NOTE,
        "",
        "A target says what a console demands, as data. Three come with the tool (`pipeline/targets/`); a project may bring",
        "its own and name its path. Bit patterns are written as a hardware manual draws them, one letter a bit, most",
        "significant first: `x` is don't-care, `0` and `1` are fixed, other letters name fields.",
        "",
        "The order of entries counts as in the project file: `[pixel_formats]` are numbered in it, checksums of the header are",
        "computed in it, and the first of the sound `formats` is that of a sound which names none. The build code counts every",
        "byte of this file, so that any change of it makes another build.",
        "",
    ]
    return "\n".join(intro + _tables(Target) + _vocabulary())


def blobs_page() -> str:
    """Return what a program must know to find and read assets."""
    lines = [
        "# Blobs and directory",
        "",
        _NOTE,
        "",
        "How a program finds an asset and what it finds there. All numbers are in the target's byte order; offsets inside a",
        "blob are from its first byte. A blob starts at a multiple of its kind's alignment. Where the target's `[alignment]` has the",
        "keys `frame`, `cell`, `tile`, `glyph` or `entries`, each of those parts also starts at such a multiple, counted from the image's",
        "first byte, with zeros before it; in a blob that is packed, counted from where it is unpacked to.",
        "",
        "## Finding an asset",
        "",
        "`include/assets.h` and `assets.inc` give every asset's address, size and more as constants. They change when art",
        "changes, so a program that is built with them is built again (name it with `command` in the project file).",
        "`include/reader.c` reads all of this for a program in C; see [its page](program.md).",
        "A program that is built once finds assets through the directory instead: its address and the number of its entries",
        "are in the header, its entries are in image order, and their fields are listed in the target file. An entry knows",
        "its asset by `name_hash`, the CRC-32/ISO-HDLC of the asset's name in ASCII (`NAME_HASH` in `assets.h`). The",
        "directory's `kind` is " + ", ".join(f"{number} {kind}" for kind, number in KIND_NUMBERS.items()) + ".",
        "",
        "An asset may be packed: the directory's `codec` (`NAME_CODEC`) is "
        + ", ".join(f"{number} {codec}" for codec, number in CODEC_NUMBERS.items()) + ".",
        "`bytes` (`NAME_BYTES`) is its size in the image, `unpacked_bytes` (`NAME_UNPACKED_BYTES`) what it needs in memory,",
        "where it becomes the blob described below; see [Packing](packing.md).",
        "",
        "Programs and data are bytes as they are given. The other kinds begin with a record:",
        "",
    ]
    for heading, record in _RECORDS:
        lines += [f"## {heading}", "", "| offset | bytes | name | what |", "|---|---|---|---|"]
        at = 0
        for part in record:
            signed = ", signed" if part.signed else ""
            lines.append(f"| {at} | {part.bytes} | `{part.name}` | {part.note}{signed} |")
            at += part.bytes
        lines.append("")
    return "\n".join(lines + _PIXELS)


_RECORDS = (
    ("Sprite as a sheet", layouts.SPRITE),
    ("Sprite of trimmed frames", layouts.FRAMED),
    ("Box of a trimmed frame, one for each", layouts.BOX),
    ("Sprite in pieces", layouts.PIECED),
    ("Sprite in prepared pieces", layouts.PREPARED),
    ("Frame of a sprite in pieces", layouts.FRAME),
    ("Piece of a frame", layouts.PIECE),
    ("Prepared piece", layouts.DRAW),
    ("Pool of cells", layouts.POOL),
    ("Animation, one for each, in the order of the project file", layouts.ANIMATION),
    ("Step of an animation", layouts.STEP),
    ("Background as a bitmap", layouts.BACKGROUND),
    ("Background as tiles", layouts.TILED),
    ("Screen (boot notice)", layouts.SCREEN),
    ("Screen as tiles", layouts.TILED_SCREEN),
    ("Palette", layouts.PALETTE),
    ("Sound", layouts.SOUND),
    ("Font", layouts.FONT),
    ("Glyph of a font", layouts.GLYPH),
    ("Level", layouts.LEVEL),
    ("Load lists", layouts.LISTS),
    ("Scene of load lists", layouts.LIST_SCENE),
    ("Slot of a scene", layouts.LIST_SLOT),
    ("Group of load lists", layouts.LIST_GROUP),
    ("Step of a group: bytes to copy or unpack", layouts.LIST_STEP),
    ("Place of an asset", layouts.LIST_PLACE),
    ("Buffers or window of an asset", layouts.LIST_BUFFER),
    ("Bundle", layouts.LIST_BUNDLE),
    ("Texts", layouts.TEXT),
    ("Text, one for each key of each language", layouts.STRING),
    ("Notes on a sprite's frames", layouts.NOTES),
    ("Frame of notes, one for each of the sprite's", layouts.NOTED_FRAME),
    ("Box of a frame", layouts.NOTED_BOX),
    ("Point of a frame", layouts.NOTED_POINT),
)
_PIXELS = [
    "## Tiles and map",
    "",
    "A background whose `version` is 2 is a map of `rows` times `columns` entries and `tile_count` tiles. An entry is",
    "`entry_bytes` long. The bits that `tile_mask` names hold, most significant first, `first_tile` plus the tile's rank: load",
    "the tiles into the console's tile memory from that place on and the map can be copied as it is. The other masks say how",
    "the tile is mirrored and which line of the console's palette colours it; bits of no mask are 0 or what the target's",
    "`map_entry` fixes. Each tile is packed by itself, its rows one below another.",
    "",
    "A screen whose `version` is 2 begins like such a background, but has no `palette`: its own entries are for the console's palette from",
    "entry 0 on, line after line. Unused entries of a line are 0. One tile may be in the map under several lines, which then show",
    "different bits of its pixels. See [The boot notice](notice.md).",
    "",
    "A palette with `line_entries` is several lines, each as long as that; the first entry of each is transparent when",
    "`transparent` says so, and entries that a line does not need are black.",
    "",
    "## Pixels",
    "",
    "Pixels are packed as the target's pixel format says: `pixel` is its bit pattern, `planes` whether its bits are",
    "together or in planes, `first` which end of a byte holds the leftmost pixel, `order` whether rows run across the whole",
    "picture or cell after cell (`tile` after `tile`, where the format has that key), along rows of them or down columns. A pixel of",
    "a palette's entry *n* holds `first + n`, modulo what a pixel can hold; in a",
    "palette with a transparent entry that entry is 0. Where the format has a `row_unit`, zeros fill each row, in planes each plane's",
    "row, up to a whole multiple of this many bytes. Palette entries follow one another, each as the target's",
    "`palette.entry` draws it.",
    "",
]


def write_pages() -> None:
    """Write the pages into the guide."""
    for name, text in pages().items():
        (GUIDE / name).write_text(text, encoding="utf-8")


def pages() -> dict[str, str]:
    """Return file name -> text of the reference pages."""
    return {"project-file.md": project_page(), "target-file.md": target_page(), "blobs.md": blobs_page()}


def _tables(root: type[Record]) -> list[str]:
    restore_docs()
    lines, waiting, done = [], [("", root)], set()
    while waiting:
        heading, record = waiting.pop(0)
        if record in done:
            continue
        done.add(record)
        lines += [f"## `{heading}`" if heading else "## Top level", "", " ".join((record.__doc__ or "").split()), ""]
        lines += ["| key | what | value | if left out |", "|---|---|---|---|"]
        for key, field in written_fields(record).items():
            inner, path = _inner_record(field.type, heading, key)
            if inner is not None:
                waiting.append((path, inner))
            lines.append(f"| `{key}` | {_description(field.type, inner)} | {_cell(describe(field.type))} | {_default(field)} |")
        lines.append("")
    return lines


def _inner_record(hint: Any, heading: str, key: str) -> tuple[type[Record] | None, str]:
    path = heading.strip("[]") + "." + key if heading else key
    for option in _options(hint):
        origin, arguments = get_origin(option), get_args(option)
        if isinstance(option, type) and issubclass(option, Record):
            return option, f"[{path}]"
        if origin is list and _is_record(arguments[0]):
            return _options(arguments[0])[0], f"[[{path}]]"
        if origin is dict and _is_record(arguments[1]):
            return _options(arguments[1])[0], f"[{path}.NAME]"
    return None, path


def _options(hint: Any) -> list[Any]:
    bare = hint.__origin__ if hasattr(hint, "__metadata__") else hint
    if get_origin(bare) is None or get_origin(bare) in (list, dict, tuple, typing.Literal):
        return [bare]
    return [part for option in get_args(bare) if option is not type(None) for part in _options(option)]


def _is_record(hint: Any) -> bool:
    option = _options(hint)[0]
    return isinstance(option, type) and issubclass(option, Record)


def _description(hint: Any, inner: type[Record] | None) -> str:
    # What a key says of itself comes after what its type says of any such value.
    for meta in reversed(getattr(hint, "__metadata__", ())):
        if isinstance(meta, msgspec.Meta) and meta.description:
            return _cell(meta.description)
    for option in get_args(hint):
        text = _description(option, None) if hasattr(option, "__metadata__") else ""
        if text:
            return text
    return _cell(" ".join((inner.__doc__ or "").split())) if inner else ""


def _default(field: Any) -> str:
    if field.required:
        return "**required**"
    if field.default is msgspec.NODEFAULT:
        made = field.default_factory()
        return f"`{made}`" if made and isinstance(made, list) else "empty"
    value = field.default
    if value is None or value == "":
        return "—"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f"`{list(value) if isinstance(value, tuple) else value}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _vocabulary() -> list[str]:
    lines = ["## Values a header field may name", "", "| value | what |", "|---|---|"]
    lines += [f"| `{name}` | {what} |" for name, what in HEADER_VALUES.items()]
    lines += ["", "## Values a directory field may name", "", "| value | what |", "|---|---|"]
    lines += [f"| `{name}` | {what} |" for name, what in ENTRY_VALUES.items()]
    lines += ["", "## Checksums", ""]
    lines += ["Names are those of the RevEng catalogue where it has one; `sum16-words` adds 16-bit words in the target's byte", "order."]
    lines += ["", "| algorithm | bytes |", "|---|---|"]
    lines += [f"| `{name}` | {count} |" for name, count in CHECKSUM_BYTES.items()]
    lines += ["| `same` | as the field it repeats |", ""]
    lines += ["Places that `covers` may name, apart from numbers:  " + ", ".join(f"`{name}`" for name in RANGE_NAMES) + ",", ""]
    lines[-2] += " and parts of the padded image such as `1/2` or `3/4`; each with `+N` or `-N` bytes, as in `end-2` or `header+0x20`."
    return lines


if __name__ == "__main__":
    write_pages()
