"""Project files: every check across their parts, word for word, and all problems reported at once."""

from __future__ import annotations

import datetime
import tomllib
import zlib

import pytest

from pipeline.project.art import animation_frames
from pipeline.project.assets import Animation
from pipeline.project.loading.load import load_project
from pipeline.project.model import build_date
from tests.makers import TARGETS, draw_frame, make_project, problems, project_text, write_text

LINES = project_text().splitlines()


def line(text: str, more: int = 0) -> int:
    """Return the number of the line of the project file that begins with a text."""
    return next(rank for rank, one in enumerate(LINES, start=1) if one.startswith(text)) + more


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One project's files; each test writes its own project file over the last."""
    folder = make_project(tmp_path_factory.mktemp("project") / "ferry")
    (folder / "art/other").mkdir()
    draw_frame(folder / "art/other/walk_0.png", 0)
    return folder


def found(folder, *changes, more="", target="basalt32") -> list[str]:
    """Return the problems of the project with some pieces of its text exchanged and some added."""
    write_text(folder, project_text(*changes, more=more, target=target))
    return problems(folder)


PATTERN = "check the pattern; it starts at the project folder"
PATH = "check the path; it starts at the project folder"
UP = "'art/../../*.png' leads outside the project folder"
IDENTIFIER = "start with a small letter; then small letters, digits and underscores, 32 at most"
OUTSIDE = "copy the file into the project; paths start there"
FRAMES = 'frames = "art/ada/*.png"'
WALK = 'walk = { frames = "walk_*", ms = 80 }'
LEVEL = 'file = "level.bin"'
MAIN = 'file = "main.bin"'
FIGURES = "colours = 8\ntransparent = true"
BELL = 'file = "sound/bell.wav"'
FEEDBACK = '"https://example.org/f/{build}"'
CHOOSE = 'choose = [{ count = 1, of = ["crew"] }]'
BUTTONS = 'buttons = { three = "A" }'

ONE = "a number, 0.01 to 8"
TWO = "a number, 0.01 to 8, or two of them"
PIXELS = "a whole number, 1 to 65535"

