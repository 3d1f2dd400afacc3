"""Dithering: the right mean light, a pattern that stays with the anchor, and nothing that crawls where nothing moves."""

from __future__ import annotations

import functools
import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import skimage
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

import pipeline
from pipeline.pixels.colours.apply import Converter
from pipeline.pixels.colours.dither import MODES, _needless_contrast, _pairs, dithered
from pipeline.pixels.colours.dot_diffusion import REACH
from tests.conftest import LONG, tries

BLACK_WHITE = np.array([(0, 0, 0), (255, 255, 255)], dtype=np.uint8)
GREYS = np.array([(level, level, level) for level in (0, 66, 132, 189, 255)], dtype=np.uint8)
MIXED = np.random.default_rng(11).integers(0, 256, (24, 3), dtype=np.uint8)
PATTERNED = [mode for mode in MODES if mode != "none"]


def dither(rgb, opaque, palette, mode, phase=(0, 0)) -> np.ndarray:
    """Return the entries of one picture's pixels; transparent ones get 0."""
    rgba = np.dstack([rgb, opaque * np.uint8(255)])
    return _converter(palette.tobytes(), mode, phase).convert(rgba[None])[0][0]


@functools.lru_cache(maxsize=4)
def _converter(palette: bytes, mode: str, phase: tuple[int, int]) -> Converter:
    return Converter(dithered(np.frombuffer(palette, dtype=np.uint8).reshape(-1, 3), mode, phase), clear=0)


def flat(colour, height: int = 64, width: int = 64) -> np.ndarray:
    """Return a picture of one colour."""
    return np.full((height, width, 3), colour, dtype=np.uint8)


def whole(rgb: np.ndarray) -> np.ndarray:
    """Return a mask that leaves nothing out."""
    return np.ones(rgb.shape[:2], dtype=bool)


def photo() -> np.ndarray:
    """Return a part of NASA's portrait of an astronaut (public domain, from scikit-image), 128 x 160."""
    with Image.open(Path(skimage.__file__).parent / "data" / "astronaut.png") as opened:
        return np.asarray(opened.convert("RGB").crop((100, 0, 420, 400)).resize((128, 160), Image.Resampling.BOX))


def light(rgb: np.ndarray) -> np.ndarray:
    """Return linear light, IEC 61966-2-1, written out here a second time."""
    value = rgb / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("mode", PATTERNED)
@pytest.mark.parametrize(("grey", "part"), [(188, 0.50289), (128, 0.21586), (231, 0.79910), (89, 0.09990)])
def test_greys_have_their_light(mode, grey, part):
    """Black and white are mixed to the linear light of a grey (IEC 61966-2-1): half of each is 188, not 128."""
    found = dither(flat((grey,) * 3), whole(flat(0)), BLACK_WHITE, mode)
    tolerance = 1 / 64 if mode == "ordered" else 0.04  # two of 64 pixels have no later neighbour and drop their error
    assert found.mean() == pytest.approx(part, abs=tolerance)


