"""The boot notice: drawn for the target's own screen, converted to its pixels, and its codes read back."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pipeline.assets.blob import put_record, save_blob, save_facts, show_padding
from pipeline.assets.intent import Intent
from pipeline.assets.television import Television
from pipeline.joints.codes import code_fault, code_matrix
from pipeline.joints.facts import ScreenCode, ScreenFacts, TvMargins
from pipeline.joints.layouts import SCREEN, VERSION
from pipeline.joints.links import QUIET, code_version, report_link
from pipeline.joints.notice import (
    BUG,
    CHARACTER,
    FEEDBACK,
    GROUND,
    INK,
    LINE,
    PAPER,
    QUIET_TEXT,
    STRONG,
    TELEVISION_LINES,
    NoticeLayout,
    lay_out_notice,
    notice_colours,
)
from pipeline.joints.pixel_size import padding_bytes, screen_entries_at, screen_pixels_at, stored_bytes
from pipeline.joints.places import BlobFiles
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.colours.apply import EntryFinder
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.pack import pack_picture
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import read_json
from pipeline.plain.shipped import BOLD, MONO
from pipeline.project.assets import Screen
from pipeline.target.records import PictureRules

_REMEDY = "shorten the link, so that its modules get larger, or use a pixel format with more contrast"


class NoticeText(NamedTuple):
    """What the notice says apart from the author's warning and labels."""

    title: str
    version: str
    phase: str
    build_code: str
    feedback: str
    bugs: str


def make_screen(
    code_file: Path,
    out: BlobFiles,
    name: str,
    spec: Screen,
    game: dict[str, str],
    links: dict[str, str],
    size: tuple[int, int],
    rules: PictureRules,
    alignment: int,
    pixel_aspect: tuple[int, int] = (1, 1),
) -> str:
    """Draw the notice of the build whose code is in ``work/build_code.json``; see ``draw_screen``."""
    code = read_json(code_file)["build_code"]
    text = NoticeText(**game, build_code=code, **{key: report_link(link, code) for key, link in links.items()})
    return draw_screen(out, name, spec, text, size, rules, alignment, pixel_aspect)


def draw_screen(
    out: BlobFiles,
    name: str,
    spec: Screen,
    text: NoticeText,
    size: tuple[int, int],
    rules: PictureRules,
    alignment: int,
    pixel_aspect: tuple[int, int] = (1, 1),
) -> str:
    """Draw the notice, write its blob and facts; return one line about it.

    Raises:
        ProjectError: a line does not fit the screen, or a code does not read after conversion or from a photo of a television.
    """
    layout, version = _layout(name, text, size)
    drawn = np.asarray(_draw(name, spec, text, size, layout, version))
    words = np.array([], dtype=np.uint32)
    if rules.pixel_format.pixel.bits("I"):
        words = to_words(np.array(notice_colours(rules.pixel_format.pixel.width), dtype=np.uint8), rules.entry)
        pixels = EntryFinder(to_rgb(words, rules.entry), rules.entry).find(drawn).astype(np.uint32)
        shown = to_rgb(words[pixels], rules.entry)
    else:
        pixels = to_words(drawn, rules.pixel_format.pixel)
        shown = to_rgb(pixels, rules.pixel_format.pixel)
    _read_back(name, shown, layout, version, text)
    television = _on_television(name, shown, layout, text, pixel_aspect)
    padded = pad_to_cells(pixels, *rules.cell)
    intent = Intent()
    intent.add(padded)
    facts = ScreenFacts(
        **save_blob(out.content, name, [_blob(padded, words, rules, alignment)], spec.origin),
        width=size[0],
        height=size[1],
        module_pixels=layout.module,
        code_version=version,
        codes=_codes(spec, text, layout),
        intent=intent.facts(),
        tv=television,
        padding=padding_bytes(padded.shape[1], padded.shape[0], rules, stored_bytes(padded.shape[1], padded.shape[0], rules)),
    )
    stored = f"{save_facts(out.facts, facts)}{show_padding(facts)}"
    return f"{size[0]} x {size[1]}, codes of {layout.module} pixels a module read back{_margin(television)}, {stored}"