# one change of the good project: the line and place named, what is wrong, remedy
ONE_CHANGE = [
    # Names.
    (("[data.level]", "[data.Level]"), "[data.", "[data.Level]", "'Level' is not a valid name", IDENTIFIER),
    (("[data.level]", "[data.1st]"), "[data.", "[data.1st]", "'1st' is not a valid name", IDENTIFIER),
    (("[data.level]", '[data."le vel"]'), "[data.", "[data.le vel]", "'le vel' is not a valid name", IDENTIFIER),
    (("[data.level]", f"[data.{'a' * 33}]"), "[data.", f"[data.{'a' * 33}]", f"'{'a' * 33}' is not a valid name", IDENTIFIER),
    (("[data.level]", "[data.ada]"), "[data.", "[data.ada]", "the name 'ada' is already a sprite", "give one of them another name"),
    # CRC-32 of the name computed by zlib: 0. The name was searched for.
    (
        ("[data.level]", "[data.uaaeabmyr]"),
        "[data.",
        "[data.uaaeabmyr]",
        "'uaaeabmyr' has the CRC-32 0, which means no name",
        "give it another name",
    ),
    # Files.
    (
        (FRAMES, 'frames = "art/adda/*.png"'),
        "frames",
        "[sprite.ada] frames",
        "no file matches 'art/adda/*.png'",
        "check the pattern; it starts at the project folder",
    ),
    ((FRAMES, 'frames = "../*.png"'), "frames", "[sprite.ada] frames", "'../*.png' leads outside the project folder", OUTSIDE),
    ((FRAMES, 'frames = "/art/*.png"'), "frames", "[sprite.ada] frames", "'/art/*.png' leads outside the project folder", OUTSIDE),
    (
        (FRAMES, 'frames = "art/../../*.png"'),
        "frames",
        "[sprite.ada] frames",
        "'art/../../*.png' leads outside the project folder",
        OUTSIDE,
    ),
    (
        (FRAMES, "frames = 'art\\ada\\*.png'"),
        "frames",
        "[sprite.ada] frames",
        "'art\\\\ada\\\\*.png' has a backslash",
        "part folders with /",
    ),
    (
        (FRAMES, 'frames = "art/a**a/*.png"'),
        "frames",
        "[sprite.ada] frames",
        "'art/a**a/*.png' is not a valid pattern: Invalid pattern: '**' can only be an entire path component",
        "for example art/ada/*.png",
    ),
    ((LEVEL, 'file = "levl.bin"'), "[data.level]+1", "[data.level] file", "there is no file 'levl.bin'", "did you mean level.bin?"),
    (
        (LEVEL, 'file = "no/z"'),
        "[data.level]+1",
        "[data.level] file",
        "there is no file 'no/z'",
        "check the path; it starts at the project folder",
    ),
    ((LEVEL, 'file = "art"'), "[data.level]+1", "[data.level] file", "'art' is a folder", "name a file in it"),
    ((LEVEL, 'file = "../level.bin"'), "[data.level]+1", "[data.level] file", "'../level.bin' leads outside the project folder", OUTSIDE),
    ((LEVEL, 'file = "/etc/passwd"'), "[data.level]+1", "[data.level] file", "'/etc/passwd' leads outside the project folder", OUTSIDE),
    # Sprites.
    (
        (FRAMES, FRAMES + '\nanimated = "art/quay.png"'),
        "[sprite.ada]",
        "[sprite.ada]",
        "has frames and animated",
        "give exactly one of frames, animated and sheet",
    ),
    ((FRAMES, FRAMES + "\nscale = 9"), "frames+1", "[sprite.ada] scale", f"expected {TWO}, saw 9", f"write {TWO}"),
    ((FRAMES, FRAMES + "\nscale = [1]"), "frames+1", "[sprite.ada] scale", f"expected {TWO}, saw [1]", f"write {TWO}"),
    ((FRAMES, FRAMES + "\nscale = [1, 1, 1]"), "frames+1", "[sprite.ada] scale", f"expected {TWO}, saw [1, 1, 1]", f"write {TWO}"),
    ((FRAMES, FRAMES + "\nscale = [1, 0]"), "frames+1", "[sprite.ada] scale[1]", f"expected {ONE}, saw 0", f"write {ONE}"),
    ((FRAMES, FRAMES + '\nscale = [1, "2"]'), "frames+1", "[sprite.ada] scale[1]", f"expected {ONE}, saw '2'", f"write {ONE}"),
    ((FRAMES, FRAMES + "\nscale = [nan, 1]"), "frames+1", "[sprite.ada] scale[0]", f"expected {ONE}, saw nan", f"write {ONE}"),
    ((FRAMES, FRAMES + "\nheight = 0"), "frames+1", "[sprite.ada] height", f"expected {PIXELS}, saw 0", f"write {PIXELS}"),
    ((FRAMES, FRAMES + "\nheight = 9.5"), "frames+1", "[sprite.ada] height", f"expected {PIXELS}, saw 9.5", f"write {PIXELS}"),
    (
        (FRAMES, FRAMES + "\nheight = 513"),
        "frames+1",
        "[sprite.ada] height",
        "513 pixels, the target draws at most 512",
        "set a smaller height, or split the figure",
    ),
    (
        (FRAMES, FRAMES + "\nheight = 12\nscale = 1.0"),
        "frames+1",
        "[sprite.ada] height",
        "scale is given as well",
        "give scale or height, not both",
    ),
    (
        ('file = "art/quay.png"', 'file = "art/quay.png"\nscale = [1, 1]\nheight = 48'),
        "[background.quay]+3",
        "[background.quay] height",
        "scale is given as well",
        "give scale or height, not both",
    ),
    (
        (FRAMES, FRAMES + '\nresample = "dominent"'),
        "frames+1",
        "[sprite.ada] resample",
        'expected "nearest" or "area" or "lanczos" or "dominant", saw \'dominent\'',
        'did you mean "dominant"?',
    ),
    (
        (WALK, '"Walk On" = { frames = "walk_*", ms = 80 }'),
        "[sprite.ada.animations]+1",
        "[sprite.ada.animations.Walk On]",
        "'Walk On' is not a valid name",
        "use small letters, digits and underscores",
    ),
    (
        (WALK, 'walk = { frames = "walk_*", ms = 0 }'),
        "walk",
        "[sprite.ada.animations.walk] ms",
        "a duration must be above 0",
        "write milliseconds, for example 80",
    ),
    (
        (WALK, 'walk = { frames = "walk_*", ms = [80, -1] }'),
        "walk",
        "[sprite.ada.animations.walk] ms",
        "a duration must be above 0",
        "write milliseconds, for example 80",
    ),
    (
        (WALK, 'walk = { frames = "walk_*", ms = [80] }'),
        "walk",
        "[sprite.ada.animations.walk] ms",
        "1 duration for 2 frames",
        "give one for each, or one number",
    ),
    (
        (WALK, 'walk = { frames = "run_*", ms = 80 }'),
        "walk",
        "[sprite.ada.animations.walk] frames",
        "no frame matches 'run_*'",
        "check the pattern against the file names",
    ),
    (
        (WALK, "walk = { frames = [0, 2], ms = 80 }"),
        "walk",
        "[sprite.ada.animations.walk] frames",
        "there is no frame 2",
        "frames are numbered 0 to 1",
    ),
    (
        (FRAMES, 'animated = "art/ada/walk_0.png"'),
        "walk",
        "[sprite.ada.animations.walk] frames",
        "'walk_*' is a pattern over names of frames",
        "give frame numbers; only frames from single files, or with names in a boxes file, have names",
    ),
    # Palettes and pixels.
    (
        ('palette = "quay_colours"', 'palette = "quay_colours"\npixels = "index9"'),
        "[background.quay]+3",
        "[background.quay] pixels",
        "unknown pixel format 'index9'",
        "the formats of Basalt 32 are index8, index4, direct15",
    ),
    (
        ('palette = "quay_colours"', 'palette = "quay_colours"\npixels = "direct15"'),
        "[background.quay]+2",
        "[background.quay] palette",
        "direct15 is direct colour and takes no palette",
        "leave palette out",
    ),
    (
        (FIGURES, "colours = 8"),
        "palette",
        "[sprite.ada] palette",
        "'figures' keeps no entry for transparent pixels",
        "set transparent = true in that palette",
    ),
    # Sounds.
    ((BELL, BELL + '\nformat = "u8"'), "[sound.bell]+2", "[sound.bell] format", "Basalt 32 does not play u8", "use s8, s16"),
    (
        (BELL, BELL + "\nrate = 48000"),
        "[sound.bell]+2",
        "[sound.bell] rate",
        "48000 Hz is above the target's 44100 Hz",
        "choose a lower rate",
    ),
    # Programs.
    (
        (MAIN, 'file = "main.bin"\ncommand = ["make-it", "{output}"]'),
        "[program.main]",
        "[program.main]",
        "needs either file or command",
        "name the finished file, or the command that makes it",
    ),
    (
        (MAIN + "\n", ""),
        "[program.main]",
        "[program.main]",
        "needs either file or command",
        "name the finished file, or the command that makes it",
    ),
    (
        (MAIN, 'command = ["make-it"]'),
        "[program.main]+1",
        "[program.main] command",
        "{output} does not occur",
        "put {output} where the command takes its output file",
    ),
    (
        (MAIN, 'command = ["make-it", "{output}", "{colour}"]'),
        "[program.main]+1",
        "[program.main] command",
        "there is no {colour}",
        "known are {include}, {output}, {address}, {bank}, {project}",
    ),
    (
        (MAIN, 'command = ["make-it", "{outptu}", "{output}"]'),
        "[program.main]+1",
        "[program.main] command",
        "there is no {outptu}",
        "did you mean {output}?",
    ),
    (
        (MAIN, 'command = ["make-it", "{output}"]\ndepends = ["level.bin", "src/*.c"]'),
        "[program.main]+2",
        "[program.main] depends[1]",
        "no file matches 'src/*.c'",
        "check the pattern; it starts at the project folder",
    ),
    (
        (MAIN, 'command = ["make-it", "{output}"]\naddress = 0x02008000'),
        "[program.main]",
        "[program.main] reserve",
        "is missing: the room of a built program with a fixed place or banks",
        "set reserve to the most it may take",
    ),
    (
        (MAIN, MAIN + "\nreserve = 1002"),
        "[program.main]+2",
        "[program.main] reserve",
        "1002 is not a multiple of the alignment 4",
        "round it up",
    ),
    # Places.
    ((LEVEL, LEVEL + "\nalignment = 12"), "[data.level]+2", "[data.level] alignment", "12 is not a power of two", "use 1, 2, 4, 8, ..."),
    (
        (LEVEL, LEVEL + "\nalignment = 2"),
        "[data.level]+2",
        "[data.level] alignment",
        "2 is less than the target demands",
        "use 4 or more, or leave it out",
    ),
    (
        (LEVEL, LEVEL + "\naddress = 0x02008002"),
        "[data.level]+2",
        "[data.level] address",
        "0x2008002 is not a multiple of the alignment 4",
        "use a multiple of 4, or give the asset a smaller alignment",
    ),
    # Game and links.
    (
        ('phase = "alpha"', 'phase = "alpha"\ncartridge = "3 MiB"'),
        "phase+1",
        "[game] cartridge",
        "3 MiB is not a cartridge size of this target",
        "the sizes are 1 MiB, 2 MiB, 4 MiB, 6 MiB",
    ),
    (
        ('phase = "alpha"', 'phase = "alpha"\ncartridge = "2MB"'),
        "phase+1",
        "[game] cartridge",
        "unknown unit in size '2MB'",
        'was "2 MiB" meant?',
    ),
    (
        ('phase = "alpha"', 'phase = "alfa"'),
        "phase",
        "[game] phase",
        'expected "pre-alpha" or "alpha" or "beta" or "release candidate" or "release", saw \'alfa\'',
        'did you mean "alpha"?',
    ),
    (
        ('code = "TINF"', 'code = "tinf"'),
        "code",
        "[game] code",
        "expected text, 2 to 8 capitals and digits, saw 'tinf'",
        'for example: "HREL"',
    ),
    (
        ('version = "0.1.0"', 'version = "0.1"'),
        "version",
        "[game] version",
        "expected text, a version such as 0.4.0 or 1.0.0-rc.1, saw '0.1'",
        'for example: "0.4.0"',
    ),
    (
        ('target = "basalt32"', 'target = "basalt"'),
        "target",
        "[game] target",
        "unknown target 'basalt'",
        "did you mean basalt32? shipped targets: basalt32, lattice16, pebble8; or write the path of a .toml file inside the project",
    ),
    (
        (FEEDBACK, '"example.org/f"'),
        "feedback",
        "[links] feedback",
        "'example.org/f' is not a URL",
        "write the whole address, for example https://example.org/f/{build}",
    ),
    (
        (FEEDBACK, '"https://example.org/a b"'),
        "feedback",
        "[links] feedback",
        "'https://example.org/a b' is not a URL",
        "write http:// or https:// and only the characters a URL may hold",
    ),
    (
        (FEEDBACK, '"https://example.org/b/{build}"'),
        "bugs",
        "[links] bugs",
        "is the same link as feedback",
        "give each form its own link",
    ),
    # Pads, controls, issues.
    ((BUTTONS, 'buttons = { tree = "A" }'), "buttons = {", "[control[0].buttons] tree", "there is no pad 'tree'", "did you mean three?"),
    ((BUTTONS, 'buttons = { zzz = "A" }'), "buttons = {", "[control[0].buttons] zzz", "there is no pad 'zzz'", "add a [pad.NAME] table"),
    (
        (BUTTONS, 'buttons = { three = "Strat" }'),
        "buttons = {",
        "[control[0].buttons] three",
        "pad 'three' has no button 'Strat'",
        "did you mean Start?",
    ),
    (
        (BUTTONS, 'buttons = { three = "A + X" }'),
        "buttons = {",
        "[control[0].buttons] three",
        "pad 'three' has no button 'X'",
        "its buttons are A, B, Start",
    ),
    # Bundles and scenes.
    (('crew = ["ada"', 'crew = ["adda"'), "crew", "[bundle] crew[0]", "there is no 'adda'", "did you mean ada?"),
    (('crew = ["ada"', 'crew = ["xyzzy"'), "crew", "[bundle] crew[0]", "there is no 'xyzzy'", "name an asset or a bundle of this project"),
    (
        (CHOOSE, 'choose = [{ count = 1, of = ["crw"] }]'),
        "choose",
        "[[scene.play.choose]] number 1 of[0]",
        "there is no 'crw'",
        "did you mean crew?",
    ),
    (
        (CHOOSE, 'choose = [{ count = 2, of = ["crew", "crew"], repeat = false }]'),
        "choose",
        "[[scene.play.choose]] number 1 count",
        "2 of 1",
        "choose fewer, or allow repeat",
    ),
    (
        ('always = ["quay"', 'always = ["quai"'),
        "always",
        "[scene.play] always[0]",
        "there is no 'quai'",
        "did you mean quay?",
    ),
]


