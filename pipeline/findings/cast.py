"""What is shown together, as a plan of steps knows it: the assets of an effect, the sprites of a scene."""

from __future__ import annotations

from dataclasses import dataclass

Sprites = tuple[str, ...]


@dataclass(frozen=True)
class Drawn:
    """The assets that an effect shows.

    Attributes:
        over: name of the background; empty for a colour.
        palette: of the background; None for direct colour.
        frames: of each step that shows one, by its rank: the asset, the number of the frame, the asset's palette.
    """

    over: str
    palette: str | None
    frames: dict[int, tuple[str, int, str | None]]


@dataclass(frozen=True)
class Cast:
    """The sprites that a scene may show.

    Attributes:
        always: of what it always loads.
        choices: of each choice how many members are there at once, whether one may be there more than once, and each member's sprites.
    """

    always: Sprites
    choices: tuple[tuple[int, bool, tuple[Sprites, ...]], ...]
