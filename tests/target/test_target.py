"""Target files: every check of their parts, word for word, and the three that come with the tool."""

from __future__ import annotations

import pytest

from pipeline.graph.plan import plan_project
from pipeline.plain.errors import ProjectError
from pipeline.plain.sizes import round_up
from pipeline.project.loading.load import load_project
from pipeline.target.alignment import align
from pipeline.target.checks import format_problem
from pipeline.target.fields import HEADER_VALUES, directory_offset
from pipeline.target.kinds import KINDS
from pipeline.target.loading import find_target, load_target, shipped_targets
from tests.makers import TARGETS, changed, make_project, read_target, target_data, target_problems, toml_text

DATA = target_data("basalt32")
FIRST = ("header", "fields", 0)


def line_of(path: tuple) -> int:
    """Return the line ``toml_text`` gives a table of the top."""
    return list(DATA).index(path[0]) + 1


def place(path: tuple, shown: str) -> str:
    """Return how a problem names its place."""
    return f"console.toml, line {line_of(path)}, {shown}"


def field(**content) -> dict:
    """Return a header field that is where nothing else is, in bytes 0x80 to 0x8F of the header."""
    return {"name": "extra", "offset": 0x80, "bytes": 4, **content}


def with_field(**content) -> dict:
    """Return the shipped target with one more header field."""
    return changed(DATA, (("header", "fields"), [*DATA["header"]["fields"], field(**content)]))


EXTRA = "[[header.fields]] number 15"
CHECKSUMS = (
    "CRC-8/SMBUS, CRC-16/IBM-3740, CRC-16/XMODEM, CRC-16/SPI-FUJITSU, CRC-16/KERMIT, CRC-16/IBM-SDLC, CRC-16/GENIBUS, "
    "CRC-16/ARC, CRC-16/MODBUS, CRC-16/USB, CRC-32/ISO-HDLC, CRC-32/BZIP2, CRC-32/MPEG-2, CRC-32/JAMCRC, CRC-32/ISCSI, "
    "sum8, sum16, sum32, sum16-words, xor8, sha256"
)
COVERS = [["start", "end"]]
# content of the field, key, what is wrong, remedy
FIELD_PROBLEMS = [
    ({}, "", "field 'extra' has no content", "give exactly one of text, hex, number, value, checksum"),
    (
        {"text": "a", "number": 1},
        "",
        "field 'extra' has text and number",
        "give exactly one of text, hex, number, value, checksum",
    ),
    ({"number": 1, "name": "magic"}, " name", "the name 'magic' is used twice", "give each field its own name"),
    ({"text": "a", "byte_order": "big"}, " byte_order", "'big' has no effect on text", "leave it out"),
    ({"value": "project.title", "byte_order": "little"}, " byte_order", "'little' has no effect on text", "leave it out"),
    ({"hex": "00", "byte_order": "big"}, " byte_order", "'big' has no effect on bytes that are written as they are", "leave it out"),
    ({"number": 1, "bytes": 1, "byte_order": "big"}, " byte_order", "'big' has no effect on a single byte", "leave it out"),
    ({"value": "project.titel"}, " value", "unknown value 'project.titel'", "did you mean project.title?"),
    ({"value": "xyzzy"}, " value", "unknown value 'xyzzy'", f"the values here are {', '.join(HEADER_VALUES)}"),
    ({"text": "abcde"}, " text", "'abcde' does not fit 4 bytes of ASCII", "shorten it, or widen the field"),
    ({"text": "é"}, " text", "'é' does not fit 4 bytes of ASCII", "shorten it, or widen the field"),
    ({"number": 1 << 32}, " number", "4294967296 does not fit 4 bytes", "widen the field"),
    ({"hex": "0g"}, " hex", "'0g' is not hexadecimal", "write pairs of hexadecimal digits"),
    ({"hex": "0102"}, " hex", "2 bytes in a field of 4", "write as many bytes as the field has"),
    ({"checksum": "CRC-32/ISO-HDCL"}, " checksum", "unknown checksum 'CRC-32/ISO-HDCL'", "did you mean CRC-32/ISO-HDLC?"),
    ({"checksum": "zzz"}, " checksum", "unknown checksum 'zzz'", CHECKSUMS),
    ({"checksum": "sha256"}, " bytes", "sha256 needs 32 bytes, the field has 4", "widen the field"),
    ({"checksum": "same", "of": "later"}, " of", "'later' is not an earlier field", "name a checksum field above this one"),
    ({"checksum": "same"}, " of", "None is not an earlier field", "name a checksum field above this one"),
    ({"checksum": "sum8", "covers": None}, " covers", "a checksum that covers nothing", 'write for example covers = [["start", "end"]]'),
    (
        {"checksum": "sum8", "covers": [["start", "finish"]]},
        " covers[0][1]",
        "unknown place 'finish'",
        "use a number, one of start, header, header_end, directory, directory_end, used, end, or a part of the image such as 1/2; "
        "each with +N or -N bytes",
    ),
    (
        {"number": 1, "offset": 0xFE},
        " offset",
        "field 'extra' is at 254 to 258, the header at 0 to 256",
        "move the field, or make the header larger",
    ),
    ({"number": 1, "offset": 0x66}, " offset", "field 'extra' overlaps 'image used'", "move one of them"),
]


