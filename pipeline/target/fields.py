"""Header and directory fields as data: the values they may name, and the checks on their definitions."""

from __future__ import annotations

from pipeline.plain.checked import Document
from pipeline.plain.errors import nearest_name
from pipeline.plain.sizes import parse_size, round_up, show_size
from pipeline.target.ranges import RANGE_NAMES, mirrored_size, offset_of, parse_place
from pipeline.target.records import Directory, Field, Target

# By which an entry of the directory gives its codec; never changed, since programs compare with them.
CODEC_NUMBERS = {"stored": 0, "packbits": 1, "lz4": 2}

TESTER = "tester.number"
HEADER_VALUES = {
    "project.title": "text: the game's title",
    "project.code": "text: the game's code",
    "project.version": "text: the version",
    "project.phase": "text: the phase",
    "project.date": "text: the date as YYYYMMDD",
    "build.code": "text: the build code, six characters",
    "image.bytes": "number: size of the padded image",
    "image.used": "number: bytes up to the end of the last asset",
    "image.first_address": "number: address of the image's first byte",
    "image.last_address": "number: address of the image's last byte",
    "program.address": "number: address of the program's first byte",
    "program.entry": "number: address at which the program starts",
    "program.bytes": "number: size of the program",
    "program.bank": "number: bank of the program's first byte, 0 without banks",
    "directory.address": "number: address of the directory",
    "directory.bank": "number: bank of the directory, 0 without banks",
    "directory.count": "number: entries of the directory",
    "memory.base": "number: first address of main memory",
    "memory.last": "number: last address of main memory",
    "memory.end": "number: first address after main memory",
    TESTER: "number: of the tester whose image it is, in 2 bytes or more; 0 in everybody's",
}
ENTRY_VALUES = {
    "asset.name": "text: the asset's name",
    "asset.name_hash": "number: CRC-32/ISO-HDLC of the name in ASCII",
    "asset.kind": "number: 1 sprite, 2 background, 3 palette, 4 sound, 5 screen, 6 program, 7 data, 8 pool, 9 font, 10 level, 11 text, "
    "12 notes, 13 lists",
    "asset.codec": "number: 0 stored, 1 packbits, 2 lz4",
    "asset.alignment": "number: alignment in bytes",
    "asset.offset": "number: offset in the image",
    "asset.address": "number: address as the console sees it",
    "asset.bank": "number: bank, 0 without banks",
    "asset.bytes": "number: bytes in the image",
    "asset.unpacked_bytes": "number: bytes after unpacking",
    "asset.crc32": "number: CRC-32/ISO-HDLC of the bytes in the image",
}

