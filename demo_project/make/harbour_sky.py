"""Skies: gradients, clouds, sun, stars and northern lights."""

from collections.abc import Sequence

import numpy as np
from harbour_layer import HEIGHT, SCALE, WIDTH, Layer, Paint, Pixels, colour
from harbour_noise import field, sample


def _grid() -> tuple[Pixels, Pixels]:
    """Return picture coordinates (ys, xs) of every stored pixel."""
    ys, xs = np.mgrid[0 : HEIGHT * SCALE, 0 : WIDTH * SCALE].astype(np.float32)
    return ys / SCALE, xs / SCALE


def backdrop(canvas: Layer, stops: Sequence[tuple[float, str]]) -> None:
    """Fill the canvas with a vertical gradient; stops are (y in pixels, colour)."""
    rows = np.arange(HEIGHT * SCALE) / SCALE
    heights = [y for y, _ in stops]
    tones = np.array([colour(code) for _, code in stops])
    ramp = np.stack([np.interp(rows, heights, tones[:, i]) for i in range(3)], axis=1)
    rough = field("streak")[:, :, None] * 0.012 + field("cloud")[:, :, None] * 0.012
    canvas.rgb = np.clip(ramp[:, None, :] * (1 + rough), 0, 1).astype(np.float32)
    canvas.alpha[:] = 1


def clouds(
    canvas: Layer,
    light: str,
    shade: str,
    *,
    low: float,
    high: float,
    cover: float,
    stretch: float = 1.0,
    opacity: float = 0.8,
    shift: int = 0,
    edge: float = 0.9,
) -> None:
    """Paint clouds between two heights; cover about -1 (few) to 1 (overcast)."""
    ys, xs = _grid()
    # The logarithm flattens clouds towards their lower limit, far away.
    reach = np.maximum(low - ys, 0) + 55
    up = -np.log(reach) * 105 * SCALE + shift * 131
    along = xs * SCALE / stretch * 0.8 + shift * 217
    body = sample("cloud", up, along) + 0.25 * sample("mottle", up * 1.7, along * 1.7)
    above = sample("cloud", up - 26, along - 12)
    band = np.clip((ys - high) / 30 + 0.3, 0, 1) * np.clip((low - ys) / 35, 0, 1)
    thick = np.clip((body + cover) / edge, 0, 1) * band * opacity
    lit = np.clip(0.5 + (body - above) * 0.55, 0, 1)[:, :, None]
    tone = colour(shade) + (colour(light) - colour(shade)) * lit
    canvas.rgb += (tone - canvas.rgb) * thick[:, :, None]


def sun(
    canvas: Layer,
    x: float,
    y: float,
    radius: float,
    core: str,
    halo: str,
    reach: float,
    strength: float,
) -> None:
    """Paint a disc with two rings of glow; sizes in pixels."""
    canvas.glow(x, y, reach, halo, strength)
    canvas.glow(x, y, reach * 0.4, halo, strength * 0.8)
    canvas.oval(x, y, radius, radius, Paint(core, grain="soft", amount=0.01), 0.95, blur=0.8)


def stars(canvas: Layer, count: int, low: float, seed: int) -> None:
    """Scatter stars above a height, many faint and a few bright ones."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        x, y = rng.uniform(0, WIDTH), low * rng.uniform(0, 1) ** 1.3
        power = rng.uniform(0, 1) ** 3
        tint = ["#ffffff", "#cfe2ff", "#fff0d0"][rng.integers(3)]
        size = 0.35 + 0.55 * power
        canvas.oval(x, y, size, size, tint, (0.35 + 0.65 * power) * (1 - 0.6 * y / low))
        if power > 0.9:
            canvas.glow(x, y, 5, tint, 0.4)


def aurora(
    canvas: Layer, base: float, height: float, low: str, high: str, strength: float, phase: float
) -> None:
    """Hang one curtain of light whose foot winds about y = base."""
    ys, xs = _grid()
    bend = np.sin(xs / 97 + phase) * 17 + np.sin(xs / 41 + phase * 2.3) * 7
    foot = base + bend - xs * 0.03
    rays = 0.66 + 0.22 * sample("mottle", np.full_like(xs, 40 * phase), xs * 1.1 + bend * 2)
    rays += 0.16 * sample("soft", np.full_like(xs, 90 * phase), xs * 1.3)
    rays += 0.10 * np.sin(xs * 0.9 + bend * 0.6) * np.sin(xs * 0.23 + phase)
    up = foot - ys
    tall = height * (0.8 + 0.3 * np.sin(xs / 61 + phase))
    rise = np.clip(up / 16 + 0.7, 0, 1) ** 2 * np.exp(-np.clip(up, 0, None) / tall * 2.4)
    rise += 0.35 * np.exp(-((up / 5) ** 2))
    ends = np.clip(0.5 + 0.75 * np.sin(xs / 110 + phase * 1.7), 0, 1)
    power = np.clip(rise * rays * ends * strength, 0, 1)[:, :, None]
    blend = np.clip(up / tall, 0, 1)[:, :, None]
    tone = colour(low) + (colour(high) - colour(low)) * blend
    canvas.rgb = 1 - (1 - canvas.rgb) * (1 - power * tone)


def beam(
    canvas: Layer,
    x: float,
    y: float,
    turn: float,
    spread: float,
    reach: float,
    code: str,
    strength: float,
) -> None:
    """Throw a cone of light from (x, y); angles in radians, reach in pixels."""
    ys, xs = _grid()
    away = np.hypot(xs - x, ys - y)
    angle = np.arctan2(ys - y, xs - x) - turn
    angle = (angle + np.pi) % (2 * np.pi) - np.pi
    power = np.exp(-((angle / spread) ** 2)) * np.exp(-away / reach) * strength
    power *= np.clip(away / 6, 0, 1)
    canvas.rgb = 1 - (1 - canvas.rgb) * (1 - power[:, :, None] * colour(code))
