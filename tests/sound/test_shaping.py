"""What is done to sounds before they are stored: ends, gain, dither, and mixes."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import windows

from pipeline.graph.plan import plan_project
from pipeline.joints.facts import SoundFacts, read_facts
from pipeline.joints.places import facts_file
from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.sound.convert import encode, signal_to_noise
from pipeline.sound.loudness import loudness
from pipeline.sound.mixing import Measured, mix
from pipeline.sound.shaping import amplified, faded, peak_of, rounded, trimmed, without_offset
from tests.makers import make_project, run_steps


def test_silence_is_cut_off_both_ends():
    """-40 dBFS is a hundredth of full scale: what is at or below it goes, as far as the first and the last louder sample."""
    samples = np.array([0, 0.01, -0.005, 0.011, 0, -0.5, 0.009, 0.02, 0.01, 0])
    assert trimmed(samples, -40).tolist() == samples[3:8].tolist()
    assert trimmed(samples, -20).tolist() == [-0.5]
    assert len(trimmed(samples / 1000, -40)) == 1


def test_ends_fade_in_half_a_cosine():
    """Source: SciPy's periodic Hann window, whose first half rises as a fade does."""
    fade = faded(np.ones(50), 8)
    assert np.abs(fade[:8] - windows.hann(16, sym=False)[:8]).max() < 1e-12
    assert fade[0] == fade[-1] == 0
    assert (fade[8:42] == 1).all()
    assert (fade == fade[::-1]).all()
    assert faded(np.ones(5), 100)[2] == 1
    assert faded(np.ones(1), 9).tolist() == [1]


def test_offset_gain_and_peak():
    """Decibels: 20 times the common logarithm (IEC 60027-3): 6.0206 dB are twice, -20 dB a tenth."""
    assert without_offset(np.array([0.5, 0.1, 0.3])).tolist() == pytest.approx([0.2, -0.2, 0])
    assert amplified(np.array([0.25]), 6.0206)[0] == pytest.approx(0.5, rel=1e-6)
    assert peak_of(np.array([0.01, -0.1])) == pytest.approx(-20)
    assert peak_of(np.zeros(3)) is None


def test_error_of_rounding_has_the_published_power():
    """The error of rounding has a twelfth of a step squared: 8 bits of a sine at full scale have 49.9 dB (6.02 n + 1.76).

    Triangular dither adds two twelfths, three in all: 4.77 dB less. Taking back the error of the sample before doubles that: 7.78 dB.
    Source: Lipshitz, Wannamaker, Vanderkooy (1992), from memory.
    """
    samples = 0.99 * np.sin(np.arange(200_000) * 0.1234567)
    expected = 20 * np.log10(0.99) + 6.0206 * 8 + 1.7609
    for dither, less in (("none", 0), ("plain", 3.01), ("triangular", 4.77), ("shaped", 7.78)):
        numbers, _ = encode(samples * 0.97, "s8", dither)
        found = signal_to_noise(samples * 0.97, numbers, "s8")
        assert found == pytest.approx(expected + 20 * np.log10(0.97) - less, abs=0.1), dither


def test_triangular_dither_makes_the_error_independent_of_the_sound():
    """Mean and power of the error are the same wherever between two steps a sound is: none without, both with triangular dither."""
    for level in (0.0, 0.25, 0.5, 0.75):
        error = rounded(np.full(100_000, level), "triangular") - level
        assert abs(error.mean()) < 0.01
        assert error.var() == pytest.approx(0.25, abs=0.01)
    assert (rounded(np.full(9, 0.25), "none") == 0).all()


def test_shaped_noise_is_at_high_frequencies():
    """The error's spectrum is that of white noise times 2 sin(w / 2): a sixteenth of the band has far less, the upper half more."""
    steps = 20 * np.sin(np.arange(1 << 16) * 0.05)
    power = {}
    for dither in ("triangular", "shaped"):
        power[dither] = np.abs(np.fft.rfft(rounded(steps, dither) - steps)) ** 2
    low, high = slice(1, 2048), slice(16384, None)
    # The mean of (2 sin(w / 2))^2 over a band from 0 to b is 2 - 2 sin(b) / b.
    band = np.pi / 16
    expected = 2 - 2 * np.sin(band) / band
    assert power["shaped"][low].mean() / power["triangular"][low].mean() == pytest.approx(expected, rel=0.15)
    assert power["shaped"][high].mean() > 2 * power["triangular"][high].mean()


def test_noise_is_the_same_everywhere():
    """Against the same generator's raw numbers, which numpy promises to keep (NEP 19): 53 bits of each, moved to -0.5 to 0.5."""
    raw = [9519684028529278285, 16440017234582897153, 9361056401917645152]
    assert np.random.PCG64(1770).random_raw(3).tolist() == raw
    noise = [(number >> 11) / (1 << 53) - 0.5 for number in raw]
    levels = np.array([0.1, 0.5, 0.9])
    assert rounded(levels, "plain")[0] == round(0.1 + noise[0])
    triangular = [one + other for one, other in zip(noise, np.random.PCG64(1770).random_raw(6)[3:] / 2.0**64 - 0.5, strict=True)]
    assert rounded(levels, "triangular").tolist() == [round(level + one) for level, one in zip(levels, triangular, strict=True)]


LOUD = st.tuples(st.floats(-60, -3), st.floats(0, 25), st.sampled_from([0, 0, -6, 3.5])).map(
    lambda one: Measured(one[0], min(0.0, one[0] + one[1]), one[2])
)
LEVELS = st.dictionaries(st.sampled_from("abcdef"), LOUD, min_size=1)


