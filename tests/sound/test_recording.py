"""WAV files read as an independent reader hears them, and the files that cannot be used, made by independent writers.

RIFF WAVE: Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0 (1991); format tags from memory.
"""

from __future__ import annotations

import io
import re
import struct
import wave

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.errors import ProjectError
from tests.sound.whole import read_wav

FORMS = "export it as WAV or FLAC; WAV, FLAC, Ogg, AIFF, MP3, CAF, AU and W64 are read"
AGAIN = "export it again, best as WAV or FLAC"


def made(subtype: str, form: str = "WAV", endian: str = "FILE", channels: int = 1) -> bytes:
    """Return a recording written by libsndfile."""
    stream = io.BytesIO()
    samples = np.sin(np.arange(100 * channels).reshape(100, channels) / 9) * 0.7
    soundfile.write(stream, samples, 8000, format=form, subtype=subtype, endian=endian)
    return stream.getvalue()


def chunk(name: bytes, data: bytes) -> bytes:
    """Return a RIFF chunk, filled to an even length."""
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def form_of(tag: int = 1, channels: int = 1, rate: int = 8000, bits: int = 16) -> bytes:
    """Return a format chunk."""
    frame = channels * -(-bits // 8)
    return chunk(b"fmt ", struct.pack("<HHIIHH", tag, channels, rate, rate * frame, frame, bits))


def riff(*chunks: bytes) -> bytes:
    """Return a WAV file of some chunks."""
    body = b"WAVE" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def refused(data: bytes) -> str:
    """Return the message for a file that cannot be used."""
    with pytest.raises(ProjectError) as refusal:
        read_wav(data, "sound/bell.wav")
    return str(refusal.value)


@pytest.mark.parametrize("channels", [1, 2, 3])
@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_U8"])
@pytest.mark.parametrize("rate", [8000, 44100, 192000])
def test_samples_as_libsndfile_hears_them(subtype, channels, rate):
    """Recordings of 8 and 16 bits sound as libsndfile reads them, several channels as their mean."""
    stream = io.BytesIO()
    random = np.random.default_rng(channels).uniform(-1, 1, (500, channels))
    soundfile.write(stream, random, rate, format="WAV", subtype=subtype)
    samples, found = read_wav(stream.getvalue(), "a.wav")
    heard, _ = soundfile.read(io.BytesIO(stream.getvalue()), dtype="float64", always_2d=True)
    assert found == rate
    assert samples.tolist() == pytest.approx(heard.mean(axis=1).tolist(), abs=1e-12)


def test_ends_of_the_range():
    """Sixteen bits span -1 to just under 1, and byte 128 is silence."""
    assert read_wav(riff(form_of(), chunk(b"data", struct.pack("<3h", -32768, 0, 32767))), "a")[0].tolist() == [-1, 0, 32767 / 32768]
    assert read_wav(riff(form_of(bits=8), chunk(b"data", bytes([0, 128, 255]))), "a")[0].tolist() == [-1, 0, 127 / 128]


@pytest.mark.parametrize(
    "extra",
    [
        [chunk(b"LIST", b"INFOISFT\x05\0\0\0odd!\0\0")],
        [chunk(b"bext", bytes(602))],
        [chunk(b"odd ", b"123")],
        [chunk(b"fact", b"\x02\0\0\0"), chunk(b"cue ", bytes(4))],
    ],
)
def test_other_chunks_are_passed_over(extra):
    """Chunks that recorders add before, between and after do not matter; odd ones are followed by a fill byte."""
    data = chunk(b"data", struct.pack("<2h", 16384, -16384))
    for chunks in ([*extra, form_of(), data], [form_of(), *extra, data], [form_of(), data, *extra]):
        samples, rate = read_wav(riff(*chunks), "a.wav")
        assert (samples.tolist(), rate) == ([0.5, -0.5], 8000)


@pytest.mark.parametrize(
    ("data", "wrong", "remedy"),
    [
        pytest.param(b"", "is an empty file", "record or export it again", id="empty"),
        pytest.param(b"RIFF\x04\0\0\0AVI ", "is not a sound file of a form that is read", FORMS, id="another RIFF"),
        pytest.param(b"RIFF", "is not a sound file of a form that is read", FORMS, id="four bytes"),
        pytest.param(b"\0\0\0\x18ftypM4A " + bytes(99), "is not a sound file of a form that is read", FORMS, id="MPEG-4"),
        pytest.param(made("G721_32"), "holds samples in the encoding G721_32, which is not read", AGAIN, id="G.721"),
        pytest.param(riff(form_of(), chunk(b"data", b"")), "holds no samples", "export it again", id="no samples"),
        pytest.param(riff(form_of(rate=0), chunk(b"data", bytes(4))), "holds no samples", "export it again", id="no rate"),
        pytest.param(made("PCM_16")[:144], "is cut short: 50 of 100 samples are there", "export it again", id="cut in the middle"),
        pytest.param(made("PCM_16")[:-1], "is cut short: 99 of 100 samples are there", "export it again", id="last byte lost"),
        pytest.param(made("PCM_16", channels=2)[:244], "is cut short: 50 of 100 samples are there", "export it again", id="cut stereo"),
    ],
)
def test_refused_recording(data, wrong, remedy):
    """A recording that cannot be used is named with what is wrong and what to do."""
    assert refused(data) == f"sound/bell.wav: {wrong}\n    {remedy}"


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(riff(), id="no chunks"),
        pytest.param(riff(form_of()), id="no data"),
        pytest.param(riff(chunk(b"data", bytes(8))), id="no format"),
        pytest.param(riff(chunk(b"data", bytes(8)), form_of()), id="data before format"),
        pytest.param(riff(form_of(channels=0), chunk(b"data", bytes(8))), id="no channels"),
        pytest.param(riff(form_of(bits=0), chunk(b"data", bytes(8))), id="no bits"),
        pytest.param(made("PCM_16")[:16], id="cut in a chunk's name"),
        pytest.param(made("PCM_16")[:20], id="cut before the format"),
        pytest.param(made("PCM_16")[:30], id="cut in the format"),
        pytest.param(made("PCM_16")[:40], id="cut before the samples"),
        pytest.param(b"RIFF" + struct.pack("<I", 20) + made("PCM_16")[8:], id="RIFF of 20 bytes"),
        pytest.param(made("PCM_16")[:16] + struct.pack("<I", 272) + made("PCM_16")[20:], id="format longer than the file"),
    ],
)
def test_damaged_recording(data):
    """A file whose chunks are broken is called damaged, and how."""
    assert re.fullmatch(rf"sound/bell\.wav: (is a damaged WAV file|cannot be decoded): \S[^\n]+\n    {AGAIN}", refused(data))


@given(st.data())
def test_any_damage_is_refused_or_read(data):
    """However a file is cut or its bytes are changed, it is either read as samples in range or refused; nothing else happens."""
    plain = bytearray(made(data.draw(st.sampled_from(["PCM_16", "PCM_U8"]))))
    for _ in range(data.draw(st.integers(0, 4))):
        plain[data.draw(st.integers(0, 47))] = data.draw(st.integers(0, 255))
    cut = bytes(plain[: data.draw(st.one_of(st.just(len(plain)), st.integers(0, len(plain))))])
    try:
        samples, rate = read_wav(cut, "a.wav")
    except ProjectError:
        return
    assert samples.ndim == 1
    assert len(samples)
    assert abs(samples).max() <= 1
    assert rate > 0


def test_plain_recordings_of_the_standard_library():
    """What the standard library writes is read back as it was."""
    stream = io.BytesIO()
    with wave.open(stream, "wb") as file:
        file.setparams((2, 2, 22050, 0, "NONE", ""))
        file.writeframes(struct.pack("<6h", 100, 300, -100, -300, 32767, 32767))
    samples, rate = read_wav(stream.getvalue(), "a.wav")
    assert rate == 22050
    assert (samples * 32768).tolist() == [200, -200, 32767]
