"""The codes of a boot notice: what they say, where they are, and whether they read: as drawn, cut off, and from a television."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple, TypedDict

import numpy as np
from PIL import Image

from pipeline.assets.notices.television import Television
from pipeline.joints.codes import code_fault
from pipeline.joints.facts import ScreenCode, TvMargins
from pipeline.joints.links import QUIET, Correction, report_link
from pipeline.joints.notice import INK, PAPER, TELEVISION_LINES, safe_area
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.files import read_json
from pipeline.target.records import ACTION_SAFE, TITLE_SAFE

Safe = tuple[int, int]  # percents of each side that televisions show, and in which text and codes stay
SAFE: Safe = (ACTION_SAFE, TITLE_SAFE)
_REMEDY = "shorten the link, so that its modules get larger, or use a pixel format with more contrast"
_KEYS = ("feedback", "bugs")


class NoticeText(NamedTuple):
    """What the notice says apart from the author's warning and labels."""

    title: str
    version: str
    phase: str
    build_code: str
    feedback: str
    bugs: str

    def link_bytes(self) -> tuple[int, int]:
        """Return the lengths of both links."""
        return len(self.feedback.encode()), len(self.bugs.encode())


class CodeFacts(TypedDict):
    """The facts of a boot notice that are about its codes; see ``joints.facts.ScreenFacts``."""

    codes: list[ScreenCode]
    module_pixels: int
    code_version: int
    correction: Correction


class CodePlaces(NamedTuple):
    """Where both codes are, in pixels of the screen.

    Attributes:
        module: pixels of one module.
        side: of a code with its quiet zone.
        codes: left and top of the feedback code and of the bug code, with quiet zone.
        version, correction: of both.
    """

    module: int
    side: int
    codes: tuple[tuple[int, int], tuple[int, int]]
    version: int
    correction: Correction

    def facts(self, labels: tuple[str, str], text: NoticeText) -> CodeFacts:
        """Return what facts say of the codes."""
        labelled = zip(labels, (text.feedback, text.bugs), self.codes, strict=True)
        codes = [ScreenCode(label=label, link=link, left=left, top=top, side=self.side) for label, link, (left, top) in labelled]
        return CodeFacts(codes=codes, module_pixels=self.module, code_version=self.version, correction=self.correction)


def notice_text(code_file: Path, game: dict[str, str], links: dict[str, str]) -> NoticeText:
    """Return what the notice of the build whose code is in ``work/build_code.json`` says."""
    code = read_json(code_file)["build_code"]
    return NoticeText(**game, build_code=code, **{key: report_link(link, code) for key, link in links.items()})


def paste_code(picture: Image.Image, matrix: list[list[bool]], left: int, top: int, module: int) -> None:
    """Draw a code with its quiet zone, whose left and top are given."""
    dark = np.kron(np.array(matrix, dtype=np.uint8), np.ones((module, module), dtype=np.uint8))
    framed = np.pad(dark, QUIET * module)
    picture.paste(PAPER, (left, top, left + framed.shape[1], top + framed.shape[0]))
    picture.paste(INK, (left, top), Image.fromarray(framed * 255))


def read_back(name: str, shown: np.ndarray, places: CodePlaces, text: NoticeText, safe: Safe) -> None:
    """Read both codes from the whole picture, and from what is left where televisions cut it off.

    Args:
        shown: uint8, shape (height, width, 3).

    Raises:
        ProjectError: a code does not read, or not where it should be.
    """
    for percent in dict.fromkeys((100, *safe)):
        x, y, right, bottom = safe_area(shown.shape[1], shown.shape[0], percent)
        left_over = np.ascontiguousarray(shown[y:bottom, x:right])
        for (left, top), key, link in zip(places.codes, _KEYS, (text.feedback, text.bugs), strict=True):
            fault = code_fault(left_over, left - x, top - y, places.module, link, places.version)
            if fault:
                cut = f" where a television shows {percent} % of each side" if percent < 100 else ""
                raise refuse("project.toml", f"[links] {key}", f"its code on screen {name!r} {fault}{cut}", _REMEDY)


def on_television(name: str, shown: np.ndarray, places: CodePlaces, text: NoticeText, aspect: tuple[int, int]) -> TvMargins | None:
    """Return how far both codes read from a photo of a television (see ``Television.margin``); None for a screen too high for one.

    Raises:
        ProjectError: a code does not read from it.
    """
    if shown.shape[0] > TELEVISION_LINES:
        return None
    links, top = (text.feedback, text.bugs), places.codes[0][1]
    watched = Television(shown, aspect, links, (top, top + places.side))
    lost = watched.lost()
    if lost:
        raise ProjectError(
            Problem("project.toml", f"[links] {key}", f"its code on screen {name!r} {_lost(lost[link], places)}", _REMEDY)
            for key, link in zip(_KEYS, links, strict=True)
            if link in lost
        )
    return watched.margin()


def shown_reading(places: CodePlaces, television: TvMargins | None) -> str:
    """Return for a person how well the codes read."""
    read = f"codes of {places.module} pixels a module read back"
    if television is None:
        return read
    return f"{read}, down to {television.bandwidth} % of a television's bandwidth and {television.photo} pixels across it in a photo"


def _lost(systems: list[str], places: CodePlaces) -> str:
    size = f"{places.module} pixel{'s' if places.module > 1 else ''} a module"
    return f"of {size} does not read from a photo of a {' or '.join(systems)} television with half of the usual bandwidth"
