"""The report in Chromium: what moves does so at the game's rate, what is chosen shows, nothing fails, nothing is asked for.

Pictures and sums are compared with the image's own files, read by Pillow. What a person would call right has no other source than the
documented protocol's view of the page, except where one is named.
"""

from __future__ import annotations

import base64
import importlib.util
import io
import json
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from PIL import Image, ImageDraw

from tests.assets.test_notes import KINDS, NOTES
from tests.browser import Browser
from tests.conftest import missing, need_tool, only_long
from tests.makers import build_here, make_project
from tests.packet.test_web import WATCH
from tests.report.making import CROWD, crowd

MORE = """
[palette.night]
variant_of = "figures"
lightness = 0.5
[font.digits]
file = "art/digits.png"
cell = [6, 8]
order = "01"
palette = "figures"
"""
CHANGES = (
    ('crew = ["ada", "figures"]', 'crew = ["ada", "figures"]\ngang = ["crowd", "figures"]'),
    ('of = ["crew"] }]', 'of = ["crew", "gang"] }]\nwindow.quay = {}'),
    ('file = "art/quay.png"', 'file = "art/quay.png"\npan = [3, 0]'),
)
TICK = 1000 / 59.94  # milliseconds of a screen picture of the console, as its target says
# Notes when a canvas showed what, for as long as is waited for.
RECORD = """
(selector, name) => {
  const canvas = document.querySelector(selector);
  window.seen ??= {};
  seen[name] = [];
  new MutationObserver(() => seen[name].push([performance.now(), canvas.dataset.step ?? canvas.dataset.x].map(Number)))
    .observe(canvas, { attributes: true, attributeFilter: ["data-step", "data-x"] });
}
"""


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """The build folder of a project with sprites, notes, a variant, a background larger than the screen, a font and sounds."""
    folder = make_project(tmp_path_factory.mktemp("browser") / "p", *CHANGES, more=CROWD + KINDS + 'file = "ada.notes.toml"\n' + MORE)
    crowd(folder / "art/crowd.png")
    (folder / "ada.notes.toml").write_text(NOTES, encoding="utf-8")
    across = np.linspace(60, 220, 480).astype(np.uint8)
    Image.fromarray(np.stack([across, across[::-1], across], axis=-1)[None].repeat(300, axis=0)).save(folder / "art/quay.png")
    digits = Image.new("RGBA", (12, 8))
    ImageDraw.Draw(digits).rectangle((1, 1, 4, 6), fill=(200, 60, 40, 255))
    ImageDraw.Draw(digits).line((8, 1, 8, 6), fill=(200, 60, 40, 255))
    digits.save(folder / "art/digits.png")
    build_here(folder, "verify", "proofs", "report")
    return folder / "build"


@pytest.fixture(scope="module")
def window(built, tmp_path_factory) -> Iterator[Browser]:
    """A browser that has the page open, at its top, where nothing has been touched."""
    browser = Browser(need_tool("chromium"), tmp_path_factory.mktemp("profile"), "about:blank")
    browser.ask("Page.enable")
    browser.ask("Page.addScriptToEvaluateOnNewDocument", source=WATCH)
    browser.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-reduced-motion", "value": "reduce"}])
    browser.ask("Emulation.setDeviceMetricsOverride", width=1280, height=800, deviceScaleFactor=1, mobile=False)
    browser.ask("Page.navigate", url=(built / "report.html").as_uri())
    browser.until("location.href.startsWith('file:') && document.readyState === 'complete'")
    yield browser
    browser.close()


@pytest.fixture(autouse=True)
def faultless(window) -> Iterator[None]:
    """After every test: nothing on the console, and nothing was fetched."""
    yield
    assert window.value("faults") == []
    assert window.value("performance.getEntriesByType('resource').filter((one) => !one.name.startsWith('data:')).length") == 0


def card(name: str) -> str:
    return f"#asset-{name} [data-live]"


def shown(window: Browser, name: str) -> np.ndarray:
    """Return what an asset's canvas shows: uint8, shape (height, width, 4)."""
    drawn = window.value(f"document.querySelector('{card(name)} canvas').toDataURL()")
    with Image.open(io.BytesIO(base64.b64decode(drawn.partition(",")[2]))) as picture:
        return np.asarray(picture.convert("RGBA"))


def choose(window: Browser, name: str, label: str, value: str) -> None:
    """Choose from a list of an asset's, and wait until the canvas has been drawn again."""
    window.value(f"""(() => {{
      const one = [...document.querySelectorAll(`{card(name)} label`)].find((label) => label.textContent.startsWith("{label}"));
      const control = one.querySelector("select, input");
      if (control.type === "checkbox") control.checked = "{value}" === "true"; else control.value = "{value}";
      control.dispatchEvent(new Event("change", {{ bubbles: true }}));
      return new Promise((done) => setTimeout(done, 60));
    }})()""")


