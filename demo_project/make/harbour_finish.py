"""Final passes: brush smoothing, wandering edges, vignette, reduction, saving."""

from pathlib import Path

import numpy as np
from harbour_layer import HEIGHT, SCALE, WIDTH, Layer, Pixels
from harbour_noise import field, window
from numpy.typing import NDArray
from PIL import Image


def _box_mean(plane: NDArray, size: int) -> NDArray:
    """Mean over size x size windows of a (rows, columns[, 3]) array, cropped."""
    total = np.cumsum(np.cumsum(plane, axis=0, dtype=np.float64), axis=1)
    total = np.pad(total, [(1, 0), (1, 0)] + [(0, 0)] * (plane.ndim - 2))
    part = total[size:, size:] - total[:-size, size:] - total[size:, :-size]
    return ((part + total[:-size, :-size]) / size**2).astype(np.float32)


def brushed(rgb: Pixels, radius: int) -> Pixels:
    """Replace each pixel by its calmest neighbouring quarter, like a loaded brush."""
    size = radius + 1
    padded = np.pad(rgb, [(radius, radius), (radius, radius), (0, 0)], mode="edge")
    value = padded.mean(axis=2)
    mean = _box_mean(padded, size)
    spread = _box_mean(value**2, size) - _box_mean(value, size) ** 2
    rows, columns = rgb.shape[:2]
    best, calm = None, None
    for dy in (0, radius):
        for dx in (0, radius):
            here = np.s_[dy : dy + rows, dx : dx + columns]
            if best is None:
                best, calm = mean[here].copy(), spread[here].copy()
                continue
            better = spread[here] < calm
            best[better] = mean[here][better]
            calm = np.minimum(calm, spread[here])
    return best


def wander(rgb: Pixels, reach: float) -> Pixels:
    """Shift pixels by up to ``reach`` stored pixels so that edges look hand drawn."""
    rows, columns = rgb.shape[:2]
    ys, xs = np.mgrid[0:rows, 0:columns]
    down = np.roll(field("mottle"), 200, axis=1) * reach * 0.5
    across = field("mottle") * reach * 0.5
    ys = np.clip(np.rint(ys + down).astype(int), 0, rows - 1)
    xs = np.clip(np.rint(xs + across).astype(int), 0, columns - 1)
    return rgb[ys, xs]


def paint_over(layer: Layer, radius: int = 3, reach: float = 1.4, top: float = 0) -> None:
    """Give what is painted so far below y = top, in pixels, a brushed look."""
    start = round(top * SCALE)
    layer.rgb[start:] = brushed(wander(layer.rgb, reach)[start:], radius)


def _reduced(rgb: Pixels) -> Pixels:
    """Average the stored pixels down to picture pixels, shape (320, 640, 3)."""
    blocks = rgb.reshape(HEIGHT, SCALE, WIDTH, SCALE, 3)
    return blocks.mean(axis=(1, 3))


def _vignette() -> Pixels:
    """Return the darkening towards the upper corners, shape (320, 640, 1)."""
    ys, xs = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    far = ((xs / WIDTH - 0.5) * 1.7) ** 2 + ((ys / HEIGHT - 0.6) * 1.1) ** 2
    return (1 - 0.16 * np.clip(far - 0.25, 0, 1))[:, :, None]


def save(layer: Layer, path: Path, grain: float = 1.1) -> None:
    """Write an opaque layer as a 640 x 320 RGB picture; grain in steps of 255."""
    picture = np.clip(_reduced(layer.rgb) * _vignette(), 0, 1) * 255
    # A grey grain hides gradient bands yet packs better than coloured noise.
    picture += (window("grit", 0, 0, HEIGHT, WIDTH) * grain)[:, :, None]
    pixels = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
    Image.fromarray(pixels, "RGB").save(path, optimize=True)
