"""Sound files of every form that is read, written by libsndfile and compared with what FFmpeg decodes of them; and damaged ones.

RIFF WAVE: Microsoft and IBM (1991), mmreg.h for the extensible form; FLAC: RFC 9639; Ogg: RFC 3533; MP3's Xing header as LAME writes it.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import signal
import struct
import zlib
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from pipeline.plain.apart import Bounds
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.sound import decoding
from pipeline.sound.recording import Recording
from tests.conftest import some, tries
from tests.makers import make_project, run_steps
from tests.sound.whole import read_wav

AGAIN = "export it again, best as WAV or FLAC"
# form, encoding, largest difference between two decoders: rounding of 32-bit floats for lossy codecs; those of MS ADPCM round each sum
# differently, and what they differ by adds up (against what was encoded FFmpeg is 0.08 off, libsndfile 0.007)
FORMS = [
    ("WAV", "PCM_24", 0), ("WAV", "PCM_32", 0), ("WAV", "FLOAT", 1e-7), ("WAV", "DOUBLE", 0), ("WAV", "ALAW", 0), ("WAV", "ULAW", 0),
    ("WAV", "IMA_ADPCM", 0), ("WAV", "MS_ADPCM", 0.1), ("WAVEX", "PCM_16", 0), ("WAVEX", "PCM_U8", 0), ("WAVEX", "PCM_24", 0),
    ("RF64", "PCM_16", 0), ("W64", "PCM_24", 0), ("AIFF", "PCM_S8", 0), ("AIFF", "PCM_16", 0), ("AIFF", "PCM_24", 0),
    ("AIFF", "FLOAT", 1e-7), ("FLAC", "PCM_S8", 0), ("FLAC", "PCM_16", 0), ("FLAC", "PCM_24", 0), ("AU", "PCM_16", 0), ("CAF", "PCM_16", 0),
    ("CAF", "ALAC_16", 0), ("OGG", "VORBIS", 1e-5), ("OGG", "OPUS", 1e-3), ("MP3", "MPEG_LAYER_III", 1e-4),
]  # fmt: skip
NAMES = [f"{form} {encoding}" for form, encoding, _ in FORMS]


def drift(count: int = 9000, channels: int = 2) -> np.ndarray:
    """Return samples like those of a sound: neighbours are near each other. Float64, shape (count, channels)."""
    samples = np.cumsum(np.random.default_rng(count).uniform(-1, 1, (count, channels)), axis=0)
    return samples / np.abs(samples).max() * 0.8


def made(form: str, encoding: str, samples: np.ndarray, rate: int = 48000, endian: str = "FILE") -> bytes:
    """Return a sound file written by libsndfile."""
    stream = io.BytesIO()
    soundfile.write(stream, samples, rate, format=form, subtype=encoding, endian=endian)
    return stream.getvalue()


def heard(data: bytes) -> np.ndarray:
    """Return what FFmpeg decodes: float64, shape (n,), the mean of the channels."""
    parts = []
    with av.open(io.BytesIO(data)) as file:
        channels = file.streams.audio[0].codec_context.channels
        for frame in file.decode(audio=0):
            block = frame.to_ndarray()
            block = block if frame.format.is_planar else block.reshape(-1, channels).T
            if block.dtype.kind == "u":
                block = (block.astype(np.float64) - 128) / 128
            elif block.dtype.kind == "i":
                block = block / 2.0 ** (8 * block.dtype.itemsize - 1)
            parts.append(block)
    return np.concatenate(parts, axis=1).mean(axis=0)


def refused(data: bytes) -> str:
    """Return the message for a file that cannot be used."""
    with pytest.raises(ProjectError) as refusal:
        read_wav(data, "bell")
    return str(refusal.value)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(("form", "encoding", "tolerance"), some(FORMS, 10), ids=some(NAMES, 10))
def test_samples_as_ffmpeg_hears_them(form, encoding, tolerance, channels):
    """Every form sounds as another decoder reads it. FFmpeg leaves what fills the last block of a lossy codec."""
    data = made(form, encoding, drift(channels=channels))
    samples, rate = read_wav(data, "bell")
    other = heard(data)
    both = min(len(samples), len(other))
    assert rate == 48000
    assert both >= 9000
    assert np.abs(samples[:both] - other[:both]).max() <= tolerance
    assert len(samples) == 9000 or "ADPCM" in encoding  # which fills its last block too


def test_big_endian_wav():
    """RIFX holds the samples of RIFF with the first byte last; FFmpeg does not read it so."""
    samples = np.round(drift() * 32768) / 32768
    assert read_wav(made("WAV", "PCM_16", samples, endian="BIG"), "bell")[0].tolist() == samples.mean(axis=1).tolist()


def test_twelve_bits():
    """Samples of 12 bits are in the upper bits of two bytes, so that they sound as 16 bits do (Microsoft and IBM, 1991)."""
    form = struct.pack("<HHIIHH", 1, 1, 8000, 16000, 2, 12)
    samples = struct.pack("<3h", -32768, 0, 0x4000)
    body = b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", 6) + samples
    assert read_wav(b"RIFF" + struct.pack("<I", len(body)) + body, "bell")[0].tolist() == [-1, 0, 0.5]


def blob(folder: Path) -> bytes:
    """Return what the console is given for a project's sound."""
    run_steps(load_project(folder), "sound:bell")
    return (folder / "build/blobs/bell.bin").read_bytes()