@pytest.mark.parametrize(("change", "at", "shown", "wrong", "remedy"), ONE_CHANGE, ids=[f"{one[2]} {one[3]}"[:60] for one in ONE_CHANGE])
def test_wrong_part_of_a_project_is_refused(folder, change, at, shown, wrong, remedy):
    """Each mistake is the only problem reported, with its line, table and key, the value seen and what to do."""
    begin, _, more = at.partition("+")
    where = f"project.toml, line {line(begin, int(more or 0))}, {shown}"
    assert found(folder, change) == [f"{where}: {wrong}\n    {remedy}"]


UNUSED = "no sprite, background or font uses it, and it has no file\n    name it in an asset, or remove it"
# A mistake that leaves another part wrong as well: both are reported.
WITH_ANOTHER = [
    (
        (FRAMES + "\n", ""),
        "line 11, [sprite.ada]: has no frames\n    give exactly one of frames, animated and sheet",
        "line 14, [sprite.ada.animations.walk] frames: 'walk_*' is a pattern over names of frames\n"
        "    give frame numbers; only frames from single files, or with names in a boxes file, have names",
    ),
    (
        ('palette = "figures"', 'palette = "figure"'),
        "line 13, [sprite.ada] palette: there is no palette 'figure'\n    did you mean figures?",
        f"line 19, [palette.figures]: {UNUSED}",
    ),
    (
        ('palette = "quay_colours"\n', ""),
        "line 16, [background.quay] palette: index8 needs a palette\n    add a [palette.NAME] table and name it here",
        f"line 21, [palette.quay_colours]: {UNUSED}",
    ),
    (
        ("colours = 8\nfirst = 8", "colours = 8\nfirst = 250"),
        "line 18, [background.quay] palette: 8 colours from entry 250 do not fit pixels of 8 bits\n"
        "    use at most 6 colours, or wider pixels",
        "line 24, [palette.quay_colours] first: entries 250 to 257 leave the console's 256\n    start lower, or use fewer colours",
    ),
]


