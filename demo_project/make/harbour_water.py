"""Harbour water: rippled reflections of whatever stands above a waterline."""

import numpy as np
from harbour_layer import HEIGHT, SCALE, WIDTH, Layer, Pixels, colour
from harbour_noise import sample


def _ripples(line: float, horizon: float, seed: int, fine: float) -> Pixels:
    """Waves for every row below the line, foreshortened towards the horizon."""
    rows = np.arange(round(line * SCALE), HEIGHT * SCALE, dtype=np.float32)[:, None]
    depth = np.maximum(rows / SCALE - horizon, 1.5)
    across = np.arange(WIDTH * SCALE, dtype=np.float32)[None, :] / SCALE - WIDTH / 2
    xs = across / depth * 130 * fine + seed * 173
    ys = 9000 * fine / (depth + 6) + seed * 97
    return sample("ripple", np.broadcast_to(ys, xs.shape), xs)


def mirrored(layer: Layer, line: float, horizon: float, seed: int, sway: float = 1.0) -> Layer:
    """Return the layer flipped about a waterline (y, pixels) and broken by waves."""
    start = round(line * SCALE)
    ripples = _ripples(line, horizon, seed, 1.0)
    slow = _ripples(line, horizon, seed + 5, 0.4)
    down = np.arange(ripples.shape[0], dtype=np.float32)[:, None]
    near = np.minimum(down / SCALE, 45.0)
    ys = start - 1 - down - (ripples * (0.25 + near * 0.10) * sway + slow * near * 0.08) * SCALE
    xs = np.arange(WIDTH * SCALE)[None, :] + (ripples + slow) * (0.3 + near * 0.035) * SCALE * sway
    ys = np.clip(np.rint(ys), 0, start - 1).astype(int)
    xs = np.clip(np.rint(xs), 0, WIDTH * SCALE - 1).astype(int)
    flipped = Layer()
    flipped.rgb[start:] = layer.rgb[ys, xs]
    flipped.alpha[start:] = layer.alpha[ys, xs]
    return flipped


def pour(
    canvas: Layer,
    line: float,
    horizon: float,
    far: str,
    near: str,
    *,
    mirror: float = 0.6,
    crest: str = "#ffffff",
    sparkle: float = 0.12,
    seed: int = 1,
) -> None:
    """Fill the canvas below a waterline with water that reflects what is there.

    ``mirror`` is the share of reflection far away; ``sparkle`` the crest light.
    """
    start = round(line * SCALE)
    glass = mirrored(canvas, line, horizon, seed).rgb[start:]
    rows = glass.shape[0]
    fall = np.linspace(0, 1, rows, dtype=np.float32)[:, None, None]
    body = colour(far) + (colour(near) - colour(far)) * np.minimum(fall * 1.6, 1)
    waves = _ripples(line, horizon, seed, 1.0)[:, :, None]
    swell = _ripples(line, horizon, seed + 9, 0.45)[:, :, None]
    share = np.clip(mirror * (1 - 0.45 * fall) + 0.10 * swell, 0, 1)
    water = body * (1 + 0.07 * waves + 0.05 * swell) * (1 - share) + glass * share
    light = np.clip(waves + 0.6 * swell - 1.1, 0, 1) * sparkle
    water += (colour(crest) - water) * light
    water *= 1 - np.clip(-waves - 0.5 * swell - 1.0, 0, 1) * 0.14
    canvas.rgb[start:] = np.clip(water, 0, 1)
    canvas.alpha[start:] = 1


def glitter(
    canvas: Layer,
    x: float,
    line: float,
    horizon: float,
    code: str,
    width: float,
    strength: float,
    seed: int = 3,
) -> None:
    """Lay a broken path of light on the water below a lamp or the sun at x."""
    start = round(line * SCALE)
    waves = _ripples(line, horizon, seed, 1.3)
    rows = np.arange(waves.shape[0], dtype=np.float32)[:, None] / SCALE
    xs = np.arange(WIDTH * SCALE, dtype=np.float32)[None, :] / SCALE
    reach = width * (0.5 + rows / 45)
    beam = np.exp(-(((xs - x + waves * 1.5) / reach) ** 2))
    light = np.clip(beam * (0.55 + 0.9 * waves) * strength, 0, 1)[:, :, None]
    light *= np.clip(1.15 - rows[:, :, None] / 130, 0, 1)
    canvas.rgb[start:] = 1 - (1 - canvas.rgb[start:]) * (1 - light * colour(code))


def float_on(
    canvas: Layer, vessel: Layer, line: float, horizon: float, seed: int, opacity: float = 0.55
) -> None:
    """Add a vessel with its reflection and the dark and bright seam at its foot."""
    canvas.add(mirrored(vessel, line, horizon, seed, 0.9), opacity)
    _seam(canvas, vessel, line, horizon, seed)
    canvas.add(vessel)


def _seam(canvas: Layer, vessel: Layer, line: float, horizon: float, seed: int) -> None:
    """Darken the water under a hull and break light along its edge."""
    start = round(line * SCALE)
    foot = vessel.alpha[start - 2]
    window = np.hanning(13)
    foot = np.convolve(foot, window / window.sum(), mode="same")[None, :]
    waves = _ripples(line, horizon, seed + 2, 1.2)
    rows = np.arange(waves.shape[0], dtype=np.float32)[:, None] / SCALE
    deep = 0.08 * (line - horizon) + 1.2
    dark = np.exp(-((rows / (deep * (1 + 0.3 * waves))) ** 2)) * foot * 0.5
    canvas.rgb[start:] *= 1 - dark[:, :, None]
    froth = np.exp(-(((rows - deep * 0.9) / 0.7) ** 2)) * np.clip(waves + 0.3, 0, 1) * foot * 0.4
    canvas.rgb[start:] += (1 - canvas.rgb[start:]) * froth[:, :, None]