def press(window: Browser, key: str, text: str = "") -> None:
    for kind in ("keyDown", "keyUp"):
        window.ask("Input.dispatchKeyEvent", type=kind, key=key, **({"text": text} if text and kind == "keyDown" else {}))
    window.value("new Promise((done) => setTimeout(done, 60))")


def frame_of(built: Path, name: str, frame: int, times: int, colours: str = "") -> np.ndarray:
    """Return a frame from the file beside the image, each pixel so many times across and down, clear ones without a colour."""
    said = json.loads((built / f"work/{name}.shown.json").read_bytes())
    width, height = said["frame"]
    with Image.open(built / f"work/{name}.shown.png") as picture:
        if colours:
            picture.putpalette(bytes.fromhex(said["variants"][colours]))
        left, top = frame % said["columns"] * width, frame // said["columns"] * height
        one = np.asarray(picture.convert("RGBA").crop((left, top, left + width, top + height))).copy()
    one[one[..., 3] == 0] = 0
    return one.repeat(times, axis=0).repeat(times, axis=1)


def test_frames_advance_and_the_window_pans_at_the_games_rate(window):
    """Nothing moves by itself, with less motion asked for as without; then a step of 7 ticks, and 3 pixels a tick, by the clock."""
    window.value("document.querySelector('#asset-crowd').scrollIntoView()")
    window.until(f"document.querySelector('{card('crowd')} canvas').dataset.step === '0'")
    window.value("document.querySelector('#asset-quay').scrollIntoView()")
    window.until(f"document.querySelector('{card('quay')} canvas').dataset.x === '0'")
    for name in ("crowd", "quay"):
        window.value(f"({RECORD})('{card(name)} canvas', '{name}')")
    window.value("new Promise((done) => setTimeout(done, 200))")
    assert window.value("[seen.crowd.length, seen.quay.length]") == [0, 0]
    play = "document.querySelectorAll('#asset-crowd .first, #asset-quay .first').forEach((one) => one.click())"
    window.value(f"{play}; new Promise((done) => setTimeout(done, 1000))")
    window.value(play)  # Pause
    steps, places = window.value("[seen.crowd, seen.quay]")
    passed = sum((new - old) % 4 for (_, old), (_, new) in zip(steps, steps[1:], strict=False))
    assert passed >= 4
    assert (steps[-1][0] - steps[0][0]) / passed == pytest.approx(7 * TICK, rel=0.12)
    gone = sum(abs(new - old) for (_, old), (_, new) in zip(places, places[1:], strict=False))
    turned = sum(1 for (_, a), (_, b), (_, c) in zip(places, places[1:], places[2:], strict=False) if (b - a) * (c - b) < 0)
    assert gone + 3 * turned == pytest.approx(3 * (places[-1][0] - places[0][0]) / TICK, rel=0.08)
    before = window.value("[seen.crowd.length, seen.quay.length]")
    assert window.value("new Promise((done) => setTimeout(() => done([seen.crowd.length, seen.quay.length]), 150))") == before


def test_a_sprite_is_shown_as_it_is_at_every_size_and_in_every_palette(window, built):
    """Each pixel of the console is a square of one colour, that of the image; a variant is the other palette's."""
    window.value(f"document.querySelector('{card('ada')} canvas').scrollIntoView()")
    window.until(f"document.querySelector('{card('ada')} canvas').dataset.step === '0'")
    for times in (1, 3, 8):
        choose(window, "ada", "Size", str(times))
        assert np.array_equal(shown(window, "ada"), frame_of(built, "ada", 0, times))
    choose(window, "ada", "Palette", "night")
    assert np.array_equal(shown(window, "ada"), frame_of(built, "ada", 0, 8, "night"))
    choose(window, "ada", "Palette", "")
    for ground in ("light", "dark", "chequered"):
        choose(window, "ada", "Ground", ground)
        assert window.value(f"document.querySelector('{card('ada')} .board').classList.contains('{ground}')")