@pytest.mark.parametrize(("change", "first", "second"), WITH_ANOTHER, ids=[first[:50] for _, first, _ in WITH_ANOTHER])
def test_mistake_and_what_follows_from_it_are_both_reported(folder, change, first, second):
    """A broken reference is reported at the part that refers and at the part that is left alone."""
    assert found(folder, change) == [f"project.toml, {first}", f"project.toml, {second}"]


def test_good_project_has_no_problem_on_any_shipped_target(tmp_path):
    """The project that the other tests break is whole, on each of the three consoles."""
    for target in TARGETS:
        assert problems(make_project(tmp_path / target, target=target)) == []


def test_two_names_with_one_hash_are_refused(folder):
    """A program knows names by CRC-32; two names with the same one (found by search, compared by zlib) cannot both be used."""
    assert zlib.crc32(b"cfmwjcitz") == zlib.crc32(b"yhcbdjwhj")
    more = '[data.cfmwjcitz]\nfile = "level.bin"\n[data.yhcbdjwhj]\nfile = "level.bin"\n'
    where = f"project.toml, line {len(LINES) + 3}, [data.yhcbdjwhj]"
    assert found(folder, more=more) == [f"{where}: 'yhcbdjwhj' and 'cfmwjcitz' have the same CRC-32\n    rename one of them"]


