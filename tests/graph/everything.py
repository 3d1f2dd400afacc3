"""An invented project that has every kind of asset, table and step, on a console of its own, as small as can be."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

from PIL import Image, ImageDraw

from pipeline.plain.shipped import MONO, TEMPLATES
from tests.makers import draw_frame, write_wav

MAKE_PROGRAM = "import sys; open(sys.argv[1], 'wb').write(open(sys.argv[2], 'rb').read())"
PROJECT = """format = 1

[game]
title = "Every Part"
code = "EVERY"
version = "0.2.0"
phase = "alpha"
target = "console.toml"
author = "Nobody (invented)"
tables = true

[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
placeholders = true

[links.more]
"The rules" = "https://example.org/rules"
"Older builds" = "https://example.org/builds"

[defaults.sprite]
palette = "figures"
dither = "none"
origin = "Made for this test."

[defaults.sprite.animations]
idle = { frames = "*_0", ms = 90 }
walk = { frames = "walk_*", ms = 80 }

[defaults.data]
packing = "stored"
origin = "Made for this test."

[defaults.sound]
rate = 8000
origin = "Made for this test."

[defaults.palette]
transparent = true
origin = "Made for this test."

[defaults.background]
resample = "nearest"
origin = "Made for this test."

[defaults.font]
palette = "figures"
origin = "Made for this test."

[defaults.pool]
packing = "stored"
origin = "Made for this test."

[sprite.ada]
frames = "art/ada/*.png"

[sprite.ben]
frames = "art/ben/*.png"
arrangement = "pieces"
pool = "crew"

[sprite.cleo]
frames = "art/cleo/*.png"
arrangement = "pieces"
pool = "crowd"

[sprite.coin]
sheet = { file = "art/coin.png", columns = 2, rows = 1 }
packing = "best"
animations = { spin = { frames = [0, 1], ms = 50 }, back = { frames = [1, 0], ms = 70 } }

[sprite.turn]
animated = "art/turn.gif"
animations = {}

[pool.crew]

[pool.crowd]

[background.quay]
file = "art/quay.png"
palette = "quay_colours"

[[background.quay.part]]
file = "art/ada/walk_0.png"
at = [4, 3]
scale = 0.5
blend = 1

[[background.quay.part]]
file = "art/ben/walk_0.png"
at = [7, 5]
scale = 0.5

[background.hill]
file = "art/hill.png"
palette = "hill_colours"
arrangement = "tiles"

[palette.figures]
colours = 8
first = 0

[palette.quay_colours]
colours = 8
first = 16

[palette.quay_night]
variant_of = "quay_colours"
lightness = 0.5

[palette.hill_colours]
file = "art/hill.gpl"
order = "file"
first = 32

[sound.bell]
file = "sound/bell.wav"
mix = "near"

[sound.horn]
file = "sound/horn.wav"
mix = "far"

[mix.near]
loudness = -20

[mix.far]
peak = -6

[screen.boot]

[screen.back]
warning = "Made for a test."

[program.main]
file = "main.bin"
reserve = "1 KiB"
origin = "Made for this test."

[program.made]
command = COMMAND
depends = ["made/*.bin"]
reserve = "1 KiB"
origin = "Made for this test."

[data.level]
file = "level.bin"
packing = "best"

[data.table]
file = "table.bin"

[defaults.level]
packing = "stored"
origin = "Made for this test."

[level.cave]
file = "cave.csv"
bounds = [0, 300]
cell_bytes = 2

[level.far]
file = "far.csv"
set = "hill"

[level.near]
picture = "art/near.png"
set = "hill"

[level.paved]
picture = "art/coin.png"
set = "coin"

[level.yard]
file = "art/yard.png"

[defaults.screen]
arrangement = "bitmap"
origin = "Made for this test."

[defaults.text]
packing = "stored"
origin = "Made for this test."

[text.menu]
languages = { en = "text/menu.toml", de = "text/menu_de.toml" }

[text.said]
font = "words"
languages = { en = "text/said.toml", de = "text/said_de.toml" }

[defaults.notes]
packing = "stored"
origin = "Made for this test."

[note_kinds]
boxes = ["body", "strike"]
points = ["hand", "overhead"]
numbers = ["damage", "push"]
events = ["step", "whoosh"]
colours = { body = "#00ff00", hand = "#0000ff" }

[notes.ada_notes]
of = "ada"
file = "ada.notes.toml"
layer = "art/ada_notes/*.png"

[notes.ben_notes]
of = "ben"
file = "ben.notes.toml"

[font.words]
file = "fonts/mono.ttf"
size = 8
texts = ["text/*.txt"]

[font.digits]
file = "art/digits.png"
cell = [6, 8]
order = "01"

[bundle]
ada_pack = ["ada", "figures"]
ben_pack = ["ben", "figures"]
letters = { members = ["words", "digits"], contiguous = true }

[lists.load]
scenes = ["play", "menu"]

[effect.storm]
over = "quay"
times = 2
steps = [{ fill = "#ffffff", share = 0.5, hold = 2 }, { palette = "quay_night", hold = 3 }, { frame = "ada/0", at = [2, 1], hold = 4 }]

[effect.water]
over = "hill"
cycle = { first = 0, last = 1, every = 20 }

[[caution]]
of = "storm"
text = "A storm flashes twice. Made for this test."

[[caution]]
of = "coin/spin"
text = "A coin blinks. Made for this test."

[scene.play]
always = ["quay", "quay_colours", "bell", "coming"]
layers = [{ background = "quay", factor = 0.5 }, { background = "quay" }]

[scene.play.streamed]
ada_pack = { buffers = 2, role = "walker" }
ben_pack = { buffers = 1, role = "runner" }

[scene.play.sets]
walker = 1
runner = 1

[[scene.play.choose]]
name = "figure"
count = 1
of = ["ada_pack", "ben_pack"]

[[scene.play.choose]]
name = "extra"
count = 1
of = ["horn", "letters"]

[scene.menu]
after = ["play"]
always = ["letters", "figures", "hill", "hill_colours", "quay"]
layers = [{ background = "hill" }]

[scene.menu.window]
hill = { margin = 4, speed = [2, 0], tiles = "streamed" }
quay = { margin = 8 }

[planned.coming]
kind = "sound"
seconds = 0.01

[planned.later]
kind = "data"
bytes = 64

[pad.three]
name = "Three-button pad"
buttons = { Left = "2 3 cross", Right = "4 3 cross", A = "9 3" }

[pad.two]
name = "Two-button pad"
buttons = { A = "9 3", B = "10.5 3" }

[[control]]
action = "Jump"
buttons = { three = "A", two = "B" }

[[control]]
action = "Walk"
buttons = { three = "Left / Right" }

[[issue]]
id = "EP-001"
severity = "minor"
where = "Quay"
what = "The bell rings twice."
frame = "ben/0"

[[issue]]
id = "EP-002"
severity = "minor"
where = "Hill"
what = "The horn is quiet."
picture = "art/quay.png"

[contents]
included = ["The quay", "The hill"]
missing = ["A race"]

[instructions]
run = ["Copy the image.", "Start it."]
test = ["Walk."]

[plan.names]
ada_pack = "Ada"
ben_pack = "Ben"

[[plan.task]]
text = "Walk along the quay."
scene = "play"
cover = ["figure", "pads"]

[[plan.task]]
text = "Look at the menu."

[burn]
forms = ["even-odd", "s-record"]
short_names = true

[intake.bugs]
severities = { "It stops" = "critical", "It is ugly" = "cosmetic" }
frequencies = ["Always", "Once"]
names = { Ada = ["the red one"], Quay = ["the harbour"] }
columns = { what = "What happened", build = "Build code", severity = "How bad", tester = "Name", contact = "E-mail" }

[intake.feedback]
questions = { fun = "How much fun was it?", pace = "How was the pace?" }
answers = { fun = ["None", "Much"], pace = ["Slow", "Fast"] }
columns = { build = "Build code", tester = "Name" }
"""
CONSOLE = """format = 1
name = "Console of this test"
byte_order = "big"
codecs = ["lz4", "packbits"]

[memory]
base = 0x40000
size = "256 KiB"
reserved = [{ name = "stack", bytes = "4 KiB" }, { name = "system", bytes = "2 KiB" }]

[memory.area.tape]
size = "64 KiB"
kinds = ["data"]
reserved = [{ name = "head", bytes = "1 KiB" }, { name = "tail", bytes = 512 }]

[memory.area.drum]
size = "8 KiB"
reserved = [{ name = "loop", bytes = 256, address = 16 }, { name = "beat", bytes = 64 }]

[cartridge]
sizes = ["512 KiB", "1 MiB"]
pad = 0xFF
banks = { size = "128 KiB", window = 0x20000, home = 0x0 }

[screen]
width = 320
height = 224
pixels = "index8"
buffers = 1

[cells]
width = 8
height = 8

[palette]
entry = "0000BBB0GGG0RRR0"
entries = 64

[pixel_formats.index8]
pixel = "IIIIIIII"

[pixel_formats.index4]
pixel = "IIII"
order = "cells"

[sprites]
flip_x = true

[tiles]
width = 8
height = 8
pixels = "index4"
map_entry = "HVccPxtttttttttt"

[sound]
formats = ["u8", "s8"]

[limits]
palette_entries = 64
cells = 2000

[alignment]
default = 2
sound = 4

[header]
size = 128
fields = [
    { name = "title", offset = 0x00, bytes = 16, value = "project.title" },
    { name = "code", offset = 0x10, bytes = 8, value = "project.code" },
    { name = "build code", offset = 0x18, bytes = 8, value = "build.code" },
    { name = "directory", offset = 0x20, bytes = 4, value = "directory.address" },
    { name = "count", offset = 0x24, bytes = 2, value = "directory.count" },
    { name = "size", offset = 0x26, bytes = 1, value = "image.bytes", table = { "512 KiB" = 1, "1 MiB" = 2 } },
    { name = "sum", offset = 0x28, bytes = 2, checksum = "sum16", covers = [["header_end", "end"]] },
]

[directory]
entry_bytes = 20
fields = [
    { name = "name hash", offset = 0, bytes = 4, value = "asset.name_hash" },
    { name = "address", offset = 4, bytes = 4, value = "asset.address" },
    { name = "bytes", offset = 8, bytes = 4, value = "asset.bytes" },
    { name = "crc", offset = 12, bytes = 4, value = "asset.crc32" },
    { name = "bank", offset = 16, bytes = 2, value = "asset.bank" },
    { name = "kind", offset = 18, bytes = 1, value = "asset.kind" },
    { name = "codec", offset = 19, bytes = 1, value = "asset.codec" },
]
"""
NOTES = {
    "ada": '[[frame]]\nframes = "*"\npoints = { overhead = [9, 1] }\nevents = ["step"]\n',
    "ben": '[[frame]]\nframes = "walk_1"\nboxes = { body = [4, 2, 10, 19], strike = [[10, 6, 8, 4]] }\nnumbers = { push = 1 }\n',
}
TESTERS = '[[tester]]\nnumber = 1\nname = "Zabriska Quill"\n[[tester]]\nnumber = 2\npads = ["two"]\n'
EXPORT = "What happened,Build code,How bad,Name,E-mail\nThe horn is quiet,,It is ugly,Zabriska Quill,z@example.org\n"


def make_everything(folder: Path) -> Path:
    """Write the project into a folder that is not there yet; return it."""
    for name in ("art/ada", "art/ben", "art/cleo", "art/ada_notes", "sound", "made", "text", "fonts", "reports", "templates"):
        (folder / name).mkdir(parents=True)
    for rank in range(2):
        for name in ("ada", "ben", "cleo"):
            draw_frame(folder / f"art/{name}/walk_{rank}.png", rank + len(name))
    _draw_pictures(folder / "art")
    for rank, name in enumerate(("bell", "horn")):
        write_wav(folder / f"sound/{name}.wav", count=200 + 50 * rank)
    for rank, name in enumerate(("main", "level", "table", "made/part")):
        (folder / f"{name}.bin").write_bytes(bytes([rank, 7]) * (40 + rank))
    (folder / "far.csv").write_text("0,1\n1,0\n", encoding="utf-8")
    (folder / "cave.csv").write_text("0,1,2\n300,4,5\n", encoding="utf-8")
    for name in ("menu", "said"):
        (folder / f"text/{name}.toml").write_text('start = "abc"\nover = "cab"\n', encoding="utf-8")
        (folder / f"text/{name}_de.toml").write_text('start = "bca"\nover = "ab\\nc"\n', encoding="utf-8")
    for name, notes in NOTES.items():
        (folder / f"{name}.notes.toml").write_text(notes, encoding="utf-8")
    (folder / "text/words.txt").write_text("abc", encoding="utf-8")
    shutil.copy(MONO, folder / "fonts/mono.ttf")
    (folder / "reports/testers.toml").write_text(TESTERS, encoding="utf-8")
    shutil.copy(TEMPLATES / "notes.txt.j2", folder / "templates/notes.txt.j2")
    (folder / "console.toml").write_text(CONSOLE, encoding="utf-8")
    command = [sys.executable, "-c", MAKE_PROGRAM, "{output}", "{project}/made/part.bin"]
    text = PROJECT.replace("COMMAND", json.dumps(command))
    (folder / "project.toml").write_text(text, encoding="utf-8")
    return folder


def _draw_pictures(art: Path) -> None:
    coin = Image.new("RGBA", (32, 16))
    for rank in range(2):
        ImageDraw.Draw(coin).ellipse((2 + 16 * rank, 2, 9 + 18 * rank, 12), fill=(240, 200, 60, 255))
    coin.save(art / "coin.png")
    turning = [Image.new("RGB", (16, 16), (40 + 60 * rank, 20, 20)) for rank in range(2)]
    turning[0].save(art / "turn.gif", save_all=True, append_images=turning[1:], duration=60)
    quay = Image.new("RGB", (344, 48), (120, 180, 220))
    ImageDraw.Draw(quay).rectangle((0, 30, 343, 47), fill=(60, 90, 60))
    quay.save(art / "quay.png")
    hill = Image.new("RGB", (344, 48), (0, 0, 224))
    ImageDraw.Draw(hill).rectangle((8, 16, 40, 40), fill=(0, 224, 0))
    hill.save(art / "hill.png")
    hill.crop((0, 8, 32, 24)).save(art / "near.png")
    (art / "hill.gpl").write_text("GIMP Palette\n255 0 255\n0 0 224\n0 224 0\n", encoding="utf-8")
    marks = Image.new("RGBA", (20, 24))
    ImageDraw.Draw(marks).rectangle((4, 2, 13, 20), outline=(0, 255, 0))
    marks.putpixel((12, 8), (0, 0, 255, 255))
    marks.save(art / "ada_notes/walk_0.png")
    yard = Image.new("P", (4, 2), 3)
    yard.putpalette(range(12))
    yard.save(art / "yard.png")
    digits = Image.new("RGBA", (12, 8))
    for rank in range(2):
        digits.paste((200, 60, 40, 255), (rank * 6, 1, rank * 6 + 2 + rank, 7))
    digits.save(art / "digits.png")
