"""Art brought to size: heights, factors for each direction, anchors, and what is refused before any pixel is made."""

from __future__ import annotations

import json

import msgspec
import numpy as np
import pytest
from PIL import Image

from pipeline.assets.backgrounds.prepare import prepare_background
from pipeline.assets.sources.prepare import prepare_sprite
from pipeline.assets.sources.prepared import PreparedFrames
from pipeline.joints.places import Sources, frame_files
from pipeline.plain.errors import ProjectError
from pipeline.project.assets import Background, Sheet, Sprite
from pipeline.report.page import _kind_text
from pipeline.target.records import SpriteLimits
from tests.conftest import some
from tests.makers import build_here, make_project

RESAMPLERS = ("nearest", "area", "lanczos", "dominant")


def sprite(folder, limits: SpriteLimits | None = None, files: int = 1, size: tuple[int, int] = (120, 160), **keys) -> PreparedFrames:
    """Prepare a sprite of opaque frames and return it."""
    names = tuple(f"f{rank}.png" for rank in range(files))
    for name in names:
        Image.new("RGBA", size, (200, 60, 40, 255)).save(folder / name)
    prepare_sprite(Sources(folder, names), frame_files(folder, "ada"), "ada", Sprite(frames="*.png", **keys), limits or SpriteLimits())
    return PreparedFrames(frame_files(folder, "ada"))


def background(folder, size: tuple[int, int], **keys) -> PreparedFrames:
    """Prepare a background of one grey and return it."""
    Image.new("RGB", size, (90, 90, 90)).save(folder / "quay.png")
    prepare_background(Sources(folder, ("quay.png",)), frame_files(folder, "quay"), "quay", Background(file="quay.png", **keys))
    return PreparedFrames(frame_files(folder, "quay"))


# keys, width and height of the result, factors, anchor; reckoned by hand for a canvas of 120 x 160 and the anchor 60.5, 152
SIZES = [
    ({"scale": 0.77}, (93, 123), [0.77, 0.77], [47, 117]),  # 46.585 and 45.815 across, 117.04 and 6.16 down
    ({"scale": [0.5, 1.5]}, (60, 240), [0.5, 1.5], [30, 228]),  # 30.25 and 29.75
    ({"scale": [2, 0.1]}, (240, 16), [2.0, 0.1], [121, 15]),  # 15.2 and 0.8
    ({"height": 100}, (75, 100), [0.625, 0.625], [38, 95]),  # 37.8125 and 37.1875
    ({"height": 123}, (93, 123), [0.76875, 0.76875], [47, 117]),  # 46.509 and 45.741, 116.85 and 6.15
    ({"height": 160}, (120, 160), [1.0, 1.0], [60, 152]),
    ({"height": 320}, (240, 320), [2.0, 2.0], [121, 304]),
]


@pytest.mark.parametrize(("keys", "size", "factors", "anchor"), SIZES, ids=[str(one[0]) for one in SIZES])
def test_size_factors_and_anchor(tmp_path, keys, size, factors, anchor):
    """A height brings the whole frame to itself; on each side of the anchor are the pixels that at least half is drawn on."""
    frames = sprite(tmp_path, anchor=(60.5, 152), **keys)
    assert ((frames.width, frames.height), frames.facts.scale, frames.facts.anchor) == (size, tuple(factors), tuple(anchor))