def test_issue_id_used_twice_is_refused(folder):
    """An issue's id stays the same for ever, so it names one."""
    more = '[[issue]]\nid = "TF-001"\nseverity = "minor"\nwhere = "Sea"\nwhat = "Wet."\n'
    where = f"project.toml, line {len(LINES) + 2}, [[issue]] number 2 id"
    assert found(folder, more=more) == [f"{where}: the id 'TF-001' is used twice\n    ids stay the same for ever; take a new one"]


def test_bundle_with_the_name_of_an_asset_is_refused(folder):
    """A scene names bundles and assets alike, so a name is one of them."""
    where = f"project.toml, line {line('crew')}, [bundle] ada"
    assert found(folder, ('crew = ["ada", "figures"]', 'ada = ["figures"]'), ('["crew"]', '["ada"]')) == [
        f"{where}: 'ada' is also a sprite\n    give the bundle another name"
    ]


def test_palette_nobody_uses_is_refused(folder):
    """A palette is computed from what uses it, so one without users and file has nothing to hold."""
    where = f"project.toml, line {len(LINES) + 1}, [palette.idle]"
    assert found(folder, more="[palette.idle]\n") == [
        f"{where}: no sprite, background or font uses it, and it has no file\n    name it in an asset, or remove it"
    ]


def test_palette_outside_the_consoles_is_refused(folder):
    """Entries of a palette with a file must lie inside the console's 256."""
    more = '[palette.late]\nfile = "art/quay.png"\ncolours = 8\nfirst = 250\n'
    where = f"project.toml, line {len(LINES) + 4}, [palette.late] first"
    assert found(folder, more=more) == [f"{where}: entries 250 to 257 leave the console's 256\n    start lower, or use fewer colours"]


def test_link_too_long_for_a_readable_code_says_how_much_to_shorten(folder):
    """On 320 x 240 pixels two codes of 3 pixels a module hold at most version 7: 122 bytes at level M (ISO/IEC 18004, table 7)."""
    long = "https://example.org/{build}" + "x" * 154
    (said,) = found(folder, (FEEDBACK, f'"{long}"'))
    assert said.startswith(
        f"project.toml, line {line('feedback')}, [links] feedback: 180 bytes with the build code make a code of under 3 pixels"
    )
    most = int(said.partition("use a link of at most ")[2].split(" ")[0])
    assert said.endswith(f"use a link of at most {most} bytes: shorten it by {180 - most}")
    assert found(folder, (FEEDBACK, f'"https://example.org/{{build}}{"x" * (most - 26)}"')) == []
    assert len(found(folder, (FEEDBACK, f'"https://example.org/{{build}}{"x" * (most - 25)}"'))) == 1


