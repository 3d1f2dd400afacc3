"""The project a history begins with: tiny, with every table of a project file and every kind of asset its target takes."""

from __future__ import annotations

import base64
import io
import struct
import tomllib
import wave
from typing import Any

from PIL import Image, ImageDraw

from pipeline.plain.shipped import MONO, TEMPLATES
from pipeline.target.loading import SHIPPED

from .toml_text import DATE

TARGETS = ("basalt32", "lattice16", "pebble8")
OWN_TARGET, ISSUES, TESTERS = "console.toml", "issues.toml", "reports/testers.toml"
# What a palette line of each target holds, where the second palette begins, and the sample format.
_COLOURS = {"basalt32": (16, 16, "s8"), "lattice16": (16, 16, "u8"), "pebble8": (4, 4, "u8")}
_ORIGIN = "Drawn for the tests."

Documents = dict[str, dict[str, Any]]
Files = dict[str, bytes]


def opening(target: str) -> tuple[Documents, Files]:
    """Return the documents and the other files of the project, by their paths in its folder."""
    return {"project.toml": _project(target), ISSUES: _issues(), TESTERS: _testers()}, _files()


def shipped_target(name: str) -> dict[str, Any]:
    """Return a shipped target as a document, for a copy in the project."""
    return tomllib.loads((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"))


def shipped_wording(tag: str) -> dict[str, Any]:
    """Return a shipped message file as a document."""
    return tomllib.loads((TEMPLATES / f"packet.{tag}.toml").read_text(encoding="utf-8"))


def _project(target: str) -> dict[str, Any]:
    colours, second, samples = _COLOURS[target]
    small = target == "pebble8"
    tiles = {"map_entry": "HVtttttttttttttt"} if target == "basalt32" else {}
    return {
        "format": 1,
        "game": {
            "title": "Small Game", "code": "SMALL", "version": "0.1.0", "phase": "alpha", "target": target, "date": DATE + "2026-01-02",
            "author": "Nobody", "summary": "Two figures on a hill.",
        },
        "links": {
            "feedback": "https://forms.relay.tld/f/{build}?t={tester}", "bugs": "https://forms.relay.tld/b/{build}?t={tester}",
            "more": {"Rules": "https://forms.relay.tld/rules", "Older builds": "https://forms.relay.tld/old"},
        },
        "defaults": {
            "sprite": {"palette": "figures", "scale": 0.5, "origin": _ORIGIN, "animations": {"still": {"frames": [0], "ms": 100}}},
            "background": {"origin": _ORIGIN}, "sound": {"origin": _ORIGIN, "format": samples}, "data": {"origin": _ORIGIN},
            "font": {"origin": _ORIGIN, "palette": "figures"}, "palette": {"origin": _ORIGIN}, "pool": {},
        },
        "sprite": {
            "one": {"frames": "art/one/*.png", "arrangement": "pieces", "pool": "limbs", "animations": {"go": {"frames": "f*", "ms": 80}}},
            "two": {"frames": "art/two/*.png", "arrangement": "pieces", "pool": "limbs"},
            "bird": {"animated": "art/bird.gif", "arrangement": "frames"},
            "coin": {"sheet": {"file": "art/coin.png", "columns": 2, "rows": 2, "count": 3, "cut": "anyway"}},
        },
        "pool": {"limbs": {}},
        "background": {
            "hill": {"file": "art/hill.png", "palette": "hill_colours", "scale": 0.5},
            "far": {"file": "art/far.png", "palette": "far_colours", "arrangement": "tiles", "tiles_at_most": 12, "merge": True, **tiles},
        },
        "palette": {
            "figures": {"colours": colours, "transparent": True, "locked": ["#f8f8f8"]},
            "hill_colours": {"colours": colours, "first": second, "file": "art/hill.gpl"},
            "far_colours": {"colours": colours, "first": 2 * second},
        },
        "sound": {"horn": {"file": "sound/horn.wav", "rate": 4000}, "bell": {"file": "sound/bell.wav"}},
        "screen": {"boot": {"warning": "Test build."}},
        "program": {"main": {"file": "main.bin", "origin": _ORIGIN}},
        "data": {"level": {"file": "level.bin"}, "words_of": {"file": "text/hill.txt", "packing": "best"}},
        "font": {
            "letters": {"file": "fonts/mono.ttf", "size": 8, "texts": ["text/*.txt"], "characters": "0"},
            "numbers": {"file": "art/numbers.png", "cell": [6, 8], "order": "0123456789", "spacing": "fixed"},
        },
        "bundle": {"one_pack": ["one", "figures"], "two_pack": ["two", "figures"], "noises": ["horn", "bell"]},
        "scene": {
            "play": {
                "always": ["main", "hill", "hill_colours"] if small else ["main", "noises", "hill", "hill_colours", "far", "far_colours"],
                "direct": ["hill"],
                "choose": [
                    {"name": "figure", "count": 1, "of": ["one_pack", "two_pack"]},
                    {"name": "thing", "count": 1, "of": ["coin", "bird"], "repeat": False},
                ],
                "never": [["one_pack", "bird"]],
                **({} if small else {"layers": [{"background": "far", "factor": 0.5}, {"background": "hill"}]}),
            },
            "talk": {"always": ["numbers", "figures", "later"]},
        },
        "planned": {"later": {"kind": "data", "bytes": 200}, "bat": {"kind": "sprite", "like": "coin", "count": 2}},
        "pad": {
            "three": {"name": "Three-button pad", "buttons": {"A": "9 3", "B": "11 3", "Left": "2 3 cross", "Right": "4 3 cross"}},
            "six": {"name": "Six-button pad", "buttons": ["A", "B", "X", "Y"]},
        },
        "control": [
            {"action": "Jump", "buttons": {"three": "A", "six": "A / X"}},
            {"action": "Duck", "buttons": {"three": "A + B"}},
        ],
        "contents": {"included": ["Two figures", "A hill"], "missing": ["The race", "Music"]},
        "instructions": {"test": ["Walk up.", "Walk down."], "cautions": ["Bright colours."]},
        "plan": {
            "task": [{"text": "Walk over the hill.", "scene": "play", "cover": ["figure", "pads"]}, {"text": "Wait a minute."}],
            "names": {"one_pack": "The first", "two_pack": "The second"},
        },
        "burn": {"forms": ["even-odd", "s-record"]},
        "intake": {
            "bugs": {
                "columns": {"what": "What happened?", "build": "Build", "severity": "How bad?", "tester": "Name"},
                "severities": {"Bad": "major", "A blemish": "cosmetic"}, "frequencies": ["Always", "Once"],
                "names": {"Hill": ["the mound"]},
            },
            "feedback": {"questions": {"fun": "How much fun?"}, "answers": {"fun": ["None", "Some"]}},
        },
    }  # fmt: skip


def _issues() -> dict[str, Any]:
    return {
        "issue": [
            {"id": "SG-1", "severity": "major", "where": "Hill", "what": "Stuck up to the knees.", "reproduce": ["Walk up.", "Jump."]},
            {"id": "SG-2", "severity": "minor", "where": "Start", "what": "It comes late.", "title": "Late"},
        ]
    }


def _testers() -> dict[str, Any]:
    return {"tester": [{"number": 1, "name": "Zabriska Quill"}, {"number": 3, "pads": ["three"]}]}


def _files() -> Files:
    files = {f"art/{name}/f{rank}.png": figure(hue, rank) for name, hue in (("one", 0), ("two", 120)) for rank in range(3)}
    files |= {"art/hill.png": scenery((64, 48), 3), "art/far.png": scenery((48, 32), 8), "art/coin.png": figure(40, 1, (16, 16))}
    files |= {"art/bird.gif": flapping((12, 8), 2, 60), "art/numbers.png": strip(10, (6, 8)), "art/hill.gpl": swatches(4, 5)}
    files |= {"sound/horn.wav": recording(300, 8000, 1), "sound/bell.wav": recording(200, 8000, 2)}
    files |= {"text/hill.txt": "Über den Hügel, 12:45?\n".encode(), "text/sea.txt": b"To sea!\n", "fonts/mono.ttf": MONO.read_bytes()}
    return files | {"main.bin": b"\x60\xfe" * 8, "level.bin": bytes(range(100)), "changes.md": b"## 0.1.0\n\nThe very first.\n"}


def figure(hue: int, rank: int, size: tuple[int, int] = (12, 16)) -> bytes:
    """Return a PNG of a figure on nothing; its place and second colour depend on its rank."""
    picture = Image.new("RGBA", size)
    drawing = ImageDraw.Draw(picture)
    left = 1 + rank % 4
    drawing.rectangle((left, 2, left + 5, size[1] - 2), fill=f"hsl({hue}, 70%, 50%)")
    drawing.rectangle((left + 1, 3, left + 3, 6), fill=f"hsl({(hue + 37 * rank) % 360}, 50%, 70%)")
    return _saved(picture, "PNG")


def scenery(size: tuple[int, int], number: int) -> bytes:
    """Return a PNG of hills under a sky, drawn by a number."""
    picture = Image.new("RGB", size, f"hsl({(200 + number * 11) % 360}, 50%, 70%)")
    drawing = ImageDraw.Draw(picture)
    for rank in range(3):
        left = (number * 13 + rank * 17) % size[0]
        drawing.ellipse((left - 12, 12 + rank * 6, left + 16, size[1] + 20), fill=f"hsl({(90 + rank * 40 + number) % 360}, 40%, 40%)")
    return _saved(picture, "PNG")


def strip(count: int, cell: tuple[int, int], number: int = 0) -> bytes:
    """Return a PNG of letters on a grid of one row."""
    picture = Image.new("RGBA", (count * cell[0], cell[1]))
    for rank in range(count):
        wide, high = 1 + (rank + number) % (cell[0] - 1), 2 + (rank * 3 + number) % (cell[1] - 2)
        picture.paste((248, 248, 248, 255), (rank * cell[0], 0, rank * cell[0] + wide, high))
    return _saved(picture, "PNG")


def flapping(size: tuple[int, int], count: int, ms: int) -> bytes:
    """Return an animated GIF of a bar that goes down."""
    frames = []
    for rank in range(count):
        frame = Image.new("RGB", size, (250, 240, 90))
        ImageDraw.Draw(frame).rectangle((2, rank % (size[1] - 1), size[0] - 3, rank % (size[1] - 1) + 1), fill=(40, 40, 160))
        frames.append(frame)
    data = io.BytesIO()
    frames[0].save(data, "GIF", save_all=True, append_images=frames[1:], duration=ms, loop=0)
    return data.getvalue()


def swatches(count: int, number: int) -> bytes:
    """Return a text palette."""
    rows = "\n".join(f"{(number * 40 + rank * 60) % 256} {rank * 50 % 256} {(number * 90 + rank) % 256}\tc{rank}" for rank in range(count))
    return f"GIMP Palette\nName: Hill\nColumns: 4\n#\n{rows}\n".encode()


def recording(samples: int, rate: int, number: int, wide: bool = False) -> bytes:
    """Return a WAV file of a saw-tooth, 8 bits a sample or 16."""
    data = io.BytesIO()
    with wave.open(data, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2 if wide else 1)
        file.setframerate(rate)
        steps = [(at * (7 + number)) % 251 for at in range(samples)]
        file.writeframes(b"".join(struct.pack("<h", (step - 125) * 256) for step in steps) if wide else bytes(steps))
    return data.getvalue()


def packed(data: bytes) -> str:
    """Return bytes as text for a list of operations."""
    return base64.b64encode(data).decode()


def _saved(picture: Image.Image, kind: str) -> bytes:
    data = io.BytesIO()
    picture.save(data, kind)
    return data.getvalue()
