"""What the report's script works with: one record as JSON in the page, and for each asset what the page shows of it without a script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from pipeline.joints.budget import Budget, Choices, SceneChoices
from pipeline.joints.map import ImageMap
from pipeline.joints.places import ShownFiles
from pipeline.joints.shown import Frames, NotedOn, Played, Shown, ShownFont, ShownNotes, ShownSprite
from pipeline.plain.sizes import counted, show_runs
from pipeline.plain.template_language import AsItIs
from pipeline.report.what_changed import png_shown
from pipeline.target.kinds import KINDS


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """A part of the image: an asset with its checksum, or what is between assets, whose ``kind`` is then empty."""

    name: str
    kind: str
    offset: int
    address: int
    bytes: int
    crc32: str


class PageScene(msgspec.Struct, frozen=True, kw_only=True):
    """A scene: the members of its worst case, a list for each choice, what that needs in bytes, and what cases are made of."""

    chosen: list[list[str]]
    bytes: int
    choices: SceneChoices


class PageData(msgspec.Struct, frozen=True, kw_only=True):
    """All that the script knows.

    Attributes:
        game: code; ``build``: code.
        kinds: of which there are assets, in the order of the bar without a script, whose colours they have.
        size: bytes of the image; ``blocks``: all of it, from the first byte to the last.
        memory: bytes of main memory; ``held``: those no asset can use, by what holds them.
        scenes: by name, in the order of the project file.
        looks: what is drawn and played, by the name of the asset.
    """

    game: str
    build: str
    kinds: list[str]
    size: int
    blocks: list[Block]
    memory: int
    held: dict[str, int]
    scenes: dict[str, PageScene]
    looks: dict[str, Shown]


def page_data(game: str, image: ImageMap, budget: Budget, choices: Choices, looks: Mapping[str, Shown]) -> str:
    """Return the record as JSON that can be an element's text: it holds no ``<``, so it can neither end the element nor begin one."""
    scenes = {
        name: PageScene(chosen=one.chosen, bytes=one.bytes, choices=choices.scenes[name])
        for name, one in budget.scenes.items()
        if name in choices.scenes
    }
    data = PageData(
        game=game,
        build=image.image.build_code,
        kinds=[kind for kind in KINDS if any(entry.kind == kind for entry in image.entries)],
        size=image.image.bytes,
        blocks=blocks_of(image),
        memory=budget.memory,
        held=budget.held,
        scenes=scenes,
        looks=dict(looks),
    )
    return AsItIs(msgspec.json.encode(data).decode().replace("<", "\\u003c"))


def blocks_of(image: ImageMap) -> list[Block]:
    """Return the whole image as blocks without a gap, in its order."""
    found, at = [], 0
    shift = image.entries[0].address - image.entries[0].offset if image.entries else 0
    for entry in sorted(image.entries, key=lambda one: one.offset):
        if entry.offset > at:
            name = "padding" if found else "header and directory"
            found.append(_gap(name, at, entry.offset - at, (entry.address - entry.offset) if found else shift))
        known = {key: getattr(entry, key) for key in ("name", "kind", "offset", "address", "bytes", "crc32")}
        found.append(Block(**known))
        at, shift = entry.offset + entry.bytes, entry.address - entry.offset
    return [*found, _gap("free", at, image.image.bytes - at, shift)] if at < image.image.bytes else found


def _gap(name: str, at: int, count: int, shift: int) -> Block:
    return Block(name=name, kind="", offset=at, address=at + shift, bytes=count, crc32="")


def joined(scripts: Sequence[str]) -> str:
    """Return scripts as one whose names are its own. None of them may hold the end of an element that holds it."""
    text = '(() => {\n"use strict";\n' + "\n".join(scripts) + "})();\n"
    assert "</script" not in text.lower(), "a script cannot hold the end of its own element"
    return text


def digest_of(script: str) -> str:
    """Return how a content security policy names a script (W3C, Content Security Policy Level 3, 2.3.1)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def look_shown(look: Shown | None, files: ShownFiles | None) -> dict[str, Any]:
    """Return what the page says and shows of an asset whether or not its script runs; nothing of one without a look."""
    shown: dict[str, Any] = {"live": "", "still": None, "recording": None, "plays": [], "noted": [], "words": ""}
    if look is None or files is None:
        return shown
    shown |= {"live": str(look.__struct_config__.tag), "words": look.words}
    if isinstance(look, Frames) and files.content:
        shown["still"] = _stretched(png_shown(files.content.read_bytes()), look.aspect) | {"ground": ""}
        if isinstance(look, ShownFont):
            shown["still"] = _twice(shown["still"]) | {"ground": look.ground}
    elif isinstance(look, ShownNotes):
        shown["noted"] = [_noted(look, one) for one in look.frames]
    elif files.content:
        shown["recording"] = AsItIs(f"data:audio/wav;base64,{base64.b64encode(files.content.read_bytes()).decode()}")
    if isinstance(look, ShownSprite):
        shown["plays"] = [{"name": one.name, "words": show_steps(one)} for one in look.animations]
    return shown


def _stretched(picture: dict[str, Any], aspect: tuple[int, int]) -> dict[str, Any]:
    """Return a picture at the shape that its pixels have on the console's screen: its longer side is stretched."""
    wide, high = aspect
    width, height = picture["width"] * max(wide, high) // high, picture["height"] * max(wide, high) // wide
    return {**picture, "width": width, "height": height}


def _twice(picture: dict[str, Any]) -> dict[str, Any]:
    """Return a picture twice as large, since letters are small."""
    return {**picture, "width": 2 * picture["width"], "height": 2 * picture["height"]}


def show_steps(one: Played) -> str:
    """Return an animation in words: frames in their order, how long each is shown, and whether it starts again."""
    ticks = [count for _, count in one.steps]
    each = counted(ticks[0], "tick") + " each" if len({*ticks}) == 1 else f"{', '.join(map(str, ticks))} ticks"
    frames = [frame for frame, _ in one.steps]
    return f"{'frame' if len(frames) == 1 else 'frames'} {show_runs(frames)}; {each}; {'looped' if one.loop else 'once'}"


def _noted(look: ShownNotes, one: NotedOn) -> list[str]:
    boxes = [f"{look.boxes[kind].word} {wide} × {high} at {left}, {top}" for kind, left, top, wide, high in one.boxes]
    points = [f"{look.points[kind].word} at {x}, {y}" for kind, x, y in one.points]
    return ["; ".join(boxes), "; ".join(points), one.said]