def test_keys_step_and_what_is_laid_over_comes_and_goes(window, built):
    """Arrow keys go from frame to frame and round; onion skin, cells, anchor and boxes draw, and leave no trace."""
    window.value(f"document.querySelector('{card('ada')} canvas').focus()")
    for key, step in (("ArrowRight", "1"), ("ArrowRight", "0"), ("ArrowLeft", "1")):
        press(window, key)
        assert window.value(f"document.querySelector('{card('ada')} canvas').dataset.step") == step
    plain = frame_of(built, "ada", 1, 8)
    assert np.array_equal(shown(window, "ada"), plain)
    press(window, "-", "-")
    assert shown(window, "ada").shape[0] == plain.shape[0] // 8 * 7
    press(window, "+", "+")
    for what in ("Onion", "Cells", "Boxes"):
        choose(window, "ada", what, "true")
        assert not np.array_equal(shown(window, "ada"), plain), what
        choose(window, "ada", what, "false")
        assert np.array_equal(shown(window, "ada"), plain), what
    choose(window, "ada", "Boxes", "true")
    left, top = 10 * 8 + 1, 8 * 8 + 4  # on the left edge of the box "strike" of the second frame, [10, 6, 8, 4]; amid a dash
    assert tuple(shown(window, "ada")[top, left][:3]) in {(0, 114, 178), (255, 255, 255)}
    assert "damage 12" in window.value(f"document.querySelector('{card('ada')} .said').textContent")


def test_the_window_of_a_background_is_dragged(window, built):
    """By the mouse as far as it goes on the whole picture, by keys eight pixels or one, never beyond an edge."""
    only_long()
    place = """(() => { const one = document.querySelector('#asset-quay .window'); one.scrollIntoView({ block: 'center' });
      one.focus(); const { left, top, width } = one.getBoundingClientRect(); return [left, top, width]; })()"""
    choose(window, "quay", "Size", "1")
    window.value(place)
    for _ in range(20):
        press(window, "ArrowLeft")
    left, top, width = window.value(place)
    times = width / 320
    mouse: dict[str, Any] = {"button": "left", "buttons": 1, "clickCount": 1}
    window.ask("Input.dispatchMouseEvent", type="mousePressed", x=left + 50, y=top + 50, **mouse)
    window.ask("Input.dispatchMouseEvent", type="mouseMoved", x=left + 50 + 60 * times, y=top + 50 + 20 * times, **mouse)
    window.ask("Input.dispatchMouseEvent", type="mouseReleased", x=left + 50 + 60 * times, y=top + 50 + 20 * times, **mouse)
    at = "Object.values(document.querySelector('#asset-quay canvas').dataset).map(Number)"
    window.until(f"{at}[0] > 0")
    assert window.value(at) == [pytest.approx(60, abs=1), pytest.approx(20, abs=1)]
    press(window, "ArrowRight")
    x, y = window.value(at)
    with Image.open(built / "work/quay.shown.png") as whole:
        assert np.array_equal(shown(window, "quay"), np.asarray(whole.convert("RGBA").crop((x, y, x + 320, y + 240))))
    for _ in range(15):
        press(window, "ArrowRight")
    assert window.value(at)[0] == 480 - 320


def test_a_line_is_set_with_the_fonts_own_glyphs(window, built):
    """Each glyph after the advance of the one before, at twice its size; what the font lacks is named."""
    window.value(f"""(() => {{ const line = document.querySelector("{card('digits')} input[type=text]"); line.scrollIntoView();
      line.value = "10x"; line.dispatchEvent(new Event("input")); return new Promise((done) => setTimeout(done, 100)); }})()""")
    glyphs = json.loads((built / "work/digits.shown.json").read_bytes())["glyphs"]
    advance = {chr(code): width for code, width in glyphs}
    one, nought = (frame_of(built, "digits", rank, 2) for rank in (1, 0))
    height, width = one.shape[:2]
    wanted = np.zeros((height, 2 * (advance["1"] + advance["0"]) + width, 4), dtype=np.uint8)
    for glyph, left in ((one, 0), (nought, 2 * advance["1"])):
        drawn = glyph[..., 3] > 0
        wanted[:, left : left + width][drawn] = glyph[drawn]
    assert np.array_equal(shown(window, "digits")[:height], wanted)
    assert "not in the font: x" in window.value(f"document.querySelector('{card('digits')} .said').textContent")


def test_members_of_a_scene_can_be_exchanged(window, built):
    """The first bar is the worst case of the budget, the other member's is its next."""
    scene = json.loads((built / "budget.json").read_bytes())["scenes"]["play"]
    box = "[data-live=scene]"
    assert window.value(f"Number(document.querySelector('{box}').dataset.bytes)") == scene["bytes"]
    change = f"""(() => {{ const one = document.querySelector("{box} select"); one.value = "{scene['next'][0]['chosen'][0][0]}";
      one.dispatchEvent(new Event("change")); }})()"""
    window.value(change)
    assert window.value(f"Number(document.querySelector('{box}').dataset.bytes)") == scene["next"][0]["bytes"]
    assert "less than the worst case" in window.value(f"document.querySelector('{box} .said').textContent")
    window.value(f"document.querySelector('{box} button').click()")
    assert window.value(f"Number(document.querySelector('{box}').dataset.bytes)") == scene["bytes"]


