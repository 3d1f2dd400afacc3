"""Sounds in fewer bits, from the recording to the samples that a program reads in C.

Sources: ITU-T G.711 (0 is 0xFF in mu-law and 0xD5 in A-law); IMA, Recommended Practices 3.00, 1992 (tables and a worked sequence from
memory); libsndfile, and the ADPCM of Python's former ``audioop`` where it is there.
"""

from __future__ import annotations

import io
import struct
import subprocess
import wave
import zlib

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from pipeline.joints.facts import SoundFacts, read_facts
from pipeline.joints.layouts import SOUND_FORMATS
from pipeline.joints.places import facts_file
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.reading.coded_sound import adpcm_bytes, decode_adpcm, expand
from pipeline.reading.decoded import BlobFault
from pipeline.sound.adpcm import STEPS, encode_adpcm
from pipeline.sound.companding import compand, levels
from tests.conftest import need_tool, some
from tests.makers import changed, make_project, run_steps, target_data, toml_text
from tests.rom.reader_walk import HERE, SANITIZERS, WARNINGS

LAWS = {"ulaw": "ULAW", "alaw": "ALAW"}
EVERY = np.arange(-32768, 32768)


@pytest.mark.parametrize("law", LAWS)
def test_levels_of_codes_are_libsndfile_s(law):
    """All 256 codes, in both directions of the pipeline."""
    known, _ = soundfile.read(
        io.BytesIO(bytes(range(256))), dtype="int16", format="RAW", samplerate=8000, channels=1, subtype=LAWS[law]
    )  # fmt: skip
    assert levels(law).tolist() == known.tolist()
    assert expand(bytes(range(256)), law).tolist() == known.tolist()


@pytest.mark.parametrize(("law", "zero"), [("ulaw", 0xFF), ("alaw", 0xD5)])
def test_the_nearest_code_is_taken(law, zero):
    """For each of 65,536 levels the error is the least that any code has; so it is never above that of libsndfile's choice."""
    codes = compand(EVERY, law)
    error = np.abs(levels(law)[codes] - EVERY)
    least = np.abs(levels(law)[:, None] - EVERY[None, ::61]).min(axis=0)
    assert (error[::61] == least).all()
    file = io.BytesIO()
    soundfile.write(file, EVERY.astype(np.int16), 8000, format="RAW", subtype=LAWS[law])
    theirs = np.abs(levels(law)[np.frombuffer(file.getvalue(), np.uint8)] - EVERY)
    assert (error <= theirs).all()
    assert compand(np.array([0]), law)[0] == zero


def test_tables_of_adpcm():
    """89 steps, by their sum and their CRC-32 as 16-bit big-endian numbers."""
    assert len(STEPS) == 89
    assert sum(STEPS) == 360393
    assert zlib.crc32(struct.pack(">89H", *STEPS)) == 0x90AEEDCB


def test_worked_sequence_of_adpcm():
    """Sixteen samples, as audioop 3.11 codes them, the first of two in the upper half."""
    samples = np.array([0, 100, 200, 300, 400, 300, 200, 100, 0, -100, -200, -300, -400, -300, -200, -100])
    data, decoded = encode_adpcm(samples, None, high_first=True, big=False)
    assert data.hex() == "077771abbbcbb433"
    assert decoded.tolist() == [0, 11, 41, 104, 240, 298, 210, 97, -5, -97, -206, -308, -400, -291, -189, -97]
    assert encode_adpcm(np.array([32767] * 8 + [-32768] * 8), None, True, False)[0].hex() == "77777777ffc80880"


SAMPLES = st.lists(st.integers(-32768, 32767), min_size=1, max_size=400).map(np.array)


@given(SAMPLES, st.sampled_from([None, 8, 9, 36, 256]), st.booleans(), st.booleans())
def test_adpcm_decodes_to_what_was_said(samples, block, high_first, big):
    """Two pieces of code that share nothing, in every form; the sizes too."""
    data, decoded = encode_adpcm(samples, block, high_first, big)
    assert len(data) == adpcm_bytes(len(samples), block)
    assert decode_adpcm(data, len(samples), block, high_first, big).tolist() == decoded.tolist()


@given(SAMPLES)
def test_blocks_are_those_of_wav_files(samples):
    """Blocks of 256 bytes, low halves first, little-endian, are what libsndfile reads from a WAV file of format 0x0011."""
    data, decoded = encode_adpcm(samples, 256, high_first=False, big=False)
    head = struct.pack("<HHIIHHHH", 0x11, 1, 8000, 4055, 256, 4, 2, 505)
    fact = struct.pack("<I", len(samples))
    body = b"WAVEfmt " + struct.pack("<I", len(head)) + head + b"fact" + struct.pack("<I", 4) + fact
    body += b"data" + struct.pack("<I", len(data)) + data
    known, _ = soundfile.read(io.BytesIO(b"RIFF" + struct.pack("<I", len(body)) + body), dtype="int16")
    assert known[: len(samples)].tolist() == decoded.tolist()