def test_defaults_are_checked_and_completed(folder):
    """Keys of a kind's defaults are checked once, and reach every asset that does not give its own."""
    more = '[defaults.sprite]\nscale = 0.5\nalpa = 3\n[defaults.background]\nscale = "big"\n[defaults.sprit]\n'
    count = len(LINES)
    assert found(folder, more=more) == [
        f"project.toml, line {count + 3}, [defaults.sprite] alpa: unknown key 'alpa'\n    did you mean alpha?",
        f"project.toml, line {count + 5}, [defaults.background] scale: expected a number, 0.01 to 8, or two of them, saw 'big'\n"
        "    write a number, 0.01 to 8, or two of them",
        f"project.toml, line {count + 6}, [defaults.sprit]: unknown key 'sprit'\n    did you mean sprite?",
    ]
    assert found(folder, more="[defaults.sprite]\nscale = 0.5\nalpha = 7\n") == []
    assert load_project(folder).assets["ada"].spec.scale == 0.5
    assert found(folder, (FRAMES, FRAMES + "\nscale = 2"), more="[defaults.sprite]\nscale = 0.5\n") == []
    assert load_project(folder).assets["ada"].spec.scale == 2


def test_own_size_beats_the_default_one(folder):
    """An asset's own height replaces a default scale, and the other way round; other defaults stay."""
    scale, height = "[defaults.sprite]\nscale = 0.5\nalpha = 7\n", "[defaults.sprite]\nheight = 16\nalpha = 7\n"
    for more, own, expected in (
        (scale, "", (0.5, None)),
        (scale, "height = 12", (1.0, 12)),
        (scale, "scale = [2, 0.5]", ([2, 0.5], None)),
        (height, "", (1.0, 16)),
        (height, "height = 12", (1.0, 12)),
        (height, "scale = 2", (2, None)),
    ):
        assert found(folder, (FRAMES, f"{FRAMES}\n{own}"), more=more) == []
        spec = load_project(folder).assets["ada"].spec
        assert (spec.scale, spec.height, spec.alpha) == (*expected, 7)


def test_two_sizes_among_defaults_are_reported_once(folder):
    """Defaults that give both are wrong at one place, not in every asset."""
    more = "[defaults.sprite]\nscale = 0.5\nheight = 12\n"
    where = f"project.toml, line {len(LINES) + 3}, [defaults.sprite] height"
    assert found(folder, more=more) == [f"{where}: scale is given as well\n    give scale or height, not both"]


def test_everything_wrong_in_a_file_is_reported_at_once(folder):
    """Wrong values, unknown keys, missing files and broken references in all tables, in the order of the file."""
    changes = (
        ('code = "TINF"', 'code = "tinf"\nauthr = "Ann"'),
        (FEEDBACK, '"nowhere"'),
        ('palette = "figures"', 'palette = "figure"'),
        ('file = "art/quay.png"', 'file = "art/quai.png"'),
        ("colours = 8\nfirst", "colours = 1\nfirst"),
        (BELL, BELL + "\nrate = 48000"),
        ("[data.level]", "[data.Level]"),
        (BUTTONS, 'buttons = { tree = "A" }'),
        ('severity = "minor"', 'severity = "mini"'),
        ('crew = ["ada"', 'crew = ["adda"'),
    )
    said = found(folder, *changes)
    assert [one.partition("\n")[0].partition(", ")[2] for one in said] == [
        "line 4, [game] code: expected text, 2 to 8 capitals and digits, saw 'tinf'",
        "line 5, [game] authr: unknown key 'authr'",
        "line 10, [links] feedback: 'nowhere' is not a URL",
        "line 14, [sprite.ada] palette: there is no palette 'figure'",
        "line 18, [background.quay] file: there is no file 'art/quai.png'",
        "line 24, [palette.quay_colours] colours: expected a whole number, 2 to 65536, saw 1",
        "line 28, [sound.bell] rate: 48000 Hz is above the target's 44100 Hz",
        "line 31, [data.Level]: 'Level' is not a valid name",
        "line 35, [bundle] crew[0]: there is no 'adda'",
        "line 44, [control[0].buttons] tree: there is no pad 'tree'",
        'line 47, [[issue]] number 1 severity: expected "critical" or "major" or "minor" or "cosmetic", saw \'mini\'',
    ]


# A part of another type than the file has; the rest of the file must still be checked.
WRONG_SHAPES = [
    ("sprite", "sprite = 3", "sprite: expected a table of tables, saw 3\n    write a table of tables"),
    ("game", "game = 3", "game: expected a table, saw 3\n    write it as a [table] with keys"),
    ("links", 'links = "x"', "links: expected a table, saw 'x'\n    write it as a [table] with keys"),
    ("control", "control = 3", "control: expected a list of tables, saw 3\n    write a list of tables"),
    ("control", "control = [3]", "control[0]: expected a table, saw 3\n    write it as a [table] with keys"),
    ("bundle", "bundle = 3", "bundle: expected a table of tables or a list of text, saw 3\n    write a table of tables or a list of text"),
    ("defaults", "defaults = 3", "defaults: expected a table, saw 3\n    write it as a [table] with keys"),
    ("contents", "contents = { included = 3 }", "[contents] included: expected a list of text, saw 3\n    write a list of text"),
]


