"""Small built projects whose proofs are looked at."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.graph.plan import plan_project
from pipeline.graph.steps.handed import plain_arguments
from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.project.model import LoadedProject
from pipeline.proofs.subject import Subject
from tests.makers import build_here, make_project, project_text, write_text
from tests.reading.decoding import take

CROWD = """
[sprite.crowd]
sheet = { file = "art/crowd.png", columns = 5, rows = 2 }
palette = "figures"
anchor = [14, 26]
scale = 0.8
[sprite.crowd.animations]
stand = { frames = [0, 1, 2, 1], ms = 120 }
wave = { frames = [1, 2], ms = [900, 33], loop = false }
walk = { frames = [3, 4, 4, 6], ms = 70 }
"""


def build(folder: Path, target: str = "basalt32", more: str = CROWD, televisions: bool = False) -> LoadedProject:
    """Build a project with a second sprite of ten frames, up to its proofs; return it."""
    make_project(folder, target=target)
    crowd(folder / "art/crowd.png")
    write_text(folder, project_text(target=target, more=more))
    return build_here(folder, "verify", "proofs", "report", televisions=televisions).project


def crowd(path: Path) -> None:
    """Draw ten frames of 30 x 28 pixels; a figure with a foot that moves, each frame another red."""
    picture = Image.new("RGBA", (150, 56))
    draw = ImageDraw.Draw(picture)
    for rank in range(10):
        left, top = rank % 5 * 30, rank // 5 * 28
        draw.ellipse((left + 5, top + 3, left + 22, top + 20), fill=(250 - 9 * rank, 60, 40, 255))
        draw.rectangle((left + 8 + rank % 4, top + 20, left + 11 + rank % 4, top + 27), fill=(30, 60, 160, 255))
        draw.point((left + 14, top + 10), fill=(255, 255, 255, 255))
    picture.save(path)


def arguments(project: LoadedProject, name: str) -> dict:
    """Return what the plan hands to the step that draws an asset."""
    return next(plain_arguments(step.arguments) for step in plan_project(project).steps if step.name == f"proof:{name}")


def subject(project: LoadedProject, name: str, image: Path | None = None) -> Subject:
    """Return an asset as some image holds it; the build's own where none is named."""
    given = arguments(project, name)
    image = image or given["image"]
    entries = read_map(given["map_file"]).by_name()
    decoded = take(image, name, entries, given["target"])
    colours = take(image, given["palette"], entries, given["target"]) if given["palette"] else None
    facts = read_facts(given["facts"])
    return Subject(name, decoded, colours, facts, given["target"], given["pixel_aspect"], given["before"])


def pixels(png: bytes | Path) -> np.ndarray:
    """Return a picture's pixels: uint8, shape (height, width, 3)."""
    with Image.open(io.BytesIO(png) if isinstance(png, bytes) else png) as picture:
        return np.asarray(picture.convert("RGB"))


def middles(shown: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Return the screen pixel in the middle of every console pixel: from a shown picture back to width x height pixels."""
    rows, columns = ((2 * np.arange(count) + 1) * length // (2 * count) for count, length in zip(size[::-1], shown.shape[:2], strict=True))
    return shown[rows[:, None], columns]


def harmed(project: LoadedProject, name: str, out: Path) -> Path:
    """Write a copy of the image with one byte amid an asset's first frame changed, or all colours of a palette; return it."""
    given = arguments(project, name)
    entry = next(one for one in json.loads(given["map_file"].read_bytes())["entries"] if one["name"] == name)
    data, head = bytearray(given["image"].read_bytes()), subject(project, name).decoded.head
    places = range(head["entries"], entry["bytes"]) if "entries" in head else [head["pixels"] + head.get("frame_bytes", 0) // 2]
    for place in places:
        data[entry["offset"] + place] ^= 0x0E
    out.write_bytes(data)
    return out
