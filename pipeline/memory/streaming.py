"""What a scene holds in part: sprites of which a few frames are in buffers, backgrounds of which a window is; and what fetching brings."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeVar

from pipeline.joints.facts import Animation, BackgroundFacts, Facts, SpriteFacts, StoredTiles
from pipeline.joints.fetched import Fetch, Frames, Windows, window_size
from pipeline.joints.layouts import TILED, record_bytes
from pipeline.joints.lists import Span, Units
from pipeline.memory.members import Members
from pipeline.memory.scenes import Sets
from pipeline.memory.windows import Grid, bitmap_grid, through
from pipeline.plain.errors import refuse
from pipeline.plain.sizes import round_up
from pipeline.project.file import Scene, SceneWindow, Streamed
from pipeline.target.records import PixelFormat

_T = TypeVar("_T")


@dataclass(frozen=True)
class Load:
    """What one picture fetches: bytes, and transfers, each of one run of bytes."""

    bytes: int
    transfers: int

    def weight(self, start: int) -> int:
        """Return the bytes that could be carried in the same time, where starting a transfer costs ``start`` of them."""
        return self.bytes + start * self.transfers


@dataclass(frozen=True)
class Stream:
    """One asset that a scene holds in part.

    Attributes:
        name: of the asset; ``how``: ``streamed`` or ``window``; ``unit``: frame, animation, or window.
        spans: of its blob, what stays in memory once; ``tables_cells``, ``tables_video``: cells, and bytes of pixels, among it.
        buffers, buffer: how many there are each time it is in memory, and bytes of each.
        cells: of all buffers; ``video``: their bytes of pixels, as they are.
        size: of a window in pixels; ``units``: what it holds; None of a sprite.
        role: whose buffers it uses; empty for its own.
        loads: what a picture may fetch of it: the worst of these is one of its worst pictures.
        pace: bytes that a picture fetches of it on average, rounded up.
        ahead: what comes goes where nothing is shown, so that it need not come in a blank.
    """

    name: str
    how: Literal["streamed", "window"]
    unit: Literal["frame", "animation", "window"]
    spans: tuple[Span, ...]
    tables_cells: int
    tables_video: int
    buffers: int
    buffer: int
    cells: int
    video: int
    size: tuple[int, int] | None
    units: Units | None
    role: str
    loads: tuple[Load, ...]
    pace: int
    ahead: bool

    @property
    def tables(self) -> int:
        """Bytes that stay in memory once, those between spans included."""
        return self.spans[-1].at + self.spans[-1].bytes

    @property
    def set_bytes(self) -> int:
        """Bytes of all buffers that it has each time it is in memory."""
        return self.buffers * self.buffer

    def worst(self, start: int) -> Load:
        """Return what its worst picture fetches; see ``Load.weight``."""
        return max(self.loads, key=lambda one: (one.weight(start), one.bytes))


@dataclass(frozen=True)
class Measured:
    """What is known of a project's streamed assets.

    Attributes:
        frames: of sprites that some scene streams; ``windows``: of tiled backgrounds of which it streams tiles.
        formats: pixel formats of the backgrounds that some scene shows through a window.
        cell: width and height of a cell in pixels.
        steps: asset -> bytes to a multiple of which it is allocated.
        cell_start: bytes at multiples of which each cell of a picture starts that is stored cell after cell.
    """

    frames: Mapping[str, Frames]
    windows: Mapping[str, Windows]
    formats: Mapping[str, PixelFormat]
    cell: tuple[int, int]
    steps: Mapping[str, int]
    cell_start: int = 1


def named_in(table: Mapping[str, _T], bundles: Mapping[str, list[str]], kin: Iterable[str]) -> dict[str, _T]:
    """Return asset -> what a scene's table says of it, for those of ``kin`` that it names alone or in a bundle."""
    known = set(kin)
    return {one: said for name, said in table.items() for one in bundles.get(name, [name]) if one in known}


def scene_streams(name: str, scene: Scene, bundles: Mapping[str, list[str]], facts: Mapping[str, Facts], known: Measured) -> list[Stream]:
    """Return what a scene holds in part, in the order in which it names it.

    Raises:
        ProjectError: frames are shown too shortly, or a window is not smaller than its background.
    """
    sprites = {asset: one for asset, one in facts.items() if isinstance(one, SpriteFacts)}
    backgrounds = {asset: one for asset, one in facts.items() if isinstance(one, BackgroundFacts)}
    found = [
        _sprite(f"[scene.{name}.streamed]", said, sprites[asset], known)
        for asset, said in named_in(scene.streamed, bundles, sprites).items()
    ]
    return found + [
        _background(f"[scene.{name}.window]", said, backgrounds[asset], known)
        for asset, said in named_in(scene.window, bundles, backgrounds).items()
    ]


