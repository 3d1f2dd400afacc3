"""Looking through a folder: counts and sizes as Pillow and FFmpeg (PyAV) read them, lengths as libsndfile does; what is left out."""

from __future__ import annotations

import hashlib
import os
import shutil
import time
import wave
from pathlib import Path

import av
import pytest
import soundfile
from fontTools.ttLib import TTFont
from PIL import Image

from pipeline.bringing import look
from pipeline.bringing.look import art_in, list_files, look_through
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import MONO

ROOT = Path(__file__).parent.parent.parent


def picture(path: Path, size=(12, 10), colour=(200, 40, 40, 255)) -> None:
    """Write a picture with a clear border."""
    path.parent.mkdir(parents=True, exist_ok=True)
    whole = Image.new("RGBA", size)
    whole.paste(colour, (1, 1, size[0] - 1, size[1] - 1))
    whole.save(path)


def tone(path: Path, seconds=0.25, rate=8000) -> None:
    """Write a recording of silence."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, rate, 0, "NONE", "not compressed"))
        file.writeframes(bytes(2 * int(seconds * rate)))


@pytest.mark.parametrize("name", ["run.gif", "run.png"])
def test_animations_as_two_decoders_count_them(tmp_path, name):
    """Frames and size, by Pillow and by FFmpeg."""
    frames = [Image.new("RGBA", (20, 14), (rank * 40, 90, 120, 255)) for rank in range(5)]
    frames[0].save(tmp_path / name, save_all=True, append_images=frames[1:], duration=70, loop=0)
    (one,) = look_through(tmp_path).values()
    assert one.look is not None
    with Image.open(tmp_path / name) as whole:
        assert (one.kind, one.frames, (one.look.width, one.look.height)) == ("animation", whole.n_frames, whole.size)
    with av.open(str(tmp_path / name), format="apng" if name.endswith("png") else None) as video:
        decoded = [(frame.width, frame.height) for frame in video.decode(video=0)]
    assert (one.frames, (one.look.width, one.look.height)) == (len(decoded), decoded[0])


def test_sizes_and_lengths_of_the_demo():
    """Every picture as Pillow opens it and every recording as libsndfile does."""
    for one in look_through(ROOT / "demo_project/art").values():
        if not one.kind:
            continue  # a text about where it comes from
        with Image.open(ROOT / "demo_project/art" / one.name) as whole:
            assert one.look is not None
            assert (one.wrong, (one.look.width, one.look.height)) == ("", whole.size)
    for one in look_through(ROOT / "demo_project/sound").values():
        if not one.kind:
            continue
        known = soundfile.info(ROOT / "demo_project/sound" / one.name)
        assert (one.rate, round(one.seconds * one.rate)) == (known.samplerate, known.frames)


def test_what_is_noted_of_each_kind(tmp_path):
    """Sum and size of every file; letters of a font as fontTools lists its characters; colours, lengths, frames, and what files ask for."""
    shutil.copy(MONO, tmp_path / "a.ttf")
    tone(tmp_path / "b.WAV", seconds=0.5)
    (tmp_path / "c.gpl").write_bytes(b"GIMP Palette\n1 2 3\n4 5 6\n1 2 3\n")
    exif = Image.Exif()
    exif[274] = 6
    Image.new("RGB", (8, 9), (200, 0, 0)).save(tmp_path / "d.jpg", exif=exif)
    Image.new("RGB", (8, 9), (200, 0, 0)).save(tmp_path / "e.png")
    looked = look_through(tmp_path)
    for name, one in looked.items():
        data = (tmp_path / name).read_bytes()
        assert (one.name, one.digest, one.size, one.wrong) == (name, hashlib.sha256(data).hexdigest(), len(data), "")
    letters = "".join(chr(code) for code in sorted(TTFont(MONO).getBestCmap()) if 32 <= code <= 126)
    assert [looked[name].kind for name in sorted(looked)] == ["font", "sound", "palette", "picture", "picture"]
    assert (looked["a.ttf"].letters, looked["c.gpl"].entries) == (letters, 2)
    assert (looked["b.WAV"].seconds, looked["b.WAV"].rate) == (0.5, 8000)
    assert [(looked[name].look.lossy, looked[name].look.turned) for name in ("d.jpg", "e.png")] == [(True, True), (False, False)]
    (tmp_path / "f.ttf").write_bytes(b"\0" * 40)
    assert "f.ttf" in list_files(tmp_path)
    assert list_files(tmp_path, [tmp_path / "a.ttf", tmp_path / "none"]) == ["b.WAV", "c.gpl", "d.jpg", "e.png", "f.ttf"]
    assert art_in(tmp_path, {"a.ttf", "d.jpg"}) == 4


@pytest.mark.parametrize(("most", "fits"), [(3, True), (2, False)])
def test_files_of_a_folder_have_a_limit(tmp_path, monkeypatch, most, fits):
    """As many as the bound says are listed; a folder of a project's own results does not count as art."""
    monkeypatch.setattr(look, "BROUGHT_FILES", most)
    for name in ("a.png", "b/c.png", "b/d.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    if fits:
        assert list_files(tmp_path) == ["a.png", "b/c.png", "b/d.txt"]
        assert art_in(tmp_path, ()) == 2
    else:
        with pytest.raises(ProjectError, match="holds more than 2 files"):
            list_files(tmp_path)


def test_hidden_system_and_outer_files_are_left_out(tmp_path):
    """And a link that stays inside is followed to its file."""
    art = tmp_path / "art"
    for name in ("a.png", ".b.png", "__MACOSX/c.png", ".git/d.png"):
        picture(art / name)
    (art / "Thumbs.db").write_bytes(b"x")
    picture(tmp_path / "outside/e.png")
    (art / "e.png").symlink_to(tmp_path / "outside/e.png")
    (art / "outside").symlink_to(tmp_path / "outside")
    (art / "f.png").symlink_to("a.png")
    looked = look_through(art)
    assert {name: one.wrong for name, one in looked.items() if one.kind} == {
        "a.png": "",
        "e.png": "is a link that leads out of the folder",
        "f.png": "",
    }
    assert "link to a folder" in looked["outside"].wrong


def test_links_that_lead_nowhere_and_folders_too_deep_are_named(tmp_path):
    """A link to itself, one to a file that is gone, and a folder below more folders than are gone through; the good file is taken."""
    picture(tmp_path / "good.png")
    (tmp_path / "loop.png").symlink_to("loop.png")
    (tmp_path / "gone.png").symlink_to("nowhere.png")
    deep = "/".join(["d"] * 40)
    picture(tmp_path / deep / "low.png")
    looked = look_through(tmp_path)
    assert [name for name, one in looked.items() if not one.wrong] == ["good.png"]
    assert looked["loop.png"].wrong.startswith("cannot be read: ")
    assert "leads nowhere" in looked["gone.png"].wrong
    assert "too many folders deep" in looked["/".join(["d"] * 33)].wrong


def test_damaged_files_among_good_ones(tmp_path):
    """Each with its reason; the others are taken."""
    picture(tmp_path / "good.png")
    whole = (tmp_path / "good.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[:-20])
    (tmp_path / "empty.png").write_bytes(b"")
    (tmp_path / "words.wav").write_bytes(b"hello")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff")
    (tmp_path / "scan.tif").write_bytes(b"II*\0")
    (tmp_path / "a.ttf").write_bytes(b"\0" * 40)
    (tmp_path / "a.gpl").write_bytes(b"GIMP Palette\n1 2 300\n")
    os.mkfifo(tmp_path / "pipe.png")
    looked = look_through(tmp_path)
    assert [name for name, one in looked.items() if not one.wrong] == ["good.png"]
    assert "cut short" in looked["cut.png"].wrong
    assert "empty" in looked["empty.png"].wrong
    assert "not a picture" in looked["photo.jpg"].wrong
    assert "PNG" in looked["scan.tif"].wrong
    assert "regular file" in looked["pipe.png"].wrong


def test_ten_thousand_files_in_order(tmp_path):
    """They are listed within seconds, numbers counted as numbers; bound of 20 s on a busy machine."""
    for rank in range(10_000):
        (tmp_path / f"walk_{rank}.txt").touch()
    began = time.monotonic()
    assert list_files(tmp_path) == [f"walk_{rank}.txt" for rank in range(10_000)]
    assert len(look_through(tmp_path)) == 10_000
    assert time.monotonic() - began < 20


def test_missing_folder_is_refused(tmp_path):
    """With the system's reason."""
    with pytest.raises(ProjectError, match="cannot be looked into"):
        list_files(tmp_path / "none")
