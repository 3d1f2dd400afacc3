"""Notes that are drawn: pictures in which pixels of agreed colours mark boxes and points of the frames of the same names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pipeline.assets.sources.keyed import rgb_of
from pipeline.assets.sources.pictures import open_picture
from pipeline.joints.places import Sources
from pipeline.plain.errors import ProjectError, refuse
from pipeline.plain.sizes import counted
from pipeline.project.file import NoteKinds
from pipeline.project.notes import Noted


class Pane(NamedTuple):
    """A picture of a layer that belongs to a frame: number of the frame, name for messages, pixels as uint8, shape (height, width, 4)."""

    frame: int
    shown: str
    pixels: np.ndarray


# Of a frame: place on the canvas, width and height, and place in its file; see ``prepared.Placed``.
Frame = tuple[int, int, int, int, int, int]


def drawn_notes(sources: Sources, frames: Sequence[Frame], names: tuple[str, ...], source: str, kinds: NoteKinds) -> list[Noted]:
    """Return what the pictures of a layer say of each frame.

    Args:
        sources: the pictures.
        frames: as drawn.
        names: of the files that the frames come from.
        source: where the frames come from: the key ``frames``, ``sheet`` or ``animated`` of a sprite.

    Raises:
        ProjectError: a picture cannot be read, belongs to no frame, has another size, shows nothing, or marks a point more than once.
    """
    found = [Noted() for _ in frames]
    for frame, shown, pixels in _panes(sources, frames, names, source):
        _take(found[frame], shown, pixels, kinds)
    if not any(noted.boxes or noted.points for noted in found):
        colours = ", ".join(f"{kind} {colour}" for kind, colour in kinds.colours.items())
        remedy = f"draw in the colours of [note_kinds.colours]: {colours}"
        raise refuse(sources.names[0], "", "shows no box and no point", remedy)
    return found


def _panes(sources: Sources, frames: Sequence[Frame], names: tuple[str, ...], source: str) -> Iterator[Pane]:
    if source == "frames":
        return _by_names(sources, frames, names)
    return _of_sheet(sources, frames) if source == "sheet" else _in_order(sources, frames)


def _by_names(sources: Sources, frames: Sequence[Frame], names: tuple[str, ...]) -> Iterator[Pane]:
    ranks: dict[str, int] = {}
    for rank, name in enumerate(names):
        if Path(name).stem in ranks:
            wrong = "has the same name as another frame"
            raise refuse(name, "", wrong, "give frames names of their own; a layer's pictures are found by them")
        ranks[Path(name).stem] = rank
    seen: dict[int, str] = {}
    for name in sources.names:
        rank = ranks.get(Path(name).stem)
        if rank is None:
            raise refuse(name, "", "belongs to no frame", "give it the name of a frame's file, or remove it")
        if rank in seen:
            raise refuse(name, "", f"belongs to the same frame as {seen[rank]}", "keep one of them")
        seen[rank] = name
        yield Pane(rank, name, _opened(sources.folder, name, frames[rank]))


def _in_order(sources: Sources, frames: Sequence[Frame]) -> Iterator[Pane]:
    if len(sources.names) != len(frames):
        wrong = f"{counted(len(sources.names), 'picture')} for {counted(len(frames), 'frame')}"
        raise refuse(sources.names[0], "", wrong, "give one picture for each frame, in their order")
    for rank, (name, frame) in enumerate(zip(sources.names, frames, strict=True)):
        yield Pane(rank, name, _opened(sources.folder, name, frame))


def _of_sheet(sources: Sources, frames: Sequence[Frame]) -> Iterator[Pane]:
    name, *others = sources.names
    if others:
        wrong = f"{counted(len(sources.names), 'picture')} for one sheet"
        raise refuse(others[0], "", wrong, "draw all marks on one picture of the sheet's size")
    pixels = np.asarray(open_picture(sources.folder, name))
    width, height = max(frame[4] + frame[2] for frame in frames), max(frame[5] + frame[3] for frame in frames)
    if pixels.shape[1] < width or pixels.shape[0] < height:
        wrong = f"{pixels.shape[1]} x {pixels.shape[0]} pixels, frames reach to {width} x {height}"
        raise refuse(name, "", wrong, "give it the size of the sheet")
    for rank, (_, _, wide, high, left, top) in enumerate(frames):
        yield Pane(rank, f"{name} frame {rank}", pixels[top : top + high, left : left + wide])


def _opened(folder: Path, name: str, frame: Frame) -> np.ndarray:
    pixels = np.asarray(open_picture(folder, name))
    if pixels.shape[:2] != (frame[3], frame[2]):
        wrong = f"{pixels.shape[1]} x {pixels.shape[0]} pixels, its frame has {frame[2]} x {frame[3]}"
        raise refuse(name, "", wrong, "give it the size of its frame")
    return pixels


def _take(noted: Noted, shown: str, pixels: np.ndarray, kinds: NoteKinds) -> None:
    opaque = pixels[..., 3] > 0
    for kind, colour in kinds.colours.items():
        places = np.argwhere(opaque & (pixels[..., :3] == rgb_of(colour)).all(axis=-1))
        if not len(places):
            continue
        (top, left), (bottom, right) = places.min(axis=0).tolist(), places.max(axis=0).tolist()
        if kind in kinds.boxes:
            noted.boxes[kind] = [(left, top, right - left + 1, bottom - top + 1)]
        elif len(places) == 1:
            noted.points[kind] = (left, top)
        else:
            raise _many(shown, kind, colour, places)


def _many(shown: str, kind: str, colour: str, places: np.ndarray) -> ProjectError:
    listed = ", ".join(f"({x}, {y})" for y, x in places[:3].tolist())
    wrong = f"has {len(places):,} pixels of {colour}, which marks the point {kind}: {listed}{', ...' if len(places) > 3 else ''}"
    return refuse(shown, "", wrong, "mark a point by one pixel")