# name -> (width, polynomial, initial value, reflected, final xor); RevEng catalogue of parametrised CRC algorithms.
CRC_MODELS = {
    "CRC-8/SMBUS": (8, 0x07, 0x00, False, 0x00),
    "CRC-16/IBM-3740": (16, 0x1021, 0xFFFF, False, 0x0000),
    "CRC-16/XMODEM": (16, 0x1021, 0x0000, False, 0x0000),
    "CRC-16/SPI-FUJITSU": (16, 0x1021, 0x1D0F, False, 0x0000),
    "CRC-16/KERMIT": (16, 0x1021, 0x0000, True, 0x0000),
    "CRC-16/IBM-SDLC": (16, 0x1021, 0xFFFF, True, 0xFFFF),
    "CRC-16/GENIBUS": (16, 0x1021, 0xFFFF, False, 0xFFFF),
    "CRC-16/ARC": (16, 0x8005, 0x0000, True, 0x0000),
    "CRC-16/MODBUS": (16, 0x8005, 0xFFFF, True, 0x0000),
    "CRC-16/USB": (16, 0x8005, 0xFFFF, True, 0xFFFF),
    "CRC-32/ISO-HDLC": (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
    "CRC-32/BZIP2": (32, 0x04C11DB7, 0xFFFFFFFF, False, 0xFFFFFFFF),
    "CRC-32/MPEG-2": (32, 0x04C11DB7, 0xFFFFFFFF, False, 0x00000000),
    "CRC-32/JAMCRC": (32, 0x04C11DB7, 0xFFFFFFFF, True, 0x00000000),
    "CRC-32/ISCSI": (32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
}
# name -> bytes of its unit (0: the algorithm sees bytes and has no unit to add ``each`` to).
SUMS = {"sum8": 1, "sum16": 1, "sum32": 1, "sum16-words": 2, "xor8": 0}
CHECKSUM_BYTES = (
    {name: model[0] // 8 for name, model in CRC_MODELS.items()}
    | {"sum8": 1, "sum16": 2, "sum32": 4, "sum16-words": 2, "xor8": 1, "sha256": 32}
)

_CONTENTS = ("text", "hex", "number", "value", "checksum")


def program_fields(target: Target) -> list[str]:
    """Return the names of the header's fields that are about a program."""
    return [one.name for one in target.header.fields if (one.value or "").startswith("program.")]


def check_fields(document: Document, target: Target) -> None:
    """Note every problem in the header's and the directory's field definitions."""
    _check_group(document, ("header", "fields"), target.header.fields, HEADER_VALUES)
    _check_inside(document, target)
    _check_ranges(document, target)
    _check_overlap(document, ("header", "fields"), target.header.fields)
    if target.directory:
        path = ("directory", "fields")
        _check_group(document, path, target.directory.fields, ENTRY_VALUES)
        _check_overlap(document, path, target.directory.fields)
        _check_directory(document, target, target.directory)


def _check_group(document: Document, path: tuple, fields: list[Field], known: dict[str, str]) -> None:
    names = set()
    for rank, one in enumerate(fields):
        here = (*path, rank)
        if one.name in names:
            document.say((*here, "name"), f"the name {one.name!r} is used twice", "give each field its own name")
        names.add(one.name)
        given = [kind for kind in _CONTENTS if getattr(one, kind) is not None]
        if len(given) != 1:
            wrong = f"field {one.name!r} has {' and '.join(given) or 'no content'}"
            document.say(here, wrong, f"give exactly one of {', '.join(_CONTENTS)}")
            continue
        _check_content(document, here, one, known, [other.name for other in fields[:rank] if other.checksum not in (None, "sha256")])


def _check_content(document: Document, here: tuple, one: Field, known: dict[str, str], earlier: list[str]) -> None:
    if one.value is not None and one.value not in known:
        near = nearest_name(one.value, known)
        remedy = f"did you mean {near}?" if near else f"the values here are {', '.join(known)}"
        document.say((*here, "value"), f"unknown value {one.value!r}", remedy)
    if one.text is not None and (not one.text.isascii() or len(one.text) > one.bytes):
        document.say((*here, "text"), f"{one.text!r} does not fit {one.bytes} bytes of ASCII", "shorten it, or widen the field")
    if one.number is not None and one.number >= 1 << (8 * one.bytes):
        document.say((*here, "number"), f"{one.number} does not fit {one.bytes} bytes", "widen the field")
    what = _without_order(one, known)
    if one.byte_order is not None and what:
        document.say((*here, "byte_order"), f"{one.byte_order!r} has no effect on {what}", "leave it out")
    if one.hex is not None:
        _check_hex(document, here, one.hex, one.bytes)
    if one.table is not None:
        _check_table(document, here, one.table, one.bytes, known.get(one.value or "", ""))
    if one.checksum is not None:
        _check_checksum(document, here, one, one.checksum, known, earlier)


def _without_order(one: Field, known: dict[str, str]) -> str:
    """Return what a field holds where an order of bytes changes nothing in it, else nothing."""
    if one.text is not None or known.get(one.value or "", "").startswith("text") and one.table is None:
        return "text"
    if one.hex is not None or one.checksum == "sha256":
        return "bytes that are written as they are"
    return "a single byte" if one.bytes == 1 else ""


def _check_hex(document: Document, here: tuple, digits: str, room: int) -> None:
    try:
        length = len(bytes.fromhex(digits))
    except ValueError:
        document.say((*here, "hex"), f"{digits!r} is not hexadecimal", "write pairs of hexadecimal digits")
        return
    if length != room:
        document.say((*here, "hex"), f"{length} bytes in a field of {room}", "write as many bytes as the field has")


def _check_table(document: Document, here: tuple, table: dict[str, int], room: int, what: str) -> None:
    for key, number in table.items():
        if not 0 <= number < 1 << (8 * room):
            document.say((*here, "table", key), f"{number} does not fit {room} bytes", "widen the field, or correct the number")
        try:
            if what.startswith("number"):
                parse_size(key)
        except ValueError as error:
            document.say((*here, "table", key), *str(error).split("; "))


def _check_checksum(document: Document, here: tuple, one: Field, algorithm: str, known: dict[str, str], earlier: list[str]) -> None:
    if known is ENTRY_VALUES:
        document.say((*here, "checksum"), "a directory entry has no checksum of its own", "use value = \"asset.crc32\"")
        return
    if one.placeholder >= 1 << (8 * one.bytes):
        document.say((*here, "placeholder"), f"{one.placeholder} does not fit {one.bytes} bytes", "widen the field")
    if algorithm == "same":
        if one.of not in earlier:
            document.say((*here, "of"), f"{one.of!r} is not an earlier field", "name a checksum field above this one")
        return
    if algorithm not in CHECKSUM_BYTES:
        # "CRC-32" alone means many things: all names that begin like this are listed, not the most similar one.
        begun = [name for name in CHECKSUM_BYTES if name.startswith(algorithm)]
        near = nearest_name(algorithm, CHECKSUM_BYTES)
        remedy = f"write one of {', '.join(begun)}" if begun else f"did you mean {near}?" if near else ", ".join(CHECKSUM_BYTES)
        document.say((*here, "checksum"), f"unknown checksum {algorithm!r}", remedy)
    elif one.bytes < CHECKSUM_BYTES[algorithm]:
        need = CHECKSUM_BYTES[algorithm]
        document.say((*here, "bytes"), f"{algorithm} needs {need} bytes, the field has {one.bytes}", "widen the field")
    if one.each and not SUMS.get(algorithm):
        document.say((*here, "each"), f"{algorithm} adds nothing with each unit", "use it with sum8, sum16, sum32 or sum16-words")
    if algorithm == "sha256" and one.finish != "as is":
        document.say((*here, "finish"), "sha256 is taken as it is", "leave finish out")
    if not one.covers:
        document.say((*here, "covers"), "a checksum that covers nothing", "write for example covers = [[\"start\", \"end\"]]")
    for rank, bounds in enumerate(one.covers or ()):
        for end, bound in enumerate(bounds):
            if isinstance(bound, str) and parse_place(bound) is None:
                remedy = f"use a number, one of {', '.join(RANGE_NAMES)}, or a part of the image such as 1/2; each with +N or -N bytes"
                document.say((*here, "covers", rank, end), f"unknown place {bound!r}", remedy)


def _check_inside(document: Document, target: Target) -> None:
    first, end = target.header.offset, target.header.offset + target.header.size
    for rank, one in enumerate(target.header.fields):
        if not first <= one.offset or one.offset + one.bytes > end:
            wrong = f"field {one.name!r} is at {one.offset} to {one.offset + one.bytes}, the header at {first} to {end}"
            document.say(("header", "fields", rank, "offset"), wrong, "move the field, or make the header larger")


def _check_ranges(document: Document, target: Target) -> None:
    for rank, one in enumerate(target.header.fields):
        for number, bounds in enumerate(one.covers or ()):
            wrong = next((wrong for size in target.cartridge.sizes if (wrong := _range_problem(target, one, bounds, size))), None)
            if wrong:
                remedy = "write the lower place first, and places inside every size: end, or a part such as 1/2, goes with the size"
                document.say(("header", "fields", rank, "covers", number), f"the range {bounds[0]} to {bounds[1]} {wrong}", remedy)


def _range_problem(target: Target, one: Field, bounds: tuple[int | str, int | str], size: int) -> str | None:
    """Return what is wrong with a range in an image of some size, as far as it shows before the image is made."""
    header, whole = target.header, mirrored_size(size) if one.mirrored else size
    places = {"start": 0, "header": header.offset, "header_end": header.offset + header.size, "end": whole}
    first, end = (offset_of(bound, places) for bound in bounds)
    if first is None or end is None:
        return None
    if not 0 <= first < end <= whole:
        return f"covers nothing, or leaves an image of {show_size(size)}"
    if SUMS.get(one.checksum or "") == 2 and not one.skip_own and (end - first) % 2:
        return f"has {end - first} bytes of an image of {show_size(size)}, no whole number of words"
    return None


def _check_overlap(document: Document, path: tuple, fields: list[Field]) -> None:
    placed = sorted((one.offset, one.offset + one.bytes, rank) for rank, one in enumerate(fields))
    for (_, end, before), (start, _, rank) in zip(placed, placed[1:], strict=False):
        if start < end:
            wrong = f"field {fields[rank].name!r} overlaps {fields[before].name!r}"
            document.say((*path, rank, "offset"), wrong, "move one of them")


def _check_directory(document: Document, target: Target, directory: Directory) -> None:
    for rank, one in enumerate(directory.fields):
        if one.offset + one.bytes > directory.entry_bytes:
            wrong = f"field {one.name!r} ends at {one.offset + one.bytes}, an entry at {directory.entry_bytes}"
            document.say(("directory", "fields", rank, "offset"), wrong, "make the entry larger")
    values = {one.value for one in directory.fields}
    needed = [name for name in ("asset.name_hash", "asset.bytes", "asset.crc32") if name not in values]
    if not values & {"asset.offset", "asset.address"}:
        needed.append("asset.offset or asset.address")
    elif "asset.offset" not in values and target.cartridge.banks and "asset.bank" not in values:
        needed.append("asset.bank")
    if not any(one.value == "directory.count" for one in target.header.fields):
        document.say(("header", "fields"), "no field holds directory.count", "without it the directory cannot be read; add the field")
    for name in needed:
        document.say(("directory", "fields"), f"no field holds {name}", "without it an image cannot be checked; add the field")
    first, end = target.header.offset, target.header.offset + target.header.size
    if directory.offset is not None and first <= directory.offset < end:
        document.say(("directory", "offset"), "the directory is inside the header", f"use {end} or more, or leave it out")
    _check_directory_bank(document, target)


def _check_directory_bank(document: Document, target: Target) -> None:
    """Refuse a directory in a bank that must be switched in, where no field of the header says which that is."""
    banks, start = target.cartridge.banks, directory_offset(target)
    said = any(one.value == "directory.bank" for one in target.header.fields)
    if not banks or not banks.size or start is None or start < banks.fixed_end or said:
        return
    wrong = f"{start:#x} is in bank {start // banks.size}, which is not always visible, and no header field holds directory.bank"
    fixed = "bank 0" if banks.fixed == 1 else f"the {banks.fixed} fixed banks"
    document.say(("directory", "offset"), wrong, f"add a header field with value = \"directory.bank\", or move the directory into {fixed}")


def directory_offset(target: Target) -> int | None:
    """Where the directory is in the image, or None when the target has none."""
    if target.directory is None:
        return None
    if target.directory.offset is not None:
        return target.directory.offset
    return round_up(target.header.offset + target.header.size, target.directory.alignment)


def directory_place(target: Target, entries: int) -> range | None:
    """Bytes of the image that a directory of so many entries takes, or None when the target has none."""
    start = directory_offset(target)
    if start is None or target.directory is None:
        return None
    return range(start, start + entries * target.directory.entry_bytes)
