"""Whether two small pictures differ to an eye: a square that just does and one that just does not, by an outside library."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from pipeline.proofs.seen import differs_visibly

GREY = (120, 120, 120)


def png(pixels: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


def plain(width: int = 40, height: int = 30, colour=GREY) -> np.ndarray:
    return np.full((height, width, 3), colour, dtype=np.uint8)


def apart(colour) -> float:
    """Return CIEDE2000 between a colour and the grey, by scikit-image."""
    first, second = (rgb2lab(np.array([[one]], dtype=np.uint8)) for one in (GREY, colour))
    return float(deltaE_ciede2000(first, second)[0, 0])


@pytest.mark.parametrize("colour", [(120, 150, 120), (60, 60, 60), (255, 255, 255), (120, 120, 200), (130, 118, 112)])
def test_a_square_of_eight_must_differ_by_five_on_average(colour):
    """With as many pixels of another colour in a square as just make 5 of 64 pixels, the answer changes."""
    needed = 5 * 64 / apart(colour)  # pixels
    assert needed > 1
    for count, seen in ((int(needed * 0.93), False), (int(needed * 1.07) + 1, True)):
        changed = plain()
        square = changed[11:19, 20:28].reshape(-1, 3).copy()
        square[: min(count, 64)] = colour
        changed[11:19, 20:28] = square.reshape(8, 8, 3)
        assert differs_visibly(png(plain()), png(changed)) == (seen and count <= 64 or seen and apart(colour) > 5), (count, needed)


def test_one_pixel_or_a_shade_everywhere_is_not_seen_and_a_colour_is():
    """One pixel of the strongest contrast; a level more of each channel; and a coat of another colour."""
    spot, shade, coat = plain(), plain(colour=(121, 121, 121)), plain()
    spot[3, 3] = (255, 255, 255)
    coat[5:25, 10:25] = (120, 150, 120)
    assert [differs_visibly(png(plain()), png(one)) for one in (plain(), spot, shade, coat)] == [False, False, False, True]


def test_small_pictures_and_other_sizes():
    """Narrower than a square, all of its width counts; a picture of another size is another picture."""
    thin = plain(3, 30)
    dot = thin.copy()
    dot[4:6] = (255, 255, 255)
    assert differs_visibly(png(thin), png(dot))
    assert differs_visibly(png(plain(9, 9)), png(plain(9, 10)))
    assert not differs_visibly(png(plain(1, 1)), png(plain(1, 1, (121, 120, 120))))
