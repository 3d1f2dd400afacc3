"""The model of composite video against scipy's filters, scikit-image's YUV, and the bandwidths of ITU-R BT.470-6 (from memory)."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import rgb2yuv

from pipeline.pixels.composite import SYSTEMS, different_rows, from_yuv, low_pass, samples_a_pixel, sent, to_yuv

HALF_POWER = 10 ** (-3 / 20)
COLOURS = np.random.default_rng(5).integers(0, 256, (4000, 3), dtype=np.uint8)
CUTOFFS = [(1, 3), (1, 6), (1, 20), (17, 1000), (1, 150)]


@pytest.mark.parametrize("cutoff", CUTOFFS)
def test_response_of_a_filter(cutoff):
    """By scipy's freqz a filter passes everything at 0, is 3 dB down where asked for, and lets little through three quarters farther."""
    from scipy import signal  # here, since it takes a tenth of the time in which all tests are collected

    taps, edge = low_pass(cutoff), cutoff[0] / cutoff[1]
    _, passed = signal.freqz(taps / 1048576, worN=[0, edge / 4, edge, 1.75 * edge], fs=1)
    passed = abs(passed)
    assert passed[0] == pytest.approx(1, abs=1e-12)
    assert passed[1] == pytest.approx(1, abs=0.01)
    assert passed[2] == pytest.approx(HALF_POWER, abs=0.01)
    assert edge == 1 / 3 or passed[3] < 0.03


@pytest.mark.parametrize("cutoff", CUTOFFS)
def test_coefficients_of_a_filter(cutoff):
    """Whole numbers that add up to 1048576, and within one of what numpy's sinc and scipy's von Hann window give in floating point."""
    from scipy import signal

    taps = low_pass(cutoff)
    assert taps.dtype == np.int64
    assert taps.sum() == 1048576
    assert taps.tolist() == taps[::-1].tolist()
    half = len(taps) // 2
    place = np.arange(-half, half + 1) * 2 * cutoff[0] / cutoff[1] / 0.8578
    window = signal.windows.general_cosine(100_001, [0.5, 0.5], sym=True)  # its places are those from -3 to 3 zeros
    wanted = np.sinc(place) * np.interp(place, np.linspace(-3, 3, 100_001), window)
    off = abs(taps - wanted / wanted.sum() * 1048576)
    assert off[half] < 1 + half  # the middle makes up for the roundings of all others
    off[half] = 0
    assert off.max() < 1


def test_brightness_and_colour_differences():
    """Y, U and V are scikit-image's within what its rounder factors (0.436 and 0.615 at full blue and red) differ."""
    luma, blue, red = to_yuv(COLOURS)
    wanted = rgb2yuv(COLOURS) * 255_000
    np.testing.assert_allclose(luma, wanted[:, 0], atol=1)
    np.testing.assert_allclose(blue, wanted[:, 1], atol=40)
    np.testing.assert_allclose(red, wanted[:, 2], atol=40)


def test_colours_come_back():
    """Encoded and decoded without a filter, every colour is what it was."""
    assert (from_yuv(*to_yuv(COLOURS)) == COLOURS).all()


@pytest.mark.parametrize("percent", [100, 50])
@pytest.mark.parametrize("width", [320, 256, 720])
@pytest.mark.parametrize("system", SYSTEMS, ids=lambda system: system.name)
def test_bandwidth_of_a_line(system, width, percent):
    """An edge through the whole model holds half its power (numpy's FFT of its slope) at the system's bandwidth, in hertz of real time."""
    rgb = np.zeros((1, width, 3), dtype=np.uint8)
    rgb[:, width // 2 :] = 200
    rgb[:, :: width - 1] = 0
    edge = sent(rgb, system, percent)[0, :, 0].astype(float)
    slope = np.diff(edge[: len(edge) * 7 // 8])
    hertz = np.fft.rfftfreq(1 << 16, system.active * 1e-9 / len(edge))
    passed = abs(np.fft.rfft(slope, 1 << 16)) / 200
    # The overshoot below black is cut off, which only the lower half of an edge shows: looked at from mid grey it is whole.
    assert hertz[np.argmax(passed < HALF_POWER)] == pytest.approx(system.luma * 1e3 * percent / 100, rel=0.08)


def test_bandwidth_of_colour():
    """A change of hue at one brightness takes the time of the narrower band: ten to ninety per cent in about 0.35 over its bandwidth."""
    rgb = np.zeros((1, 320, 3), dtype=np.uint8)
    rgb[:, :160], rgb[:, 160:] = (150, 100, 100), (100, 120, 100)  # almost alike in brightness
    for system in SYSTEMS:
        red = sent(rgb, system)[0, 320:960, 0].astype(float)
        assert (red[0], red[-1]) == (pytest.approx(150, abs=2), pytest.approx(100, abs=2))
        rise = np.argmax(red < 105) - np.argmax(red < 145)
        assert rise * system.active / 1280 == pytest.approx(0.35e6 / system.chroma, rel=0.35)  # ns


def test_grating_is_lost_beyond_the_band():
    """Single pixel stripes on 320 pixels are 3.04 MHz: seen at all of 4.2 MHz, gone at two fifths of it."""
    rgb = np.zeros((1, 320, 3), dtype=np.uint8)
    rgb[:, ::2] = 255
    middle = slice(400, 880)
    assert np.ptp(sent(rgb, SYSTEMS[0])[0, middle, 1].astype(int)) > 200
    assert np.ptp(sent(rgb, SYSTEMS[0], 40)[0, middle, 1].astype(int)) < 6


@pytest.mark.parametrize("width", [1, 160, 720, 1000, 1920])
def test_even_colour_stays(width):
    """What is one colour all over is so afterwards, away from the line's ends; lines do not touch."""
    rgb = np.empty((2, width, 3), dtype=np.uint8)
    rgb[0], rgb[1] = (200, 120, 40), (10, 90, 250)
    made = sent(rgb, SYSTEMS[1])
    assert made.shape == (2, width * samples_a_pixel(width), 3)
    if width > 1:
        assert abs(made[:, made.shape[1] // 2].astype(int) - rgb[:, 0]).max() <= 1


def test_rows_that_repeat_are_filtered_once():
    """A picture of repeated rows comes out as its rows do one by one, and they are found whatever they hold."""
    random = np.random.default_rng(8)
    rows = random.integers(0, 256, (3, 40, 3), dtype=np.uint8)
    picture = rows[[0, 0, 1, 0, 2, 2, 2]]
    once, number = different_rows(picture)
    assert np.array_equal(once, rows[[0, 1, 0, 2]])
    assert number.tolist() == [0, 0, 1, 2, 3, 3, 3]
    assert np.array_equal(sent(picture, SYSTEMS[0]), np.concatenate([sent(row[None], SYSTEMS[0]) for row in picture]))