def test_streams_are_those_of_another_coder():
    """audioop's, on a random walk: bytes and samples. It left Python in 3.13."""
    audioop = pytest.importorskip("audioop")
    samples = np.clip(np.cumsum(np.random.default_rng(4).integers(-900, 900, 5000)), -32768, 32767)
    theirs, _ = audioop.lin2adpcm(samples.astype("<i2").tobytes(), 2, None)
    data, decoded = encode_adpcm(samples, None, high_first=True, big=False)
    assert data == theirs
    assert np.frombuffer(audioop.adpcm2lin(theirs, 2, None)[0], "<i2").tolist() == decoded.tolist()


def test_damaged_adpcm_is_a_fault():
    """Too few bytes, and a block that begins outside the table."""
    with pytest.raises(BlobFault, match="leave"):
        decode_adpcm(b"\0" * 4, 9, None, False, False)
    with pytest.raises(BlobFault, match="step 89 of 89"):
        decode_adpcm(bytes([0, 0, 89, 0, 0, 0, 0, 0]), 3, 8, False, False)


def coded_project(folder, adpcm: dict | None, order: str):
    """Return a project of a console that plays every form, with the bell in each of those of fewer bits."""
    sounds = {"formats": ["s16", "ulaw", "alaw", "adpcm"], "max_rate": 44100, "byte_order": order} | ({"adpcm": adpcm} if adpcm else {})
    console = changed(target_data(), (("sound",), sounds))
    more = "".join(f'[sound.{form}]\nfile = "sound/bell.wav"\nformat = "{form}"\n' for form in ("ulaw", "alaw", "adpcm"))
    make_project(folder, ('target = "basalt32"', 'target = "console.toml"'), more=more)
    (folder / "console.toml").write_text(toml_text(console))
    with wave.open(str(folder / "sound/bell.wav"), "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        time = np.arange(1501)
        file.writeframes((28000 * np.exp(-time / 700) * np.sin(time * time / 4000)).astype("<i2").tobytes())
    return folder


@pytest.mark.parametrize(
    ("adpcm", "order"),
    some([(None, "big"), ({"first": "high"}, "little"), ({"block": 36}, "big"), ({"block": 256, "first": "high"}, "little")], 2),
)
def test_a_program_reads_what_conversion_meant(tmp_path, adpcm, order):
    """The image is verified, and the generated reader in C89 gives each sample: within the error of 8 and 4 bits of the recording."""
    need_tool("gcc")
    folder = coded_project(tmp_path / "p", adpcm, order)
    run_steps(load_project(folder), "verify", "reader")
    include = folder / "build/include"
    program = tmp_path / "sounds"
    sources = [str(HERE / "sound_cases.c"), str(include / "reader.c")]
    subprocess.run(["gcc", *WARNINGS, *SANITIZERS, f"-I{include}", *sources, "-o", str(program)], check=True)
    names = ("bell", "ulaw", "alaw", "adpcm")
    image, hashes = next((folder / "build/rom").glob("*.rom")), [f"{zlib.crc32(name.encode()):x}" for name in names]
    said = subprocess.run([str(program), str(image), *hashes], check=True, capture_output=True)
    heard = {}
    for name, line in zip(names, said.stdout.decode().splitlines(), strict=True):
        head, _, numbers = line.partition(":")
        facts = read_facts(facts_file(folder / "build/blobs", name), SoundFacts)
        heard[name] = np.array(numbers.split(), np.int64)
        assert [int(number) for number in head.split()[:2]] == [SOUND_FORMATS.index(facts.format), 8000]
        assert len(heard[name]) == facts.samples == 1501
        if name != "bell":
            error = ((heard[name] - heard["bell"]) ** 2).sum()
            noise = 10 * np.log10((heard["bell"] ** 2).sum() / error)
            assert noise == pytest.approx(facts.signal_to_noise, abs=0.1)
            assert noise > (15 if name == "adpcm" else 35)


def test_what_has_no_effect_is_refused(tmp_path):
    """Dither on uneven steps, and an order of bytes where none has two. Common practice, no source."""
    folder = coded_project(tmp_path / "p", None, "big")
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text.replace('format = "ulaw"', 'format = "ulaw"\ndither = "plain"'))
    with pytest.raises(ProjectError, match="'plain' has no effect on ulaw, whose steps are not even\n    leave it out"):
        load_project(folder)
    (folder / "project.toml").write_text(text)
    data = (folder / "console.toml").read_text()
    for formats, refused in (('["ulaw", "alaw", "adpcm"]', True), ('["s16", "ulaw", "alaw", "adpcm"]', False)):
        (folder / "console.toml").write_text(data.replace('["s16", "ulaw", "alaw", "adpcm"]', formats))
        if refused:
            with pytest.raises(ProjectError, match="has no effect on samples of the formats ulaw, alaw, adpcm"):
                load_project(folder)
        else:
            load_project(folder)