@pytest.mark.parametrize(("content", "key", "wrong", "remedy"), FIELD_PROBLEMS, ids=lambda value: str(value)[:28])
def test_wrong_header_field_is_refused(tmp_path, content, key, wrong, remedy):
    """Each mistake in the definition of a field is reported once or more, at the field."""
    content = {"covers": COVERS, **content} if content.get("checksum") not in (None, "same") else content
    content = {name: value for name, value in content.items() if value is not None}
    where = place(("header",), f"{EXTRA}{key}")
    assert f"{where}: {wrong}\n    {remedy}" in target_problems(tmp_path, toml_text(with_field(**content)))


EMPTY = "covers nothing, or leaves an image of 1 MiB"
LOWER = "write the lower place first, and places inside every size: end, or a part such as 1/2, goes with the size"
# What would end in a traceback, or in a sum over nothing, only when an image is written.
UNWRITABLE = [
    (
        {"checksum": "sum8", "covers": COVERS, "placeholder": 1 << 32},
        f"{EXTRA} placeholder",
        "4294967296 does not fit 4 bytes",
        "widen the field",
    ),
    (
        {"checksum": "sum8", "covers": [["end", "start"]]},
        f"{EXTRA} covers[0]",
        f"the range end to start {EMPTY}",
        LOWER,
    ),
    ({"checksum": "sum8", "covers": [["end-4", "end+1"]]}, f"{EXTRA} covers[0]", f"the range end-4 to end+1 {EMPTY}", LOWER),
    ({"checksum": "sum8", "covers": [["3/4", "1/2"]]}, f"{EXTRA} covers[0]", f"the range 3/4 to 1/2 {EMPTY}", LOWER),
    ({"checksum": "sum8", "covers": [[0, 0x100001]]}, f"{EXTRA} covers[0]", f"the range 0 to 1048577 {EMPTY}", LOWER),
    (
        {"checksum": "sum16-words", "covers": [["header_end", "end-1"]]},
        f"{EXTRA} covers[0]",
        "the range header_end to end-1 has 1048319 bytes of an image of 1 MiB, no whole number of words",
        LOWER,
    ),
    ({"checksum": "sum8", "covers": [[16, 16]]}, f"{EXTRA} covers[0]", f"the range 16 to 16 {EMPTY}", LOWER),
    ({"checksum": "sum8", "covers": [[-4, 16]]}, f"{EXTRA} covers[0]", f"the range -4 to 16 {EMPTY}", LOWER),
    ({"checksum": "same", "of": "magic"}, f"{EXTRA} of", "'magic' is not an earlier field", "name a checksum field above this one"),
    (
        {"value": "image.bytes", "table": {"1 MB": 1}},
        "[header.fields[14].table] 1 MB",
        "unknown unit in size '1 MB'",
        'was "1 MiB" meant?',
    ),
    (
        {"value": "image.bytes", "table": {"small": 1}},
        "[header.fields[14].table] small",
        "expected a size, saw 'small'",
        'write bytes or text such as "64 KiB"',
    ),
    (
        {"value": "image.bytes", "table": {"1 MiB": -1}},
        "[header.fields[14].table] 1 MiB",
        "-1 does not fit 4 bytes",
        "widen the field, or correct the number",
    ),
    (
        {"value": "image.bytes", "table": {"1 MiB": 1 << 32}},
        "[header.fields[14].table] 1 MiB",
        "4294967296 does not fit 4 bytes",
        "widen the field, or correct the number",
    ),
]


