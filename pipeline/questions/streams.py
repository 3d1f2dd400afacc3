"""What a scene could hold in part, as lines of the project file: sprites streamed, backgrounds through a window."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import msgspec

from pipeline.joints.facts import BackgroundFacts, Facts, SpriteFacts
from pipeline.project.file import Scene, SceneWindow, Streamed
from pipeline.project.model import Asset, LoadedProject

_BUFFERS = 2  # one is shown while the other is filled
MOST_WITHIN = 8  # pictures over which a fetch is tried to be spread


@dataclass(frozen=True)
class Offer:
    """Assets of a scene that could be held in part.

    Attributes:
        scene: its name; ``names``: of the assets, in project order.
        streamed: whether they are sprites to stream; else they are backgrounds to show through a window.
        margin: of a window, in pixels.
    """

    scene: str
    names: tuple[str, ...]
    streamed: bool
    margin: int = 0

    def words(self, listed: str) -> str:
        """Return what to do, with the names as they are to be listed."""
        if self.streamed:
            return f"stream {listed} with {_BUFFERS} buffers of a frame each"
        return f"show {listed} through a window with a margin of {self.margin}"

    def table(self) -> str:
        """Return the table of the project file."""
        return f"[scene.{self.scene}.{'streamed' if self.streamed else 'window'}]"

    def lines(self, within: int, scene: Scene) -> tuple[str, ...]:
        """Return what to write into the project file, where this is the scene as it is."""
        there = scene.streamed if self.streamed else scene.window
        keys = f"buffers = {_BUFFERS}" if self.streamed else f"margin = {self.margin}"
        keys += f", within = {within}" if within > 1 else ""
        # A table that is there already is not written a second time: TOML refuses that.
        return (f"# add to {self.table()}" if there else self.table(), *(f"{name} = {{ {keys} }}" for name in self.names))

    def changed(self, scene: Scene, within: int) -> Scene:
        """Return the scene with these lines."""
        if self.streamed:
            said: dict[str, Any] = {name: Streamed(buffers=_BUFFERS, within=within) for name in self.names}
            return msgspec.structs.replace(scene, streamed=scene.streamed | said)
        said = {name: SceneWindow(margin=self.margin) for name in self.names}
        return msgspec.structs.replace(scene, window=scene.window | said)

    def fewer(self, loaded: Iterable[str], facts: Mapping[str, Facts]) -> int:
        """Return how many frames these sprites have in memory no longer where all of ``loaded`` is there."""
        sprites = [one for name in set(loaded) & {*self.names} if isinstance(one := facts[name], SpriteFacts)]
        return sum(max(one.frames - _BUFFERS, 0) for one in sprites)


def offers(project: LoadedProject, name: str, facts: Mapping[str, Facts]) -> Iterator[Offer]:
    """Yield what a scene could hold in part: of each of its choices, and of what is always there, all sprites, and all backgrounds.

    Args:
        facts: of the project's assets that the scene may load.
    """
    scene = project.spec.scene[name]
    margin = project.target.cells.width
    spec = project.spec
    held = set(spec.parts([*scene.direct, *scene.packed, *scene.streamed, *scene.window]))
    seen: set[str] = set()
    for members in [*(choice.of for choice in scene.choose), scene.always]:
        parts = {part for part in spec.parts(members) if part in facts and part not in held | seen}
        seen |= parts
        found = [asset for asset in project.assets.values() if asset.name in parts and _whole(project, asset)]
        sprites = tuple(one.name for one in found if _streams(facts[one.name]))
        backgrounds = tuple(one.name for one in found if _scrolls(facts[one.name], margin))
        if sprites:
            yield Offer(name, sprites, streamed=True)
        if backgrounds:
            yield Offer(name, backgrounds, streamed=False, margin=margin)


def _whole(project: LoadedProject, asset: Asset) -> bool:
    """Return whether an asset, and the pool of a sprite, is in the image as it is."""
    pool = project.assets.get(getattr(asset.spec, "pool", "") or "")
    return all(getattr(one.spec, "packing", "") == "stored" for one in (asset, pool) if one is not None)


def _streams(facts: Facts) -> bool:
    return isinstance(facts, SpriteFacts) and facts.frames > _BUFFERS


def _scrolls(facts: Facts, margin: int) -> bool:
    if not isinstance(facts, BackgroundFacts):
        return False
    return any(seen + 2 * margin < whole for seen, whole in zip(facts.window, facts.forms.size, strict=True))
