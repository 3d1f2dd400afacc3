"""Sizes of a checked project's boot notices, before they are drawn."""

from __future__ import annotations

from pipeline.joints.links import report_link, with_tester
from pipeline.joints.notice import BUILD_LINE
from pipeline.joints.pixel_size import screen_bytes
from pipeline.notices.places import tiled_screen_places
from pipeline.notices.tile_plan import TilePlan, TileScreen, Words, entry_count, plan_tiles, tile_screen, words_of
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.records import picture_rules
from pipeline.target.tiles import tile_rules


def notice_words(project: LoadedProject, asset: Asset) -> tuple[Words, tuple[int, int], TileScreen]:
    """Return what a notice of tiles says, the lengths of its links with the build code, and what it is for."""
    game, links, spec = project.spec.game, project.spec.links, asset.spec
    first, second = (len(report_link(with_tester(link), BUILD_LINE).encode()) for link in (links.feedback, links.bugs))
    words = words_of(game.title, game.version, game.phase, spec.warning, (spec.feedback_label, spec.bugs_label))
    return words, (first, second), tile_screen(project.target, project.pixel_format(asset))


def notice_plan(project: LoadedProject, asset: Asset) -> TilePlan | None:
    """Return where the parts of a notice of tiles are; None for one that is a picture, or that cannot be made."""
    if project.arrangement(asset) != "tiles":
        return None
    return plan_tiles(*notice_words(project, asset), asset.spec.correction)


def notice_bytes(project: LoadedProject, asset: Asset) -> int:
    """Return the size of a notice's blob, whatever the build code."""
    numbers, screen = notice_numbers(project, asset), project.target.screen
    if numbers:
        return numbers["unpacked_bytes"]
    return screen_bytes(screen.width, screen.height, picture_rules(project.target, screen.pixels), project.alignment(asset))


def notice_numbers(project: LoadedProject, asset: Asset) -> dict[str, int]:
    """Return what a program may know of a notice of tiles when it is built, before the build code; nothing of one that is a picture."""
    target, plan = project.target, notice_plan(project, asset)
    if plan is None:
        return {}
    rules, cutting = picture_rules(target, project.pixel_format(asset)), tile_rules(target, None, None)
    entries = entry_count(tile_screen(target, project.pixel_format(asset)), plan.planes)
    places = tiled_screen_places(plan, entries, rules, cutting, project.alignment(asset))
    return {
        "unpacked_bytes": places.bytes,
        "columns": plan.columns,
        "rows": plan.rows,
        "tile_room": plan.tiles,
        "tile_bytes": places.tile_bytes,
        "entry_count": entries,
    }


def packed_at_most(count: int) -> int:
    """Return the most bytes that this many take packed by any codec: LZ4 adds a byte to 255 and 16, PackBits one to 128."""
    return count + max(count // 255 + 16, count // 128 + 1)