@given(LEVELS, st.floats(-40, -5), st.floats(-20, 0))
def test_mixes_meet_one_loudness_and_no_peak_is_passed(sounds, wanted, peak):
    """All come to one loudness, that asked for or as near below it as the peak allows, within a hundredth of a decibel."""
    record = mix(sounds, wanted, peak)
    reached = [sounds[name].loudness + gain for name, gain in record.gains.items()]
    assert max(reached) - min(reached) <= 0.0101
    peaks = [sounds[name].peak + gain + sounds[name].own for name, gain in record.gains.items()]
    assert max(peaks) <= peak + 1e-9
    assert max(reached) <= wanted + 1e-9
    if record.loudest:
        loudest = sounds[record.loudest]
        assert loudest.peak + loudest.own + record.gains[record.loudest] == pytest.approx(peak, abs=0.0101)
        assert max(reached) == pytest.approx(wanted - record.lowered, abs=0.02)
    else:
        assert max(reached) == pytest.approx(wanted, abs=0.0101)


def test_a_mix_without_loudness_keeps_what_sounds_have_beside_one_another():
    """One gain for all, by the loudest sample; silence stays."""
    sounds = {"a": Measured(-30, -20), "b": Measured(-20, -9.5), "c": Measured(None, None)}
    assert mix(sounds, None, -1).gains == {"a": 8.5, "b": 8.5, "c": 0.0}
    sounds["b"] = Measured(-20, -9.5, -6)
    assert mix(sounds, None, -1).gains == {"a": 14.5, "b": 14.5, "c": 0.0}
    assert mix({"c": Measured(None, None)}, None, -1).gains == {"c": 0.0}
    assert mix({"c": Measured(None, None), "a": Measured(-30, -20)}, -20, -1).gains == {"c": 0.0, "a": 10.0}


MIX = """
[mix.effects]
loudness = -22
[sound.thud]
file = "sound/thud.wav"
mix = "effects"
trim = -60
fade = 2
dither = "triangular"
"""


def mixed(folder, more: str = MIX):
    """Return a project with a quiet bell and a loud, short thud in one mix."""
    make_project(folder, ('file = "sound/bell.wav"', 'file = "sound/bell.wav"\nmix = "effects"'), more=more)
    time = np.arange(8000) / 8000
    soundfile.write(folder / "sound/bell.wav", 0.05 * np.sin(2 * np.pi * 900 * time), 8000, subtype="PCM_16")
    thud = np.concatenate([np.zeros(4000), 0.9 * np.sin(2 * np.pi * 120 * time[:4000]) * np.exp(-time[:4000] * 6), np.zeros(3000)])
    soundfile.write(folder / "sound/thud.wav", thud, 8000, subtype="PCM_16")
    return folder


def test_sounds_of_a_mix_are_equally_loud_in_the_image(tmp_path):
    """Measured again from the bytes of the blobs: within the error of 8 bits; the facts say the same."""
    folder = mixed(tmp_path / "p")
    run_steps(load_project(folder), "sound:bell", "sound:thud")
    found = {}
    for name in ("bell", "thud"):
        facts = read_facts(facts_file(folder / "build/blobs", name), SoundFacts)
        blob = (folder / f"build/blobs/{name}.bin").read_bytes()
        samples = np.frombuffer(blob[-facts.samples :], np.int8).astype(np.float64) / 128
        found[name] = loudness(samples, facts.rate)
        assert facts.loudness == pytest.approx(found[name], abs=0.3)
        assert facts.peak == pytest.approx(peak_of(samples), abs=0.3)
        assert facts.peak <= -1
        assert 10 < facts.signal_to_noise < 50
        if name == "thud":
            assert 3000 < facts.samples < 4010  # the silence before and after it is gone
    assert abs(found["bell"] - found["thud"]) < 0.4


def test_a_changed_sound_changes_the_gains_only_where_they_change(tmp_path):
    """A louder thud lowers its own gain alone, unless the peak is passed."""
    folder = mixed(tmp_path / "p")
    run_steps(load_project(folder), "sound:bell", "sound:thud")
    bell = (folder / "build/blobs/bell.bin").read_bytes()
    samples, _ = soundfile.read(folder / "sound/thud.wav")
    soundfile.write(folder / "sound/thud.wav", samples * 0.5, 8000, subtype="PCM_16")
    run_steps(load_project(folder), "sound:bell", "sound:thud")
    assert (folder / "build/blobs/bell.bin").read_bytes() == bell


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (MIX.replace("[mix.effects]\nloudness = -22", "[mix.effect]"), "there is no mix 'effects'\n    did you mean effect?"),
        (MIX.replace("loudness = -22", "loudness = 3"), "loudness"),
        (MIX.replace("trim = -60", "trim = 6"), "trim"),
        (MIX.replace('"triangular"', '"round"'), "dither"),
    ],
)
def test_keys_that_cannot_be_are_refused(tmp_path, more, said):
    """With table and key. Common practice, no source."""
    with pytest.raises(ProjectError) as caught:
        load_project(mixed(tmp_path / "p", more))
    assert said in str(caught.value)


def test_trials_of_other_rates_know_the_mix(tmp_path):
    """``savings`` converts a sound of a mix at half its rate, and says what that saves: of 8,000 samples in 8 bits about half."""
    folder = mixed(tmp_path / "p", MIX.replace('mix = "effects"', 'mix = "effects"\nrate = 8000'))
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text.replace('always = ["quay", "quay_colours"]', 'always = ["quay", "quay_colours", "thud"]'))
    project = load_project(folder)
    run_steps(project, "memory")
    (step,) = (one for one in plan_project(project).steps if one.name == "savings")
    assert "half the sample rate" in step.run()