@pytest.mark.parametrize("mode", MODES)
def test_colours_of_the_palette_stay_plain(mode):
    """What the palette has is shown with it alone."""
    rgb = MIXED[np.arange(24 * 24).reshape(24, 24) // 96]
    shown = MIXED[dither(rgb, whole(rgb), MIXED, mode)]
    assert (shown == rgb).all()


def test_entries_close_together_stay_apart():
    """Two entries closer than colours are distinguished while pairs are chosen: each is still shown with itself alone."""
    palette = np.array([(0, 0, 0), (101, 101, 101), (103, 103, 103), (255, 255, 255)], dtype=np.uint8)
    for entry in (1, 2):
        rgb = flat(palette[entry], 16, 16)
        assert (dither(rgb, whole(rgb), palette, "ordered") == entry).all()


def test_none_is_the_nearest():
    """Without dithering each pixel gets about the nearest entry by scikit-image's CIEDE2000."""
    rgb = photo()[::4, ::4]
    palette = rgb[::4, ::4].reshape(-1, 3)
    found = dither(rgb, whole(rgb), palette, "none")
    gaps = deltaE_ciede2000(rgb2lab(rgb)[:, :, None], rgb2lab(palette[None])[None])
    got = np.take_along_axis(gaps, found[..., None], axis=-1)[..., 0]
    assert got.mean() <= 1.005 * gaps.min(axis=-1).mean()


@pytest.mark.parametrize("mode", PATTERNED)
@pytest.mark.parametrize("palette", [GREYS, MIXED], ids=["greys", "mixed"])
def test_blocks_come_nearer_to_the_picture(mode, palette):
    """The mean light of 8 x 8 blocks is nearer to the picture's than without dithering."""
    rgb = photo()
    if palette is GREYS:
        rgb = np.repeat(rgb[..., 1:2], 3, axis=-1)
    wanted = light(rgb).reshape(20, 8, 16, 8, 3).mean(axis=(1, 3))

    def missed(mode):
        got = light(palette[dither(rgb, whole(rgb), palette, mode)]).reshape(20, 8, 16, 8, 3).mean(axis=(1, 3))
        return float(((got - wanted) ** 2).mean())

    assert missed(mode) < 0.8 * missed("none")


def moving_patch(frame: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a soft picture with a patch that moves over it, and where the patch is."""
    y, x = np.mgrid[0:72, 0:96]
    rgb = np.stack([x * 2, y * 3, 255 - x - y], axis=-1).astype(np.uint8)
    where = (abs(x - frame - 20) < 7) & (abs(y - 20 - frame // 2) < 9)
    rgb[where] = np.stack([y * 5 % 256, x * 7 % 256, (x * y + frame * 31) % 256], axis=-1)[where]
    return rgb, where


def widened(where: np.ndarray, by: int) -> np.ndarray:
    """Return which pixels have a marked one within some columns and rows."""
    padded = np.pad(where, by)
    height, width = where.shape
    spans = range(2 * by + 1)
    return np.any([padded[dy : dy + height, dx : dx + width] for dy in spans for dx in spans], axis=0)


@pytest.mark.parametrize(("mode", "reach"), [("none", 0), ("ordered", 0), ("diffusion", REACH)])
def test_nothing_crawls_where_nothing_moves(mode, reach):
    """In 20 or 50 frames with a moving patch every pixel farther from it than errors travel is that of the picture without it."""
    still, _ = moving_patch(-1000)
    base = dither(still, whole(still), MIXED, mode, (31, 60))
    near = 0
    for frame in range(tries(20, 50)):
        rgb, where = moving_patch(frame)
        found = dither(rgb, whole(rgb), MIXED, mode, (31, 60))
        assert (found == base)[~widened(where, reach)].all()
        near += (found != base)[~where].sum()
    assert (near > 0) == (reach > 0)  # the patch does change what is close to it, where errors travel


def test_errors_do_not_travel_far():
    """One changed pixel, in each place of the pattern, changes nothing farther than ``REACH``, which is less than a cell.

    In the short form it becomes one of three colours in turn.
    """
    assert 1 <= REACH < 8
    random = np.random.default_rng(2)
    rgb = random.integers(0, 256, (40, 40, 3), dtype=np.uint8)
    base = dither(rgb, whole(rgb), MIXED, "diffusion")
    farthest = 0
    for place in range(64):
        y, x = 16 + place // 8, 16 + place % 8
        colours = ((0, 0, 0), (255, 255, 255), (255, 0, 255))
        for colour in colours if LONG else [colours[place % 3]]:
            other = rgb.copy()
            other[y, x] = colour
            rows, columns = np.nonzero(dither(other, whole(rgb), MIXED, "diffusion") != base)
            if len(rows):
                farthest = max(farthest, abs(rows - y).max(), abs(columns - x).max())
    assert 2 <= farthest <= REACH


@settings(max_examples=tries(10, 25), deadline=None)
@given(st.integers(0, 20), st.integers(0, 20), st.integers(-40, 40), st.integers(-40, 40), st.sampled_from(PATTERNED))
def test_pattern_stays_with_the_anchor(left, top, anchor_x, anchor_y, mode):
    """A frame cut smaller, its anchor moved with it, has the same pixels (at its edges errors come from fewer sides)."""
    rgb = photo()[:80, :80]
    large = dither(rgb, whole(rgb), GREYS, mode, (anchor_x, anchor_y))[top : top + 50, left : left + 50]
    part = rgb[top : top + 50, left : left + 50]
    small = dither(part, whole(part), GREYS, mode, (anchor_x - left, anchor_y - top))
    edge = REACH + 1 if mode == "diffusion" else 0  # the outermost pixels have fewer neighbours to give to
    assert (large == small)[edge : 50 - edge, edge : 50 - edge].all()
    moved = dither(part, whole(part), GREYS, mode, (anchor_x - left + 1, anchor_y - top))
    assert (moved != small).any()


@pytest.mark.parametrize("mode", MODES)
def test_transparent_pixels_stay_out(mode):
    """They get 0, and their colours change nothing around them; a frame without any other pixel is all 0."""
    rgb = photo()[:40, :40].copy()
    opaque = np.random.default_rng(4).random((40, 40)) < 0.7
    found = dither(rgb, opaque, MIXED, mode)
    assert (found[~opaque] == 0).all()
    rgb[~opaque] = (255, 0, 255)
    assert (dither(rgb, opaque, MIXED, mode) == found).all()
    assert not dither(rgb, np.zeros((40, 40), dtype=bool), MIXED, mode).any()
    assert found.shape == (40, 40)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (13, 1), (3, 5)])
def test_small_frames_and_palettes(mode, shape):
    """Frames smaller than the pattern, and a palette of one entry, are served."""
    rgb = np.random.default_rng(5).integers(0, 256, (*shape, 3), dtype=np.uint8)
    assert set(dither(rgb, whole(rgb), MIXED, mode, (-5, 77)).ravel().tolist()) <= set(range(24))
    assert not dither(rgb, whole(rgb), MIXED[:1], mode).any()


def test_wrong_mode_is_refused():
    """A mode not known is an error."""
    rgb = flat(0, 2, 2)
    with pytest.raises(ValueError, match="none, ordered, diffusion"):
        dither(rgb, whole(rgb), GREYS, "random")


@pytest.mark.parametrize("mode", MODES)
def test_the_past_does_not_matter(mode):
    """What was dithered before by the same rule changes nothing, nor with what other frames a frame is dithered."""
    rgb = photo()[:48, :48]
    rgba = np.dstack([rgb, np.full((48, 48), 255, dtype=np.uint8)])
    rolled = [np.roll(rgba, rank, axis=0) for rank in range(4)]
    used = Converter(dithered(MIXED, mode), clear=0)
    together = used.convert(np.stack(rolled))
    for rank in (3, 0, 2, 1):
        alone, micro, sizes = used.convert(rolled[rank][None])
        assert (alone[0] == together[0][rank]).all()
        assert (micro == together[1].reshape(4, -1)[rank]).all()
        assert (alone[0] == dither(rolled[rank][..., :3], whole(rgb), MIXED, mode)).all()
        assert sizes == together[2][:1] == [48 * 48]


def test_ordered_against_the_formula_for_each_pixel():
    """Every pixel, computed alone in Python's whole numbers: the brighter entry is where its part exceeds the threshold."""
    bayer = _grown(_grown([[0, 2], [3, 1]]))
    rgb, phase = photo()[40:72, 40:80], (3, -5)
    codes = np.rint(light(np.arange(256)) * 65535).astype(int).tolist()
    palette = [[codes[channel] for channel in entry] for entry in MIXED.tolist()]
    found = dither(rgb, whole(rgb), MIXED, "ordered", phase)
    needless = _needless_contrast(MIXED.astype(float))
    rough = rgb.reshape(-1, 3) & 0xFC | rgb.reshape(-1, 3) >> 6
    pairs = np.stack(_pairs(rough, MIXED, needless), axis=-1).reshape(32, 40, 2).tolist()
    for y in range(32):
        for x in range(40):
            dark, bright = pairs[y][x]
            step = [b - a for a, b in zip(palette[dark], palette[bright], strict=True)]
            wish = [codes[c] - a for a, c in zip(palette[dark], rgb[y, x].tolist(), strict=True)]
            length = sum(w * s * s for w, s in zip((2, 7, 1), step, strict=True))
            along = sum(w * s * v for w, s, v in zip((2, 7, 1), step, wish, strict=True))
            threshold = bayer[(y - phase[1]) % 8][(x - phase[0]) % 8]
            part = Fraction(along, length) if length else 0
            assert found[y, x] == (bright if length and part > Fraction(2 * threshold + 1, 128) else dark)


def _grown(pattern: list[list[int]]) -> list[list[int]]:
    """Return Bayer's pattern at twice the size: 4 p, 4 p + 2 above 4 p + 3, 4 p + 1."""
    upper = [[4 * v for v in row] + [4 * v + 2 for v in row] for row in pattern]
    return upper + [[4 * v + 3 for v in row] + [4 * v + 1 for v in row] for row in pattern]


def test_another_process_decides_the_same():
    """Another process, with numpy's faster instructions switched off, finds the same pixels."""
    script = (
        "import sys, hashlib, numpy as np; from pipeline.pixels.colours.apply import Converter\n"
        "from pipeline.pixels.colours.dither import dithered\n"
        "data = np.frombuffer(sys.stdin.buffer.read(), dtype=np.uint8).reshape(-1, 3)\n"
        "palette, rgb = data[:24], data[24:].reshape(1, 160, 128, 3)\n"
        "rgba = np.pad(rgb, ((0, 0), (0, 0), (0, 0), (0, 1)), constant_values=255)\n"
        "modes = ('none', 'ordered', 'diffusion')\n"
        "out = [Converter(dithered(palette, mode, (3, 4)), 0).convert(rgba)[0] for mode in modes]\n"
        "print(hashlib.sha256(np.stack(out).astype('<i4').tobytes()).hexdigest(), end='')"
    )
    rgb = photo()
    slower = {"NPY_DISABLE_CPU_FEATURES": _switchable(), "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    answers = []
    for settings_ in ({}, slower):
        environment = os.environ | settings_ | {"PYTHONPATH": str(Path(pipeline.__file__).parents[1])}
        pixels = MIXED.tobytes() + rgb.tobytes()
        done = subprocess.run([sys.executable, "-c", script], env=environment, input=pixels, capture_output=True, check=True)
        answers.append(done.stdout)
    assert answers[0] == answers[1]


def _switchable() -> str:
    """Return the instruction sets of this machine that numpy uses and can do without."""
    found = np.show_config(mode="dicts")["SIMD Extensions"].get("found", [])
    return " ".join(found)
