"""Writing small complete projects for tests, and running their steps in this process, without doit."""

from __future__ import annotations

import contextlib
import copy
import json
import tomllib
import wave
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import msgspec
from PIL import Image, ImageDraw

from pipeline.assets.notices.television import Television
from pipeline.graph.plan import plan_project
from pipeline.joints.budget import Budget
from pipeline.joints.facts import Facts, read_facts
from pipeline.joints.map import ImageMap, MapEntry
from pipeline.joints.places import facts_file
from pipeline.plain.checked import build, read_document
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.project.model import LoadedProject
from pipeline.target.loading import SHIPPED, load_target
from pipeline.target.records import Target

TARGETS = ("basalt32", "lattice16", "pebble8")
PROJECT = """format = 1
[game]
title = "Tin Ferry"
code = "TINF"
version = "0.1.0"
phase = "alpha"
target = "basalt32"
[links]
feedback = "https://example.org/f/{build}"
bugs = "https://example.org/b/{build}"
[sprite.ada]
frames = "art/ada/*.png"
palette = "figures"
[sprite.ada.animations]
walk = { frames = "walk_*", ms = 80 }
[background.quay]
file = "art/quay.png"
palette = "quay_colours"
[palette.figures]
colours = 8
transparent = true
[palette.quay_colours]
colours = 8
first = 8
[sound.bell]
file = "sound/bell.wav"
[program.main]
file = "main.bin"
[data.level]
file = "level.bin"
[screen.boot]
[bundle]
crew = ["ada", "figures"]
[scene.play]
always = ["quay", "quay_colours"]
choose = [{ count = 1, of = ["crew"] }]
[pad.three]
name = "Three-button pad"
buttons = ["A", "B", "Start"]
[[control]]
action = "Jump"
buttons = { three = "A" }
[[issue]]
id = "TF-001"
severity = "minor"
where = "Quay"
what = "The bell rings twice."
"""
# What another console needs other than the text above: two bits a pixel hold four colours, sounds are slower there.
_CHANGES = {
    "basalt32": (),
    "lattice16": (("colours = 8\nfirst = 8", "colours = 8\nfirst = 16"), ('"sound/bell.wav"', '"sound/bell.wav"\nrate = 8000')),
    "pebble8": (
        ("colours = 8\ntransparent", "colours = 4\ntransparent"),
        ("colours = 8\nfirst = 8", "colours = 4\nfirst = 4"),
        ('"sound/bell.wav"', '"sound/bell.wav"\nrate = 8000'),
    ),
}


def project_text(*changes: tuple[str, str], target: str = "basalt32", more: str = "") -> str:
    """Return the project file for a shipped target, with pieces of its text exchanged and tables added."""
    text = PROJECT.replace('"basalt32"', f'"{target}"')
    for old, new in (*_CHANGES[target], *changes):
        assert text.count(old) == 1, f"{old!r} occurs {text.count(old)} times in the project"
        text = text.replace(old, new)
    return text + more


def make_project(folder: Path, *changes: tuple[str, str], target: str = "basalt32", more: str = "") -> Path:
    """Write a project of two frames, a background, a sound, a program, data and a notice; return its folder."""
    (folder / "art/ada").mkdir(parents=True)
    (folder / "sound").mkdir()
    for rank in range(2):
        draw_frame(folder / f"art/ada/walk_{rank}.png", rank)
    picture = Image.new("RGB", (64, 48), (120, 180, 220))
    ImageDraw.Draw(picture).rectangle((0, 30, 63, 47), fill=(60, 90, 60))
    picture.save(folder / "art/quay.png")
    write_wav(folder / "sound/bell.wav")
    (folder / "main.bin").write_bytes(b"\x4e\x71" * 32)
    (folder / "level.bin").write_bytes(bytes(range(100)))
    write_text(folder, project_text(*changes, target=target, more=more))
    return folder


def write_text(folder: Path, text: str) -> None:
    """Write a project file."""
    (folder / "project.toml").write_text(text, encoding="utf-8")


def draw_frame(path: Path, rank: int, size: tuple[int, int] = (20, 24)) -> None:
    """Draw one frame: a figure on a clear ground, moved by its rank."""
    picture = Image.new("RGBA", size)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((4 + rank, 2, 12 + rank, 20), fill=(200, 60, 40, 255))
    draw.rectangle((6 + rank, 4, 8 + rank, 6), fill=(250, 250, 240, 255))
    picture.save(path)