def _sprite(place: str, said: Streamed, facts: SpriteFacts, known: Measured) -> Stream:
    frames = known.frames[facts.name]
    fetches = frames.animations if said.unit == "animation" else frames.frames
    if said.unit == "frame":
        _check_pace(place, said, facts)
    largest = max((one.bytes for one in fetches), default=0)
    return Stream(
        name=facts.name,
        how="streamed",
        unit=said.unit,
        spans=(Span(start=0, at=0, bytes=frames.tables),),
        tables_cells=0,
        tables_video=0,
        buffers=said.buffers,
        buffer=round_up(largest, known.steps[facts.name]),
        cells=said.buffers * max((one.cells for one in fetches), default=0),
        video=said.buffers * largest,
        size=None,
        units=None,
        role=said.role,
        loads=tuple(dict.fromkeys(load for one in fetches for load in _spread(one, said.within))) or (Load(0, 0),),
        pace=max((_pace(one, frames.frames) for one in facts.animations), default=0) if said.unit == "frame" else 0,
        ahead=said.buffers > 1,
    )


def _check_pace(place: str, said: Streamed, facts: SpriteFacts) -> None:
    shortest = min(((ticks, one.name) for one in facts.animations for _, ticks in one.steps), default=None)
    if shortest and shortest[0] < said.within:
        wrong = f"within = {said.within}: animation {shortest[1]} of {facts.name} shows a frame for {shortest[0]} only"
        raise refuse("project.toml", place, wrong, f"write {shortest[0]} at most, or show frames longer")


