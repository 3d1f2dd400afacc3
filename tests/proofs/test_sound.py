"""The outline of a wave, read back by Pillow; what each column and row represents is worked out by hand."""

from __future__ import annotations

import io
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from pipeline.proofs.canvas import DEEP, PAPER
from pipeline.proofs.kinds.sound import sound


def drawn(samples: list[int], number: int) -> np.ndarray:
    """Return where the outline of samples in a sample format is drawn: bool, shape (160, 800)."""
    subject = SimpleNamespace(decoded=SimpleNamespace(head={"format": number}, samples=np.array(samples)))
    with Image.open(io.BytesIO(sound(subject))) as picture:
        rgb = np.asarray(picture.convert("RGB"))
    assert rgb.shape == (160, 800, 3)
    deep = (rgb == DEEP).all(axis=2)
    paper = (rgb == PAPER).all(axis=2)
    assert set(np.flatnonzero((~deep & ~paper).any(axis=1))) <= {80}, "beside the wave there is the line of silence"
    return deep


@pytest.mark.parametrize(
    ("number", "samples"), [(0, [255, 128, 0, 192]), (1, [127, 0, -128, 64]), (2, [32767, 0, -32768, 16384])], ids=["unsigned", "8", "16"]
)
def test_every_sample_has_its_columns_and_its_row(number, samples):
    """Four samples of 200 columns each: the highest, silence, the lowest, and half as loud; full scale at the edges."""
    deep = drawn(samples, number)
    for rank, row in enumerate((0, 80, 159, 40)):
        columns = deep[:, 200 * rank : 200 * (rank + 1)]
        assert set(np.flatnonzero(columns.any(axis=1))) == {row}
        assert columns[row].all()


def test_more_samples_than_columns_are_drawn_from_least_to_most():
    """1,600 samples, two for each column: one at half the scale above silence and one below."""
    deep = drawn([16384, -16384] * 800, 2)
    assert deep[40:121].all()
    assert not deep[:40].any()
    assert not deep[121:].any()