@pytest.mark.parametrize(("content", "shown", "wrong", "remedy"), UNWRITABLE, ids=lambda value: str(value)[:40])
def test_field_that_could_not_be_written_is_refused_when_the_target_is_read(tmp_path, content, shown, wrong, remedy):
    """A field whose content could not be made is refused before anything is built."""
    assert target_problems(tmp_path, toml_text(with_field(**content))) == [f"{place(('header',), shown)}: {wrong}\n    {remedy}"]


@pytest.mark.parametrize("table", [{"64 KiB": 1, "1 MiB": 2}, {"1048576": 3}])
def test_table_of_sizes_is_taken(tmp_path, table):
    """A table may write sizes with a unit or as bytes."""
    assert target_problems(tmp_path, toml_text(with_field(value="image.bytes", table=table))) == []


def test_table_of_texts_may_hold_anything(tmp_path):
    """The keys of a table for a text are texts, a version among them."""
    assert target_problems(tmp_path, toml_text(with_field(value="project.version", table={"0.1.0": 1, "beta": 2}))) == []


def without(value: str) -> list[dict]:
    """Return the directory's fields without the one of a value."""
    return [one for one in DATA["directory"]["fields"] if one["value"] != value]


DIRECTORY = DATA["directory"]["fields"]
BANKS = {"size": "16 KiB", "window": 0x4000}
# what is changed, place, what is wrong, remedy
PART_PROBLEMS = [
    ([(("memory", "size"), 0)], "[memory] size", "a memory of 0 bytes", "write the memory's size"),
    (
        [(("memory", "reserved"), [{"name": "x", "bytes": 4, "address": 3}])],
        "[[memory.reserved]] number 1 address",
        "4 bytes at 0x3 leaves the memory, 0x100000 to 0x2fffff",
        "correct it, or leave address out",
    ),
    (
        [(("memory", "reserved"), [{"name": "x", "bytes": 4, "address": 0x2FFFFD}])],
        "[[memory.reserved]] number 1 address",
        "4 bytes at 0x2ffffd leaves the memory, 0x100000 to 0x2fffff",
        "correct it, or leave address out",
    ),
    (
        [(("sound", "formats"), [])],
        "[sound] formats",
        'expected a list of "u8" or "s8" or "s16" or "ulaw" or "alaw" or "adpcm", saw []',
        "for example: ['s8']",
    ),
    (
        [(("screen", "width"), 100_000)],
        "[screen] width",
        "expected a whole number, 1 to 4096, saw 100000",
        "write a whole number, 1 to 4096",
    ),
    ([(("alignment", "sprit"), 4)], "[alignment] sprit", "unknown kind 'sprit'", "did you mean sprite?"),
    (
        [(("alignment", "zz"), 4)],
        "[alignment] zz",
        "unknown kind 'zz'",
        "the kinds are sprite, pool, background, palette, sound, screen, program, data, font, level, text, notes, lists and default, "
        "the parts of blobs frame, cell, tile, glyph, entries",
    ),
    (
        [(("alignment", "cell"), 64)],
        "[alignment] cell",
        "a cell starts at multiples of 64, but a sprite that holds it at multiples of 32",
        "set sprite = 64 and pool = 64 and background = 64 and screen = 64 and font = 64 or more",
    ),
    (
        [(("alignment", "entries"), 64)],
        "[alignment] entries",
        "entries start at multiples of 64, but a palette that holds them at multiples of 4",
        "set palette = 64 and screen = 64 or more",
    ),
    ([(("alignment", "frame"), 24)], "[alignment] frame", "24 is not a power of two", "use 1, 2, 4, 8, ..."),
    (
        [(("pixel_formats", "index8", "row_unit"), 6)],
        "[pixel_formats.index8] row_unit",
        "6 is not a power of two",
        "use 1, 2, 4, 8, ...",
    ),
    ([(("alignment", "sound"), 3)], "[alignment] sound", "3 is not a power of two", "use 1, 2, 4, 8, ..."),
    (
        [(("screen", "pixels"), "index16")],
        "[screen] pixels",
        "unknown pixel format 'index16'",
        "the formats are index8, index4, direct15",
    ),
    ([(("palette", "entry"), "xxBBBBBGGGGGxxxx")], "[palette] entry", "no bits for R", "name R, G and B in the pattern"),
    (
        [(("palette", "entry"), "BBBBBGGGGGRRRRR")],
        "[palette] entry",
        "BBBBBGGGGGRRRRR has 15 bits, 1 bit less than 2 whole bytes",
        "write all bits that are stored, x for one that does not count, such as xBBBBBGGGGGRRRRR",
    ),
    (
        [(("palette", "entry"), "BBGGGRRR"), (("palette", "byte_order"), "little")],
        "[palette] byte_order",
        "'little' has no effect on entries of 8 bits",
        "leave it out",
    ),
    (
        [(("pixel_formats", "index8", "byte_order"), "big")],
        "[pixel_formats.index8] byte_order",
        "'big' has no effect on pixels of 8 bits, chunky",
        "leave it out",
    ),
    (
        [(("sound", "formats"), ["s8"]), (("sound", "byte_order"), "big")],
        "[sound] byte_order",
        "'big' has no effect on samples of the formats s8",
        "leave it out",
    ),
    (
        [(("palette", "entry"), "RGBQ")],
        "[palette] entry",
        "bit pattern 'RGBQ' has 'Q' at bit 0",
        "the fields here are R, G, B, A",
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "III")],
        "[pixel_formats.index4] pixel",
        "III is not an index of 1, 2, 4 or 8 bits",
        "write I, II, IIII or IIIIIIII; or say how its planes take turns, if each bit is in its own plane",
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "xIIIIIII")],
        "[pixel_formats.index4] pixel",
        "xIIIIIII is not an index of 1, 2, 4 or 8 bits",
        "write I, II, IIII or IIIIIIII; or say how its planes take turns, if each bit is in its own plane",
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "IIIIIIIII"), (("pixel_formats", "index4", "planes"), "by row")],
        "[pixel_formats.index4] pixel",
        "IIIIIIIII is not an index of 1 to 8 planes",
        "write one I for each plane",
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "RRRRGGGG")],
        "[pixel_formats.index4] pixel",
        "RRRRGGGG names neither I nor all of R, G and B",
        "write for example xBBBBBGGGGGRRRRR",
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "RRRGGGBBBA")],
        "[pixel_formats.index4] pixel",
        "RRRGGGBBBA has 10 bits",
        "write 8, 16, 24 or 32; x for bits that do not count",
    ),
    (
        [(("pixel_formats", "direct15", "planes"), "by row")],
        "[pixel_formats.direct15] pixel",
        "direct colour cannot be planar here",
        'set planes = "chunky"',
    ),
    (
        [(("pixel_formats", "index4", "pixel"), "")],
        "[pixel_formats.index4] pixel",
        "bit pattern '' has 0 bits",
        "write 1 to 32, most significant first",
    ),
    ([(("cartridge", "sizes"), [])], "[cartridge] sizes", "sizes must rise and none may be 0", "list each size once, smallest first"),
    (
        [(("cartridge", "sizes"), ["2 MiB", "1 MiB"])],
        "[cartridge] sizes",
        "sizes must rise and none may be 0",
        "list each size once, smallest first",
    ),
    (
        [(("cartridge", "sizes"), ["1 MiB", "1 MiB"])],
        "[cartridge] sizes",
        "sizes must rise and none may be 0",
        "list each size once, smallest first",
    ),
    (
        [(("cartridge", "sizes"), [0, "1 MiB"])],
        "[cartridge] sizes",
        "sizes must rise and none may be 0",
        "list each size once, smallest first",
    ),
    (
        [(("cartridge", "sizes"), [1000, "1 MiB"])],
        "[cartridge] sizes[0]",
        "1000 bytes is not a multiple of the largest alignment, 32",
        "use a multiple of 32",
    ),
    (
        [(("cartridge", "sizes"), ["24 KiB"]), (("cartridge", "banks"), BANKS)],
        "[cartridge] sizes[0]",
        "24 KiB is not a whole number of banks of 16 KiB",
        "use a multiple of the bank size",
    ),
    (
        [(("cartridge", "banks"), {**BANKS, "size": 0})],
        "[cartridge.banks] size",
        "a bank of 0 bytes",
        "write the bank's size",
    ),
    (
        [(("cartridge", "sizes", 1), "2MB")],
        "[cartridge] sizes[1]",
        "unknown unit in size '2MB'",
        'was "2 MiB" meant?',
    ),
    (
        [(("directory", "fields"), without("asset.crc32"))],
        "[directory] fields",
        "no field holds asset.crc32",
        "without it an image cannot be checked; add the field",
    ),
    (
        [(("directory", "fields"), without("asset.address"))],
        "[directory] fields",
        "no field holds asset.offset or asset.address",
        "without it an image cannot be checked; add the field",
    ),
    (
        [(("cartridge", "banks"), {**BANKS, "size": "1 MiB"})],
        "[directory] fields",
        "no field holds asset.bank",
        "without it an image cannot be checked; add the field",
    ),
    (
        [(("directory", "entry_bytes"), 22)],
        "[[directory.fields]] number 8 offset",
        "field 'crc' ends at 24, an entry at 22",
        "make the entry larger",
    ),
    (
        [(("directory", "fields", 1, "offset"), 2)],
        "[[directory.fields]] number 2 offset",
        "field 'kind' overlaps 'name hash'",
        "move one of them",
    ),
    (
        [(("directory", "offset"), 0x20)],
        "[directory] offset",
        "the directory is inside the header",
        "use 256 or more, or leave it out",
    ),
    (
        [(("directory", "fields"), [*DIRECTORY, {"name": "sum", "offset": 24, "bytes": 4, "checksum": "sum32", "covers": COVERS}])],
        "[[directory.fields]] number 9 checksum",
        "a directory entry has no checksum of its own",
        'use value = "asset.crc32"',
    ),
    (
        [(("directory", "fields", 7, "value"), "project.title")],
        "[[directory.fields]] number 8 value",
        "unknown value 'project.title'",
        "the values here are asset.name, asset.name_hash, asset.kind, asset.codec, asset.alignment, asset.offset, asset.address, "
        "asset.bank, asset.bytes, asset.unpacked_bytes, asset.crc32",
    ),
    ([(("format",), 2)], "format", "expected 1, saw 2", "write one of those"),
    ([(("byte_order",), "litle")], "byte_order", 'expected "big" or "little", saw \'litle\'', 'did you mean "little"?'),
    (
        [(("screen", "refresh"), 0)],
        "[screen] refresh",
        "expected a number, above 0, at most 1000, saw 0",
        "write a number, above 0, at most 1000",
    ),
    (
        [(("transfer", "picture"), "8 KiB")],
        "[transfer] picture",
        "8 KiB in a picture, 16 KiB in its blank alone",
        "count what the whole picture carries, its blank included",
    ),
    ([(("transfer", "blank"), 0)], "[transfer] blank", "0 bytes", "leave it out where nothing limits it"),
    ([(("memory", "sise"), 2)], "[memory] sise", "unknown key 'sise'", "did you mean size?"),
]


