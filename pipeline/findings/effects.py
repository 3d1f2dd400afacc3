"""An effect of the whole screen measured: its steps or its palette cycle, played over what it is over, from the image's own bytes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from pipeline.findings.cast import Drawn
from pipeline.findings.measured import kept
from pipeline.joints.found.flashes import write_flashes
from pipeline.joints.map import read_map
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import counted
from pipeline.project.file import Effect, EffectStep
from pipeline.proofs.subject import coloured, take
from pipeline.reading.decoded import Decoded
from pipeline.safety.clips import Steps, measure_shown, played, shown_at
from pipeline.target.calls import Call
from pipeline.target.records import Target

_KEPT = 1 << 26  # bytes of pictures: 290 screens of 320 x 240


class Play:
    """An effect as pictures of the whole screen.

    Args:
        name: of the effect; effect: its record; drawn: the assets that it shows.
        decoders: see ``proofs.subject.take``.

    Attributes:
        steps: what is shown, as ranks of pictures, and for how many ticks; loop: whether it goes on for ever.

    Raises:
        ProjectError: a cycle has more entries than the palette; ``picture``: a sprite lacks a frame.
    """

    def __init__(
        self, image: Path, map_file: Path, name: str, effect: Effect, drawn: Drawn, decoders: dict[str, Call], target: Target
    ) -> None:
        self._image, self._entries, self._decoders, self._target = image, read_map(map_file).by_name(), decoders, target
        self._name, self._effect, self._drawn = name, effect, drawn
        self._colours = self._take(drawn.palette) if drawn.palette else None
        self._over = self._take(drawn.over) if drawn.over else None
        self._made: dict[int | None, np.ndarray] = {}
        self._last_frames: tuple[str, tuple[np.ndarray, np.ndarray]] | None = None
        self.loop = effect.loop or effect.cycle is not None
        if effect.cycle is None:
            self.steps: Steps = [(rank, step.hold) for rank, step in enumerate(effect.steps)] * effect.times
        else:
            self.steps = [(rank, effect.cycle.every) for rank in range(self._cycled())]

    def picture(self, rank: int | None) -> np.ndarray:
        """Return a picture by its rank, what the effect is over for None: uint8 sRGB, shape (height, width, 3); not to be written to."""
        if rank not in self._made:
            picture = self._make(rank)
            if (len(self._made) + 1) * picture.size > _KEPT:
                return picture
            self._made[rank] = picture
        return self._made[rank]

    def _make(self, rank: int | None) -> np.ndarray:
        if rank is None:
            return self._ground(self._colours)
        if self._effect.cycle is not None:
            return self._ground(self._turned(rank))
        return self._shown(rank, self._effect.steps[rank], self.picture(None))

    def _take(self, name: str) -> Decoded:
        return take(self._image, name, self._entries, self._target, self._decoders)

    def _frames(self, name: str, palette: str | None) -> tuple[np.ndarray, np.ndarray]:
        """Return an asset's frames and where they are clear; those of the last one are kept."""
        if self._last_frames is None or self._last_frames[0] != name:
            self._last_frames = name, coloured(self._take(name), self._take(palette) if palette else None)
        return self._last_frames[1]

    def _cycled(self) -> int:
        """Return how many entries take turns."""
        assert self._effect.cycle is not None
        assert self._colours is not None
        cycle, count = self._effect.cycle, len(self._colours.colours)
        if cycle.last >= count:
            wrong = f"{self._drawn.palette} has {counted(count, 'entry', 'entries')}, the last is {count - 1}"
            raise refuse("project.toml", f"[effect.{self._name}] cycle", wrong, "name entries that the palette has")
        return cycle.last - cycle.first + 1

    def _turned(self, rounds: int) -> Decoded:
        """Return the palette with what an entry shows moved to the next one, some times."""
        assert self._effect.cycle is not None
        assert self._colours is not None
        cycle, colours = self._effect.cycle, self._colours.colours.copy()
        inside = slice(cycle.first, cycle.last + 1)
        colours[inside] = np.roll(colours[inside], rounds, axis=0)
        return replace(self._colours, colours=colours)

    def _ground(self, colours: Decoded | None) -> np.ndarray:
        """Return what the effect is over, in some colours; beside a background that is smaller than the screen it is black."""
        shape = (self._target.screen.height, self._target.screen.width, 3)
        if self._over is None:
            return np.full(shape, tuple(bytes.fromhex(self._effect.over[1:])), np.uint8)
        left, top = self._effect.view
        pixels = coloured(self._over, colours)[0][0][top : top + shape[0], left : left + shape[1]]
        picture = np.zeros(shape, np.uint8)
        picture[: pixels.shape[0], : pixels.shape[1]] = pixels
        return picture

    def _shown(self, rank: int, step: EffectStep, ground: np.ndarray) -> np.ndarray:
        if step.fill is not None:
            fill = np.frombuffer(bytes.fromhex(step.fill[1:]), np.uint8).astype(np.float64)
            return np.rint(ground * (1 - step.share) + fill * step.share).astype(np.uint8)
        if step.palette is not None:
            assert self._colours is not None
            # Numbers count from the place of the palette that the art was made for.
            return self._ground(replace(self._take(step.palette), head=self._colours.head))
        if rank in self._drawn.frames:
            return self._framed(*self._drawn.frames[rank], step.at, ground)
        return ground

    def _framed(self, name: str, frame: int, palette: str | None, at: tuple[int, int] | None, ground: np.ndarray) -> np.ndarray:
        rgb, clear = self._frames(name, palette)
        if frame >= len(clear):
            wrong = f"{name} has {counted(len(clear), 'frame')}, the last is {len(clear) - 1}"
            raise refuse("project.toml", f"[effect.{self._name}] steps", wrong, "name a frame that it has")
        (rows, columns), picture = clear.shape[1:], ground.copy()
        left, top = at or ((picture.shape[1] - columns) // 2, (picture.shape[0] - rows) // 2)
        inside = picture[max(top, 0) : max(top + rows, 0), max(left, 0) : max(left + columns, 0)]
        seen = (slice(max(-top, 0), max(-top, 0) + inside.shape[0]), slice(max(-left, 0), max(-left, 0) + inside.shape[1]))
        opaque = ~clear[frame][seen]
        inside[opaque] = rgb[frame][seen][opaque]
        return picture

    def picture_at(self, tick: int) -> np.ndarray:
        """Return what the screen shows in a tick."""
        return self.picture(shown_at(played(self.steps, self.loop, self._target.screen.refresh), tick))


def measure_effect(
    image: Path, map_file: Path, out: Path, name: str, effect: Effect, drawn: Drawn, decoders: dict[str, Call], target: Target
) -> str:
    """Write how an effect flashes, see ``joints.found.flashes``; return one line about it.

    Args:
        drawn, decoders: see ``Play``.

    Raises:
        ProjectError: see ``Play``.
    """
    play, screen = Play(image, map_file, name, effect, drawn, decoders, target), (target.screen.width, target.screen.height)
    findings, times = measure_shown(play.picture, play.steps, play.loop, screen, target.screen.refresh)
    measured = kept("", effect.over, findings, times, screen)
    write_flashes(out, "effect", name, target.screen.refresh, [measured])
    return "passes" if measured.verdict == "pass" else f"{measured.verdict}: see doit flashes"
