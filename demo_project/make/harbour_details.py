"""Details for the harbours, three times as large as the pictures they are put onto: a street lamp and a barrel.

One transparent picture of 330 x 570 pixels; the project file takes boxes of it as parts of a background.
"""

from pathlib import Path

import harbour_cranes as iron
import harbour_props as props
import numpy as np
from harbour_layer import SCALE, Layer
from PIL import Image

WIDTH, HEIGHT = 110, 190  # in pixels of a harbour's picture


def paint() -> Layer:
    """Return the details on a transparent layer, the lamp at the left, the barrel right of its foot."""
    layer = Layer()
    iron.lamp_post(layer, 30, 180, 150, "#3a454b", "#f3e3b4", True, "#b9c4c8")
    props.barrel(layer, 85, 184, 33, "#7a6248", "#d8d6cc", "#26282b", "#59636a")
    return layer


def save(layer: Layer, path: Path) -> None:
    """Write the layer's stored pixels, which are finer than a harbour's, as RGBA."""
    rgb, alpha = layer.rgb[: HEIGHT * SCALE, : WIDTH * SCALE], layer.alpha[: HEIGHT * SCALE, : WIDTH * SCALE]
    own = rgb / np.maximum(alpha, 1 / 255)[..., None]
    pixels = np.rint(np.clip(np.dstack([own, alpha]), 0, 1) * 255).astype(np.uint8)
    pixels[pixels[..., 3] == 0] = 0
    Image.fromarray(pixels, "RGBA").save(path, optimize=True)