@pytest.mark.parametrize(("changes", "shown", "wrong", "remedy"), PART_PROBLEMS, ids=lambda value: str(value)[:32])
def test_wrong_part_of_a_target_is_refused(tmp_path, changes, shown, wrong, remedy):
    """Each mistake is reported with its line, table and key, the value seen and what to do."""
    data = changed(DATA, *changes)
    where = f"console.toml, line {list(data).index(changes[0][0][0]) + 1}, {shown}" if shown[0] == "[" else None
    where = where or f"console.toml, line {line_of((shown,))}, {shown}"
    if shown.startswith("[directory] fields"):
        where = f"console.toml, line {line_of(('directory',))}, {shown}"
    assert f"{where}: {wrong}\n    {remedy}" in target_problems(tmp_path, toml_text(data))


@pytest.mark.parametrize(
    ("path", "amount"),
    [(("memory", "granularity"), 48), (("directory", "alignment"), 12)],
    ids=["granularity", "directory alignment"],
)
def test_every_alignment_is_a_power_of_two(tmp_path, path, amount):
    """The reference calls each of these a power of two; another number is refused, since rounding relies on it."""
    found = target_problems(tmp_path, toml_text(changed(DATA, (path, amount))))
    assert [f"{amount} is not a power of two" in one for one in found] == [True], found


