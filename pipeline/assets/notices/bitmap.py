"""The boot notice of a console whose screen is one picture: drawn, converted to the target's pixels, and its codes read back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from pipeline.assets.blob import entry_bytes, put_record, save_blob, save_facts, show_padding
from pipeline.assets.intent import Intent
from pipeline.assets.notices.codes import (
    SAFE,
    CodePlaces,
    NoticeText,
    Safe,
    notice_text,
    on_television,
    paste_code,
    read_back,
    shown_reading,
)
from pipeline.assets.notices.letters import text_mask
from pipeline.joints.codes import code_matrix
from pipeline.joints.facts import ScreenFacts
from pipeline.joints.layouts import SCREEN, VERSION
from pipeline.joints.notice import (
    BUG,
    CHARACTER,
    FEEDBACK,
    GROUND,
    LINE,
    PAPER,
    QUIET_TEXT,
    STRONG,
    NoticeLayout,
    lay_out_codes,
    notice_colours,
    safe_area,
)
from pipeline.joints.pixel_size import padding_bytes, screen_entries_at, screen_pixels_at, stored_bytes
from pipeline.joints.places import BlobFiles
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.colours.apply import EntryFinder
from pipeline.pixels.colours.colour import to_rgb, to_words
from pipeline.pixels.pack import pack_picture
from pipeline.plain.errors import refuse
from pipeline.project.assets import Screen
from pipeline.target.records import PictureRules

_AIR = 1  # rows at least between a label's letters and the rim of its bar


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
    safe: Safe = SAFE,
) -> str:
    """Draw the notice of the build whose code is in ``work/build_code.json``; see ``draw_screen``."""
    return draw_screen(out, name, spec, notice_text(code_file, game, links), size, rules, alignment, pixel_aspect, safe)


def draw_screen(
    out: BlobFiles,
    name: str,
    spec: Screen,
    text: NoticeText,
    size: tuple[int, int],
    rules: PictureRules,
    alignment: int,
    pixel_aspect: tuple[int, int] = (1, 1),
    safe: Safe = SAFE,
) -> str:
    """Draw the notice, write its blob and facts; return one line about it.

    Args:
        safe: percents of each side that televisions show, and in which text and codes stay.

    Raises:
        ProjectError: a line does not fit the title-safe part of the screen, or a code does not read after conversion, cut off as
            televisions do, or from a photo of a television.
    """
    layout, places = _layout(name, spec, text, size, safe)
    drawn = np.asarray(_draw(name, spec, text, size, layout, places, safe))
    words = np.array([], dtype=np.uint32)
    if rules.pixel_format.pixel.bits("I"):
        words = to_words(np.array(notice_colours(rules.pixel_format.pixel.width), dtype=np.uint8), rules.entry)
        pixels = EntryFinder(to_rgb(words, rules.entry), rules.entry).find(drawn).astype(np.uint32)
        shown = to_rgb(words[pixels], rules.entry)
    else:
        pixels = to_words(drawn, rules.pixel_format.pixel)
        shown = to_rgb(pixels, rules.pixel_format.pixel)
    read_back(name, shown, places, text, safe)
    television = on_television(name, shown, places, text, pixel_aspect)
    padded = pad_to_cells(pixels, *rules.cell)
    intent = Intent()
    intent.add(padded)
    facts = ScreenFacts(
        **save_blob(out.content, name, [_blob(padded, words, rules, alignment)], spec.origin),
        width=size[0],
        height=size[1],
        **places.facts((spec.feedback_label, spec.bugs_label), text),
        intent=intent.facts(),
        tv=television,
        padding=padding_bytes(padded.shape[1], padded.shape[0], rules, stored_bytes(padded.shape[1], padded.shape[0], rules)),
    )
    stored = f"{save_facts(out.facts, facts)}{show_padding(facts)}"
    return f"{size[0]} x {size[1]}, {shown_reading(places, television)}, {stored}"


def _layout(name: str, spec: Screen, text: NoticeText, size: tuple[int, int], safe: Safe) -> tuple[NoticeLayout, CodePlaces]:
    found = lay_out_codes(text.link_bytes(), *size, safe[1], spec.correction)
    if found is None:
        wrong = f"its codes do not fit {size[0]} x {size[1]} pixels"
        if safe[1] < 100:
            wrong += f", of which {safe[1]} % of each side are title-safe"
        raise refuse("project.toml", f"[screen.{name}]", wrong, "shorten the links")
    layout, version, correction = found
    return layout, CodePlaces(layout.module, layout.side, layout.codes, version, correction)


def _draw(
    name: str, spec: Screen, text: NoticeText, size: tuple[int, int], layout: NoticeLayout, places: CodePlaces, safe: Safe
) -> Image.Image:
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
    left, _, right, _ = safe_area(*size, safe[1])
    for key, (top, scale) in layout.lines.items():
        words, colour = lines[key]
        _centred(picture, name, key, words, size[0] // 2, top, scale, right - left, colour)
    for (left, top), link in zip(layout.codes, (text.feedback, text.bugs), strict=True):
        paste_code(picture, code_matrix(link, places.version, places.correction), left, top, layout.module)
    _labels(picture, name, layout, (spec.feedback_label, spec.bugs_label), safe_area(*size, safe[1])[3])
    return picture


def _labels(picture: Image.Image, name: str, layout: NoticeLayout, labels: tuple[str, str], bottom: int) -> None:
    """Write both labels: feedback as dark words on a light bar, bugs as light words on a dark bar with a light rim.

    Bars of letters that reach below the line, or have marks above them, begin at the card of their code, which is as light as the rim.

    Args:
        bottom: row of the screen below the last that bars may use; where they need it, they have no rim below.
    """
    top, scale = layout.labels
    last = top + LINE * scale
    masks = [_inked(_fitted(name, "label", words, scale, layout.side - 2)) for words in labels]
    rows = max(mask.height for mask in masks) + 2 * _AIR
    first = top + 1 if rows <= last - top - 1 else top - 1
    last = max(last, min(first + rows, bottom - 1))
    end = max(first + rows, last)  # of the bar's own rows; the rim is below
    draw = ImageDraw.Draw(picture)
    for mask, (left, _), bar, ink in zip(masks, layout.codes, (PAPER, BUG), (FEEDBACK, PAPER), strict=True):
        right = left + layout.side - 1
        draw.rectangle((left, min(first, top), right, last), fill=PAPER)
        draw.rectangle((left + 1, first, right - 1, end - 1), fill=bar)
        above = (end - first - mask.height + 1) // 2
        picture.paste(ink, (left + layout.side // 2 - mask.width // 2, first + above), mask)


def _inked(mask: Image.Image) -> Image.Image:
    """Return the rows of a line of text that have ink."""
    _, first, _, end = mask.getbbox() or (0, 0, 1, 1)
    return mask.crop((0, first, mask.width, end))


def _centred(picture: Image.Image, name: str, key: str, words: str, middle: int, top: int, scale: int, room: int, colour: tuple) -> None:
    mask = _fitted(name, key, words, scale, room)
    picture.paste(colour, (middle - mask.width // 2, top), mask)


def _fitted(name: str, key: str, words: str, scale: int, room: int) -> Image.Image:
    """Return a line of text as a mask, at the largest scale up to one at which it fits the room."""
    mask = text_mask(words)
    while scale > 1 and mask.width * scale > room:
        scale -= 1
    if mask.width * scale > room:
        wrong = f"{words!r} is {mask.width} pixels wide, {room} fit"
        place = "[game] title" if key == "title" else f"[screen.{name}] {key}"
        raise refuse("project.toml", place, wrong, f"shorten it to about {room // CHARACTER} characters")
    return mask.resize((mask.width * scale, mask.height * scale), Image.Resampling.NEAREST)


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
    packed = pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell, rules.starts.cell)
    return (head + entry_bytes(words.tolist(), rules)).ljust(pixels_at, b"\0") + packed
