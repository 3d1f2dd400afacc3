"""The frames of a sprite as drawn: from files, an animation or a sheet, key colours cleared, all on one canvas."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.assets.sources.canvas import Canvas, Drawn, Point, canvas_for, without_marker
from pipeline.assets.sources.keyed import cleared, file_notes, likely_key
from pipeline.assets.sources.pictures import check_drawn, open_animation, open_numbered, open_picture
from pipeline.assets.sources.sheets import check_cuts, corners, drawn_pixels, grid_boxes, grid_remedy
from pipeline.joints.places import Sources
from pipeline.plain.bounds import FRAMES
from pipeline.plain.errors import Problem, ProjectError
from pipeline.project.assets import Sprite
from pipeline.target.calls import Call


class SourceFrames:
    """A sprite's frames in their order; each time it is gone through, files are opened again, one at a time.

    Args:
        sources: the art.
        spec: of which only what says how art is read is looked at.
        most: frames that an animation may have.
        boxes: the file with the boxes of a sheet; see ``boxes``. ``boxed`` reads it, or finds what goes into it.
        cuts: where a picture of refused cuts is put; None: a cut is not looked for.
        numbered: look for the pixels' numbers in the pictures' own palettes, too.

    Attributes:
        canvas: of all frames; None without ``align``.
        problems: of single files; where there are any, some frames are missing.
        notes: what an author should know about the art, though nothing is wrong.

    Raises:
        ProjectError: a sheet cannot be read or cut, or frames cannot be put on a canvas.
    """

    def __init__(
        self,
        sources: Sources,
        spec: Sprite,
        most: int = FRAMES,
        boxes: Path | None = None,
        boxed: Call | None = None,
        cuts: Path | None = None,
        numbered: bool = False,
    ) -> None:
        self._sources, self._spec, self._most = sources, spec, most
        self._numbered = numbered
        self._unread: list[Problem] = []
        self._unmarked: list[Problem] = []
        self.notes: list[str] = []
        self._hinted, self._noted = False, set[str]()
        self._sheet = self._cut(boxes, boxed, cuts) if spec.sheet else None
        self._points: list[Point] = []
        self.canvas: Canvas | None = None
        if spec.align:
            self.canvas, self._points = canvas_for(self._drawn(), spec, spec.alpha, self._unmarked)
            if self.canvas:
                check_drawn(sources.names[0], len(self._points), self.canvas[:2])

    @property
    def problems(self) -> list[Problem]:
        return self._unread + self._unmarked

    @property
    def are_files(self) -> bool:
        """Whether each frame is a whole file, and nothing of it depends on the others."""
        return bool(self._spec.frames) and not (self._spec.align or self._spec.marker or self._numbered)

    @property
    def count(self) -> int:
        """Frames there are; 0 where only opening the file shows it."""
        if self._sheet is not None:
            return len(self._sheet)
        return len(self._points) if self._points or self._spec.animated else len(self._sources.names)

    def __iter__(self) -> Iterator[tuple[Image.Image, str, float]]:
        """Yield picture, name and milliseconds of every frame that can be read."""
        for frame in self.placed():
            yield frame.picture, frame.shown, frame.ms

    def placed(self) -> Iterator[Drawn]:
        """Yield every frame that can be read, on the canvas where there is one."""
        for rank, frame in enumerate(self._drawn()):
            picture, numbers, own = frame.picture, frame.numbers, None
            if self._spec.marker:
                picture = without_marker(picture, self._spec.marker)
            if self.canvas:
                own = (*self.canvas.place(self._points[rank]), *picture.size)
                picture = self.canvas.put(picture, self._points[rank])
                numbers = self.canvas.put(numbers, self._points[rank]) if numbers else None
            yield frame._replace(picture=picture, numbers=numbers, own=own)

    def one(self, number: int) -> Image.Image:
        """Return one frame; without a canvas, of single files only its own is opened.

        Raises:
            ProjectError: it cannot be read. It could be when it was prepared, so it was saved in between.
        """
        frames, rank = self, number
        if self._spec.frames and not self.canvas:
            frames, rank = SourceFrames(Sources(self._sources.folder, self._sources.names[number : number + 1]), self._spec), 0
        found = next(itertools.islice(frames, rank, None), None)
        if found is None:
            gone = Problem(self._sources.names[0], f"frame {number}", "was there when this build began", "build again")
            raise ProjectError(frames.problems or gone)
        return found[0]

    def _drawn(self) -> Iterator[Drawn]:
        folder, files, spec = self._sources.folder, self._sources.names, self._spec
        if self._sheet is not None:
            yield from self._sheet
        elif spec.animated:
            for rank, (picture, milliseconds) in enumerate(open_animation(folder, files[0], self._most)):
                yield Drawn(self._keyed(picture, files[0]), f"{files[0]} frame {rank}", milliseconds)
        else:
            self._unread.clear()  # those of an earlier time are found again
            for name in files:
                frame = self.of_file(name)
                if frame is not None:
                    yield frame

    def of_file(self, name: str) -> Drawn | None:
        """Return the frame that a file is, before it is put on a canvas; None, with its problems noted, where it cannot be read."""
        try:
            picture, numbers = self._open(self._sources.folder, name)
        except ProjectError as error:
            self._unread.extend(error.problems)
            return None
        return Drawn(self._keyed(picture, name), name, numbers=numbers)

    def _open(self, folder: Path, name: str) -> tuple[Image.Image, Image.Image | None]:
        return open_numbered(folder, name) if self._numbered else (open_picture(folder, name), None)

    def _keyed(self, picture: Image.Image, name: str) -> Image.Image:
        """Return a picture with its key colours cleared; notes once a colour that seems to be one, and what is to be known of files."""
        for about, note in file_notes(picture, name).items():
            if about not in self._noted:
                self._noted.add(about)
                self.notes.append(note)
        if not self._spec.key and not self._hinted:
            ground = likely_key(np.asarray(picture), bool(picture.info.get("lossy")))
            if ground:
                self._hinted = True
                seen = f"{name} has no transparency and {ground.colour} around it"
                self.notes.append(f"{seen}: if that means transparent, write {ground.keys}")
        return cleared(picture, self._spec)

    def _cut(self, boxes: Path | None, boxed: Call | None, cuts: Path | None) -> list[Drawn]:
        name = self._sources.names[0]
        whole, numbers = self._open(self._sources.folder, name)
        picture = self._keyed(whole, name)
        frames = self._boxed(picture, name, boxes, boxed, cuts)
        if numbers is None:
            return frames
        # What of a box belongs to another figure is clear, so its numbers do not count.
        return [one._replace(numbers=numbers.crop(corners((*one.place, *one.picture.size)))) for one in frames]

    def _boxed(self, picture: Image.Image, name: str, boxes: Path | None, boxed: Call | None, cuts: Path | None) -> list[Drawn]:
        spec = self._spec
        assert spec.sheet is not None
        if boxes is not None and boxed is not None:
            frames, notes = boxed(picture, name, spec, boxes, self._sources.folder, cuts)
            self.notes += notes
            return frames
        places = grid_boxes(picture, name, spec.sheet, spec.alpha)
        if cuts is not None:
            drawn, sheet = drawn_pixels(picture, spec.alpha), spec.sheet
            check_cuts(picture, name, places, drawn, sheet.cut == "anyway", cuts, lambda: grid_remedy(drawn, sheet))
        return [Drawn(picture.crop(corners(box)), f"{name} frame {rank}", place=box[:2]) for rank, box in enumerate(places)]


def odd_sizes(sizes: list[tuple[str, tuple[int, int]]]) -> list[Problem]:
    """Return a problem for each frame that has another size than most; of sizes as frequent, the first is right.

    Args:
        sizes: name, and width and height, of each frame.
    """
    counted = Counter(size for _, size in sizes)
    if len(counted) < 2:
        return []
    (width, height), often = counted.most_common(1)[0]
    others = "the first frame has" if often == 1 or len(sizes) == 2 else f"{often} of {len(sizes)} frames have"
    remedy = 'give all frames one canvas size, so that they stay in place, or put them on one by align = "bottom"'
    return [
        Problem(shown, "", f"{size[0]} x {size[1]} pixels, {others} {width} x {height}", remedy)
        for shown, size in sizes
        if size != (width, height)
    ]