@pytest.mark.parametrize(("key", "text", "said"), WRONG_SHAPES, ids=[text for _, text, _ in WRONG_SHAPES])
def test_part_of_the_wrong_shape_hides_nothing(tmp_path, key, text, said):
    """A part that is not a table or list at all is refused, and a misspelt key elsewhere is also reported."""
    parts = {
        "game": '[game]\ntitle = "T"\ncode = "TT"\nversion = "1.0.0"\nphase = "beta"\ntarget = "basalt32"\n',
        "links": '[links]\nfeedback = "https://example.org/f"\nbugs = "https://example.org/b"\n',
    }
    rest = "".join(part for name, part in parts.items() if name != key)
    write_text(tmp_path, f"format = 1\n{text}\n{rest}[pad.one]\nname = 'P'\nbuttons = []\nbutons = 1\n")
    last = 3 + rest.count("\n") + 3
    assert problems(tmp_path) == [
        f"project.toml, line 2, {said}",
        f"project.toml, line {last}, [pad.one] butons: unknown key 'butons'\n    did you mean buttons?",
    ]


def test_empty_file_names_all_that_is_missing(tmp_path):
    """An empty project file lists the three parts it needs."""
    write_text(tmp_path, "")
    assert problems(tmp_path) == [
        "project.toml, format: format is missing\n    add format = 1",
        "project.toml, game: game is missing\n    add a [game] table",
        "project.toml, links: links is missing\n    add a [links] table",
    ]


@pytest.mark.parametrize(
    ("key", "value"),
    [("code", '"TINF\\n"'), ("version", '"0.1.0\\n"'), ("language", '"en\\n"')],
)
def test_pattern_covers_the_whole_text(folder, key, value):
    """A line break after a code, version or language is refused: they become file names and PDF metadata."""
    old = {"code": 'code = "TINF"', "version": 'version = "0.1.0"', "language": 'phase = "alpha"'}[key]
    new = f"{key} = {value}" if key != "language" else f"{old}\nlanguage = {value}"
    said = found(folder, (old, new))
    assert len(said) == 1, said
    assert f"[game] {key}: expected text" in said[0]


PATHS = [
    ('file = "a\\u0000b"', "a NUL"),
    (f'file = "{"n" * 300}"', "a name longer than the file system's 255 bytes"),
    ('file = "loop/x"', "a link that leads to itself"),
]


@pytest.mark.parametrize("text", [text for text, _ in PATHS], ids=[what for _, what in PATHS])
def test_path_the_system_cannot_follow_is_refused(tmp_path, text):
    """A path that the system refuses to look at is a problem of the file, not a traceback."""
    project = make_project(tmp_path / "project", (LEVEL, text))
    (project / "loop").symlink_to(project / "loop")
    where = f"project.toml, line {line('[data.level]', 1)}, [data.level] file"
    path = tomllib.loads(text)["file"]
    said = f"{path!r} is not a path that can be followed\n    correct it; it starts at the project folder"
    assert problems(project) == [f"{where}: {said}"]


@pytest.mark.parametrize("pattern", [".", "./", "art/ada/."])
def test_pattern_that_names_no_file_is_refused(folder, pattern):
    """A pattern that can only mean a folder matches no file."""
    where = f"project.toml, line {line('frames')}, [sprite.ada] frames"
    said = f"no file matches {pattern!r}\n    check the pattern; it starts at the project folder"
    assert found(folder, (FRAMES, f'frames = "{pattern}"'), (WALK, "")) == [f"{where}: {said}"]


def test_link_out_of_the_project_is_refused(tmp_path):
    """A symbolic link inside the project that leads outside is refused, named alone, under a folder, or by a pattern."""
    project = make_project(tmp_path / "project", (LEVEL, 'file = "out/secret.bin"'))
    (tmp_path / "secret.bin").write_bytes(b"secret")
    (project / "out").symlink_to(tmp_path)
    where = f"project.toml, line {line('[data.level]', 1)}, [data.level] file"
    assert problems(project) == [f"{where}: 'out/secret.bin' leads outside the project folder\n    {OUTSIDE}"]
    (project / "art/ada/walk_9.png").symlink_to(project.parent / "secret.bin")
    write_text(project, project_text())
    where = f"project.toml, line {line('frames')}, [sprite.ada] frames"
    assert problems(project) == [f"{where}: 'art/ada/walk_9.png' leads outside the project folder\n    copy the file into the project"]


