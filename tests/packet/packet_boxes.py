"""Where words are on the pages of a packet, as poppler's pdftotext finds them."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from tests.conftest import need_tool

_HTML = "{http://www.w3.org/1999/xhtml}"


class Word(NamedTuple):
    """A word and its box in points from the top left of its page."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def words_of(path: Path) -> list[tuple[float, float, list[Word]]]:
    """Return (width, height, words) of every page."""
    printed = subprocess.run([need_tool("pdftotext"), "-bbox", str(path), "-"], capture_output=True, check=True).stdout
    pages = ElementTree.fromstring(printed).iter(f"{_HTML}page")
    return [(float(page.get("width")), float(page.get("height")), [_word(one) for one in page.iter(f"{_HTML}word")]) for page in pages]


def strays(path: Path, margin: float, bottom: float) -> list[str]:
    """Return the words that reach into the margins, all in points; ``bottom`` is that below the foot."""
    return [
        f"page {rank}: {word.text}"
        for rank, (width, height, words) in enumerate(words_of(path), 1)
        for word in words
        if word.left < margin - 1 or word.right > width - margin + 1 or word.top < margin / 2 or word.bottom > height - bottom
    ]


def collisions(path: Path) -> list[str]:
    """Return pairs of words set over each other."""
    return [
        f"page {rank}: {one.text} / {other.text}"
        for rank, (_, _, words) in enumerate(words_of(path), 1)
        for place, one in enumerate(words)
        for other in words[place + 1 :]
        if _overlap(one, other)
    ]


def _overlap(one: Word, other: Word) -> bool:
    # A box is as high as its font's tallest letters, which reach into the line above; a third of it is always air.
    air = 0.17 * (one.bottom - one.top), 0.17 * (other.bottom - other.top)
    across = min(one.right, other.right) - max(one.left, other.left)
    down = min(one.bottom - air[0], other.bottom - air[1]) - max(one.top + air[0], other.top + air[1])
    return across > 0.5 and down > 0.5


def _word(one: ElementTree.Element) -> Word:
    return Word(one.text or "", *(float(one.get(key)) for key in ("xMin", "yMin", "xMax", "yMax")))
