"""Checks of boot notices: words that can be drawn, and room on the console's screen for them and both codes."""

from __future__ import annotations

from pipeline.joints.links import code_version, link_problem, report_link, with_tester
from pipeline.joints.notice import BUILD_LINE, CHARACTER, code_problem, safe_area
from pipeline.notices.sizes import notice_words
from pipeline.notices.tile_plan import tiles_problem
from pipeline.plain.checked import Document
from pipeline.project.model import Asset, LoadedProject


def check_notices(document: Document, project: LoadedProject) -> None:
    """Note what is wrong with boot notices, whose links are checked already as such."""
    links = {key: getattr(project.spec.links, key) for key in ("feedback", "bugs")}
    lengths = [len(report_link(with_tester(link), BUILD_LINE).encode()) for link in links.values() if not link_problem(link)]
    sound = len(lengths) == len(links) and all(code_version(length) for length in lengths)
    said: set[tuple] = set()
    for asset in project.of_kind("screen"):
        printable = _check_words(document, asset)
        if project.arrangement(asset) == "tiles":
            if project.target.tiles is None:
                wrong = f"{project.target.name} has no [tiles] in its target file"
                document.say(("screen", asset.name, "arrangement"), wrong, 'use arrangement = "bitmap", or leave it out')
            elif printable and sound:
                _check_tiles(document, project, asset)
            continue
        _check_widths(document, project, asset)
        for key, link in links.items() if sound else ():
            screen = project.target.screen
            problem = code_problem(with_tester(link), screen.width, screen.height, screen.title_safe, asset.spec.correction)
            if problem and (key, *problem) not in said:
                said.add((key, *problem))
                document.say(("links", key), *problem)


def _check_words(document: Document, asset: Asset) -> bool:
    spec, good = asset.spec, True
    for key in ("warning", "feedback_label", "bugs_label"):
        words = getattr(spec, key)
        if not words.isprintable():
            document.say((*_path(asset), key), f"{words!r} has a line break or another control character", "write one plain line")
            good = False
    return good


def _check_widths(document: Document, project: LoadedProject, asset: Asset) -> None:
    screen = project.target.screen
    left, _, right, _ = safe_area(screen.width, screen.height, screen.title_safe)
    what = "the screen" if screen.title_safe == 100 else "the title-safe part of the screen"
    for path, words in ((("game", "title"), project.spec.game.title), ((*_path(asset), "warning"), asset.spec.warning)):
        if words.isascii() and len(words) * CHARACTER > right - left:
            wrong = f"{len(words)} characters are {len(words) * CHARACTER} pixels wide, {what} {right - left}"
            document.say(path, wrong, f"shorten it to {(right - left) // CHARACTER} characters")


def _check_tiles(document: Document, project: LoadedProject, asset: Asset) -> None:
    problem = tiles_problem(*notice_words(project, asset), asset.spec.correction)
    if problem:
        document.say(_path(asset), *problem)


def _path(asset: Asset) -> tuple[str, str]:
    return "screen", asset.name
