"""The model of a photo against scikit-image's plane projections, scipy's convolution, and sums done the long way."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from scipy import ndimage
from skimage.transform import ProjectiveTransform

from pipeline.pixels import tube_photo
from pipeline.pixels.composite import SYSTEMS, sent
from pipeline.pixels.tube_photo import photographed

SIZES = [(1000, 460), (250, 250), (97, 31)]


@pytest.mark.parametrize("size", SIZES)
def test_view_is_that_of_a_plane(size):
    """Four corners fix a plane's projection; scikit-image's, made from them, has every other pixel where the view has it."""
    view = tube_photo._look(*size)
    across = (view.places % (size[0] + 2)) * 64 + view.across
    down = view.places // (size[0] + 2) * 64 + view.down
    high, wide = across.shape
    inside = (across > 0) & (across < 64 * (size[0] + 1) - 1) & (down > 0) & (down < 64 * (size[1] + 1) - 1)
    seen = np.argwhere(inside)
    ends = np.array([seen[np.argmin(seen @ way)] for way in ((1, 1), (1, -1), (-1, 1), (-1, -1))])
    known = np.array([(across[y, x], down[y, x]) for y, x in ends], dtype=float)
    plane = ProjectiveTransform.from_estimate(ends[:, ::-1].astype(float), known)
    y, x = np.indices((high, wide))
    wanted = plane(np.stack([x.ravel(), y.ravel()], axis=1).astype(float)).reshape(high, wide, 2)
    assert abs(wanted[..., 0] - across)[inside].max() < 4  # of 64 a pixel
    assert abs(wanted[..., 1] - down)[inside].max() < 4
    assert inside.mean() > 0.6


@pytest.mark.parametrize(("count", "pixels"), [(1280, 1000), (320, 1000), (7, 3), (5, 5)])
def test_gathered_light(count, pixels):
    """Parts of a row add up exactly as when every place is cut into as many parts as there are pixels."""
    values = np.random.default_rng(3).integers(0, 60000, (4, count))
    fine = np.repeat(values, pixels, axis=1)  # each place in as many parts as there are pixels
    assert (tube_photo._gathered(values, pixels) == fine.reshape(4, pixels, count).sum(axis=2)).all()


def test_blur_of_the_lens():
    """The lens is scipy's convolution with 1, 4, 6, 4, 1 across and down."""
    seen = np.random.default_rng(4).integers(0, 60000, (20, 30)).astype(np.int32)
    wanted = seen.astype(np.int64)
    for axis in (0, 1):
        wanted = ndimage.convolve1d(wanted, np.array([1, 4, 6, 4, 1]), axis=axis, mode="nearest")
    assert (tube_photo._blurred(seen) == wanted >> 8).all()


def test_noise_is_even_and_always_the_same():
    """Noise has the mean 0 and a deviation of 4 codes, no two rows alike, and is the same when made again."""
    noise = tube_photo._noise(300, 400)
    assert abs(noise.mean() + 0.5) < 0.1  # rounded down
    assert noise.std() == pytest.approx(4.04, rel=0.03)
    assert abs(np.corrcoef(noise[:-1].ravel(), noise[1:].ravel())[0, 1]) < 0.02
    assert abs(np.corrcoef(noise[:, :-1].ravel(), noise[:, 1:].ravel())[0, 1]) < 0.02
    assert (tube_photo._noise(300, 400) == noise).all()


@pytest.mark.parametrize(("rows", "waves"), [(200, True), (480, False)])
def test_lines_are_seen_in_one_field_only(rows, waves):
    """Grey lines of one field leave dark gaps in a sharp photo; interlaced lines close them."""
    shown = np.full((rows, 300, 3), 128, dtype=np.uint8)
    photo = photographed(shown, rows, (300, rows * 5), for_eyes=True)[:, 150, 1].astype(int)
    middle = photo[len(photo) // 3 : len(photo) // 2]
    assert (np.ptp(middle) > 6) == waves


def test_a_photo_shows_dark_around_the_screen():
    """White is nearly full, what is around the screen is not black but dark, and a grey photo is as light as one for the eyes."""
    shown = np.full((200, 320, 3), 255, dtype=np.uint8)
    grey, colour = photographed(shown, 200, (400, 300)), photographed(shown, 200, (400, 300), for_eyes=True)
    assert grey.shape == (350, 466)
    assert colour.shape == (350, 466, 3)
    assert grey[175, 233] > 220
    assert 20 < grey[:3].mean() < 60
    assert abs(grey.mean() - colour.mean()) < 1


def test_every_machine_takes_the_same_photo():
    """The sums of four photos, as two kinds of matrix routines on one machine gave them; a machine that decides otherwise shows here."""
    y, x = np.indices((60, 90))
    rgb = np.stack([(x * 7 + y * 3) % 256, x * y % 256, (x // 3 + y // 3) % 2 * 255], axis=-1).astype(np.uint8)
    photos = [photographed(sent(rgb, system, percent), 60, (200, 130)) for system in SYSTEMS for percent in (100, 50)]
    assert [zlib.crc32(photo.tobytes()) for photo in photos] == [1469013381, 3419700308, 3066373186, 2338945771]


def test_light_between_two_values():
    """What is a part of 64 between two values is 64 of one less that part, and that part of the other."""
    random = np.random.default_rng(6)
    first, second = random.integers(0, 1 << 23, (2, 50)).astype(np.int32)
    part = random.integers(0, 64, 50).astype(np.int32)
    wanted = first.astype(np.int64) * (64 - part) + second.astype(np.int64) * part
    assert np.array_equal(tube_photo._between(first.copy(), second.copy(), part), wanted)
