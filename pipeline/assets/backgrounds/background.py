"""Backgrounds: one prepared picture to a blob, as a bitmap or as tiles and a map."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from pipeline.assets.backgrounds.drawn import Drawn, draw_background
from pipeline.assets.backgrounds.forms import View, compare_forms
from pipeline.assets.backgrounds.tiled import Tiled, fit_tiles, tiled_blob
from pipeline.assets.blob import put_record, save_blob, save_facts, show_padding
from pipeline.assets.intent import Intent
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.facts import BackgroundFacts, IntentFacts, StoredBitmap, StoredTiles
from pipeline.joints.layouts import BACKGROUND, NO_PALETTE, VERSION, name_hash, record_bytes
from pipeline.joints.pixel_size import one_part, padding_bytes, stored_bytes
from pipeline.joints.places import BlobFiles, FrameFiles
from pipeline.joints.views import PaletteView
from pipeline.pixels.cells import pad_to_cells
from pipeline.pixels.pack import pack_picture
from pipeline.pixels.tiles.tiles import cut
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.assets import Background
from pipeline.target.records import PictureRules
from pipeline.target.tiles import TileRules


def convert_background(
    prepared: FrameFiles,
    palette: PaletteView | None,
    out: BlobFiles,
    map_out: Path,
    name: str,
    spec: Background,
    rules: PictureRules,
    cutting: TileRules,
    window: tuple[int, int],
    alignment: int,
    room: int,
) -> str:
    """Write a background's blob and facts, and the map of its tiles (see ``assets.backgrounds.forms``); return one line about it.

    Args:
        palette: its palette; None for direct colour.
        map_out: the file of the map.
        cutting: how it is cut into tiles; a bitmap is compared with them.
        window: width and height of the screen in pixels.
        room: bytes that its pixels, or its map, may have; see ``bounds.asset_room``.

    Raises:
        ProjectError: a side is longer than 65,535 pixels, it takes more bytes than fit, or there are more tiles than fit.
    """
    frames = PreparedFrames(prepared)
    if max(round_up(side, step) for side in (frames.width, frames.height) for step in (*rules.cell, *cutting.tile)) > 65535:
        raise refuse("project.toml", f"[background.{name}]", f"{frames.width} x {frames.height} pixels", "use a smaller scale")
    _check_room(name, spec, frames, rules, cutting, room)
    drawn = draw_background(frames, palette, spec, rules, cutting.tile, name)
    if spec.arrangement == "tiles":
        tiled = fit_tiles(name, drawn, spec, cutting)
        blob, stored, intent = tiled_blob(drawn, tiled, spec, rules, cutting, max(alignment, 4))
    else:
        tiled = Tiled(cut(drawn.pixels, *cutting.tile, *cutting.flips), drawn.error)
        blob, stored, intent = _bitmap_blob(drawn, spec, rules, max(alignment, 4))
    size, view = (frames.width, frames.height), View(window, spec.pan)
    forms = compare_forms(map_out, size, drawn, tiled.tiles, rules, cutting, view)
    facts = BackgroundFacts(
        **save_blob(out.content, name, [blob], spec.origin),
        width=frames.width,
        height=frames.height,
        source_width=frames.facts.source[0],
        source_height=frames.facts.source[1],
        scale=frames.facts.scale,
        stored=stored,
        tile=cutting.tile,
        window=window,
        palette=spec.palette,
        colour_error=tiled.error,
        forms=forms,
        intent=intent,
        seen_error=drawn.seen,
        padding=_padding(stored, intent, cutting, rules),
    )
    summary = _tile_summary(stored, cutting.tile) if isinstance(stored, StoredTiles) else ""
    return f"{frames.width} x {frames.height}{summary}{_mixed_summary(facts)}, {save_facts(out.facts, facts)}{show_padding(facts)}"


def _padding(stored: StoredTiles | StoredBitmap, intent: IntentFacts, cutting: TileRules, rules: PictureRules) -> int:
    if isinstance(stored, StoredTiles):
        rules = dataclasses.replace(rules, cell=cutting.tile, pixel_format=one_part(rules.pixel_format))
        return stored.tile_count * padding_bytes(*cutting.tile, rules, stored.tile_bytes)
    _, height, width = intent.shape
    return padding_bytes(width, height, rules, stored_bytes(width, height, rules))


def _check_room(name: str, spec: Background, frames: PreparedFrames, rules: PictureRules, cutting: TileRules, room: int) -> None:
    """Refuse what no cartridge holds before it is converted; how many tiles are distinct shows only then."""
    tiled = spec.arrangement == "tiles"
    steps = cutting.tile if tiled else rules.cell
    width, height = (round_up(side, step) for side, step in zip((frames.width, frames.height), steps, strict=True))
    if tiled:
        part, needed = "map", width // cutting.tile[0] * (height // cutting.tile[1]) * cutting.entry.bytes
    else:
        part, needed = "bitmap", stored_bytes(width, height, rules)
    if needed > room:
        wrong = f"a {part} of {needed:,} bytes, the target's largest cartridge or memory holds {room:,}"
        raise refuse("project.toml", f"[background.{name}]", wrong, "use a smaller scale, or split it")


def _bitmap_blob(drawn: Drawn, spec: Background, rules: PictureRules, alignment: int) -> tuple[bytes, StoredBitmap, IntentFacts]:
    height, width = drawn.wanted.shape[:2]
    fill = drawn.base if drawn.colours is not None else rules.pixel_format.pixel.fixed
    pixels = pad_to_cells(drawn.pixels[:height, :width], *rules.cell, fill=fill)
    pixels_at = round_up(record_bytes(BACKGROUND), alignment)
    head = put_record(
        BACKGROUND,
        rules.byte_order,
        version=VERSION,
        pixel_format=rules.rank,
        width=pixels.shape[1],
        height=pixels.shape[0],
        palette=name_hash(spec.palette) if spec.palette else NO_PALETTE,
        pixels=pixels_at,
    )
    intent = Intent()
    intent.add(pixels)
    stored = StoredBitmap(cells=(pixels.shape[1] // rules.cell[0], pixels.shape[0] // rules.cell[1]))
    packed = pack_picture(pixels, rules.pixel_format, rules.pixel_order, rules.cell, rules.starts.cell)
    return head.ljust(pixels_at, b"\0") + packed, stored, intent.facts()


def _mixed_summary(facts: BackgroundFacts) -> str:
    seen = facts.seen_error
    if not seen or not seen.mixed:
        return ""
    return f" ({seen.mixed:,} pixels mixed; CIEDE2000 as seen {seen.stored:.2f} instead of {seen.nearest:.2f})"


def _tile_summary(stored: StoredTiles, tile: tuple[int, int]) -> str:
    summary = f" in {stored.tile_count:,} tiles of {tile[0]} x {tile[1]}"
    loss = stored.merging
    if not loss:
        return summary
    before, after = loss.before, loss.after
    pairs = {"mean": (after.mean, before.mean), "95th percentile": (after.p95, before.p95), "worst tile": (after.worst, before.worst)}
    figures = ", ".join(f"{what} {now:.1f} instead of {once:.1f}" for what, (now, once) in pairs.items())
    return f"{summary} ({loss.merged:,} of {loss.tiles:,} merged, {loss.changed_cells:,} cells changed; CIEDE2000 {figures})"
