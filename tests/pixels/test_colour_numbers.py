"""Numbers of colours against a plain dictionary."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.pixels.colours.numbers import ColourNumbers, Column, distinct, packed, tallied, unpacked

few = st.integers(0, 7)
many = st.integers(0, (1 << 24) - 1)


@given(st.lists(st.lists(st.one_of(few, many, st.sampled_from([0, (1 << 24) - 1])), max_size=30), max_size=6))
def test_numbers_stand_for_colours(pictures):
    """Equal colours have equal numbers, others others, in whatever pictures; new colours are reported once, in their order."""
    numbers, known = ColourNumbers(), {}
    for picture in pictures:
        keys = np.array(picture, dtype=np.uint32)
        found, fresh = numbers.find(keys)
        new = sorted(set(picture) - set(known))
        assert (packed(np.insert(fresh, 3, 0, axis=1)).tolist() if len(fresh) else []) == new
        known |= {key: number for number, key in enumerate(new, start=len(known) + 1)}
        assert found.tolist() == [known[key] for key in picture]
        assert numbers.keys[found].tolist() == picture
    assert numbers.keys.all().tolist() == list(known)


def test_packing_puts_alpha_on_top_and_back():
    """Red is lowest, alpha highest; a picture cut out of a larger one is packed the same."""
    rgba = np.array([[[1, 2, 3, 255], [0, 0, 0, 0]], [[255, 254, 253, 1], [9, 8, 7, 0]]], dtype=np.uint8)
    assert packed(rgba).tolist() == [[0xFF030201, 0], [0x01FDFEFF, 0x00070809]]
    assert packed(np.pad(rgba, ((1, 1), (2, 0), (0, 0)))[1:3, 2:]).tolist() == packed(rgba).tolist()
    assert unpacked(packed(rgba)).tolist() == rgba[..., :3].tolist()


@given(st.lists(st.lists(st.integers(0, 1000), max_size=700), max_size=6))
def test_column_grows(parts):
    """Values stay where they were put, beyond the first room, too."""
    column, plain = Column(np.int64), []
    for part in parts:
        column.extend(np.array(part, dtype=np.int64))
        plain += part
        assert column.all().tolist() == plain


def test_distinct_numbers_are_those_of_numpy():
    """Sorted, once each, of the dtype that was given; nothing of nothing."""
    for count in (0, 1, 50, 5000):
        keys = np.random.default_rng(count).integers(0, 900, count).astype(np.uint32)
        found = distinct(keys)
        assert np.array_equal(found, np.unique(keys))
        assert found.dtype == keys.dtype


@pytest.mark.parametrize("count", [0, 1, 2, 1000])
def test_tallied_numbers_are_those_of_numpy(count):
    """``numpy.unique`` and ``numpy.bincount`` say the same."""
    rng = np.random.default_rng(count)
    keys, counts = rng.integers(0, 50, count, dtype=np.uint32), rng.integers(1, 1 << 40, count)
    found, totals = tallied(keys, counts)
    unique, place = np.unique(keys, return_inverse=True)
    assert (found.dtype, totals.dtype) == (np.uint32, np.int64)
    assert np.array_equal(found, unique)
    assert totals.tolist() == [int(counts[place == rank].sum()) for rank in range(len(unique))]


def test_like_colours_take_little_memory():
    """60,000 colours around a slope of greys take a fraction of a table of all colours, 64 MiB; scattered ones are found too."""
    random = np.random.default_rng(2)
    grey = random.integers(20, 235, (60_000, 1))
    like = np.clip(grey + random.normal(0, 6, (60_000, 3)), 0, 255).astype(np.uint32)
    numbers = ColourNumbers()
    numbers.find(like[:, 0] | like[:, 1] << 8 | like[:, 2] << 16)
    assert numbers._number.nbytes < 8 << 20
    scattered = np.arange(0, 1 << 24, 997, dtype=np.uint32)
    found, _ = numbers.find(scattered)
    assert (numbers.keys[found] == scattered).all()