def _spread(fetch: Fetch, within: int) -> list[Load]:
    """Return what each picture carries of a fetch that is spread evenly over ``within`` pictures; a run may be cut in two."""
    share = max(-(-fetch.bytes // within), 1)
    loads, room, count = [], share, 0
    for run in fetch.runs:
        left = run
        while left:
            taken = min(left, room)
            left, room, count = left - taken, room - taken, count + 1
            if not room:
                loads.append(Load(share, count))
                room, count = share, 0
    return [*loads, Load(share - room, count)] if count else loads or [Load(0, 0)]


def _pace(animation: Animation, frames: list[Fetch]) -> int:
    """Return the bytes that a picture fetches on average while an animation plays; a frame that stays is not fetched again."""
    shown = [frame for frame, _ in animation.steps]
    before = [shown[-1] if animation.loop else None, *shown[:-1]]
    total = sum(frames[frame].bytes for frame, last in zip(shown, before, strict=True) if frame != last)
    return -(-total // sum(ticks for _, ticks in animation.steps))


def _background(place: str, said: SceneWindow, facts: BackgroundFacts, known: Measured) -> Stream:
    _check_window(place, said, facts)
    (size, speed), grid = asked_window(said, facts), window_grid(facts, known)
    view = through(grid, facts.forms.size, facts.window, said.margin, speed)
    stored, tiles = facts.stored, _Tiles(0, 0, 0, 0)
    if isinstance(stored, StoredTiles) and said.tiles == "streamed":
        asked = known.windows[facts.name].find(size, speed)
        tiles = _Tiles(stored.tile_bytes, stored.tile_count, asked.tiles, asked.moved)
    left = stored.tile_count - tiles.fetched if isinstance(stored, StoredTiles) else 0
    held = view.bytes + tiles.held * tiles.bytes
    return Stream(
        name=facts.name,
        how="window",
        unit="window",
        spans=_stays(facts, grid, known.steps[facts.name], bool(tiles.bytes)),
        tables_cells=left,
        tables_video=left * stored.tile_bytes if isinstance(stored, StoredTiles) else 0,
        buffers=1,
        buffer=round_up(held, known.steps[facts.name]),
        cells=tiles.held,
        video=held,
        size=view.size,
        units=Units(
            columns=view.held[0], rows=view.held[1], width=grid.unit[0], height=grid.unit[1], bytes=grid.bytes, apart=grid.apart,
            tiles=tiles.held,
        ),
        role="",
        loads=(Load(view.moved_bytes + tiles.moved * tiles.bytes, view.moved_runs + tiles.moved),),
        pace=view.pace + tiles.moved * tiles.bytes,
        ahead=said.margin >= max(speed),
    )


def _stays(facts: BackgroundFacts, grid: Grid, step: int, fetched: bool) -> tuple[Span, ...]:
    """Return what stays in memory of a background: all in front of its pixels; of a map's record and tiles, these if they are not fetched.

    Args:
        step: bytes at a multiple of which the first tile is; ``fetched``: tiles are.
    """
    stored, size = facts.stored, facts.unpacked_bytes
    if not isinstance(stored, StoredTiles):
        return (Span(start=0, at=0, bytes=size - grid.whole[0] * grid.whole[1] * grid.bytes),)
    head, tiles = Span(start=0, at=0, bytes=record_bytes(TILED)), stored.tile_count * stored.tile_bytes
    return (head,) if fetched else (head, Span(start=size - tiles, at=round_up(head.bytes, step), bytes=tiles))


class _Tiles(NamedTuple):
    """Tiles that are fetched as a window moves: bytes of one; how many the cartridge, and the window, hold; how many a step brings."""

    bytes: int
    fetched: int
    held: int
    moved: int


def window_grid(facts: BackgroundFacts, known: Measured) -> Grid:
    """Return the units of a background that its windows are counted in."""
    if isinstance(facts.stored, StoredTiles):
        return Grid(facts.tile, facts.forms.entry_bytes, (facts.stored.columns, facts.stored.rows))
    return bitmap_grid(facts.forms.size, known.formats[facts.name], known.cell, known.cell_start)


def asked_window(said: SceneWindow, facts: BackgroundFacts) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the size of a window with its margin, and its speed, in pixels."""
    return window_size(facts.window, facts.forms.size, said.margin), said.speed or facts.forms.pan


def _check_window(place: str, said: SceneWindow, facts: BackgroundFacts) -> None:
    """Refuse a window that holds all of its background."""
    if asked_window(said, facts)[0] == facts.forms.size:
        width, height = facts.forms.size
        held = f"a window of {facts.window[0]} x {facts.window[1]} pixels" + (f" and {said.margin} on each side" if said.margin else "")
        wrong = f"{held} holds all of {facts.name}, which is {width} x {height}"
        raise refuse("project.toml", place, wrong, "leave it out, so that the background is resident, or give a smaller margin")


class Counted:
    """What streams of one scene take, as the search for its worst case asks for it.

    Args:
        members: of the project, for this scene.
        streams: what it holds in part.
    """

    def __init__(self, members: Members, scene: Scene, streams: list[Stream]) -> None:
        self._streams = {one.name: one for one in streams}
        self._always = [self._streams[asset] for asset in sorted(members.always(scene)) if asset in self._streams]
        self._each: dict[str, list[Stream]] = {}
        for group in members.groups(scene):
            for name, assets in group.members.items():
                self._each[name] = [self._streams[asset] for asset in sorted(assets) if asset in self._streams]
        self._most = scene.sets

    def sets(self, amount: Callable[[Stream], int], *, alike: bool = False, among: Callable[[Stream], bool] = lambda one: True) -> Sets:
        """Return what is needed each time a member is chosen.

        Args:
            amount: of a stream.
            alike: members of a role need as much as the largest of them, since any of them uses the same buffers.
            among: which streams are counted; a role has sets in each memory that its members are loaded to.
        """

        def counted(one: Stream) -> int:
            return amount(one) if among(one) else 0

        def pairs(streams: list[Stream]) -> list[tuple[str, int]]:
            return [(one.role, self.size_of(one, counted) if alike else amount(one)) for one in streams if among(one)]

        return Sets({name: pairs(streams) for name, streams in self._each.items()}, pairs(self._always), dict(self._most))

    def size_of(self, one: Stream, amount: Callable[[Stream], int]) -> int:
        """Return an amount of a stream, or the largest of its role."""
        return max(amount(other) for other in self._streams.values() if other.role == one.role) if one.role else amount(one)

    def worst_load(self, chosen: Iterable[str], start: int) -> Load:
        """Return what the worst picture fetches while these members are chosen, some perhaps several times."""
        there = [*self._always, *(one for name in chosen for one in self._each[name])]
        by_role: dict[str, list[Load]] = {}
        for one in there:
            by_role.setdefault(one.role, []).append(one.worst(start))
        kept = [
            load
            for role, loads in by_role.items()
            for load in sorted(loads, key=lambda one: (-one.weight(start), -one.bytes))[: self._most.get(role)]
        ]
        return functools.reduce(lambda one, other: Load(one.bytes + other.bytes, one.transfers + other.transfers), kept, Load(0, 0))