@pytest.mark.parametrize("height", [2, 3, 7, 49, 77, 100, 161, 300])
def test_any_height_is_met_exactly(tmp_path, height):
    """Where the factor is not a binary number the height is still the one asked for; without an anchor it is the middle below."""
    frames = sprite(tmp_path, size=(49, 161), height=height, alpha=1)
    assert frames.height == height
    assert frames.facts.anchor == (-(-49 * height // 322) if height != 161 else 24, height)  # what is not scaled is not moved
    assert all((frame[..., 3] == 255).any() for frame in frames)


def test_height_is_that_of_a_frame_of_a_sheet(tmp_path):
    """What is brought to the height is one frame, not the picture that holds them all."""
    Image.new("RGBA", (60, 80), (200, 60, 40, 255)).save(tmp_path / "all.png")
    spec = Sprite(sheet=Sheet(file="all.png", columns=3, rows=2), height=20)
    prepare_sprite(Sources(tmp_path, ("all.png",)), frame_files(tmp_path, "ada"), "ada", spec, SpriteLimits())
    frames = PreparedFrames(frame_files(tmp_path, "ada"))
    assert (frames.count, frames.width, frames.height) == (6, 10, 20)


@pytest.mark.parametrize("resample", some(RESAMPLERS, 3))
@pytest.mark.parametrize("keys", some([{"scale": 0.77}, {"scale": [0.61, 0.77]}, {"height": 123}, {"height": 71}, {"scale": 1.3}], 2))
def test_a_mark_stands_still_over_50_frames(tmp_path, resample, keys):
    """A mark of several colours stays on its pixels, bit for bit, in all frames while all else moves."""
    rng = np.random.default_rng(3)
    mark = rng.integers(0, 256, (21, 23, 4), dtype=np.uint8)
    mark[..., 3] = 255
    mark[8:12, 6:15] = 0
    for rank in range(50):
        frame = np.zeros((160, 120, 4), dtype=np.uint8)
        y, x = 3 + rank, 5 + rank * 7 % 90
        frame[y : y + 25, x : x + 20] = rng.integers(0, 256, (25, 20, 4), dtype=np.uint8)
        frame[120:141, 50:73] = mark
        Image.fromarray(frame).save(tmp_path / f"f{rank}.png")
    names = tuple(f"f{rank}.png" for rank in range(50))
    spec = Sprite(frames="*.png", resample=resample, **keys)
    prepare_sprite(Sources(tmp_path, names), frame_files(tmp_path, "ada"), "ada", spec, SpriteLimits())
    frames = PreparedFrames(frame_files(tmp_path, "ada"))
    down = frames.facts.scale[1]
    top = int(120 * down) - 2  # what moves ends at row 77 of the source, well above
    lower = [frame[top:].copy() for frame in frames]
    assert len(lower) == 50
    assert (lower[0][..., 3] > 0).sum() > 50
    assert all(np.array_equal(lower[0], other) for other in lower)


@pytest.mark.parametrize("resample", RESAMPLERS)
def test_background_is_covered_to_its_edges(tmp_path, resample):
    """A background whose last column is covered by a hundredth is of its own colour there, not black."""
    (pixels,) = background(tmp_path, (101, 103), scale=[0.99, 0.68], resample=resample)  # 99.99 x 70.04
    assert pixels.shape == (71, 100, 4)
    assert (pixels == [90, 90, 90, 255]).all()


# what is asked for, what is said
REFUSED = [
    (
        {"height": 1281},
        "project.toml, [sprite.ada] height: 1281 is 8.01 times the 160 pixels of the source, 0.01 to 8 times can be made\n"
        "    use a height of 2 to 1280",
    ),
    (
        {"height": 1},
        "project.toml, [sprite.ada] height: 1 is 0.00625 times the 160 pixels of the source, 0.01 to 8 times can be made\n"
        "    use a height of 2 to 1280",
    ),
    (
        {"scale": [8, 1], "limits": SpriteLimits(max_width=900)},
        "f0.png: 960 x 160 pixels after scaling, the target draws at most 900 x 4096\n    set a smaller scale, or split the figure",
    ),
    (
        {"height": 1200, "limits": SpriteLimits(max_width=899)},
        "f0.png: 900 x 1200 pixels after scaling, the target draws at most 899 x 4096\n    set a smaller scale, or split the figure",
    ),
    (
        {"files": 3, "limits": SpriteLimits(max_frames=2)},
        "project.toml, [sprite.ada]: 3 frames, at most 2 are taken\n    split the sprite in two",
    ),
]


@pytest.mark.parametrize(("keys", "said"), REFUSED, ids=[one[1].partition(": ")[2][:40] for one in REFUSED])
def test_size_that_cannot_be_is_refused(tmp_path, keys, said):
    """Factors a height leads to have the limits of scale; the target's limits hold after scaling."""
    with pytest.raises(ProjectError) as caught:
        sprite(tmp_path, **keys)
    assert str(caught.value) == said


def test_background_too_large_is_refused_before_it_is_made(tmp_path):
    """2000 x 2000 pixels eight times as large would take a gigabyte."""
    with pytest.raises(ProjectError) as caught:
        background(tmp_path, (2000, 2000), scale=8)
    assert str(caught.value) == (
        "project.toml, [background.quay]: 16,000 x 16,000 pixels after scaling, 256,000,000 in all; at most 8,388,608 are taken\n"
        "    use a smaller scale, or split it"
    )


ROWS = [("scale = 0.5", "10 × 12 (0.5); walk"), ("scale = [0.5, 0.75]", "10 × 18 (0.5 × 0.75); walk"), ("height = 6", "6 × 6 (0.25); walk")]


def test_report_tells_the_factors_of_a_build(tmp_path):
    """One number where both directions have the same, both where they differ; a height is shown as its factor."""
    before = 'palette = "figures"'
    for rank, (keys, text) in enumerate(ROWS):
        folder = make_project(tmp_path / str(rank), (before, f"{before}\n{keys}"))
        assert text in _kind_text(build_here(folder).facts["ada"], {})


def test_every_way_of_scaling_is_tested_here():
    """The list above is that of the record."""
    allowed = msgspec.json.schema(Sprite)["$defs"]["Sprite"]["properties"]["resample"]["enum"]
    assert sorted(allowed) == sorted(RESAMPLERS)


def test_frames_of_another_format_or_damaged_are_refused(tmp_path):
    """What is not the description of today is refused with its name, before a pixel is looked at; common practice, no source."""
    sprite(tmp_path)
    path = tmp_path / "ada.frames.json"
    whole = json.loads(path.read_bytes())
    cases = {
        "version: is 99, this version of the tool reads 2": whole | {"version": 99},
        "count: is damaged: Expected int >= 1": whole | {"count": 0},
        r"anchor\[1\]: is damaged: Expected int <= 32767": whole | {"anchor": [0, 1 << 15]},
        "is damaged: Object missing required field source": {key: value for key, value in whole.items() if key != "source"},
    }
    for said, changed in cases.items():
        path.write_text(json.dumps(changed))
        with pytest.raises(ProjectError, match=f"ada.frames.json[:,] ?{said}"):
            PreparedFrames(frame_files(tmp_path, "ada"))