@pytest.mark.parametrize("path", ["build/map.json", "./build/map.json", "art/../build/map.json"])
def test_file_of_the_build_is_no_source(folder, path):
    """A file the build makes cannot be a source: the step would wait for its own image."""
    where = f"project.toml, line {line('[data.level]', 1)}, [data.level] file"
    said = f"{path!r} lies in the build folder\n    keep sources elsewhere in the project; builds clear that folder"
    assert found(folder, (LEVEL, f'file = "{path}"')) == [f"{where}: {said}"]


def test_pattern_does_not_find_what_the_build_made(folder):
    """A pattern over every folder leaves the build's out, else the second build would differ from the first."""
    (folder / "build/proofs").mkdir(parents=True)
    draw_frame(folder / "build/proofs/walk_9.png", 0)
    assert found(folder, (FRAMES, 'frames = "**/walk_*.png"')) == []
    files = load_project(folder).assets["ada"].files
    assert files == ("art/ada/walk_0.png", "art/ada/walk_1.png", "art/other/walk_0.png")


@pytest.mark.parametrize("value", ["yesterday", "-5", "1e9", " 1", "1" * 12])
def test_wrong_source_date_is_refused(folder, monkeypatch, value):
    """SOURCE_DATE_EPOCH is whole seconds since 1970 (reproducible-builds.org's specification)."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", value)
    assert found(folder) == [
        f"project.toml: the environment's SOURCE_DATE_EPOCH is {value!r}\n    set it to whole seconds since 1970, or unset it"
    ]


def test_date_is_the_projects_or_the_environments_never_the_clocks(folder, monkeypatch):
    """1,000,000,000 seconds after 1970 was 9 September 2001 UTC (POSIX time, widely published)."""
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert found(folder) == []
    assert build_date(load_project(folder)) is None
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000000000")
    assert build_date(load_project(folder)) == datetime.date(2001, 9, 9)
    assert found(folder, ('phase = "alpha"', 'phase = "alpha"\ndate = 2026-02-03')) == []
    assert build_date(load_project(folder)) == datetime.date(2026, 2, 3)


def test_assets_come_with_their_files_in_order(folder):
    """Frames are sorted by name; assets come kind by kind; a program that is made has what it depends on."""
    command = 'command = ["make-it", "{output}"]\ndepends = ["level.bin", "art/ada/*.png", "art/ada/walk_0.png"]'
    assert found(folder, (MAIN, command)) == []
    project = load_project(folder)
    assert list(project.assets) == ["ada", "quay", "figures", "quay_colours", "bell", "boot", "main", "level"]
    assert project.assets["ada"].files == ("art/ada/walk_0.png", "art/ada/walk_1.png")
    assert project.assets["main"].files == ("art/ada/walk_0.png", "art/ada/walk_1.png", "level.bin")
    assert [asset.name for asset in project.users_of("figures")] == ["ada"]
    assert project.alignment(project.assets["ada"]) == 32


@pytest.mark.parametrize(
    ("frames", "numbers"),
    [("walk_*", [0, 2]), ("*", [0, 1, 2]), ("walk_?", [0, 2]), ("Walk_*", []), ([2, 0, 2], [2, 0, 2])],
)
def test_animation_takes_frames_by_name_or_number(frames, numbers):
    """A pattern is compared with file names without folder and ending, capitals and all (POSIX fnmatch)."""
    files = ("art/walk_0.png", "art/idle_0.png", "art/walk_1.png")
    assert animation_frames(Animation(frames=frames, ms=80), files) == numbers


@pytest.mark.parametrize(
    ("days", "problem"),
    [
        ("date = 2031-04-09\ndeadline = 2031-04-08", "deadline: 2031-04-08 comes before date, 2031-04-09"),
        ("date = 2031-04-09\nexpires = 2031-04-08", "expires: 2031-04-08 comes before date, 2031-04-09"),
        ("deadline = 2031-04-20\nexpires = 2031-04-19", "expires: 2031-04-19 comes before deadline, 2031-04-20"),
    ],
)
def test_days_that_come_too_early_are_refused(tmp_path, days, problem):
    """A day may be the same as the one it follows, not before."""
    folder = make_project(tmp_path / "p", ('version = "', days + '\nversion = "'))
    (said,) = problems(folder)
    assert problem in said.replace("[game] ", "")
    same = days.replace("2031-04-08", "2031-04-09").replace("2031-04-19", "2031-04-20").replace('"', "")
    assert problems(make_project(tmp_path / "q", ('version = "', same + '\nversion = "'))) == []
