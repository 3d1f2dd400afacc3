"""A small game and its map, made in the tests so that nothing depends on the demo."""

from __future__ import annotations

import datetime
import hashlib
import json
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw

import pipeline.project.file as pf
from pipeline.joints.places import Sources
from pipeline.plain.rendering import Template, find_template
from pipeline.project.wording import MessageFile, find_wording

BUILD = "7K3Q0Z"
DATE = datetime.date(2031, 4, 9)
IMAGE_BYTES = b"kestrel" * 1000 + bytes(1192)
FEEDBACK, BUGS = f"https://example.org/f/{BUILD}", f"https://example.org/b?build={BUILD}&kind=bug"
STEM = f"KEST-0.3.1-{BUILD}"


def make_spec(**changed: Any) -> dict[str, Any]:
    """Return the records of a small game; a keyword replaces a whole table."""
    pads = {"two": pf.Pad(name="Two-button pad", buttons=["A", "B"]), "gun": pf.Pad(name="Light gun", buttons=["Trigger"])}
    spec = {
        "game": make_game(),
        "links": pf.Links(feedback="https://example.org/f/{build}", bugs="https://example.org/b?build={build}&kind=bug"),
        "pad": pads,
        "control": [pf.Control(action="Dive", buttons={"two": "A"}), pf.Control(action="Aim", buttons={"two": "B", "gun": "Trigger"})],
        "issue": [
            pf.Issue(id="KE-10", severity="cosmetic", where="Title", what="One pixel is green."),
            pf.Issue(id="KE-2", severity="critical", where="Start", what="Stops after an hour.", workaround="Save often."),
            pf.Issue(id="KE-1", severity="minor", where="Cliff", what="A feather flickers."),
            pf.Issue(id="KE-3", severity="major", where="Nest", what="Eggs fall upwards."),
        ],
        "plan": pf.Plan(),
        "contents": pf.Contents(included=["Three cliffs"], missing=["Rain"]),
        "instructions": pf.Instructions(test=["Dive from the highest cliff."], cautions=["Lightning on the third cliff flashes twice."]),
    }
    return spec | changed


def make_game(**changed: Any) -> pf.Game:
    """Return the game's own table; a keyword replaces a key."""
    keys = {"title": "Kestrel", "code": "KEST", "version": "0.3.1", "phase": "beta", "target": "basalt32", "author": "Cliff Crew"}
    return pf.Game(**(keys | {"summary": "A bird looks for breakfast."} | changed))


def write_map(folder: Path) -> Path:
    """Write a ``map.json`` and return its path."""
    image = {
        "bytes": len(IMAGE_BYTES),
        "used": 7000,
        "pad": 1192,
        "crc32": "0badcafe",
        "sha256": hashlib.sha256(IMAGE_BYTES).hexdigest(),
        "build_code": BUILD,
    }
    path = folder / "map.json"
    path.write_text(json.dumps({"version": 1, "image": image, "entries": []}))
    return path


def write_boot(folder: Path) -> Path:
    """Write a picture that represents the boot notice and return its path."""
    picture = Image.new("RGB", (64, 48), (10, 20, 60))
    ImageDraw.Draw(picture).rectangle((8, 8, 20, 20), fill=(250, 200, 40))
    path = folder / "boot.png"
    picture.save(path)
    return path


def notes_files(folder: Path, language: str = "en") -> tuple[Path, Template, MessageFile]:
    """Return the files that notes are made from: a map, template and wording, the folder's own where it has them."""
    return write_map(folder), find_template(folder, "notes.txt.j2"), find_wording(folder, language)


def packet_files(folder: Path, language: str = "en") -> tuple[Path, MessageFile, Sources]:
    """Return the files that a packet is made from: a map, the wording, and where an author's texts are."""
    return write_map(folder), find_wording(folder, language), Sources(folder, ("project.toml", "issues.toml"))
