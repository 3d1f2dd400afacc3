"""Texts as the game shows them: each in the letters of its font, or without one in those of the report."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from pipeline.joints.facts import FontFacts, TextFacts
from pipeline.plain.sizes import counted
from pipeline.proofs.canvas import GAP, LINE, PAPER, SOFT, WIDE, png, text_width, write
from pipeline.proofs.subject import Subject

_KEY = 220  # pixels for a key and its language, at most
_LETTERS, _ROW = 12, 18
_TALL = 6000  # pixels down that the picture keeps to; what follows is counted


def texts(subject: Subject) -> bytes:
    """Return all texts as a PNG, key by key and under each key language by language."""
    facts = subject.facts
    assert isinstance(facts, TextFacts)
    rows, height = [], GAP
    for rank, key in enumerate(facts.keys):
        for number, language in enumerate(facts.languages):
            shown = _shown(subject, subject.decoded.texts[number][rank])
            rows.append((key if not number else "", language, shown))
            height += max(shown.height, _ROW) + 6
            if height > _TALL:
                break
        if height > _TALL:
            break
    names = max(text_width(key, _LETTERS, bold=True) for key, _, _ in rows)
    left = min(_KEY, names + 8 + max(text_width(language, _LETTERS) for _, language, _ in rows)) + 2 * GAP
    width = min(WIDE, left + max(shown.width for _, _, shown in rows) + GAP)
    sheet = Image.new("RGB", (max(width, 320), height + _ROW), PAPER)
    draw, top = ImageDraw.Draw(sheet), GAP
    for key, language, shown in rows:
        if key:
            draw.line((GAP, top - 4, sheet.width - GAP, top - 4), fill=LINE)
        write(draw, (GAP, top + 2), key, _LETTERS, _KEY - 40, bold=True)
        write(draw, (left - GAP - text_width(language, _LETTERS), top + 2), language, _LETTERS, 60, fill=SOFT)
        sheet.paste(shown, (left, top))
        top += max(shown.height, _ROW) + 6
    hidden = len(facts.keys) * len(facts.languages) - len(rows)
    note = f"{counted(len(facts.keys), 'text')} in {counted(len(facts.languages), 'language')}"
    note += f"; {hidden} more are not shown" if hidden else ""
    write(draw, (GAP, top + 2), note, _LETTERS, sheet.width - 2 * GAP, fill=SOFT)
    return png(sheet)


def _shown(subject: Subject, units: list[int]) -> Image.Image:
    lines: list[list[int]] = [[]]
    for unit in units:
        if unit == subject.decoded.head["line_break"]:
            lines.append([])
        else:
            lines[-1].append(unit)
    return _in_letters(subject.about, lines) if subject.about else _in_report_letters(lines)


def _in_report_letters(lines: list[list[int]]) -> Image.Image:
    said = ["".join(map(chr, line)) for line in lines]
    picture = Image.new("RGB", (max(1, min(WIDE, max(text_width(line, _LETTERS) for line in said) + 4)), _ROW * len(said)), PAPER)
    for rank, line in enumerate(said):
        write(ImageDraw.Draw(picture), (0, _ROW * rank + 2), line, _LETTERS, WIDE)
    return picture


def _in_letters(font: Subject, lines: list[list[int]]) -> Image.Image:
    """Return lines in the glyphs of a font, over the colour of clear pixels."""
    facts, head = font.facts, font.decoded.head
    assert isinstance(facts, FontFacts)
    rgb, clear = font.coloured()
    width = max(sum(facts.characters[unit][1] for unit in line) for line in lines)
    canvas = np.full((head["line_height"] * (len(lines) - 1) + head["height"] + 2, width + 2 * head["width"], 3), 90, dtype=np.uint8)
    for rank, line in enumerate(lines):
        pen = head["left"] + 2
        for unit in line:
            part = canvas[rank * head["line_height"] + 1 :, pen - head["left"] :][: rgb.shape[1], : rgb.shape[2]]
            drawn = ~clear[unit][: part.shape[0], : part.shape[1]]
            part[drawn] = rgb[unit][: part.shape[0], : part.shape[1]][drawn]
            pen += facts.characters[unit][1]
    return Image.fromarray(canvas[:, : max(1, min(WIDE, width + head["width"] + 4))])