def _codes(spec: Screen, text: NoticeText, layout: NoticeLayout) -> list[ScreenCode]:
    labelled = zip((spec.feedback_label, spec.bugs_label), (text.feedback, text.bugs), layout.codes, strict=True)
    return [ScreenCode(label=label, link=link, left=left, top=top, side=layout.side) for label, link, (left, top) in labelled]


def _layout(name: str, text: NoticeText, size: tuple[int, int]) -> tuple[NoticeLayout, int]:
    """Return the layout of a notice, and the version of both codes."""
    versions = [code_version(len(link.encode())) for link in (text.feedback, text.bugs)]
    version = max((one for one in versions if one is not None), default=0)
    layout = None if None in versions else lay_out_notice(*size, version)
    if layout is None:
        raise refuse("project.toml", f"[screen.{name}]", f"its codes do not fit {size[0]} x {size[1]} pixels", "shorten the links")
    return layout, version


def _draw(name: str, spec: Screen, text: NoticeText, size: tuple[int, int], layout: NoticeLayout, version: int) -> Image.Image:
    picture = Image.new("RGB", size, GROUND)
    info = f"{text.version}  {text.phase.upper()}"
    if "build" not in layout.lines:
        info += f"  BUILD {text.build_code}"
    lines = {
        "title": (text.title.upper(), PAPER),
        "info": (info, QUIET_TEXT),
        "build": (f"BUILD {text.build_code}", STRONG),
        "warning": (spec.warning, QUIET_TEXT),
    }
    for key, (top, scale) in layout.lines.items():
        words, colour = lines[key]
        _centred(picture, name, key, words, size[0] // 2, top, scale, size[0], colour)
    for (left, top), link in zip(layout.codes, (text.feedback, text.bugs), strict=True):
        _paste_code(picture, code_matrix(link, version), left, top, layout.module)
    _label(picture, name, layout, 0, spec.feedback_label, FEEDBACK)
    _label(picture, name, layout, 1, spec.bugs_label, BUG)
    return picture


def _label(picture: Image.Image, name: str, layout: NoticeLayout, which: int, words: str, colour: tuple) -> None:
    """Write a label: feedback as dark words on a light bar, bugs as light words on a dark bar with a light rim."""
    left, (top, scale) = layout.codes[which][0], layout.labels
    bar = (left, top, left + layout.side - 1, top + LINE * scale)
    draw = ImageDraw.Draw(picture)
    draw.rectangle(bar, fill=PAPER if which == 0 else colour, outline=PAPER)
    ink = colour if which == 0 else PAPER
    _centred(picture, name, "label", words, left + layout.side // 2, top + 1, scale, layout.side - 2, ink)


def _centred(picture: Image.Image, name: str, key: str, words: str, middle: int, top: int, scale: int, room: int, colour: tuple) -> None:
    mask = _text_mask(words)
    while scale > 1 and mask.width * scale > room:
        scale -= 1
    if mask.width * scale > room:
        wrong = f"{words!r} is {mask.width} pixels wide, {room} fit"
        place = "[game] title" if key == "title" else f"[screen.{name}] {key}"
        raise refuse("project.toml", place, wrong, f"shorten it to about {room // CHARACTER} characters")
    mask = mask.resize((mask.width * scale, mask.height * scale), Image.Resampling.NEAREST)
    picture.paste(colour, (middle - mask.width // 2, top), mask)


def _text_mask(words: str) -> Image.Image:
    """Return one line of text as a mask, 11 pixels high: 6 pixels a letter in ASCII, else as wide as the letters are."""
    plain = all(32 <= ord(char) < 127 for char in words)
    # The basic layout is there on every machine; the other one may not be, and sets letters elsewhere.
    font = ImageFont.truetype(*((MONO, 10) if plain else (BOLD, 9)), layout_engine=ImageFont.Layout.BASIC)
    if not plain:
        _check_letters(words, font)
    mask = Image.new("1", (max(1, int(font.getlength(words))), LINE))
    draw = ImageDraw.Draw(mask)
    draw.fontmode = "1"
    draw.text((0, 9), words, fill=1, font=font, anchor="ls")  # room for marks above and below
    return mask


def _mask(font: ImageFont.FreeTypeFont, text: str) -> bytes:
    # Pillow's own picture, which its declared type does not say can be turned into bytes.
    return bytes(font.getmask(text))  # pyright: ignore[reportArgumentType]


def _check_letters(words: str, font: ImageFont.FreeTypeFont) -> None:
    """Refuse letters that the font draws as the sign for a missing one."""
    missing = _mask(font, "\U0010ffff")
    for char in words:
        if not char.isspace() and _mask(font, char) == missing:
            wrong = f"the boot notice's font has no {char!r} (U+{ord(char):04X}), which {words!r} needs"
            raise refuse("project.toml", "[game] title or [screen]", wrong, "use other letters there")


def _paste_code(picture: Image.Image, matrix: list[list[bool]], left: int, top: int, module: int) -> None:
    dark = np.kron(np.array(matrix, dtype=np.uint8), np.ones((module, module), dtype=np.uint8))
    framed = np.pad(dark, QUIET * module)
    picture.paste(PAPER, (left, top, left + framed.shape[1], top + framed.shape[0]))
    picture.paste(INK, (left, top), Image.fromarray(framed * 255))


def _read_back(name: str, shown: np.ndarray, layout: NoticeLayout, version: int, text: NoticeText) -> None:
    for (left, top), key, link in zip(layout.codes, ("feedback", "bugs"), (text.feedback, text.bugs), strict=True):
        fault = code_fault(shown, left, top, layout.module, link, version)
        if fault:
            raise refuse("project.toml", f"[links] {key}", f"its code on screen {name!r} {fault}", _REMEDY)


def _on_television(name: str, shown: np.ndarray, layout: NoticeLayout, text: NoticeText, aspect: tuple[int, int]) -> TvMargins | None:
    """Return how far both codes read from a photo of a television (see ``Television.margin``); None for a screen too high for one."""
    if shown.shape[0] > TELEVISION_LINES:
        return None
    links, top = (text.feedback, text.bugs), layout.codes[0][1]
    watched = Television(shown, aspect, links, (top, top + layout.side))
    lost = watched.lost()
    if lost:
        raise ProjectError(
            Problem("project.toml", f"[links] {key}", f"its code on screen {name!r} {_lost(lost[link], layout)}", _REMEDY)
            for key, link in zip(("feedback", "bugs"), links, strict=True)
            if link in lost
        )
    return watched.margin()


def _margin(television: TvMargins | None) -> str:
    if television is None:
        return ""
    return f", down to {television.bandwidth} % of a television's bandwidth and {television.photo} pixels across it in a photo"


def _lost(systems: list[str], layout: NoticeLayout) -> str:
    size = f"{layout.module} pixel{'s' if layout.module > 1 else ''} a module"
    return f"of {size} does not read from a photo of a {' or '.join(systems)} television with half of the usual bandwidth"


def _blob(pixels: np.ndarray, words: np.ndarray, rules: PictureRules, alignment: int) -> bytes:
    pixels_at = screen_pixels_at(rules, alignment)
    head = put_record(
        SCREEN,
        rules.byte_order,
        version=VERSION,
        pixel_format=rules.rank,
        width=pixels.shape[1],
        height=pixels.shape[0],
        entry_count=len(words),
        entries=screen_entries_at(rules),
        pixels=pixels_at,
    ).ljust(screen_entries_at(rules), b"\0")
    entries = b"".join(word.to_bytes(rules.entry.bytes, rules.entry_order) for word in words.tolist())
    return (head + entries).ljust(pixels_at, b"\0") + pack_picture(
        pixels, rules.pixel_format, rules.pixel_order, rules.cell, rules.starts.cell
    )
