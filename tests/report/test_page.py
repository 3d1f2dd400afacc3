"""The report page is complete by itself, shows every proof, and moves nothing before it is asked to."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from PIL import Image

from pipeline.plain.shipped import TEMPLATES
from pipeline.target.kinds import KINDS
from tests.makers import build_here, make_project, project_text, write_text
from tests.report.making import build


class _Page(HTMLParser):
    """Notes pictures and whether each is in a closed ``details``, and everything a page would fetch."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.pictures: list[tuple[dict, bool]] = []
        self.fetched: list[str] = []
        self._open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if tag == "details":
            self._open.append("open" if "open" in values else "closed")
        if tag == "img":
            self.pictures.append((values, "closed" in self._open))
        self.fetched += [values[key] for key in ("src", "href", "srcset", "poster") if key in values]

    def handle_endtag(self, tag):
        if tag == "details":
            self._open.pop()


@pytest.fixture(scope="module")
def page(tmp_path_factory) -> tuple[Path, str]:
    """The build folder of a project with animations, and its page."""
    project = build(tmp_path_factory.mktemp("page") / "p")
    return project.folder / "build", (project.folder / "build/report.html").read_text(encoding="utf-8")


def test_every_proof_is_on_the_page_or_named(page):
    """Pictures are there byte for byte, each once, with a size, a description, and loaded when it is needed; the rest is named."""
    folder, text = page
    shown = []
    for values, _ in _Page(text).pictures:
        data = base64.b64decode(values["src"].removeprefix("data:image/png;base64,"), validate=True)
        with Image.open(io.BytesIO(data)) as picture:
            # Frames are shown at the shape of the console's pixels, which are square here.
            assert (str(picture.width), str(picture.height)) == (values["width"], values["height"])
        assert values["alt"]
        assert (values["loading"], values["decoding"]) == ("lazy", "async")
        shown.append(data)
    assert len(set(shown)) == len(shown)
    looks = {path.name.partition(".")[0]: path.read_bytes() for path in (folder / "work").glob("*.shown.png")}
    proofs = {path.name: path.read_bytes() for path in (folder / "proofs").glob("*.png")}
    named = {name for name in proofs if f"proofs/{name}" in text}
    assert named == {name for name in proofs if name.removesuffix(".png") in looks or name.endswith((".anim.png", ".onion.png"))}
    assert set(shown) == {*looks.values(), *(data for name, data in proofs.items() if name not in named)}


def test_page_fetches_nothing(page):
    """Everything it shows is inside it; its policy allows that and its own script (Content Security Policy Level 3)."""
    inside = ("data:image/png;base64,", "data:audio/wav;base64,", "#")
    assert all(address.startswith(inside) for address in _Page(page[1]).fetched)
    assert "@import" not in page[1]
    assert "url(" not in page[1]
    script = page[1].partition('<script id="live">')[2].partition("</script>")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"default-src 'none'; img-src data:; media-src data:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in page[1]


def test_sounds_are_those_of_the_image(page):
    """Each as a recording, which nothing plays by itself."""
    folder, text = page
    sounds = {path.read_bytes() for path in (folder / "work").glob("*.shown.wav")}
    assert {base64.b64decode(data) for data in re.findall(r'src="data:audio/wav;base64,([^"]*)"', text)} == sounds
    assert text.count('<audio controls preload="none"') == len(sounds) > 0
    assert "autoplay" not in text


def test_nothing_moves_without_the_script_and_what_could_is_announced(page):
    """No picture of the page is an animation, each has its steps in words, and a caution comes before the first."""
    assert not any(_moves(values["src"]) for values, _ in _Page(page[1]).pictures)
    assert page[1].index("<img") > page[1].index('id="assets"')  # what is read first waits for no picture
    assert page[1].index("Moving pictures may flash") < page[1].index('<ul class="plays">')
    assert "<b>wave</b> frames 1 2; 54, 2 ticks; once" in page[1]
    assert "<b>walk</b> frames 3 4 4 6; 4 ticks each; looped" in page[1]


def test_data_for_the_script_ends_nothing(page):
    """It is JSON that holds no tag (HTML: a script's text ends with its end tag), and says what the map says."""
    text = page[1].partition('<script type="application/json" id="data">')[2].partition("</script>")[0]
    assert "<" not in text
    blocks = json.loads(text)["blocks"]
    known = json.loads((page[0] / "map.json").read_bytes())
    assert [one["name"] for one in blocks if one["kind"]] == [one["name"] for one in known["entries"]]
    assert [one["offset"] for one in blocks[1:]] == [one["offset"] + one["bytes"] for one in blocks[:-1]]
    assert blocks[-1]["offset"] + blocks[-1]["bytes"] == known["image"]["bytes"]


def test_no_caution_where_nothing_moves(tmp_path):
    """A project without animations has no moving picture and no words about one."""
    folder = make_project(tmp_path / "p")
    write_text(folder, project_text(("[sprite.ada.animations]\nwalk = { frames = \"walk_*\", ms = 80 }\n", "")))
    build_here(folder, "verify", "proofs", "report")
    text = (folder / "build/report.html").read_text(encoding="utf-8")

    assert "may flash" not in text
    assert not any(_moves(values["src"]) for values, _ in _Page(text).pictures)
    assert not (folder / "build/proofs/ada.anim.png").exists()
    assert (folder / "build/proofs/ada.before-after.png").exists()


def _moves(source: str) -> bool:
    with Image.open(io.BytesIO(base64.b64decode(source.partition(",")[2]))) as picture:
        return getattr(picture, "n_frames", 1) > 1


def test_each_kind_has_a_colour_of_its_own_in_the_bar():
    """One for each place in the bar's order; without one a part of the image would look like free room."""
    text = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"\.c(\d+) { background: (#[0-9a-f]{6}); }", text))
    assert len({colours[str(rank)] for rank in range(len(KINDS))}) == len(KINDS)


def test_page_shows_what_scenes_hold_in_part(tmp_path):
    """Buffers hatched in the bar and in its key, a line for each streamed asset, and a bar of what a blank carries."""
    choose = 'choose = [{ count = 1, of = ["crew"] }]'
    folder = make_project(tmp_path / "p", (choose, f"{choose}\nstreamed.crew = {{ buffers = 2 }}"))
    build_here(folder, "verify", "proofs", "report")
    text = (folder / "build/report.html").read_text(encoding="utf-8")
    scene = json.loads((folder / "build/budget.json").read_bytes())["scenes"]["play"]
    fetched = scene["parts"][1]["fetched"]
    assert fetched > 0
    assert re.search(r'class="c\d fetched" style="width:[\d.]+%" title="crew: 2 KiB of buffers and windows"', text)
    assert "<p class=\"note\">ada streamed: 2 buffers of 1 KiB, a frame each, and 64 bytes resident, instead of 2.1 KiB; " in text
    assert f"Fetched in the worst picture: {scene['traffic']['bytes']:,} bytes in 1 transfer, each of which counts as 16 bytes more" in text
    assert "Bytes of a blank: 1,040 of 16,384, with crew." in text
    assert 'style="width:6.348%"' in text  # 1,040 of 16,384