def test_the_map_goes_from_block_to_block_and_nearer(window, built):
    """Each block says its name, kind, bytes, offset and address; the strip is to scale at every zoom."""
    known = json.loads((built / "map.json").read_bytes())
    window.value("document.querySelector('.strip button[tabindex=\"0\"]').focus()")
    press(window, "ArrowRight")
    entry = known["entries"][0]
    said = window.value("document.querySelector('.block').innerText")
    places = [f"{entry[key]:#010x}" for key in ("offset", "address")]
    for text in (entry["name"], entry["kind"], f"{entry['bytes']:,}", *places, entry["crc32"]):
        assert text in said, text
    size = "document.querySelector('.strip').offsetWidth"
    before = window.value(size)
    press(window, "+", "+")
    assert window.value(size) == 2 * before
    largest = max(known["entries"], key=lambda one: one["bytes"])
    found = f"[...document.querySelectorAll('.strip button')].find((one) => one.textContent === '{largest['name']}')"
    width = window.value(f"{found}.offsetWidth")
    assert width == pytest.approx(2 * before * largest["bytes"] / known["image"]["bytes"], abs=1.5)


def test_assets_are_found_and_put_in_order(window, built):
    """A slash begins the search; words narrow it down, Escape ends it; by size the largest is first, and your order comes back."""
    names = "[...document.querySelectorAll('article')].filter((one) => !one.hidden).map((one) => one.dataset.name)"
    all_names = window.value(names)
    window.value("document.activeElement.blur()")
    press(window, "/", "/")
    window.ask("Input.insertText", text="sound bel")
    assert window.value(names) == ["bell"]
    assert window.value("document.querySelector('.found').textContent") == f"1 of {len(all_names)} assets"
    press(window, "Escape")
    assert window.value(names) == all_names
    order = "((one) => {{ one.value = '{}'; one.dispatchEvent(new Event('change')); }})(document.querySelectorAll('.bench select')[1])"
    window.value(order.format("size"))
    entries = json.loads((built / "map.json").read_bytes())["entries"]
    sizes = {one["name"]: one["bytes"] for one in entries}
    found = [sizes[name] for name in window.value(names)]
    assert found == sorted(sizes.values(), reverse=True)
    window.value(order.format("author"))
    assert window.value(names) == all_names


def test_sounds_are_quiet_and_play_one_at_a_time(window):
    """None plays by itself; the first volume is a fifth."""
    assert window.value("[...document.querySelectorAll('audio')].every((one) => one.paused && one.volume === 0.2)")
    played = "document.querySelector('audio').play().then(() => true, (wrong) => String(wrong))"
    answer = window.ask("Runtime.evaluate", expression=played, returnByValue=True, awaitPromise=True, userGesture=True)
    assert answer["result"]["value"] is True
    window.until("document.querySelector('audio').ended")


def test_no_rule_of_axe_is_broken(window):
    """axe-core, all its rules (WCAG 2.x and common practice) in light, those of contrast in dark again, with everything open."""
    only_long()
    found = importlib.util.find_spec("axe_core_python")
    if found is None or not found.submodule_search_locations:
        missing("the library axe_core_python is not installed")
    window.value((Path(found.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8") + "; 1")
    window.value("document.querySelectorAll('details').forEach((one) => { one.open = true; }); 1")
    for colours, rules in (("light", "{}"), ("dark", '{ runOnly: ["color-contrast"] }')):
        window.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": colours}])
        said = "({ violations }) => violations.map(({ id, nodes }) => [id, nodes.slice(0, 3).map(({ html }) => html)])"
        assert window.value(f"axe.run(document, {rules}).then({said})") == []


def test_page_is_as_wide_as_a_phone_and_goes_onto_paper(window):
    """360 pixels without sideways scrolling, everything open; printed (reader: pypdf) it has every asset, and no controls."""
    window.ask("Emulation.setDeviceMetricsOverride", width=360, height=800, deviceScaleFactor=1, mobile=True)
    assert window.value("[document.documentElement.scrollWidth, innerWidth]") == [360, 360]
    paper = pypdf.PdfReader(io.BytesIO(base64.b64decode(window.ask("Page.printToPDF")["data"])))
    text = unicodedata.normalize("NFKC", " ".join(page.extract_text() for page in paper.pages))  # the letters of ligatures
    assert "Tin Ferry" in text
    names = window.value("[...document.querySelectorAll('article')].map((one) => one.dataset.name)")
    assert [name for name in names if name not in text] == []
    assert "Worst case" not in text
