"""Animated PNG: read back by FFmpeg's reader (through PyAV), by Pillow, and chunk by chunk after the PNG specification."""

from __future__ import annotations

import io
import struct
import zlib
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pipeline.proofs.animated_png import animated_png, tick_seconds
from tests.conftest import need_library

REFRESHES = (59.94, 59.92, 59.73, 60.0, 50.0, 59.922743)


def _pictures(mode: str) -> list[Image.Image]:
    """Four pictures of 40 x 30: a square that moves, the second equal to the third, the fourth with one pixel more."""
    found = []
    for left in (2, 9, 9, 9):
        picture = Image.new("RGB", (40, 30), (240, 240, 230))
        ImageDraw.Draw(picture).rectangle((left, 5, left + 8, 20), fill=(200, 60, 40))
        found.append(picture)
    found[3].putpixel((39, 29), (30, 60, 160))
    if mode == "RGB":
        return found
    table = [240, 240, 230, 200, 60, 40, 30, 60, 160]
    colours = [tuple(table[at : at + 3]) for at in (0, 3, 6)]
    indexed = []
    for picture in found:
        ranks = [colours.index(tuple(pixel)) for pixel in np.asarray(picture).reshape(-1, 3).tolist()]
        entries = Image.fromarray(np.array(ranks, dtype=np.uint8).reshape(30, 40))
        entries.putpalette(table)
        indexed.append(entries)
    return indexed


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return type and content of every chunk; each checksum is compared (PNG third edition, 5.3 and 5.5)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, found = 8, []
    while at < len(data):
        size, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + size]
        assert int.from_bytes(data[at + 8 + size : at + 12 + size], "big") == zlib.crc32(kind + body)
        found.append((kind, body))
        at += 12 + size
    return found


def _delays(data: bytes) -> list[Fraction]:
    """Return the delay of every fcTL chunk: numerator and denominator are at bytes 20 and 22 (11.3.6.2)."""
    return [Fraction(*struct.unpack(">HH", body[20:24])) for kind, body in _chunks(data) if kind == b"fcTL"]


@pytest.mark.parametrize("mode", ["P", "RGB"])
def test_frames_are_the_pictures(mode):
    """Pillow and FFmpeg both show the pictures given, equal neighbours once."""
    need_library("av")
    import av

    pictures = _pictures(mode)
    data = animated_png([(picture, 3) for picture in pictures], tick_seconds(59.94))

    wanted = [np.asarray(pictures[rank].convert("RGB")) for rank in (0, 1, 3)]
    with Image.open(io.BytesIO(data)) as file:
        assert file.n_frames == 3
        for rank, picture in enumerate(wanted):
            file.seek(rank)
            assert np.array_equal(np.asarray(file.convert("RGB")), picture)
    with av.open(io.BytesIO(data)) as container:
        frames = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert all(np.array_equal(got, picture) for got, picture in zip(frames, wanted, strict=True))


@pytest.mark.parametrize("refresh", REFRESHES)
def test_delays_add_up_without_drift(refresh):
    """1000 frames of changing length end when the console's last screen picture does, to a millionth of a second."""
    first, _, _, last = _pictures("P")
    ticks = [1 + rank % 7 for rank in range(1000)]

    data = animated_png([((first, last)[rank % 2], count) for rank, count in enumerate(ticks)], tick_seconds(refresh))

    delays = _delays(data)
    assert len(delays) == 1000
    exact = [count / Fraction(str(refresh)) for count in ticks]
    assert abs(sum(delays) - sum(exact)) < Fraction(1, 1_000_000)
    if refresh != 59.922743:
        assert delays == exact


@pytest.mark.parametrize("refresh", REFRESHES)
def test_ffmpeg_keeps_the_same_time(refresh):
    """FFmpeg starts every frame within its own clock's rounding (1/100000 s a frame) and a microsecond of the console."""
    need_library("av")
    import av

    first, _, _, last = _pictures("P")
    ticks = [5, 1, 70, 8, 1, 2, 60, 4]

    data = animated_png([((first, last)[rank % 2], count) for rank, count in enumerate(ticks)], tick_seconds(refresh))

    with av.open(io.BytesIO(data)) as container:
        starts = [frame.pts * frame.time_base for frame in container.decode(video=0)]
    wanted = [sum(ticks[:rank]) / Fraction(str(refresh)) for rank in range(len(ticks))]
    for rank, (got, exact) in enumerate(zip(starts, wanted, strict=True)):
        assert abs(got - exact) <= rank * Fraction(1, 100_000) + Fraction(1, 1_000_000)


@pytest.mark.parametrize("refresh", REFRESHES)
def test_a_step_longer_than_a_delay_can_say_is_shown_again(refresh):
    """65,535 ticks, the longest a step can be, keep their length although a numerator holds 16 bits."""
    first, _, _, last = _pictures("P")

    data = animated_png([(first, 65535), (last, 2)], tick_seconds(refresh))

    exact = 65537 / Fraction(str(refresh))  # about 18 minutes
    assert abs(sum(_delays(data)) - exact) < exact / 10_000_000
    with Image.open(io.BytesIO(data)) as file:
        file.seek(file.n_frames - 2)
        assert np.array_equal(np.asarray(file.convert("RGB")), np.asarray(first.convert("RGB")))
        file.seek(file.n_frames - 1)
        assert np.array_equal(np.asarray(file.convert("RGB")), np.asarray(last.convert("RGB")))


@pytest.mark.parametrize("numerator", [1, 7, 50])
def test_delay_is_split_only_where_its_numerator_does_not_fit(numerator):
    """A numerator has 16 bits (PNG third edition, 11.3.6.2): the most that fit are one frame, one tick more is two."""
    first, _, _, last = _pictures("P")
    tick = Fraction(numerator, 2999)  # a prime, so that no delay is written with smaller numbers
    most = 65535 // numerator
    for ticks, count in ((most, 1), (most + 1, 2), (2 * most, 2), (2 * most + 1, 3)):
        delays = _delays(animated_png([(first, ticks), (last, 1)], tick))
        assert len(delays) == count + 1
        assert sum(delays) == (ticks + 1) * tick
        assert all(delay > 0 for delay in delays)


@pytest.mark.parametrize(("refresh", "tick"), [(59.94, Fraction(50, 2997)), (1.0, Fraction(1)), (65535.0, Fraction(1, 65535))])
def test_tick_has_a_denominator_of_16_bits(refresh, tick):
    """65,535 is the largest denominator that a delay holds."""
    assert tick_seconds(refresh) == tick
    assert tick_seconds(59.922743).denominator <= 65535


def test_chunks_stand_in_the_order_of_the_specification():
    """acTL before IDAT and as many frames as it says; sequence numbers count up from 0 over fcTL and fdAT together."""
    data = animated_png([(picture, 3) for picture in _pictures("P")], tick_seconds(60))

    chunks = _chunks(data)
    assert [kind for kind, _ in chunks] == [b"IHDR", b"PLTE", b"acTL", b"fcTL", b"IDAT", b"fcTL", b"fdAT", b"fcTL", b"fdAT", b"IEND"]
    assert dict(chunks)[b"acTL"] == struct.pack(">II", 3, 0)
    numbers = [int.from_bytes(body[:4], "big") for kind, body in chunks if kind in (b"fcTL", b"fdAT")]
    assert numbers == [0, 1, 2, 3, 4]


def test_one_picture_is_an_animation_of_one_frame():
    """What does not change is one frame that is shown as long as all together."""
    picture = _pictures("P")[0]

    assert _delays(animated_png([(picture, 2), (picture, 3)], tick_seconds(50))) == [Fraction(5, 50)]
