"""What is known of the files looked at, and what is guessed from them; plain values."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from pipeline.bringing.measuring.shapes import Box, Grid, Look

FileKind = Literal["", "picture", "animation", "sound", "font", "palette"]
Kind = Literal["sprite", "background", "sound", "font", "palette"]
Source = Literal["frames", "animated", "sheet"]


@dataclass(frozen=True)
class Looked:
    """A file of the folder.

    Attributes:
        name: from the folder, with slashes.
        kind: what it can become; empty for a file of no known kind.
        digest: SHA-256 of its content, in hexadecimal.
        size: bytes.
        wrong: why it cannot be used; empty if it can.
        look: of a picture; of an animation, its first frame.
        frames: of an animation.
        seconds, rate: of a sound.
        letters: of a font: characters of printable ASCII that it has.
        entries: of a text palette: its colours.
    """

    name: str
    kind: FileKind
    digest: str = ""
    size: int = 0
    wrong: str = ""
    look: Look | None = None
    frames: int = 0
    seconds: float = 0.0
    rate: int = 0
    letters: str = ""
    entries: int = 0


class Frame(NamedTuple):
    """One frame of a sprite.

    Attributes:
        file: the picture it is in, from the folder.
        cell: the part of the picture that it is, or would be on a canvas of its own.
        drawn: what is drawn of it, in the picture's pixels; without size if nothing is.
    """

    file: str
    cell: Box
    drawn: Box


class Anim(NamedTuple):
    """Frames of a sprite shown one after another: their numbers."""

    name: str
    frames: tuple[int, ...]


@dataclass(frozen=True)
class Found:
    """An asset that files of the folder make.

    Attributes:
        kind, name: of the asset; ``name`` is an identifier, unique among those found.
        files: from the folder, in the order used.
        reason: why it is taken for this.
        other: the second-best guess.
        source: of a sprite: how its frames are given.
        frames: of a sprite, in order.
        canvas: of a sprite, width and height of every frame.
        anchor: of a sprite, in pixels of its canvas.
        animations: of a sprite.
        grid: of a sheet; None where the figures of its picture are found when it is built.
        align: frames of several sizes are put on one canvas by the middle of their lower edge.
        keys: colours that mean nothing. tolerance: how far a pixel may be from one.
        lossy: a file of it keeps colours only approximately. turned: one asks viewers to turn it.
        colours: distinct colours of what is drawn, of the file that has most.
        seconds, rate: of a sound. letters: of a font.
        group: of a sprite, the folder whose sprites share a palette.
    """

    kind: Kind
    name: str
    files: tuple[str, ...]
    reason: str
    other: str
    source: Source = "frames"
    frames: tuple[Frame, ...] = ()
    canvas: tuple[int, int] = (0, 0)
    anchor: tuple[int, int] = (0, 0)
    animations: tuple[Anim, ...] = ()
    grid: Grid | None = None
    align: bool = False
    keys: tuple[str, ...] = ()
    tolerance: int = 0
    lossy: bool = False
    turned: bool = False
    colours: int = 0
    seconds: float = 0.0
    rate: int = 0
    letters: str = ""
    group: str = ""

    @property
    def key(self) -> tuple[str, ...] | None:
        """Its key colours, as a record of the project file has them."""
        return self.keys or None


class Left(NamedTuple):
    """A file that is not used, and why."""

    file: str
    why: str


@dataclass(frozen=True)
class Description:
    """All that was found in a folder.

    Attributes:
        found: assets, by kind and then by name.
        left: files that cannot be used.
        looked: all files, by name.
    """

    found: tuple[Found, ...]
    left: tuple[Left, ...]
    looked: dict[str, Looked] = field(default_factory=dict)
