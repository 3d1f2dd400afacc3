"""Resampling and sample formats against signal theory and an independent reader (libsndfile, by way of soundfile)."""

from __future__ import annotations

import io
import struct
import wave

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from pipeline.sound.convert import encode, resampled, to_bytes
from tests.sound.whole import read_wav


def tone(hertz: float, rate: int, seconds: float = 1.0) -> np.ndarray:
    """Return a sine of half the full scale."""
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate)


def decibels(result: np.ndarray, source: np.ndarray) -> float:
    """Return the level of the middle of a sound against another's, in dB rms."""
    middle = [part[len(part) // 8 : -len(part) // 8] for part in (result, source)]
    level, reference = (np.sqrt(np.mean(part**2)) for part in middle)
    return 20 * np.log10(max(level, 1e-12) / reference)


def resample(samples: np.ndarray, rate: int, wanted: int) -> np.ndarray:
    """Return a sound at another rate, read in three blocks."""
    return np.concatenate(list(resampled((block for block in np.array_split(samples, 3) if len(block)), rate, wanted)))


# Sampling theorem: at 11,025 Hz nothing above 5,512.5 Hz can be kept; a tone above it would come back as another tone.
@pytest.mark.parametrize(
    ("hertz", "rate", "wanted"), [(8000, 44100, 11025), (7000, 22050, 11025), (15000, 48000, 22050), (6000, 44100, 8000)]
)
def test_no_alias(hertz, rate, wanted):
    """A tone above half the new rate is silenced by more than 80 dB, which taking every n-th sample would not do."""
    source = tone(hertz, rate)
    assert decibels(resample(source, rate, wanted), source) < -80
    if rate % wanted == 0:
        assert decibels(source[:: rate // wanted], source) > -10, "the check itself would notice an alias"


@pytest.mark.parametrize(("rate", "wanted"), [(44100, 11025), (48000, 22050), (8000, 22050), (22050, 44100), (44100, 16384)])
@pytest.mark.parametrize("hertz", [220, 1000, 3000])
def test_tones_in_reach_are_kept(hertz, rate, wanted):
    """A tone that both rates can hold comes out as the same tone, sampled at the new rate, in its place in time."""
    result = resample(tone(hertz, rate), rate, wanted)
    expected = tone(hertz, wanted)
    assert abs(len(result) - len(expected)) <= 1
    middle = slice(len(expected) // 8, -len(expected) // 8)
    assert abs(result[: len(expected)][middle] - expected[: len(result)][middle]).max() < 0.001


def test_same_rate_changes_nothing():
    """At its own rate a sound is left as it is."""
    source = tone(440, 8000)
    assert np.array_equal(resample(source, 8000, 8000), source)


@pytest.mark.parametrize("length", [1, 2, 5])
@pytest.mark.parametrize(("rate", "wanted"), [(44100, 8000), (8000, 44100), (44100, 1000)])
def test_shortest_sounds(length, rate, wanted):
    """A sound of very few samples still leaves at least one, and at most its length at the new rate rounded up."""
    result = resample(np.full(length, 0.25), rate, wanted)
    assert 1 <= len(result) <= -(-length * wanted // rate) + 1


# 1.0 is full scale, 128 is silence of unsigned bytes (RIFF WAVE, Microsoft and IBM 1991: 8-bit samples are offset binary).
@pytest.mark.parametrize(
    ("form", "sample", "number", "clipped"),
    [
        ("u8", 0.0, 128, 0),
        ("u8", -1.0, 0, 0),
        ("u8", 127 / 128, 255, 0),
        ("u8", 1.0, 255, 1),
        ("u8", -1.01, 0, 1),
        ("u8", 0.5, 192, 0),
        ("u8", 0.4 / 128, 128, 0),
        ("u8", 0.6 / 128, 129, 0),
        ("u8", -0.6 / 128, 127, 0),
        ("u8", 0.5 / 128, 128, 0),  # halves go to the even number
        ("u8", 1.5 / 128, 130, 0),
        ("u8", -0.5 / 128, 128, 0),
        ("u8", -1.5 / 128, 126, 0),
        ("s8", 0.0, 0, 0),
        ("s8", -1.0, -128, 0),
        ("s8", 1.0, 127, 1),
        ("s8", -0.5, -64, 0),
        ("s8", -2.0, -128, 1),
        ("s16", 0.0, 0, 0),
        ("s16", -1.0, -32768, 0),
        ("s16", 1.0, 32767, 1),
        ("s16", 32767 / 32768, 32767, 0),
        ("s16", 0.25, 8192, 0),
        ("s16", 1.5 / 32768, 2, 0),
        ("s16", 2.5 / 32768, 2, 0),
        ("s16", 9.0, 32767, 1),
    ],
)
def test_number_of_a_sample(form, sample, number, clipped):
    """A sample is rounded to the nearest number of its format, and one out of range is clipped and counted."""
    numbers, count = encode(np.array([sample]), form)
    assert (numbers.tolist(), count) == ([number], clipped)


def test_clipped_samples_are_counted():
    """The count is of samples, on both sides."""
    numbers, clipped = encode(np.array([0.0, 1.2, -1.2, 1.0, -1.0, 3.0]), "s8")
    assert numbers.tolist() == [0, 127, -128, 127, -128, 127]
    assert clipped == 4


@given(st.lists(st.floats(-1.5, 1.5), min_size=1, max_size=50), st.sampled_from(["u8", "s8", "s16"]))
def test_every_number_is_within_half_a_step(samples, form):
    """No sample in range is off by more than half a step, and every number fits its format."""
    numbers, clipped = encode(np.array(samples), form)
    steps = 32768 if form == "s16" else 128
    signed = numbers - (128 if form == "u8" else 0)
    assert signed.min() >= -steps
    assert signed.max() <= steps - 1
    wanted = np.clip(np.array(samples) * steps, -steps, steps - 1)
    assert abs(signed - wanted).max() <= 0.5
    assert clipped == sum(round(sample * steps) not in range(-steps, steps) for sample in samples)


@given(st.lists(st.integers(-32768, 32767), min_size=1, max_size=200))
def test_sixteen_bits_pass_unchanged(numbers):
    """A 16-bit recording kept at its rate and width comes out as the very same numbers, nothing clipped."""
    stream = io.BytesIO()
    with wave.open(stream, "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        file.writeframes(struct.pack(f"<{len(numbers)}h", *numbers))
    samples, _ = read_wav(stream.getvalue(), "a.wav")
    stored, clipped = encode(samples, "s16")
    assert stored.tolist() == numbers
    assert clipped == 0


@given(st.binary(min_size=1, max_size=200))
def test_eight_bits_pass_unchanged(raw):
    """An 8-bit recording comes out as the same bytes in u8, and 128 lower in s8."""
    stream = io.BytesIO()
    with wave.open(stream, "wb") as file:
        file.setparams((1, 1, 8000, 0, "NONE", ""))
        file.writeframes(raw)
    samples, _ = read_wav(stream.getvalue(), "a.wav")
    assert to_bytes(encode(samples, "u8")[0], "u8", "big") == raw
    assert to_bytes(encode(samples, "s8")[0], "s8", "big") == bytes(byte ^ 0x80 for byte in raw)


@pytest.mark.parametrize(
    ("form", "order", "subtype", "endian", "dtype", "shift"),
    [
        ("u8", "big", "PCM_U8", "FILE", "int16", 8),
        ("s8", "little", "PCM_S8", "FILE", "int16", 8),
        ("s16", "little", "PCM_16", "LITTLE", "int16", 0),
        ("s16", "big", "PCM_16", "BIG", "int16", 0),
    ],
)
@given(samples=st.lists(st.floats(-1.1, 1.1), min_size=1, max_size=100))
def test_independent_reader_hears_what_was_stored(form, order, subtype, endian, dtype, shift, samples):
    """libsndfile reads the stored bytes, named as raw samples of that format, as the numbers that were meant."""
    numbers, _ = encode(np.array(samples), form)
    raw = io.BytesIO(to_bytes(numbers, form, order))
    heard, _ = soundfile.read(raw, dtype=dtype, format="RAW", subtype=subtype, endian=endian, channels=1, samplerate=8000)
    meant = numbers - (128 if form == "u8" else 0)
    assert (heard.astype(int) >> shift).tolist() == meant.tolist()


@pytest.mark.parametrize(
    ("form", "order", "packed"),
    [("u8", "big", "80ff00"), ("s8", "big", "007f80"), ("s16", "big", "00007fff8000"), ("s16", "little", "0000ff7f0080")],
)
def test_bytes_of_numbers(form, order, packed):
    """Silence and both ends of the range have the bytes that offset binary and two's complement give them."""
    numbers, _ = encode(np.array([0.0, 1.0, -1.0]), form)
    assert to_bytes(numbers, form, order).hex() == packed