def test_directory_needs_its_count_in_the_header(tmp_path):
    """A directory whose length is nowhere cannot be read back, so such a target is refused."""
    fields = [one for one in DATA["header"]["fields"] if one["name"] != "directory count"]
    assert target_problems(tmp_path, toml_text(changed(DATA, (("header", "fields"), fields)))) == [
        f"{place(('header',), '[header] fields')}: no field holds directory.count\n"
        "    without it the directory cannot be read; add the field"
    ]


def test_every_problem_of_a_target_is_reported_at_once(tmp_path):
    """Mistakes in alignment, formats, cartridge, header and directory are reported together, in the order of the file."""
    data = changed(
        DATA,
        (("cartridge", "sizes"), [1000]),
        (("screen", "pixels"), "none"),
        (("alignment", "sound"), 3),
        ((*FIRST, "text"), "FAR TOO LONG"),
        (("directory", "entry_bytes"), 22),
    )
    assert target_problems(tmp_path, toml_text(data)) == [
        f"{place(('cartridge',), '[cartridge] sizes[0]')}: 1000 bytes is not a multiple of the largest alignment, 32\n"
        "    use a multiple of 32",
        f"{place(('screen',), '[screen] pixels')}: unknown pixel format 'none'\n    the formats are index8, index4, direct15",
        f"{place(('alignment',), '[alignment] sound')}: 3 is not a power of two\n    use 1, 2, 4, 8, ...",
        f"{place(('header',), '[[header.fields]] number 1 text')}: 'FAR TOO LONG' does not fit 8 bytes of ASCII\n"
        "    shorten it, or widen the field",
        f"{place(('directory',), '[[directory.fields]] number 8 offset')}: field 'crc' ends at 24, an entry at 22\n"
        "    make the entry larger",
    ]


