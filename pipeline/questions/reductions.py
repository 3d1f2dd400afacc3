"""Changes to a project that may save memory, each as text and as the assets it would have."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.steps.memory import in_part
from pipeline.graph.steps.site import Site
from pipeline.plain.bits import parse_pattern
from pipeline.project.art import animation_frames
from pipeline.project.model import Asset, LoadedProject
from pipeline.target.records import pixel_base

_NEAR = 0.02  # share of a frame's pixels that may differ from the frame that replaces it
_ANY_MAP = parse_pattern("tttttttttttttttt")  # of a map, where the console has no tile unit
_LEAST_RATE = 4000  # samples a second below which speech and effects are not worth keeping
_LEAST_SHOWN = 10  # per cent of frames


@dataclasses.dataclass(frozen=True)
class Change:
    """One change.

    Attributes:
        words: what to do.
        assets: the changed assets.
        lost: what else is lost apart from colours, as text.
        apart: whether each asset may be changed without the others.
        packed: the assets stay packed in memory, so that their packed bytes count.
        share: how much of its assets it may save at most, 0 to 1, as far as that is known without making it: frames count by their opaque
            pixels, equal ones once.
    """

    words: str
    assets: tuple[Asset, ...]
    lost: str = ""
    apart: bool = True
    packed: bool = False
    share: Fraction = Fraction(1)


def changes(project: LoadedProject, names: set[str]) -> Iterator[Change]:
    """Yield every change known that concerns these assets."""
    concerned = [asset for asset in project.assets.values() if asset.name in names]
    yield from _arrangements(project, concerned)
    yield from _slower_pieces(concerned)
    yield from _fewer_bits(project, names)
    yield from _rates(concerned)
    yield from _kept_packed(project, concerned)
    for asset in concerned:
        if asset.kind == "sprite" and asset.spec.frames:
            yield from _fewer_frames(project, asset)


def _with(asset: Asset, **keys: Any) -> Asset:
    return dataclasses.replace(asset, spec=msgspec.structs.replace(asset.spec, **keys))


def _arrangements(project: LoadedProject, concerned: list[Asset]) -> Iterator[Change]:
    sprites = [asset for asset in concerned if asset.kind == "sprite"]
    pieced = tuple(_with(asset, arrangement="pieces") for asset in sprites if asset.spec.palette and asset.spec.arrangement != "pieces")
    trimmed = tuple(_with(asset, arrangement="frames") for asset in sprites if asset.spec.arrangement == "sheet")
    pattern = None if project.target.tiles else _ANY_MAP
    cut = tuple(
        _with(asset, arrangement="tiles", map_entry=asset.spec.map_entry or pattern)
        for asset in concerned
        if asset.kind == "background" and asset.spec.arrangement == "bitmap" and asset.spec.palette
    )
    for key, assets in (("pieces", pieced), ("frames", trimmed), ("tiles", cut)):
        if assets:
            yield Change(f'arrangement = "{key}"', assets)


def _slower_pieces(concerned: list[Asset]) -> Iterator[Change]:
    """Pieces without what makes drawing or fetching them quick."""
    sprites = [asset for asset in concerned if asset.kind == "sprite"]
    shared = tuple(_with(asset, prefer="bytes") for asset in sprites if asset.spec.prefer != "bytes")
    plain = tuple(_with(asset, prepared="none") for asset in sprites if asset.spec.prepared != "none")
    if shared:
        yield Change('prefer = "bytes"', shared, "a frame's cells in one transfer")
    if plain:
        yield Change('prepared = "none"', plain, "pieces in the form in which they are drawn")


def _kept_packed(project: LoadedProject, concerned: list[Asset]) -> Iterator[Change]:
    """Packed as well as the target can unpack, and not unpacked in memory before it is needed."""
    partly = in_part(project)
    whole = [asset for asset in concerned if asset.name not in {*partly.frames, *partly.seen}]
    packable = tuple(_with(asset, packing="best") for asset in whole if hasattr(asset.spec, "packing"))
    if packable and project.target.codecs:
        lost = "time to unpack, and room for what is unpacked"
        yield Change('packing = "best" and the scene\'s packed', packable, lost, packed=True)


def _fewer_bits(project: LoadedProject, names: set[str]) -> Iterator[Change]:
    for palette in project.of_kind("palette"):
        users = project.users_of(palette.name)
        if palette.spec.file or not users or not names & {user.name for user in users}:
            continue
        formats = project.target.pixel_formats
        now = max(formats[project.pixel_format(user)].pixel.width for user in users)
        for name, one in formats.items():
            bits = one.pixel.bits("I")
            room = (1 << bits) - pixel_base(palette.spec.first, bits)
            if not bits or bits >= now or room < 2 + palette.spec.transparent:
                continue
            fewer = _with(palette, colours=min(room, palette.spec.colours or room))
            words = f'pixels = "{name}" and {fewer.spec.colours} colours in palette {palette.name}'
            yield Change(words, (fewer, *(_with(user, pixels=name) for user in users)), apart=False)


def _rates(concerned: list[Asset]) -> Iterator[Change]:
    halved = []
    for asset in concerned:
        if asset.kind == "sound" and asset.spec.rate and asset.spec.rate // 2 >= _LEAST_RATE:
            halved.append(_with(asset, rate=asset.spec.rate // 2))
    if halved:
        yield Change("half the sample rate", tuple(halved), "the upper half of the sound's frequencies")


def _fewer_frames(project: LoadedProject, asset: Asset) -> Iterator[Change]:
    from pipeline.assets.sprites.repeats import like_earlier, opaque_pixels

    prepared = Site(project).prepared(asset.name)
    steps = {name: animation_frames(one, asset.files) for name, one in asset.spec.animations.items()}
    count, every = len(asset.files), list(range(len(asset.files)))
    equal = like_earlier(prepared, 0)
    near = like_earlier(prepared, _NEAR)
    sizes = _Sizes(every, [1] * count) if asset.spec.arrangement == "sheet" else _Sizes(equal, opaque_pixels(prepared))
    yield from _replaced(asset, steps, equal, sizes, "one file for equal frames", "nothing: they show the same")
    if near != equal:
        words = f"one file for frames that differ in under {_NEAR:.0%} of their pixels"
        yield from _replaced(asset, steps, near, sizes, words, "those differences")
    shown = [frame for some in steps.values() for frame in some]
    idle = [frame for frame in every if frame not in set(shown)]
    if idle and len(idle) < count and steps:
        stands = {frame: frame for frame in every if frame not in set(idle)}
        many = f"{len(idle)} frames" if len(idle) > 1 else "frame"
        yield _kept(asset, steps, stands, sizes, f"without the {many} that no animation shows", f"the {many}")
    rare = _least_shown(asset, steps, every)
    if rare:
        stands = _neighbours(steps, rare, every)
        many = f"{len(rare)} frames" if len(rare) > 1 else "frame"
        yield _kept(asset, steps, stands, sizes, f"without the {many} shown least", f"{len(rare)} of {count} frames")


class _Sizes:
    """What frames take, as far as that is known without converting others.

    Args:
        equal: for each frame the one that is stored for it.
        sizes: of each frame, in any unit.
    """

    def __init__(self, equal: list[int], sizes: list[int]) -> None:
        self._equal, self._sizes = equal, sizes

    def share(self, kept: list[int]) -> Fraction:
        """Return which part of all goes where only some frames are kept."""
        left = sum(self._sizes[frame] for frame in {self._equal[frame] for frame in kept})
        total = sum(self._sizes[frame] for frame in set(self._equal))
        return 1 - Fraction(left, total) if total else Fraction(0)


def _replaced(
    asset: Asset, steps: dict[str, list[int]], stands_for: list[int], sizes: _Sizes, words: str, lost: str
) -> Iterator[Change]:
    gone = [rank for rank, one in enumerate(stands_for) if one != rank]
    if gone:
        named = ", ".join(Path(asset.files[rank]).stem for rank in gone[:4]) + (" ..." if len(gone) > 4 else "")
        yield _kept(asset, steps, dict(enumerate(stands_for)), sizes, f"{words}: {len(gone)} fewer ({named})", lost)


def _least_shown(asset: Asset, steps: dict[str, list[int]], every: list[int]) -> list[int]:
    """Return the tenth of the frames that are shown for the shortest time, none that an animation begins or ends with."""
    times = dict.fromkeys(every, 0.0)
    for name, frames in steps.items():
        ms = asset.spec.animations[name].ms
        for frame, one in zip(frames, ms if isinstance(ms, list) else [ms] * len(frames), strict=True):
            times[frame] += one
    ends = {frame for frames in steps.values() for frame in (frames[0], frames[-1])}
    inner = sorted((frame for frame in every if times[frame] and frame not in ends), key=lambda frame: (times[frame], frame))
    wanted, chosen = len(every) * _LEAST_SHOWN // 100, []
    for frame in inner:
        # Never two in a row, so that the one before it can be shown longer.
        if len(chosen) < wanted and not {frame - 1, frame + 1} & set(chosen):
            chosen.append(frame)
    return chosen


def _neighbours(steps: dict[str, list[int]], rare: list[int], every: list[int]) -> dict[int, int]:
    """Return for every shown frame the one that replaces it: itself, or the frame before it in an animation."""
    stands = {frame: frame for frame in every if frame not in rare}
    for frames in steps.values():
        for before, frame in zip(frames, frames[1:], strict=False):
            if frame in rare:
                stands.setdefault(frame, stands.get(before, before))
    return stands


def _kept(asset: Asset, steps: dict[str, list[int]], stands: dict[int, int], sizes: _Sizes, words: str, lost: str) -> Change:
    """Return the change that keeps only the frames that replace others or themselves."""
    kept = sorted(set(stands.values()))
    number = {frame: rank for rank, frame in enumerate(kept)}
    animations = {}
    for name, frames in steps.items():
        renumbered = [number[stands[frame]] for frame in frames]
        animations[name] = msgspec.structs.replace(asset.spec.animations[name], frames=renumbered)
    fewer = dataclasses.replace(_with(asset, animations=animations), files=tuple(asset.files[frame] for frame in kept))
    return Change(words, (fewer,), lost, share=sizes.share(kept))