def write_wav(path: Path, rate: int = 8000, width: int = 2, count: int = 400) -> None:
    """Write a sawtooth as a WAV file of plain PCM."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(width)
        file.setframerate(rate)
        file.writeframes(b"".join(level.to_bytes(width, "little") for level in wav_levels(width, count)))


def wav_levels(width: int = 2, count: int = 400) -> list[int]:
    """Return the numbers ``write_wav`` writes: 1 to 100, in 16 bits 256 times as much, all above 0."""
    return [(rank * 37 % 100 + 1) << (8 * (width - 1)) for rank in range(count)]


def problems(folder: Path) -> list[str]:
    """Return the whole text of every problem that loading a project finds, in the order it reports them."""
    try:
        load_project(folder)
    except ProjectError as error:
        return [str(problem) for problem in error.problems]
    return []


def target_data(name: str = "basalt32") -> dict[str, Any]:
    """Return a shipped target's raw data, to be changed."""
    return tomllib.loads((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"))


def changed(data: dict[str, Any], *changes: tuple[tuple, Any]) -> dict[str, Any]:
    """Return raw data with the values at some paths replaced; None removes a key."""
    data = copy.deepcopy(data)
    for path, value in changes:
        owner = data
        for part in path[:-1]:
            owner = owner[part]
        if value is None:
            del owner[path[-1]]
        else:
            owner[path[-1]] = value
    return data


def toml_text(data: dict[str, Any]) -> str:
    """Return raw data as TOML, one line for each key of the top; tables inside are inline."""
    return "".join(f"{key} = {_toml(value)}\n" for key, value in data.items())


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_toml(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    return json.dumps(value)


def read_target(folder: Path, text: str) -> Target:
    """Read a target from its text."""
    path = folder / "console.toml"
    path.write_text(text, encoding="utf-8")
    return load_target(path)


def target_problems(folder: Path, text: str) -> list[str]:
    """Return the whole text of every problem in a target file ``console.toml``."""
    try:
        read_target(folder, text)
    except ProjectError as error:
        return [str(problem) for problem in error.problems]
    return []


def record_problems(folder: Path, text: str, kind: type) -> list[str]:
    """Return the problems found in reading a file ``file.toml`` as a record of some kind."""
    path = folder / "file.toml"
    path.write_text(text, encoding="utf-8")
    try:
        document = read_document(path, "file.toml")
        build(document, (), document.data, kind)
        document.finish()
    except ProjectError as error:
        return [str(problem) for problem in error.problems]
    return []


@dataclass(frozen=True)
class Built:
    """A built project: the checked project, the image's bytes, the map, and the facts by name."""

    project: LoadedProject
    image: bytes
    map: dict[str, Any]
    facts: dict[str, Facts]


def build_here(folder: Path, *goals: str, televisions: bool = False) -> Built:
    """Run the steps that some goals (``verify`` when none is named) need, in this process.

    Args:
        televisions: whether a notice's codes go through the model of a television, which is most of the time of a small build;
            else they are taken to read on any, and the notice's facts hold other margins.

    Raises:
        ProjectError: as the step raised it.
    """
    project = load_project(folder)
    run_steps(project, *(goals or ("verify",)), televisions=televisions)
    made = folder / "build"
    image_map = json.loads((made / "map.json").read_bytes())
    facts = {one["name"]: read_facts(facts_file(made / "blobs", one["name"])) for one in image_map["entries"]}
    return Built(project, next((made / "rom").glob("*.rom")).read_bytes(), image_map, facts)


def as_map(values: dict[str, Any]) -> ImageMap:
    """Return the record that the JSON of a ``map.json`` is."""
    return msgspec.convert(values, ImageMap)


def map_json(**changed: Any) -> dict[str, Any]:
    """Return the JSON of a map without entries; a keyword replaces a key of its image."""
    image = {"bytes": 200, "used": 130, "pad": 70, "crc32": "0badcafe", "sha256": "0" * 64, "build_code": "110011"}
    return {"version": 1, "image": image | changed, "entries": []}


def map_entry(name: str, **changed: Any) -> MapEntry:
    """Return an entry of a map: one byte of data at the image's start; a keyword replaces a field."""
    plain = {"kind": "data", "offset": 0, "address": 0, "bytes": 1, "unpacked_bytes": 1, "codec": "stored", "alignment": 1}
    return MapEntry(**{"name": name, "crc32": "0" * 8, **plain, **changed})


def budget_json(scenes: dict[str, dict[str, Any]], **changed: Any) -> dict[str, Any]:
    """Return the JSON of a budget; of its scenes what is given, and else nothing chosen or over; a keyword replaces a key."""
    scene = {"bytes": 500, "margin": 100, "margin_now": 100, "chosen": [], "parts": [], "next": [], "limits": {}, "estimated": 0}
    scene |= {"overlaps": [], "tile_overlaps": []}
    whole = {"version": 2, "memory": 4096, "held": {}, "scenes": {name: scene | one for name, one in scenes.items()}}
    whole |= {"image": {"bytes": 100, "planned": 0, "most": 4096}, "planned": {}, "loaded": [], "over": [], "over_planned": []}
    return whole | changed


def as_budget(values: dict[str, Any]) -> Budget:
    """Return the record that the JSON of a ``budget.json`` is."""
    return msgspec.convert(values, Budget)


def run_steps(project: LoadedProject, *goals: str, televisions: bool = False) -> None:
    """Run some steps of a project and all they need, each once; see ``build_here``."""
    steps = {step.name: step for step in plan_project(project).steps}
    maker = {path: step.name for step in steps.values() for path in step.writes}
    done: set[str] = set()

    def run(name: str) -> None:
        if name in done:
            return
        done.add(name)
        step = steps[name]
        for needed in [*step.after, *(maker[path] for path in (*step.reads, *step.trusts) if path in maker)]:
            run(needed)
        if step.call:
            step.run()

    with contextlib.nullcontext() if televisions else mock.patch.object(Television, "_reads", return_value=True):
        for goal in goals:
            run(goal)
