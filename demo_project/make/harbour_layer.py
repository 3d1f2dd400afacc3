"""A transparent paint layer, addressed in picture pixels, stored enlarged."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from harbour_noise import window
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

WIDTH = 640
HEIGHT = 320
SCALE = 3

Point = tuple[float, float]
Pixels = NDArray[np.float32]


def colour(code: str) -> Pixels:
    """Turn "#rrggbb" into three floats, 0 to 1."""
    return np.array([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)], np.float32)


def mix(first: str, second: str, share: float) -> str:
    """Blend two "#rrggbb" codes; share 0 gives the first, 1 the second."""
    blend = colour(first) * (1 - share) + colour(second) * share
    return "#" + "".join(f"{round(float(c) * 255):02x}" for c in np.clip(blend, 0, 1))


@dataclass(frozen=True)
class Paint:
    """A gradient between two colours over a shape's box, roughened by a grain.

    ``amount`` is the depth of the grain as a share of the colour's own value.
    """

    start: str
    end: str | None = None
    grain: str = "mottle"
    amount: float = 0.06
    sideways: bool = False

    def over(self, row: int, column: int, rows: int, columns: int) -> Pixels:
        """Return the paint for a box of stored pixels, shape (rows, columns, 3)."""
        first, last = colour(self.start), colour(self.end or self.start)
        length = columns if self.sideways else rows
        ramp = np.linspace(0, 1, max(length, 2), dtype=np.float32)[:length]
        ramp = ramp[None, :, None] if self.sideways else ramp[:, None, None]
        base = first + (last - first) * ramp
        rough = window(self.grain, row, column, rows, columns)[:, :, None]
        warm = window("warmth", row, column, rows, columns)[:, :, None]
        # Pigment never mixes evenly: let the hue wander a little with the value.
        hue = warm * np.array([1, 0.1, -1], np.float32) * (self.amount * 0.22)
        return np.clip(base * (1 + self.amount * rough) + hue, 0, 1)


Fill = str | Paint


class Layer:
    """Premultiplied colour (960, 1920, 3) and cover (960, 1920), floats 0 to 1."""

    def __init__(self) -> None:
        """Start fully transparent."""
        self.rgb = np.zeros((HEIGHT * SCALE, WIDTH * SCALE, 3), np.float32)
        self.alpha = np.zeros((HEIGHT * SCALE, WIDTH * SCALE), np.float32)

    def stamp(self, mask: Pixels, row: int, column: int, fill: Fill, opacity: float = 1) -> None:
        """Paint through a cover mask (rows, columns) placed at a stored pixel."""
        paint = Paint(fill) if isinstance(fill, str) else fill
        rows, columns = mask.shape
        top, left = max(row, 0), max(column, 0)
        bottom = min(row + rows, self.alpha.shape[0])
        right = min(column + columns, self.alpha.shape[1])
        if bottom <= top or right <= left:
            return
        part = np.s_[top - row : bottom - row, left - column : right - column]
        cover = mask[part] * np.float32(opacity)
        tint = paint.over(row, column, rows, columns)[part]
        here = np.s_[top:bottom, left:right]
        keep = 1 - cover
        self.rgb[here] = self.rgb[here] * keep[:, :, None] + tint * cover[:, :, None]
        self.alpha[here] = self.alpha[here] * keep + cover

    def _draw(
        self,
        points: Sequence[Point],
        pad: float,
        fill: Fill,
        opacity: float,
        blur: float,
        kind: str,
        width: float = 0,
    ) -> None:
        """Rasterise one shape in its own small mask and stamp it."""
        spread = np.array(points, float) * SCALE
        margin = int(pad * SCALE + blur * SCALE * 3) + 2
        low = np.floor(spread.min(axis=0)).astype(int) - margin
        high = np.ceil(spread.max(axis=0)).astype(int) + margin
        image = Image.new("L", tuple(int(n) for n in high - low), 0)
        pen = ImageDraw.Draw(image)
        local = [tuple(p) for p in spread - low]
        if kind == "polygon":
            pen.polygon(local, fill=255)
        elif kind == "ellipse":
            pen.ellipse(local, fill=255)
        else:
            pen.line(local, fill=255, width=max(1, round(width * SCALE)), joint="curve")
        if blur:
            image = image.filter(ImageFilter.GaussianBlur(blur * SCALE))
        mask = np.asarray(image, np.float32) / 255
        self.stamp(mask, int(low[1]), int(low[0]), fill, opacity)

    def polygon(
        self, points: Sequence[Point], fill: Fill, opacity: float = 1, blur: float = 0
    ) -> None:
        """Fill a polygon given in picture pixels."""
        self._draw(points, 0, fill, opacity, blur, "polygon")

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        fill: Fill,
        opacity: float = 1,
        blur: float = 0,
    ) -> None:
        """Fill an upright rectangle, its top left corner at (x, y)."""
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        self._draw(corners, 0, fill, opacity, blur, "polygon")

    def oval(
        self,
        x: float,
        y: float,
        across: float,
        down: float,
        fill: Fill,
        opacity: float = 1,
        blur: float = 0,
    ) -> None:
        """Fill an ellipse about (x, y) with the given half axes."""
        ends = [(x - across, y - down), (x + across, y + down)]
        self._draw(ends, 0, fill, opacity, blur, "ellipse")

    def line(
        self, points: Sequence[Point], width: float, fill: Fill, opacity: float = 1, blur: float = 0
    ) -> None:
        """Draw a stroke through points, width in picture pixels."""
        self._draw(points, width, fill, opacity, blur, "line", width)

    def glow(self, x: float, y: float, radius: float, code: str, strength: float) -> None:
        """Add light that fades out towards the radius; only where paint exists."""
        reach = int(radius * SCALE)
        row, column = int(y * SCALE), int(x * SCALE)
        top, bottom = max(row - reach, 0), min(row + reach, self.alpha.shape[0])
        left, right = max(column - reach, 0), min(column + reach, self.alpha.shape[1])
        if bottom <= top or right <= left:
            return
        ys, xs = np.ogrid[top - row : bottom - row, left - column : right - column]
        fade = np.clip(1 - np.sqrt(ys**2 + xs**2) / reach, 0, 1) ** 2 * strength
        here = np.s_[top:bottom, left:right]
        lamp = (fade * self.alpha[here]).astype(np.float32)[:, :, None] * colour(code)
        # Screen blending cannot burn out to flat white the way plain adding does.
        self.rgb[here] = 1 - (1 - self.rgb[here]) * (1 - np.clip(lamp, 0, 1))

    def tint(self, code: str, share: float) -> None:
        """Pull all paint towards one colour, as haze does with distance."""
        self.rgb += (colour(code) * self.alpha[:, :, None] - self.rgb) * np.float32(share)

    def add(self, other: "Layer", opacity: float = 1) -> None:
        """Lay another layer over this one."""
        keep = 1 - other.alpha * np.float32(opacity)
        self.rgb = self.rgb * keep[:, :, None] + other.rgb * np.float32(opacity)
        self.alpha = self.alpha * keep + other.alpha * np.float32(opacity)