@pytest.mark.parametrize("name", TARGETS)
def test_shipped_target_is_good_and_holds_its_own_header(name):
    """Every shipped target reads without a problem; its fields are inside header and entry."""
    target = load_target(shipped_targets()[name])
    assert list(shipped_targets()) == list(TARGETS)
    assert all(format_problem(one) is None for one in target.pixel_formats.values())
    end = target.header.offset + target.header.size
    assert all(target.header.offset <= one.offset and one.offset + one.bytes <= end for one in target.header.fields)
    assert directory_offset(target) == round_up(end, target.directory.alignment)
    assert all(size % align(target, kind) == 0 for size in target.cartridge.sizes for kind in KINDS)


def test_alignment_falls_back_to_the_default_and_then_to_one(tmp_path):
    """A kind without its own alignment takes the default's; a target without any takes 1."""
    assert [align(load_target(shipped_targets()["basalt32"]), kind) for kind in ("sprite", "data")] == [32, 4]
    assert align(read_target(tmp_path, toml_text(changed(DATA, (("alignment",), None)))), "sprite") == 1


def test_unknown_target_names_the_nearest_and_all(tmp_path):
    """A misspelt target is answered with the nearest shipped one and the list."""
    with pytest.raises(ProjectError) as caught:
        find_target("basalt", tmp_path, "project.toml", lambda: "line 7, [game] target")
    assert str(caught.value) == (
        "project.toml, line 7, [game] target: unknown target 'basalt'\n"
        "    did you mean basalt32? shipped targets: basalt32, lattice16, pebble8; or write the path of a .toml file inside the project"
    )


