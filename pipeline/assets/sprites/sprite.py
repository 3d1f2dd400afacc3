"""Sprites: prepared frames to a blob with its frame, animation and step tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from pipeline.assets.art import Artwork
from pipeline.assets.blob import body_file, body_parts, save_blob, save_facts, show_padding
from pipeline.assets.sources.prepared import Frames, PreparedFrames, read_frames
from pipeline.assets.sprites.blobs import Arranged, framed_blob, pieced_blob, pooled_blob, sheet_blob
from pipeline.assets.sprites.cut import read_pooled
from pipeline.assets.sprites.hardware import check_hardware, hardware_sprites, show_hardware
from pipeline.cache.results import Results
from pipeline.joints.facts import Animation, SpriteFacts, StoredFrames, StoredPieces, Trade, show_trade
from pipeline.joints.pixel_size import stored_bytes
from pipeline.joints.places import BlobFiles, FrameFiles
from pipeline.joints.views import PaletteView
from pipeline.pixels.feet import wander
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted, round_up
from pipeline.project.art import animation_frames
from pipeline.project.assets import Sprite
from pipeline.target.records import DrawRules, PictureRules, SpriteLimits

_MOST_TICKS = 65535


def convert_sprite(
    prepared: FrameFiles,
    palette: PaletteView | None,
    out: BlobFiles,
    name: str,
    files: tuple[str, ...],
    spec: Sprite,
    rules: PictureRules,
    refresh: float,
    flips: tuple[bool, bool],
    alignment: int,
    room: int,
    cache: Path | None = None,
    draws: DrawRules | None = None,
    hardware: SpriteLimits | None = None,
) -> str:
    """Write a sprite's blob and facts; return one line about it.

    Args:
        palette: its palette; None for direct colour.
        files: names of its sources, which animations name frames by.
        refresh: pictures a second, which animation steps are counted in.
        flips: whether the console can mirror a cell left to right, and top to bottom.
        room: bytes that the frames of a sheet may have; see ``bounds.asset_room``.
        cache: where results of its frames are kept; see ``cache.results``.
        draws: how pieces are prepared for drawing; None where they are not.
        hardware: what the console draws at most on a line and in a picture; None where nothing is said of that.

    Raises:
        ProjectError: a sheet takes more bytes than fit, an animation names a frame that is not there, or a number leaves its field.
    """
    frames = PreparedFrames(prepared)
    if spec.arrangement == "sheet":
        _check_room(name, frames.facts, rules, room)
    animations = _animations(name, spec, files, frames.facts, refresh)
    make = {"sheet": sheet_blob, "frames": framed_blob, "pieces": partial(pieced_blob, draws=draws)}[spec.arrangement]
    with Results(cache) as results, body_file(out.content) as body:
        art = Artwork(frames, palette, rules, name, spec.dither, results)
        with _fields_that_hold(name):
            made = make(art, animations, spec, rules, flips, max(alignment, 4), body)
        return _save(out, name, body_parts(made.head, body), made, spec, frames.facts, animations, rules.cell, hardware)


def convert_pooled_sprite(
    described: Path,
    cut: Path,
    pieces: Path,
    index: Path,
    out: BlobFiles,
    name: str,
    files: tuple[str, ...],
    spec: Sprite,
    rules: PictureRules,
    refresh: float,
    draws: DrawRules | None = None,
    hardware: SpriteLimits | None = None,
) -> str:
    """Write the blob and facts of a sprite whose cells are in the pool that ``spec`` names; see ``cut``. Return one line about it.

    Args:
        described: of its scaled frames, whose pixels are not looked at.
        cut, pieces: how it was cut; see ``cut``.
        index: where its cells are in the pool.
        files: names of its sources, which animations name frames by.
        hardware: as in ``convert_sprite``.

    Raises:
        ProjectError: an animation names a frame that is not there, or a number leaves its field.
    """
    frames = read_frames(described)
    animations = _animations(name, spec, files, frames, refresh)
    pooled, pool_cells = read_pooled(cut, pieces, index)
    with _fields_that_hold(name):
        made = pooled_blob(pooled, str(spec.pool), pool_cells, frames, animations, spec, rules, draws)
    return _save(out, name, [made.head], made, spec, frames, animations, rules.cell, hardware)


def _check_room(name: str, frames: Frames, rules: PictureRules, room: int) -> None:
    """Refuse a sheet that no cartridge holds before it is converted; how much other arrangements take shows only then."""
    width, height = (round_up(side, step) for side, step in zip((frames.width, frames.height), rules.cell, strict=True))
    needed = frames.count * stored_bytes(width, height, rules, rules.starts.frame)
    if needed > room:
        wrong = f"a sheet of {needed:,} bytes, the target's largest cartridge or memory holds {room:,}"
        raise refuse("project.toml", f"[sprite.{name}]", wrong, 'use a smaller scale or arrangement = "pieces", or split it')


@contextmanager
def _fields_that_hold(name: str) -> Iterator[None]:
    try:
        yield
    except OverflowError:
        remedy = "a sprite holds at most 65,535 frames, steps and cells; split it"
        raise refuse("project.toml", f"[sprite.{name}]", "a number leaves its field in the blob", remedy) from None


def _save(
    out: BlobFiles,
    name: str,
    parts: Iterable[bytes],
    made: Arranged,
    spec: Sprite,
    frames: Frames,
    animations: list[Animation],
    cell: tuple[int, int],
    hardware: SpriteLimits | None,
) -> str:
    found = _wander(frames, animations)
    asked = hardware_sprites(made.drawn, hardware.unit or cell) if hardware else None
    over = check_hardware(name, asked, hardware) if asked and hardware else []
    facts = SpriteFacts(
        **save_blob(out.content, name, parts, spec.origin),
        frames=frames.count,
        width=frames.width,
        height=frames.height,
        source_width=frames.source[0],
        source_height=frames.source[1],
        scale=frames.scale,
        anchor=frames.anchor,
        stored=made.stored,
        palette=spec.palette,
        animations=animations,
        wander=found,
        **made.found,
        remarks=[*([made.remark] if made.remark else []), *over],
        hardware=asked,
        padding=made.padding,
    )
    size = f"{counted(frames.count, 'frame')} of {frames.width} x {frames.height}"
    summary = f"{size}{_arranged_summary(made)}, {save_facts(out.facts, facts)}"
    summary += show_padding(facts)
    summary += f"; {show_hardware(asked)}" if asked else ""
    summary += "".join(f"; {remark}" for remark in facts.remarks)
    return summary + "".join(f"; feet wander {x} across and {y} down in {one}" for one, (x, y) in found.items() if max(x, y) > 1)


def _wander(frames: Frames, animations: list[Animation]) -> dict[str, tuple[int, int]]:
    """Return how far the feet wander in each animation; nothing where the frames do not say where they are."""
    if not frames.feet:
        return {}
    return {one.name: wander(frames.feet[frame] for frame, _ in one.steps) for one in animations}


def _arranged_summary(made: Arranged) -> str:
    match made.stored:
        case StoredFrames(stored_frames=count):
            return f", {count} of them stored"
        case StoredPieces(pieces=pieces, trade=Trade() as trade):
            return f", {pieces} pieces, {show_trade(trade)}"
        case StoredPieces(pieces=pieces, own_cells=cells):
            return f", {pieces} pieces of {cells} cells"
    return ""


def _animations(name: str, spec: Sprite, files: tuple[str, ...], frames: Frames, refresh: float) -> list[Animation]:
    """Return name, loop and the steps (frame, ticks) of every animation, in the order of the project file."""
    if not spec.animations and frames.ms:
        return [_animation(name, "play", True, list(range(frames.count)), frames.ms, refresh)]
    found = []
    for key, animation in spec.animations.items():
        numbers = animation_frames(animation, files)
        outside = [number for number in numbers if not 0 <= number < frames.count]
        if outside:
            place = f"[sprite.{name}.animations.{key}] frames"
            raise refuse("project.toml", place, f"there is no frame {outside[0]}", f"frames are numbered 0 to {frames.count - 1}")
        durations = animation.ms if isinstance(animation.ms, list) else [animation.ms] * len(numbers)
        found.append(_animation(name, key, animation.loop, numbers, durations, refresh))
    return found


def _animation(name: str, key: str, loop: bool, numbers: list[int], durations: Sequence[float], refresh: float) -> Animation:
    steps = [(number, max(1, round(ms * refresh / 1000))) for number, ms in zip(numbers, durations, strict=True)]
    longest = max((ticks for _, ticks in steps), default=0)
    if longest > _MOST_TICKS:
        wrong = f"a frame is shown for {longest} screen pictures, {_MOST_TICKS} can be stored"
        raise refuse("project.toml", f"[sprite.{name}] {key}", wrong, "shorten it, or repeat the frame")
    return Animation(name=key, loop=loop, steps=steps)