def test_wider_files_give_the_same_blob(tmp_path):
    """A project whose 16-bit WAV became FLAC, AIFF, 24 bits or extensible has the same blob."""
    wanted = blob(make_project(tmp_path / "plain"))
    numbers, rate = soundfile.read(tmp_path / "plain/sound/bell.wav", dtype="int16")
    for form, encoding in (("FLAC", "PCM_16"), ("AIFF", "PCM_16"), ("WAV", "PCM_24"), ("WAVEX", "PCM_16"), ("WAV", "FLOAT")):
        folder = make_project(tmp_path / f"{form}{encoding}")
        (folder / "sound/bell.wav").write_bytes(made(form, encoding, numbers / 32768, rate))
        assert blob(folder) == wanted


# --- damaged files ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("form", "encoding"), some([one[:2] for one in FORMS], 10), ids=some(NAMES, 10))
def test_no_beginning_passes_for_the_whole(form, encoding):
    """A file that lacks its end is refused in words, however much it lacks. A damaged sample is not noticed where there is no sum."""
    data = made(form, encoding, drift(2000))
    ends = sorted({1, 4, 12, len(data) // 2, len(data) - 40, len(data) - 1, *random.Random(1).sample(range(len(data)), tries(4, 40))})
    for end in ends:
        assert refused(data[:end]).count("\n") == 1


@pytest.mark.parametrize(("form", "encoding"), [("FLAC", "PCM_16"), ("OGG", "VORBIS"), ("OGG", "OPUS")])
def test_a_changed_bit_is_noticed(form, encoding):
    """FLAC and Ogg carry sums: whatever bit is changed, the file is refused or sounds the same."""
    data, chance = made(form, encoding, drift()), random.Random(2)
    whole = read_wav(data, "bell")[0].tolist()
    found = 0
    for _ in range(tries(10, 200)):
        changed = bytearray(data)
        changed[chance.randrange(42 if form == "FLAC" else 0, len(data))] ^= 1 << chance.randrange(8)
        try:
            assert read_wav(bytes(changed), "bell")[0].tolist() == whole
        except ProjectError:
            found += 1
    assert found > tries(10, 200) * 0.6


def test_ogg_pages():
    """A page that is missing, damaged or followed by something else is named by its number."""
    data = made("OGG", "VORBIS", drift(48000 * 4))
    starts = [at for at in range(len(data)) if data.startswith(b"OggS\0", at)]
    assert len(starts) > 4
    without = data[: starts[2]] + data[starts[3] :]
    assert refused(without) == f"bell: is damaged: a page is missing before page 3 of the Ogg file\n    {AGAIN}"
    assert "the checksum of page 2" in refused(data[: starts[1] + 40] + b"\xa5" + data[starts[1] + 41 :])
    assert "is cut short: none of its 3 pages is marked as the last" in refused(data[: starts[3]])
    assert "page 4 ends too early" in refused(data[: starts[3] + 200])
    assert f"page {len(starts) + 1} of the Ogg file does not start where" in refused(data + b"x" * 30)


def test_a_decoder_that_fails_ends_only_itself(monkeypatch):
    """A crash, an endless loop or more memory than it may have is a refusal in words, and the build goes on."""
    data = made("FLAC", "PCM_16", drift())

    def decoder(does):
        return lambda data, whole: iter((b"H" + b"x", does())[1:])

    monkeypatch.setattr(decoding, "_decode", decoder(lambda: os.kill(os.getpid(), signal.SIGSEGV)))
    assert refused(data) == f"bell: cannot be decoded: decoding it ended the process (status -11)\n    {AGAIN}"
    monkeypatch.setattr(decoding, "_decode", decoder(lambda: bytes(1 << 40)))
    assert "decoding it needs more than 512 MiB of memory" in refused(data)
    monkeypatch.setattr(decoding, "_BOUNDS", Bounds(processor_seconds=1))
    monkeypatch.setattr(decoding, "_decode", decoder(lambda: bytes(sum(iter(int, 1)))))
    assert "decoding it takes more than 1 seconds" in refused(data)


def flac(count: int, samples: int = 9000) -> bytes:
    """Return a FLAC file that says it has ``count`` samples of each channel (RFC 9639, 8.2: 36 bits from bit 108 on)."""
    data = bytearray(made("FLAC", "PCM_16", drift(samples)))
    low = int.from_bytes(data[21:26], "big")
    data[21:26] = (low >> 36 << 36 | count).to_bytes(5, "big")
    return bytes(data)


def test_more_samples_than_are_read():
    """Hours in a small file are refused by what it says, before anything is decoded."""
    assert refused(flac((1 << 36) - 1)) == "bell: holds 137,438,953,470 samples, at most 134,217,728 are read\n    cut it shorter"
    assert "holds 134,217,730 samples" in refused(flac((1 << 26) + 1))


@pytest.mark.parametrize("count", [100, 8999, 9001, 1 << 20])
def test_samples_are_counted(count):
    """A file that holds more or fewer samples than it says is refused; what it says is not believed."""
    assert refused(flac(count)).startswith(("bell: is cut short: 9,000 of", "bell: cannot be decoded: "))


def test_length_that_is_not_said():
    """A FLAC file written into a pipe has 0 for its length, and no sound is built of that."""
    assert refused(flac(0)).startswith("bell: does not say how many samples it holds\n")


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers(value):
    """A floating-point file may hold what no sample is."""
    samples = drift(100)
    samples[40, 1] = value
    assert refused(made("WAV", "FLOAT", samples)).startswith("bell: has samples that are not numbers, after ")


def test_words_of_decoders_stay_away(capfd):
    """What libraries print about damaged files does not reach the author; mpg123 writes to standard error."""
    data = bytearray(made("MP3", "MPEG_LAYER_III", drift(48000)))
    data[len(data) // 2 : len(data) // 2 + 40] = bytes(40)
    with contextlib.suppress(ProjectError):
        read_wav(bytes(data), "bell")
    assert capfd.readouterr() == ("", "")


# --- one channel of several -------------------------------------------------------------------------------------------


def stereo(left: np.ndarray, right: np.ndarray, form: str = "FLAC") -> bytes:
    return made(form, "PCM_16", np.stack((left, right), axis=1))


def asked(data: bytes, channels: str | None = None) -> tuple[np.ndarray, str]:
    recording = Recording(data, "bell", channels)
    samples = np.concatenate(list(recording.blocks()))
    return samples, recording.cancelling("sound.bell")


@pytest.mark.parametrize("form", ["WAV", "FLAC"])
def test_opposite_phase_is_refused(form):
    """A channel and its reverse add up to nothing: the author names one, or asks for the mix."""
    left = drift(channels=1)[:, 0]
    data = stereo(left, -left, form)
    with pytest.raises(ProjectError) as caught:
        asked(data)
    assert re.fullmatch(
        r"bell: its 2 channels cancel out \(correlation -1\.00\): mixed together they lose (everything|\d\d dB)\n"
        r'    set channels = "left" or "right" of \[sound\.bell\]; "mix" keeps it so',
        str(caught.value),
    )
    for channels, sign in (("left", 1), ("right", -1)):
        assert np.abs(asked(data, channels)[0] - left * sign).max() < 1e-4
    silent, remark = asked(data, "mix")
    assert np.abs(silent).max() < 1e-4
    assert "mixed together they lose" in remark


@pytest.mark.parametrize(
    ("correlation", "remark"),
    [(1, ""), (0.3, ""), (0, ""), (-0.7, ""), (-0.8, "(correlation -0.80): mixed together they lose 7 dB"), (-0.95, None), (-0.999, None)],
)
def test_correlation(correlation, remark):
    """The correlation of two channels of one power decides: what they keep of their powers is 1 more (a line of algebra)."""
    first, second = np.random.default_rng(3).standard_normal((2, 40000)) * 0.1
    second -= first * (first @ second) / (first @ first)
    second *= np.sqrt(first @ first / (second @ second))
    data = stereo(first, correlation * first + np.sqrt(1 - correlation**2) * second)
    if remark is None:
        with pytest.raises(ProjectError, match="cancel out"):
            asked(data)
    else:
        assert asked(data)[1].endswith(remark)
        assert bool(asked(data)[1]) == bool(remark)


def test_one_silent_channel_is_not_odd():
    """A recording of one microphone on two tracks loses nothing but half its level."""
    left = drift(channels=1)[:, 0]
    samples, remark = asked(stereo(left, left * 0))
    assert remark == ""
    assert np.abs(samples - left / 2).max() < 1e-4


def test_six_channels():
    """Six channels are mixed; none of them is the left one, and those that cancel are reported without a correlation."""
    samples = np.random.default_rng(4).uniform(-0.5, 0.5, (5000, 6))
    data = made("FLAC", "PCM_16", samples)
    mixed, remark = asked(data)
    assert remark == ""
    assert np.abs(mixed - samples.mean(axis=1)).max() < 1e-4
    with pytest.raises(ProjectError, match="has 6 channels, not a left and a right one"):
        asked(data, "left")
    samples[:, 3:] = -samples[:, :3]
    with pytest.raises(ProjectError, match='its 6 channels cancel out: .*\n.*set channels of \\[sound.bell\\] to "mix" to keep it so'):
        asked(made("FLAC", "PCM_16", samples))


def test_one_channel_is_every_channel():
    """A default for a folder of sounds may name a channel: where there is one, that is it."""
    data = made("FLAC", "PCM_16", drift(channels=1))
    assert asked(data, "right")[0].tolist() == asked(data)[0].tolist()


def test_ogg_sum_of_a_page():
    """The sum of RFC 3533 is that of a page libogg wrote; the polynomial is the one of zlib's, with the bits reversed."""
    from pipeline.sound.containers import _ogg_sum

    data = made("OGG", "VORBIS", drift(100))
    end = data.index(b"OggS", 1)
    assert _ogg_sum(data[:22] + bytes(4) + data[26:end]) == int.from_bytes(data[22:26], "little")
    assert _ogg_sum(data[:22] + bytes(4) + data[26:end]) != zlib.crc32(data[:22] + bytes(4) + data[26:end])