@pytest.mark.parametrize("name", ["nothing.toml", "../outside.toml", "/outside.toml", "art"])
def test_target_must_be_shipped_or_inside_the_project(tmp_path, name):
    """A path that is not there, leads outside, or is not a TOML file is refused as an unknown target."""
    (tmp_path / "outside.toml").write_text("")
    (tmp_path / "project/art").mkdir(parents=True)
    with pytest.raises(ProjectError) as caught:
        find_target(name, tmp_path / "project", "project.toml", lambda: "")
    unknown = (
        f"project.toml: unknown target {name!r}\n"
        "    shipped targets: basalt32, lattice16, pebble8; or write the path of a .toml file inside the project"
    )
    missing = (
        f"project.toml: there is no target file {name!r}\n"
        "    check the path; it starts at the project folder and stays in it"
    )
    assert str(caught.value) == (missing if name.endswith(".toml") else unknown)


def test_own_target_is_read_and_its_problems_name_its_file(tmp_path):
    """A project's own target is used by its path; what is wrong in it is reported with that path and its line there."""
    folder = make_project(tmp_path / "project", ('target = "basalt32"', 'target = "own/console.toml"'))
    (folder / "own").mkdir()
    (folder / "own/console.toml").write_text(toml_text(changed(DATA, (("name",), "Own 32"))))
    assert load_project(folder).target.name == "Own 32"
    (folder / "own/console.toml").write_text(toml_text(changed(DATA, (("alignment", "sound"), 3))))
    with pytest.raises(ProjectError) as caught:
        load_project(folder)
    where = f"own/console.toml, line {line_of(('alignment',))}, [alignment] sound"
    assert str(caught.value) == f"{where}: 3 is not a power of two\n    use 1, 2, 4, 8, ..."


def test_areas_of_one_name_hold_their_memory_both(tmp_path):
    """Two reserved areas are taken from memory though they share a name: 3 KiB and 5 KiB are 8 KiB."""
    folder = make_project(tmp_path / "project", ('target = "basalt32"', 'target = "console.toml"'))
    areas = [{"name": "system", "bytes": "3 KiB"}, {"name": "system", "bytes": "5 KiB"}]
    (folder / "console.toml").write_text(toml_text(changed(DATA, (("memory", "reserved"), areas), (("screen", "buffers"), 0))))
    budget = next(step for step in plan_project(load_project(folder)).steps if step.name == "memory")
    assert sum(budget.arguments["room"].held.values()) == 8 * 1024
