"""Banded painting at four times the final size, then a clean reduction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from PIL import Image, ImageDraw

from courier_kit.ramps import BASE, DEEP, LIGHT, LINE, OUTLINE, SHADE, Ramp

WIDTH, HEIGHT = 120, 160
ANCHOR_X, ANCHOR_Y = 60, 152
ANCHOR = np.array([ANCHOR_X, ANCHOR_Y], dtype=float)
SCALE = 4
OUTLINE_PX = 1.25
# Unit vector away from the light, which stands at the upper left.
AWAY = (0.58, 0.81)

Mask = np.ndarray


def _shift(mask: Mask, dx: float, dy: float) -> Mask:
    """Return mask moved by (dx, dy) final pixels, empty where nothing moves in."""
    x, y = round(dx * SCALE), round(dy * SCALE)
    h, w = mask.shape
    out = np.zeros_like(mask)
    out[max(y, 0) : h + min(y, 0), max(x, 0) : w + min(x, 0)] = mask[max(-y, 0) : h + min(-y, 0), max(-x, 0) : w + min(-x, 0)]
    return out


def _grow(mask: Mask, radius: float) -> Mask:
    """Return mask grown by a disc of the given radius in final pixels."""
    out = mask.copy()
    for a in np.linspace(0, 2 * np.pi, 24, endpoint=False):
        out |= _shift(mask, radius * np.cos(a), radius * np.sin(a))
    return out


class Canvas:
    """One frame in the making: a ramp number and a band for each subpixel."""

    def __init__(self) -> None:
        """Start with an empty frame."""
        self.ids = np.zeros((HEIGHT * SCALE, WIDTH * SCALE), dtype=np.uint8)
        self.bands = np.zeros_like(self.ids)
        self.ramps: list[Ramp] = [((0, 0, 0),) * 5]

    def _number(self, ramp: Ramp) -> int:
        """Return the table index of a ramp, adding it when new."""
        if ramp not in self.ramps:
            self.ramps.append(ramp)
        return self.ramps.index(ramp)

    def mask(self, polys: Iterable[np.ndarray], grow: float = 0.0) -> Mask:
        """Rasterise outlines (N, 2) in anchor pixels into a boolean subpixel mask."""
        image = Image.new("1", (WIDTH * SCALE, HEIGHT * SCALE))
        draw = ImageDraw.Draw(image)
        for poly in polys:
            xy = [tuple(p) for p in (np.asarray(poly) + ANCHOR) * SCALE]
            draw.polygon(xy, fill=1)
            if grow:
                draw.line(xy + xy[:2], fill=1, width=round(2 * grow * SCALE), joint="curve")
        return np.array(image)

    def fill(
        self,
        polys: Sequence[np.ndarray],
        ramp: Ramp,
        *,
        depth: float = 5.0,
        dim: int = 0,
        line: float = 0.75,
        cast: float = 0.0,
        light: float = 0.4,
        soft: np.ndarray | None = None,
    ) -> Mask:
        """Paint one part and return its mask.

        depth: width of the shaded side in pixels; dim: bands taken off for the
        far side; line: width of the dark edge; cast: length of the shadow that
        falls on parts painted before; light: lit width as a share of depth;
        soft: outline (N, 2) of a joint that gets no dark edge on painted parts.
        """
        mask = self.mask(polys)
        if cast:
            self.darken(_shift(mask, cast * AWAY[0], cast * AWAY[1]) & ~mask)
        number = self._number(ramp)
        if line:
            edge = self.mask(polys, line)
            if soft is not None:
                edge &= ~(self.mask([soft]) & (self.ids > 0))
            self.ids[edge], self.bands[edge] = number, LINE
        self.ids[mask] = number
        self.bands[mask] = np.maximum(self._bands(mask, depth, light)[mask] - dim, DEEP)
        return mask

    def _bands(self, mask: Mask, depth: float, light: float) -> np.ndarray:
        """Return the band of each subpixel for a rounded part."""
        x, y = depth * AWAY[0], depth * AWAY[1]
        bands = np.full(mask.shape, BASE, dtype=np.uint8)
        if light:
            bands[~_shift(mask, x * light, y * light)] = LIGHT
        bands[~_shift(mask, -x, -y)] = SHADE
        bands[~_shift(mask, -x * 0.38, -y * 0.38)] = DEEP
        return bands

    def darken(self, region: Mask, steps: int = 1) -> None:
        """Lower the band of painted subpixels; lines stay as they are."""
        hit = region & (self.bands > DEEP)
        self.bands[hit] = np.maximum(self.bands[hit] - steps, DEEP)

    def shade(self, clip: Mask, polys: Sequence[np.ndarray], steps: int = 1) -> None:
        """Darken outlines inside a part, for folds and creases."""
        self.darken(self.mask(polys) & clip, steps)

    def detail(
        self,
        clip: Mask,
        polys: Sequence[np.ndarray],
        ramp: Ramp,
        *,
        line: float = 0.0,
        band: int | None = None,
    ) -> Mask:
        """Recolour outlines inside a part, keeping its shading unless band is set."""
        number = self._number(ramp)
        region = self.mask(polys) & clip
        if line:
            edge = self.mask(polys, line) & clip & ~region
            self.ids[edge], self.bands[edge] = number, LINE
        self.ids[region] = number
        self.bands[region] = np.maximum(self.bands[region], DEEP)
        if band is not None:
            self.bands[region] = band
        return region

    def stroke(self, clip: Mask | None, path: np.ndarray, width: float, ramp: Ramp, band: int = LINE) -> None:
        """Draw an open path (N, 2) of a width in pixels, inside a part if given."""
        image = Image.new("1", (WIDTH * SCALE, HEIGHT * SCALE))
        draw = ImageDraw.Draw(image)
        xy = [tuple(p) for p in (np.asarray(path) + ANCHOR) * SCALE]
        draw.line(xy, fill=1, width=max(1, round(width * SCALE)), joint="curve")
        hit = np.array(image)
        if clip is not None:
            hit &= clip
        self.ids[hit], self.bands[hit] = self._number(ramp), band

    def finish(self) -> np.ndarray:
        """Add the outer outline and reduce; returns uint8 (160, 120, 4)."""
        solid = self.ids > 0
        rgb = np.array(self.ramps, dtype=float)[self.ids, self.bands]
        ring = _grow(solid, OUTLINE_PX)
        rgb[ring & ~solid] = OUTLINE
        rgb[~ring] = 0.0
        cells = (HEIGHT, SCALE, WIDTH, SCALE)
        alpha = ring.astype(float).reshape(cells).mean(axis=(1, 3))
        colour = rgb.reshape(*cells, 3).mean(axis=(1, 3)) / np.maximum(alpha, 1e-6)[..., None]
        # Coarse steps are invisible here and make the files a third smaller.
        steps = np.rint(alpha * 15.0) * 17.0
        colour = np.clip(np.rint(colour / 8.0) * 8.0, 0, 255) * (steps > 0)[..., None]
        return np.concatenate([colour, steps[..., None]], axis=-1).astype(np.uint8)
