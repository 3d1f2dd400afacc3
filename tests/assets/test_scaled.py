"""Frames kept by the content of their files: with or without them the same files are written and the same is said.

The reference is the same preparation with nothing kept.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.assets.sources import prepare as module
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Sprite
from pipeline.target.records import SpriteLimits

LIMITS = SpriteLimits(max_width=512, max_height=512)
NAMES = tuple(f"f{rank}.png" for rank in range(4))


@pytest.fixture
def scaled(monkeypatch) -> list[int]:
    """Return a list that gets an entry for each frame that is scaled."""
    found, scale_about = [], module.scale_about
    monkeypatch.setattr(module, "scale_about", lambda *given: found.append(1) or scale_about(*given))
    return found


@pytest.fixture
def art(tmp_path) -> Path:
    rng = np.random.default_rng(5)
    for name in NAMES:
        pixels = rng.integers(0, 256, (24, 20, 4), dtype=np.uint8)
        pixels[:6] = 0
        Image.fromarray(pixels).save(tmp_path / name)
    return tmp_path


def prepared(folder: Path, cache: Path | None, names: tuple[str, ...] = NAMES, noted: bool = True, **spec) -> list[bytes]:
    """Return what is written of some frames, and what is said."""
    out = frame_files(folder, "kept" if cache else "plain")
    given = Sprite(frames="*.png", **{"scale": 0.77, **spec})
    said = prepare_sprite(Sources(folder, names), out, "one", given, LIMITS, noted=noted, cache=cache)
    return [out.pixels.read_bytes(), out.described.read_bytes(), said.encode()]


def test_a_saved_frame_alone_is_scaled(art, scaled):
    """One frame is drawn otherwise; then the frames come in another order, and one is there twice."""
    cache = art / "one.results"
    prepared(art, cache)
    assert len(scaled) == 4
    with Image.open(art / NAMES[2]) as picture:
        changed = picture.convert("RGBA")
    changed.putpixel((4, 20), (1, 2, 3, 255))
    changed.save(art / NAMES[2])
    kept = prepared(art, cache)
    assert len(scaled) == 5
    assert kept == prepared(art, None)
    scaled.clear()
    other = (*NAMES[::-1], NAMES[1])
    kept = prepared(art, cache, other)
    assert not scaled
    assert kept == prepared(art, None, other)


@pytest.mark.parametrize(
    "changed",
    [
        {"scale": 0.5}, {"scale": 1}, {"height": 11}, {"resample": "lanczos"}, {"light": "linear"}, {"alpha": 7}, {"anchor": (3, 9)},
        {"key": ("#000000",)}, {"key": ("#000000",), "tolerance": 40}, {"align": "bottom"}, {"noted": False},
    ],
    ids=str,
)  # fmt: skip
def test_other_settings_make_other_frames(changed, art):
    """What was kept with the usual settings is not taken for what they make of a frame."""
    cache = art / "one.results"
    prepared(art, cache)
    assert prepared(art, cache, **changed) == prepared(art, None, **changed)


def test_what_there_is_to_say_is_said_each_time(art):
    """A ground that seems to mean transparent, and a format that changes colours."""
    Image.new("RGB", (20, 24), (255, 0, 255)).save(art / "g.png")
    with Image.open(art / "g.png") as picture:
        picture.paste((10, 10, 10), (8, 8, 14, 14))
        picture.save(art / "g.png")
        picture.save(art / "h.jpg")
    names = ("f0.png", "g.png", "f1.png", "h.jpg")
    wanted = prepared(art, None, names)
    assert b"g.png" in wanted[2]
    assert b"h.jpg" in wanted[2]
    for _ in range(3):
        assert prepared(art, art / "one.results", names) == wanted


def test_a_known_frame_is_refused_as_any_other(art):
    """With the ending of another format, of another size than the others, or larger than the target draws."""
    cache = art / "one.results"
    prepared(art, cache)
    (art / "f9.gif").write_bytes((art / NAMES[0]).read_bytes())
    with pytest.raises(ProjectError, match="ending of a GIF"):
        prepared(art, cache, (*NAMES, "f9.gif"))
    Image.new("RGBA", (9, 9)).save(art / "small.png")
    prepared(art, cache, ("small.png",))
    with pytest.raises(ProjectError, match="9 x 9 pixels"):
        prepared(art, cache, (*NAMES, "small.png"))
    out, spec, small = frame_files(art, "kept"), Sprite(frames="*.png", scale=0.77), SpriteLimits(max_width=8, max_height=8)
    with pytest.raises(ProjectError, match="draws at most 8 x 8"):
        prepare_sprite(Sources(art, NAMES), out, "one", spec, small, noted=True, cache=cache)
