"""Random values for every key of every record an author may write: from its type where that says enough, else by a maker."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import pipeline.project.assets as pa
import pipeline.project.file as pf
import pipeline.project.intake as pi
import pipeline.project.plan as pp
import pipeline.project.testers as ts
import pipeline.target.records as pt
from pipeline.plain.written import written_fields

from .toml_text import DATE
from .world import World

# Pattern of a place in a document -> record of the table there; ** is any key.
PLACES: dict[str, dict[str, Any]] = {
    "project.toml": {
        "": pf.Project, "game": pf.Game, "links": pf.Links, "sprite.*": pa.Sprite, "sprite.*.sheet": pa.Sheet,
        "sprite.*.animations.*": pa.Animation, "pool.*": pa.Pool, "background.*": pa.Background, "palette.*": pa.Palette,
        "sound.*": pa.Sound, "mix.*": pa.Mix, "screen.*": pa.Screen, "program.*": pa.Program, "data.*": pa.Data, "level.*": pa.Level,
        "font.*": pa.Font, "scene.*": pf.Scene,
        "scene.*.choose.*": pf.Choice, "scene.*.layers.*": pf.SceneLayer, "planned.*": pf.Planned, "pad.*": pf.Pad, "control.*": pf.Control,
        "issue.*": pf.Issue, "contents": pf.Contents, "instructions": pf.Instructions, "plan": pp.Plan, "plan.task.*": pp.Task,
        "burn": pf.Burn, "effect.*": pf.Effect, "effect.*.steps.*": pf.EffectStep, "caution.*": pf.Caution,
        "intake.bugs": pi.BugForm, "intake.feedback": pi.FeedbackForm, "intake.bugs.columns": pi.BugColumns,
        "intake.feedback.columns": pi.FeedbackColumns, "defaults.sprite": pa.Sprite, "defaults.background": pa.Background,
        "defaults.palette": pa.Palette, "defaults.sound": pa.Sound, "defaults.data": pa.Data, "defaults.font": pa.Font,
        "defaults.pool": pa.Pool, "defaults.sprite.animations.*": pa.Animation,
    },
    "issues.toml": {"issue.*": pf.Issue},
    "reports/testers.toml": {"tester.*": ts.Tester},
    "console.toml": {
        "": pt.Target, "memory": pt.Memory, "memory.reserved.*": pt.Reserved,
        "memory.area.*": pt.Area, "cartridge": pt.Cartridge, "screen": pt.Screen,
        "cells": pt.Cells, "palette": pt.PaletteRules, "pixel_formats.*": pt.PixelFormat, "sprites": pt.SpriteLimits, "tiles": pt.TileUnit,
        "sound": pt.SoundRules, "sound.adpcm": pt.AdpcmRules, "limits": pt.Limits, "header": pt.Header, "header.fields.*": pt.Field,
        "directory": pt.Directory,
        "directory.fields.*": pt.Field,
    },
}  # fmt: skip

_LINES = ("Hill", "A & B <c>", "Grüße, ż", 'with "quotes" and \\', "100 %", "{{ x }}", "{build}", "it's", "x" * 39, "0", " two  spaces ")
_NAMES = ("Walk on", "Sea & sand", "Żółw", "A <b>", "Hill")
_VERSIONS = ("0.1.0", "0.1.1", "0.2.0-rc.1", "0.2.0", "1.0.0")
_HEADINGS = ("", "What?", "Build code", "When", "Name", "E-mail", "Where")
_BURNT = ["whole", "swapped", "even-odd", "four-way", "s-record", "intel-hex"]
_SIZES = (64, "1 KiB", "4 KiB", "64 KiB", "1 MiB")
Maker = Callable[[random.Random, World], Any]


def keys_of(record: Any) -> tuple[str, ...]:
    """Return the keys of a record."""
    return tuple(written_fields(record))


def record_at(name: str, path: tuple) -> Any:
    """Return the record of the table at a place of a document; None where any key is allowed."""
    for pattern, record in PLACES.get(name, {}).items():
        parts = pattern.split(".") if pattern else []
        if len(parts) == len(path) and all(part in ("*", str(key)) for part, key in zip(parts, path, strict=True)):
            return record
    return None


def required(record: Any) -> frozenset[str]:
    """Return the keys that must be there."""
    fields = record.__struct_fields__
    return frozenset(fields[: len(fields) - len(record.__struct_defaults__)])


def value_for(record: Any, key: str, rng: random.Random, world: World) -> Any:
    """Return a random value for a key, mostly one that is allowed; None where the machine makes none.

    A list may be handed on as it is, shuffled or shortened.
    """
    maker = MAKERS.get((record.__name__, key)) or MAKERS.get(("", key))
    if maker is not None:
        return maker(rng, world)
    options = _options(record, key)
    return rng.choice(options) if options else None


def covered(record: Any, key: str) -> bool:
    """Return whether the machine makes values for a key, or edits what is in it."""
    return (record.__name__, key) in MAKERS or ("", key) in MAKERS or bool(_options(record, key)) or key in _TABLES


@cache
def _options(record: Any, key: str) -> tuple:
    hint = written_fields(record)[key].type
    return tuple(_of_type(hint))


def _of_type(hint: Any) -> Iterator[Any]:
    if get_origin(hint) is Annotated:
        yield from _of_type(get_args(hint)[0])
    elif get_origin(hint) is Literal:
        yield from get_args(hint)
    elif hint is bool:
        yield from (True, False)
    elif get_origin(hint) is Union or type(hint).__name__ == "UnionType":
        for option in get_args(hint):
            yield from _of_type(option)


def _one(*values: Any) -> Maker:
    return lambda rng, world: rng.choice(values)


def _names(*kinds: str, most: int = 3) -> Maker:
    """Return a maker of lists of names from tables of the project file."""

    def make(rng: random.Random, world: World) -> list[str]:
        known = [name for kind in kinds for name in world.documents["project.toml"].get(kind, {})]
        return rng.sample(known, min(len(known), rng.randint(0, most)))

    return make


def _name(kind: str, *others: Any) -> Maker:
    def make(rng: random.Random, world: World) -> Any:
        return rng.choice([*world.documents["project.toml"].get(kind, {}), *others, *others])

    return make


def _files(*endings: str) -> Maker:
    def make(rng: random.Random, world: World) -> str:
        return rng.choice([name for name in sorted(world.sources()) if name.endswith(endings)] or ["missing.png"])

    return make


def _list(make: Maker, most: int = 3) -> Maker:
    return lambda rng, world: [make(rng, world) for _ in range(rng.randint(0, most))]


def _pads(rng: random.Random, world: World) -> dict[str, str]:
    pads = world.documents["project.toml"].get("pad", {})
    return {name: rng.choice(list(pad["buttons"])) for name, pad in pads.items() if rng.random() < 0.8 and pad.get("buttons")}


def _formats(rng: random.Random, world: World) -> str:
    own = world.documents.get("console.toml", {}).get("pixel_formats", {})
    return rng.choice([*own, "index8", "index4", "direct15", "tile4", "tile2"])


def _part(rng: random.Random, world: World) -> dict[str, Any]:
    cut = {"box": [0, 0, 4, 4], "repeat": [2, 1]}
    more = rng.choice([{}, {"mirror": "x"}, {"scale": 0.5, "blend": 1}, cut, {"clip": True, "name": "lamp"}])
    return {"file": _files(".png")(rng, world), "at": [rng.randint(-2, 8), rng.randint(0, 8)], **more}


_ASSETS = ("sprite", "background", "palette", "sound", "data", "font", "program")
_text = _one(*_LINES)
_TABLES = {  # edited as tables and lists, or by moves of their own
    "sprite", "pool", "background", "palette", "sound", "screen", "program", "data", "font", "bundle", "scene", "planned", "pad", "control",
    "issue", "effect", "caution",
    "contents", "instructions", "plan", "burn", "intake", "game", "links", "defaults", "sheet", "animations", "columns",
    "questions", "memory", "cartridge", "cells", "pixel_formats", "header", "sprites", "limits", "tiles", "directory", "fields",
    "command", "depends", "banks", "tester", "level", "text", "notes", "note_kinds", "lists", "expected", "steps", "known", "console",
    # With these a build writes a file of the author's; tests/assets/test_sheets.py has them.
    "boxes", "join",
}  # fmt: skip
# (record, key), or ("", key) for a key that means the same in all of them.
MAKERS: dict[tuple[str, str], Maker] = {
    ("", "format"): _one(1),
    ("", "key"): _one("#ff00ff", ["#ff00ff", "#00ff00"], "#102030"),
    ("", "tolerance"): _one(0, 3, 40),
    ("Sprite", "marker"): _one("#ff0000", "#00ff00"),
    ("Sheet", "frame"): _one([8, 8], [16, 16], [5, 7]),
    ("Sheet", "margin"): _one(0, 1, [1, 0]),
    ("Sheet", "gap"): _one(0, 2, [0, 1]),
    ("Level", "picture"): _one("art/one_0.png", "art/none.png"),
    ("Level", "set"): lambda rng, world: _name(rng.choice(("background", "sprite")), "none")(rng, world),
    ("Scene", "streamed"): lambda rng, world: {name: {"buffers": rng.randint(1, 3)} for name in _names("sprite", most=2)(rng, world)},
    ("Scene", "sets"): lambda rng, world: {"figure": rng.randint(1, 2)},
    ("Scene", "window"): lambda rng, world: {name: {"margin": rng.choice((0, 8))} for name in _names("background", most=1)(rng, world)},
    ("Scene", "after"): _names("scene", most=2),
    ("Target", "transfer"): _one({"blank": "4 KiB"}, {"blank": 900, "picture": "8 KiB", "start": 4}),
    ("SpriteLimits", "commands"): _one(["YYYYYYYYXXXXXXXX", "VHNNNNNNNNNNNNNN"], []),
    ("SpriteLimits", "command_unit"): _one(1, 16),
    ("Level", "bounds"): _one([0, 255], [1, 9]),
    ("Sound", "format"): _one("u8", "s8", "s16", "ulaw", "adpcm"),
    ("Game", "title"): _one("Small Game", "Other Game", "Game & Sons", "A"),
    ("Game", "code"): _one("SMALL", "OTHER", "AB", "ABCDEFG8"),
    ("Game", "version"): _one(*_VERSIONS),
    ("Game", "target"): lambda rng, world: rng.choice([world.documents["project.toml"]["game"]["target"], "console.toml", "lattice16"]),
    ("Game", "mark"): _one(True, False),
    ("Game", "since"): _one("0.1.0", "0.2.0", "0.9.0"),
    ("Game", "date"): _one(DATE + "2026-01-02", DATE + "2026-01-03", DATE + "1999-12-31"),
    ("Game", "program"): _one("", "main", "other"),
    ("Header", "program"): _one("main", "other"),
    ("Game", "plain_title"): _one("", "Small", "Plain"),
    ("Game", "author"): _text,
    ("Game", "summary"): _text,
    ("Game", "cartridge"): _one("64 KiB", "256 KiB", "512 KiB", "1 MiB", "2 MiB"),
    ("Game", "language"): _one("en", "en-GB", "de", "de-AT", "DE", "xx"),
    ("Links", "feedback"): _one("https://forms.relay.tld/f/{build}", "https://forms.relay.tld/g?t={tester}"),
    ("Links", "bugs"): _one("https://forms.relay.tld/b/{build}", "https://forms.relay.tld/c?t={tester}"),
    ("Links", "download"): _one("", "https://forms.relay.tld/d/{build}?t={tester}"),
    ("Links", "more"): lambda rng, world: {name: f"https://forms.relay.tld/{rng.randint(0, 3)}" for name in rng.sample(_NAMES, 2)},
    ("", "placeholders"): _one(False, False, False, True),
    ("", "name"): _one(*_NAMES),
    ("Choice", "name"): _one("figure", "thing", "", "other"),
    ("Tester", "name"): _one("Zabriska Quill", "Odalric", "", "Ąę Öx"),
    ("Field", "name"): _one("magic", "spare"),
    ("Pad", "buttons"): _one(["A", "B"], ["B", "A", "Start"], {"A": "9 3", "B": "11 3"}, {"B": "2 2 bar", "A": "6.5 4 square"}),
    ("Pad", "grid"): _one([12, 5], [14, 6], [24, 12]),
    ("Control", "action"): _text,
    ("Control", "buttons"): _pads,
    ("Issue", "id"): _one("SG-1", "SG-2", "SG-3", "SG-10"),
    ("", "where"): _text,
    ("", "what"): _text,
    ("Issue", "title"): _text,
    ("", "workaround"): _text,
    ("Issue", "since"): _one("0.0.9", "0.1.0"),
    ("Issue", "fixed_in"): _one("0.1.0", "0.2.0"),
    ("Issue", "reproduce"): _list(_text),
    ("Issue", "picture"): _one("", "art/none.png"),
    ("Issue", "frame"): _one("", "one/0", "two/walk_1", "nobody"),
    ("Instructions", "thanks"): _one([], ["T1"], ["T3", "Zoë"]),
    ("Game", "deadline"): _one(DATE + "2026-01-20", DATE + "2025-01-01"),
    ("Game", "expires"): _one(DATE + "2026-02-20", DATE + "2025-01-01"),
    ("Tester", "message"): _text,
    ("Tester", "thanks_as"): _one("", "Zab", "Ąę"),
    ("", "included"): _list(_text),
    ("", "missing"): _list(_text),
    ("", "run"): _list(_text),
    ("", "test"): _list(_text),
    ("", "cautions"): _list(_text),
    ("Choice", "count"): _one(1, 2, 3),
    ("Choice", "of"): _names("bundle", "sprite", "background", "planned"),
    ("SceneLayer", "background"): _name("background"),
    ("SceneLayer", "factor"): _one(0.0, 0.25, 0.5, 1, 2.0),
    ("Scene", "always"): _names("bundle", *_ASSETS, "planned", most=5),
    ("Scene", "choose"): lambda rng, world: [{"name": "figure", "count": 1, "of": _names("sprite", "bundle")(rng, world)}],
    ("Scene", "never"): lambda rng, world: [_names("sprite", "bundle", most=2)(rng, world)],
    ("Scene", "direct"): _names("bundle", *_ASSETS),
    ("Scene", "packed"): _names("bundle", *_ASSETS),
    ("Scene", "layers"): lambda rng, world: [{"background": _name("background")(rng, world), "factor": 0.5}],
    ("", "pan"): _one([4, 4], [0, 0], [2, 0], [1, 3]),
    ("Planned", "count"): _one(1, 2, 3),
    ("Planned", "like"): _name("sprite", "level"),
    ("", "width"): _one(8, 16, 24),
    ("", "height"): _one(8, 12, 16, 24),
    ("Planned", "frames"): _one(1, 4),
    ("Planned", "seconds"): _one(0.1, 1, 2.5),
    ("Planned", "bytes"): _one(*_SIZES),
    ("Effect", "over"): _name("background", "#000000", "#ffffff"),
    ("Effect", "view"): _one([0, 0], [8, 4]),
    ("Effect", "times"): _one(1, 2, 5),
    ("Effect", "cycle"): _one({"first": 0, "last": 1, "every": 4}, {"first": 0, "last": 3, "every": 20}),
    ("EffectStep", "hold"): _one(1, 3, 7, 20),
    ("EffectStep", "fill"): _one("#ffffff", "#ff0000", "#102030"),
    ("EffectStep", "share"): _one(0.1, 0.5, 1),
    ("EffectStep", "palette"): _name("palette"),
    ("EffectStep", "frame"): _one("one/0", "two/walk_1", "nobody"),
    ("EffectStep", "at"): _one([0, 0], [-4, 3]),
    ("Caution", "of"): _name("sprite", "storm"),
    ("Caution", "text"): _text,
    ("Burn", "forms"): lambda rng, world: rng.sample(_BURNT, rng.randint(1, 3)),
    ("Burn", "device"): _one("128 KiB", "512 KiB", "1 MiB"),
    ("", "frames"): _one("art/one/*.png", "art/two/*.png", "art/*/f0.png", "art/one/f[01].png"),
    ("Animation", "frames"): _one("f*", "f0", [0], [1, 0], [0, 0]),
    ("Animation", "ms"): _one(80, 83.5, 120, [80, 40]),
    ("Sprite", "animated"): _files(".gif"),
    ("", "file"): _files(".png"),
    ("Palette", "file"): _files(".png", ".gpl"),
    ("Palette", "locked_file"): _files(".png", ".gpl"),
    ("Sound", "file"): _files(".wav"),
    ("Data", "file"): _files(".bin", ".txt", ".toml"),
    ("Program", "file"): _files(".bin"),
    ("Font", "file"): _files(".ttf", "numbers.png"),
    ("Sheet", "columns"): _one(1, 2, 4),
    ("Sheet", "rows"): _one(1, 2),
    ("Sheet", "count"): _one(1, 2, 3),
    ("", "scale"): _one(0.5, 1, 1.0, 0.77, [0.5, 1.0], 2),
    ("Sprite", "anchor"): _one([3, 5], [0, 0], [4.5, 12.0]),
    ("", "palette"): _name("palette"),
    ("", "pixels"): _formats,
    ("", "alpha"): _one(1, 64, 128, 255),
    ("Sprite", "pool"): _name("pool", ""),
    ("", "address"): lambda rng, world: rng.choice([0x0200_8000, 0x8000, 0x4000, 0x1000]),
    ("", "alignment"): _one(1, 2, 4, 64, 256),
    ("", "split"): _one(False, True),
    ("", "area"): _one("main", "main", "video", "sound"),
    ("", "bank"): _one(0, 1, "any"),
    ("", "origin"): _one("Drawn for the tests.", "Drawn by hand, public domain.", "", "Ä."),
    ("Background", "tile"): _one([8, 8], [16, 16], [8, 16]),
    ("", "map_entry"): _one("HVtttttttttttttt", "HVccPxtttttttttt", "tttttttt", "xxPHVccctttttttt"),
    ("Background", "tiles_at_most"): _one(1, 4, 8, 12, 40),
    ("Background", "first_tile"): _one(0, 1, 16),
    ("Background", "part"): _list(_part, 2),
    ("Palette", "variant_of"): _name("palette", ""),
    ("Palette", "worn_by"): _names("sprite", "background", "font"),
    ("Palette", "replace"): _one([[1, "#00ff00"]], [["#f8f8f8", "#102030"]], [[1, "#00ff00"], [2, "#102030"]], []),
    ("Palette", "hue"): _one(-10, 30.5, 0, 400),
    ("Palette", "lightness"): _one(0.5, 1, 1.2),
    ("Palette", "chroma"): _one(0.5, 1, 1.2),
    ("Palette", "colours"): _one(2, 3, 4, 8, 16),
    ("Palette", "first"): _one(0, 4, 8, 16, 32, 48),
    ("Palette", "locked"): _list(_one("#f8f8f8", "#000000", "#ff8800", "#FF8800"), 2),
    ("Palette", "lines"): _one(2, 3),
    ("Font", "size"): _one(6, 8, 11),
    ("Font", "colour"): _one("#ffffff", "#f8f0e8"),
    ("Font", "cell"): _one([6, 8], [3, 8], [6, 4]),
    ("Font", "order"): _one("0123456789", "9876543210", "01234\n56789", "ABCDEFGHIJ"),
    ("Font", "characters"): _one("", "0123", "AZ", "Żó"),
    ("Font", "texts"): _one(["text/*.txt"], ["text/sea.txt"], ["text/sea.txt", "text/hill.txt"], ["text/*.txt", "text/sea.txt"], []),
    ("Font", "gap"): _one(0, 1, 2),
    ("Font", "space"): _one(2, 4),
    ("Font", "baseline"): _one(0, 6, 8),
    ("Font", "line_height"): _one(8, 10),
    ("Font", "box"): _one([8, 8], [8, 16], [16, 16]),
    ("Sound", "rate"): _one(2000, 4000, 8000, 11025),
    ("Sound", "offset"): _one("keep", "remove"),
    ("Sound", "trim"): _one(-60, -40.5, -20),
    ("Sound", "fade"): _one(0, 2, 10.5),
    ("Sound", "gain"): _one(0, -6, 3.5, 40),
    ("Sound", "mix"): _one("all", "loud", "none"),
    ("Sound", "dither"): _one("none", "plain", "triangular", "shaped"),
    ("Project", "mix"): _one({"all": {"loudness": -20}}, {"loud": {"peak": -3}, "all": {}}, {"all": {}, "loud": {"peak": -3}}, {}),
    ("Mix", "loudness"): _one(-30, -20, -12.5),
    ("Mix", "peak"): _one(-1, -6, 0),
    ("SoundRules", "adpcm"): _one({"first": "high"}, {"block": 36}, {"first": "low", "block": 256}),
    ("AdpcmRules", "block"): _one(8, 36, 256),
    ("AdpcmRules", "first"): _one("low", "high"),
    ("Screen", "warning"): _one("Test build.", "Please do not pass it on.", "A & <b>"),
    ("", "feedback_label"): _one("FEEDBACK", "TELL US", "a"),
    ("", "bugs_label"): _one("REPORT A BUG", "BUGS"),
    ("Program", "entry"): _one(0, 2, 4),
    ("Program", "reserve"): _one("1 KiB", "4 KiB", 64),
    ("Plan", "task"): lambda rng, world: [{"text": rng.choice(_LINES)} for _ in range(rng.randint(0, 2))],
    ("Plan", "names"): lambda rng, world: {name: rng.choice(_NAMES) for name in rng.sample(["one_pack", "two_pack", "coin", "bird"], 2)},
    ("Task", "text"): _text,
    ("Task", "scene"): _name("scene", ""),
    ("Task", "cover"): _one(["figure", "pads"], ["pads", "figure"], ["figure"], ["thing", "figure"], []),
    ("Task", "together"): _one(["figure"], []),
    ("", "times"): _one(1, 2),
    ("Task", "most"): _one(1, 2, 5),
    ("", "severities"): _one({"Bad": "major"}, {"Stop": "critical", "Bad": "minor"}),
    ("", "frequencies"): _one(["Always", "Once"], ["Once"], []),
    ("BugForm", "names"): _one({"Hill": ["the mound"]}, {"Sea": ["water"], "Hill": []}),
    ("", "keep"): _one(["what", "build"], ["what"], ["fun"], ["build", "tester"]),
    ("", "answers"): _one({"fun": ["None", "Some"]}, {"fun": ["Some", "None"]}, {}),
    ("Tester", "number"): _one(1, 2, 3, 7),
    ("Tester", "since"): _one("0.1.0", "0.2.0", "0.9.0"),
    ("Tester", "pads"): _one(["three"], ["six", "three"], []),
    **{(name, key): _one(*_HEADINGS) for name in ("BugColumns", "FeedbackColumns")
       for key in ("what", "build", "severity", "often", "where", "picture", "time", "tester", "contact", "row")},
    # The target file's.
    ("Target", "name"): _one("Basalt 32", "Own console", "Ö"),
    ("Target", "summary"): _text,
    ("Target", "codecs"): _one(["packbits", "lz4"], ["lz4", "packbits"], ["lz4"], []),
    ("Target", "alignment"): _one(
        {"default": 2}, {"default": 4, "sprite": 32}, {"sprite": 32, "default": 4}, {"default": 256},
        {"default": 32, "frame": 32, "cell": 16},
    ),
    ("Memory", "size"): _one("8 KiB", "64 KiB", "2 MiB"),
    ("", "base"): _one(0, 0x0010_0000, 0x0200_0000, 0xC000),
    ("", "granularity"): _one(1, 2, 32),
    ("Memory", "reserved"): _one([], [{"name": "stack", "bytes": 512}], [{"name": "stack", "bytes": "1 KiB"}, {"name": "x", "bytes": 2}]),
    ("Area", "size"): _one("8 KiB", "64 KiB"),
    ("Area", "kinds"): _one(["sprite", "pool"], ["sound"], []),
    ("Area", "reserved"): _one([], [{"name": "screen map", "bytes": 512}]),
    ("Memory", "area"): _one({}, {"video": {"size": "64 KiB", "kinds": ["sprite"]}, "sound": {"size": "8 KiB", "granularity": 2}}),
    ("Reserved", "name"): _one("stack", "system"),
    ("Reserved", "bytes"): _one(16, 512, "4 KiB"),
    ("Cartridge", "sizes"): _one(["256 KiB", "1 MiB"], ["1 MiB", "2 MiB"], ["512 KiB"], ["128 KiB", "64 KiB"]),
    ("", "pad"): _one(0, 0x20, 0xFF),
    ("", "boundary"): _one("64 KiB", "128 KiB"),
    ("Screen", "width"): _one(240, 256, 320),
    ("Screen", "height"): _one(160, 224, 240),
    ("Screen", "buffers"): _one(0, 1, 2),
    ("Screen", "action_safe"): _one(93, 95, 100),
    ("Screen", "title_safe"): _one(80, 90, 93),
    ("", "pixel_aspect"): _one([1, 1], [32, 35], [8, 7]),
    ("", "refresh"): _one(50, 59.94, 60.0),
    ("", "entry"): _one("xBBBBBGGGGGRRRRR", "0000BBB0GGG0RRR0", "RRRRRGGGGGGBBBBB"),
    ("", "entries"): _one(32, 64, 256),
    ("", "pixel"): _one("IIIIIIII", "IIII", "II"),
    ("", "row_unit"): _one(1, 2, 4),
    ("PixelFormat", "tile"): _one([8, 8], [4, 8]),
    ("", "unit"): _one([8, 8], [32, 32]),
    ("", "per_line"): _one(8, 10, 20),
    ("", "pixels_per_line"): _one(80, 320),
    ("", "per_picture"): _one(40, 80),
    ("TileUnit", "most"): _one(16, 256, 1024),
    ("", "max_width"): _one(8, 64, 512),
    ("", "max_height"): _one(8, 64, 512),
    ("", "max_frames"): _one(2, 3, 100),
    ("SoundRules", "formats"): _one(["s8", "s16"], ["s16", "s8"], ["u8"], ["u8", "s8"], ["s16", "adpcm", "ulaw"]),
    ("", "max_rate"): _one(8000, 16384, 44100),
    ("", "palette_entries"): _one(16, 64),
    ("", "cells"): _one(10, 200),
    ("Limits", "video"): _one("1 KiB", "64 KiB"),
    ("Header", "size"): _one(256, 512),
    ("", "offset"): _one(0, 4, 256),
    ("Field", "mirrored"): _one(False, True),
    ("Field", "bytes"): _one(1, 2, 4, 8, 16),
    ("Field", "text"): _one("BASALT32", "SPARE"),
    ("Field", "hex"): _one("00ff", "CAFE"),
    ("Field", "number"): _one(1, 2, 77),
    ("Field", "value"): _one("project.title", "project.version", "build.code", "image.used"),
    ("Field", "table"): _one({"1 MiB": 1, "2 MiB": 2}),
    ("Field", "checksum"): _one("CRC-32/ISO-HDLC", "sum32", "sum16", "xor8"),
    ("Field", "covers"): _one([["header_end", "end"]], [["start", "end"]]),
    ("Field", "placeholder"): _one(0, 1),
    ("Field", "each"): _one(0, 1),
    ("Field", "of"): _one("content sum"),
    ("Directory", "entry_bytes"): _one(20, 32),
}  # fmt: skip
BAD = (5, -1, "", [], {}, "no such", [[]], True, 10**30, float("inf"), "\n", "../x", "x" * 200)


def bad_value(rng: random.Random) -> Any:
    """Return a value that is hardly ever right."""
    return rng.choice(BAD)
