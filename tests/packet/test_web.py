"""The packet as a page, read by the standard library's parser, and by Chromium at the widths of a phone, a tablet and a desk."""

from __future__ import annotations

import base64
import hashlib
import html.parser
import re
from pathlib import Path
from typing import Any

import pytest

import pipeline.project.file as pf
from pipeline.packet.web import write_page
from pipeline.plain.rendering import find_template
from pipeline.plain.shipped import TEMPLATES
from tests.browser import Browser
from tests.conftest import need_tool, some
from tests.packet.test_language import full_changes, full_spec
from tests.packet.test_packet import make_packet, read_pages
from tests.packet.test_plan import ALONE, GRID, LINKS
from tests.release.making import BUGS, BUILD, DATE, FEEDBACK, STEM, make_game, make_spec, packet_files, write_boot

WIDTHS = (360, 768, 1280)
TARGET = 44  # CSS pixels: WCAG 2.2, success criterion 2.5.5
# Watches for whatever a console would show, before anything of the page runs.
WATCH = """
window.faults = [];
for (const kind of ["error", "unhandledrejection", "securitypolicyviolation"])
  addEventListener(kind, (event) => faults.push(kind + ": " + (event.message || event.violatedDirective || event.reason)), true);
for (const kind of ["error", "warn"]) console[kind] = (...words) => faults.push(kind + ": " + words.join(" "));
"""


def page_args(folder: Path, language: str = "en") -> dict[str, Any]:
    map_file, wording, _ = packet_files(folder, language)
    parts = {"template": "html.j2", "style": "css", "script": "js"}
    return {"map_file": map_file, "wording": wording, **{part: find_template(folder, f"packet.{end}") for part, end in parts.items()}}


def make_page(folder: Path, language: str = "en", **more: Any) -> Path:
    given = {"spec": make_spec(), "date": DATE, "console": "Basalt 32", "boot": write_boot(folder), "image_name": "kest.rom"} | more
    out = folder / "packet.html"
    said = write_page(**page_args(folder, language), out=out, **given)
    assert said == f"one page, {out.stat().st_size:,} bytes"
    return out


def full_page(folder: Path, language: str = "en", **more: Any) -> Path:
    """Write a page that has every part."""
    spec = full_spec(language, deadline="2031-04-20") | {"links": LINKS}
    spec["game"] = make_game(language=language, deadline=DATE, expires=DATE)
    picture = write_boot(folder)
    spec["instructions"] = pf.Instructions(test=["Dive.", "Land."], cautions=["Lightning flashes twice."], thanks=["T3", "Zoë"])
    given = {"spec": spec, "changes_file": full_changes(folder), "grids": (GRID, ALONE), "issue_pictures": {"KE-2": picture}}
    return make_page(folder, language, **given | more)


class Reader(html.parser.HTMLParser):
    """Collects tags with their attributes, and the text outside of style and script."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._within = ""
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._within = tag

    def handle_endtag(self, tag: str) -> None:
        self._within = ""

    def handle_data(self, data: str) -> None:
        if self._within not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def page(tmp_path_factory) -> Path:
    return full_page(tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def window(page, tmp_path_factory):
    """A browser that has the page open."""
    browser = Browser(need_tool("chromium"), tmp_path_factory.mktemp("profile"), "about:blank")
    browser.ask("Page.enable")
    browser.ask("Page.addScriptToEvaluateOnNewDocument", source=WATCH)
    show(browser, page)
    yield browser
    browser.close()


def show(browser: Browser, page: Path, width: int = 360) -> None:
    browser.ask("Emulation.setDeviceMetricsOverride", width=width, height=800, deviceScaleFactor=1, mobile=width < 500)
    browser.ask("Page.navigate", url="about:blank")
    browser.until("location.href === 'about:blank'")
    browser.ask("Page.navigate", url=page.as_uri())
    browser.until("location.href.startsWith('file:') && document.readyState === 'complete'")


def test_page_says_what_the_packet_says(tmp_path):
    """Every text of the project and both links, with the build code; the PDF has the same (reader: pypdf)."""
    text, packet = Reader(make_page(tmp_path)).text, " ".join(read_pages(make_packet(tmp_path)))
    for words in ("Kestrel", BUILD, "Dive from the highest cliff.", "Lightning on the third cliff flashes twice.", "Three cliffs", "Rain",
                  "Eggs fall upwards.", "Save often.", "Flashing pictures", "especially on headphones", "0badcafe", STEM):  # fmt: skip
        assert words in text, words
        assert words.replace(" ", "") in packet.replace(" ", ""), words
    links = [given["href"] for tag, given in Reader(tmp_path / "packet.html").tags if tag == "a"]
    assert {FEEDBACK, BUGS} <= set(links)


def test_page_has_every_part(page):
    """Days, thanks, a picture beside an issue, grids, retests, changes with pictures; issues in the order of the packet."""
    text = Reader(page).text
    for words in ("Feedback on this build counts until 2031-04-09.", "T3 and Zoë", "Retest what we fixed", "Listen to chicks.",
                  "Feathers are softer.", "KE-9: please retest", "Get the build", "Pad: Two-button pad"):  # fmt: skip
        assert words in text, words
    alts = [given["alt"] for tag, given in Reader(page).tags if tag == "img"]
    assert f"Boot screen of Kestrel 0.3.1 with the build code {BUILD} and two codes to scan." in alts
    assert "Picture of KE-2" in alts
    assert text.index("KE-2") < text.index("KE-3") < text.index("KE-1")


def test_page_of_a_tester_is_theirs(tmp_path):
    """Links carry the number, the boot picture is said to lack it, other cells are dots, words for them alone come first."""
    reader = Reader(full_page(tmp_path, tester="T3", name="Zoë", message="Look at the feathers.", shares={3: ((0, 3), (0,))}))
    assert "Look at the feathers." in reader.text
    assert "This packet is for Zoë. You are T3" in reader.text
    assert "The codes in this picture lack your number" in reader.text
    hrefs = [given["href"] or "" for tag, given in reader.tags if tag == "a"]
    assert all("T3" in link for link in hrefs if link.startswith("https:"))
    boxes = [given["id"] for tag, given in reader.tags if tag == "input" and (given["id"] or "").startswith("plan-1-")]
    assert boxes == ["plan-1-1", "plan-1-4"]
    assert f"packet-KEST-{BUILD}-T3" in (given.get("data-key") for tag, given in reader.tags if tag == "html")


def test_page_asks_for_nothing(page):
    """No address but links, data and places of the page itself; the policy allows just its own style and script, by their hashes."""
    tags = Reader(page).tags
    loads = [(tag, given[key]) for tag, given in tags for key in ("src", "data", "poster", "srcset", "action") if key in given]
    assert all(tag == "img" and (value or "").startswith("data:image/png;base64,") for tag, value in loads)
    assert not [tag for tag, _ in tags if tag in ("link", "iframe", "object", "embed", "base", "video", "audio", "form")]
    places = {given["id"] for _, given in tags if "id" in given}
    assert {(given["href"] or "")[1:] for tag, given in tags if tag == "a" and (given["href"] or "").startswith("#")} <= places
    assert all((given["href"] or "").startswith(("https://", "#")) for tag, given in tags if tag == "a")
    text = page.read_text(encoding="utf-8")
    policy = next(given["content"] or "" for tag, given in tags if given.get("http-equiv") == "Content-Security-Policy")
    for tag in ("style", "script"):
        inside = re.search(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        assert inside
        digest = base64.b64encode(hashlib.sha256(inside[1].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert "url(" not in text.partition("</style>")[0]


def test_ids_are_given_once(page):
    """And every label of a section names one that is there."""
    tags = Reader(page).tags
    places = [given["id"] for _, given in tags if "id" in given]
    assert len(places) == len(set(places))
    assert {given["aria-labelledby"] for _, given in tags if "aria-labelledby" in given} <= set(places)


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "</style>", '" onload="x', "a & b < c", "{{ title }}"])
def test_any_text_is_shown_as_it_is(tmp_path, text):
    """Markup in an author's words stays words (reader: the standard library)."""
    issue = pf.Issue(id="KE-1", severity="minor", where=text, what=text)
    spec = make_spec(game=make_game(title=text), issue=[issue], instructions=pf.Instructions(test=[text], thanks=[text]))
    reader = Reader(make_page(tmp_path, spec=spec))
    assert reader.text.count(" ".join(text.split())) >= 5
    assert [tag for tag, _ in reader.tags].count("script") == 1
    assert not [key for _, given in reader.tags for key in given if key.startswith("on")]


def test_a_page_without_anything_still_says_so(tmp_path):
    """No pads, issues, contents or boot notice."""
    spec = make_spec(pad={}, control=[], issue=[], contents=pf.Contents(), instructions=pf.Instructions(), game=make_game(author=""))
    text = Reader(make_page(tmp_path, spec=spec, boot=None, date=None)).text
    assert "Nothing in particular this time." in text
    assert "None are known in this build." in text
    for absent in ("Controls", "What is in this build", "boot screen", "From"):
        assert absent not in text


def test_same_page_from_the_same_files(tmp_path):
    """Byte for byte, twice."""
    assert full_page(tmp_path).read_bytes() == full_page(tmp_path).read_bytes()


def test_german_page_is_german(tmp_path):
    """Its language is said, and no word of the English file is in the template."""
    reader = Reader(full_page(tmp_path, "de"))
    assert next(given["lang"] for tag, given in reader.tags if tag == "html") == "de"
    for words in ("Checkliste", "Warnhinweise", "Ihre Häkchen bleiben auf diesem Gerät."):
        assert words in reader.text
    for words in ("Cautions", "Controls", "Known issues", "Workaround", "Build code"):
        assert words not in reader.text


@pytest.mark.parametrize("width", some(WIDTHS, 2))
@pytest.mark.parametrize("dark", [False, True])
def test_page_fits_its_window_without_faults_or_requests(window, page, width, dark):
    """No sideways scroll, nothing in the console, nothing asked of the net, dark and light."""
    window.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
    show(window, page, width)
    assert window.value("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert window.value("faults") == []
    assert window.value("performance.getEntriesByType('resource').filter((one) => !one.name.startsWith('data:')).length") == 0
    ground = [int(part) for part in re.findall(r"\d+", window.value("getComputedStyle(document.body).backgroundColor"))]
    assert (sum(ground) < 150) == dark
    window.ask("Emulation.setEmulatedMedia", features=[])


@pytest.mark.parametrize("width", WIDTHS)
def test_what_is_tapped_is_large_enough(window, page, width):
    """WCAG 2.2, success criterion 2.5.5: 44 CSS pixels each way."""
    show(window, page, width)
    window.value("document.querySelector('details').open = true")
    sizes = window.value(
        "[...document.querySelectorAll('a, button, summary, .ticks label, td label')].map((one) => [one.textContent.trim().slice(0, 30),"
        " one.getBoundingClientRect().width, one.getBoundingClientRect().height]).filter(([, width]) => width > 0)"
    )
    assert len(sizes) > 20
    assert [one for one in sizes if min(one[1:]) < TARGET - 0.5] == []


def test_ticks_stay_after_a_reload_and_can_be_cleared(window, page):
    """Kept under the build's code on this device; a click on the words ticks too."""
    show(window, page)
    assert not window.value("document.getElementById('clear').parentElement.hidden")
    window.value("document.querySelector('label:has(#test-1) span').click(); document.getElementById('plan-1-2').click()")
    show(window, page)
    assert window.value("[...document.querySelectorAll('input:checked')].map((one) => one.id)") == ["test-1", "plan-1-2"]
    assert window.value(f"JSON.parse(localStorage.getItem('packet-KEST-{BUILD}'))") == ["test-1", "plan-1-2"]
    window.value("document.getElementById('clear').click()")
    show(window, page)
    assert window.value("document.querySelectorAll('input:checked').length") == 0
    assert window.value("faults") == []


def test_boxes_tick_where_nothing_can_be_kept(window, page):
    """A browser that forbids storage: no fault, no promise, boxes still tick."""
    source = "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no', 'SecurityError'); }});"
    script = window.ask("Page.addScriptToEvaluateOnNewDocument", source=source)["identifier"]
    show(window, page)
    window.value("document.getElementById('test-1').click()")
    assert window.value("document.getElementById('test-1').checked")
    assert window.value("document.getElementById('clear').parentElement.hidden")
    assert window.value("faults") == []
    window.ask("Page.removeScriptToEvaluateOnNewDocument", identifier=script)


def test_page_needs_no_script(window, page):
    """With scripts switched off everything is there and can be ticked; what needs a script is not shown."""
    window.ask("Emulation.setScriptExecutionDisabled", value=True)
    show(window, page)
    assert window.value("document.querySelectorAll('section').length") >= 12
    assert window.value("document.getElementById('clear').parentElement.hidden")
    window.ask("Emulation.setScriptExecutionDisabled", value=False)


def test_what_a_screen_reader_gets(window, page):
    """Chromium's accessibility tree: one main heading, none skips a level; boxes, links and pictures have names, boxes each their own."""
    show(window, page, 1280)
    nodes = window.ask("Accessibility.getFullAXTree")["nodes"]
    shown = [node for node in nodes if not node.get("ignored")]
    roles = [(node["role"]["value"], node.get("name", {}).get("value", ""), node) for node in shown]
    levels = [
        next(one["value"]["value"] for one in node["properties"] if one["name"] == "level") for role, _, node in roles if role == "heading"
    ]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))
    for role in ("checkbox", "link", "image", "button", "region"):
        names = [name for kind, name, _ in roles if kind == role]
        assert names, role
        assert all(name.strip() for name in names), role
    boxes = [name for role, name, _ in roles if role == "checkbox"]
    assert len(boxes) == len(set(boxes))
    assert {"banner", "main", "navigation", "contentinfo"} <= {role for role, _, _ in roles}


def colours(dark: bool) -> dict[str, tuple[int, int, int]]:
    """Return the colours of the style by name, as it says them for light or for dark."""
    blocks = re.findall(r":root \{(.*?)\}", (TEMPLATES / "packet.css").read_text(encoding="utf-8"), re.DOTALL)
    found = {}
    for block in blocks[: 1 + dark]:
        found |= {name: tuple(bytes.fromhex(value)) for name, value in re.findall(r"--([a-z-]+): #([0-9a-f]{6});", block)}
    return found


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """WCAG 2.2, contrast ratio, from relative luminance as defined there."""

    def luminance(colour: tuple[int, ...]) -> float:
        parts = [part / 255 for part in colour]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


TEXTS = [
    ("ink", "paper"), ("ink", "card"), ("soft", "paper"), ("soft", "card"), ("soft", "tint"), ("accent", "paper"), ("accent", "card"),
    ("accent", "tint"), ("accent-ink", "accent"), ("warn-ink", "warn"), ("bad-ink", "bad"), ("card", "ink"),
]  # fmt: skip


def test_contrast_is_reckoned_right():
    """Worked examples: black on white 21; #767676 on white 4.54, the last grey that passes 4.5 (known values of WCAG 2)."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.5422, abs=1e-4)


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("pair", TEXTS, ids=" on ".join)
def test_every_colour_of_text_can_be_read(pair, dark):
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    known = colours(dark)
    assert contrast(known[pair[0]], known[pair[1]]) >= 4.5


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("pair", [("accent", "card"), ("warn-edge", "warn"), ("edge", "card"), ("edge", "tint"), ("bad", "paper")])
def test_edges_can_be_seen(pair, dark):
    """WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for what shows where a control is."""
    known = colours(dark)
    assert contrast(known[pair[0]], known[pair[1]]) >= 3


def test_no_text_has_a_colour_of_its_own(window, page):
    """Every text and its ground in the page as Chromium shows it: 4.5 to 1, dark and light."""
    script = """
(() => { const seen = {};
for (const one of document.querySelectorAll("body *")) {
  if (![...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim()) || !one.getClientRects().length) continue;
  let ground = one; while (ground && getComputedStyle(ground).backgroundColor === "rgba(0, 0, 0, 0)") ground = ground.parentElement;
  if (one.closest("svg")) continue;
  seen[getComputedStyle(one).color + " on " + getComputedStyle(ground).backgroundColor] = one.tagName + "." + one.className;
} return seen; })()"""
    for scheme in ("light", "dark"):
        window.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
        show(window, page)
        seen = window.value(script)
        assert len(seen) > 5
        for pair, where in seen.items():
            one, other = (tuple(int(part) for part in re.findall(r"\d+", colour)[:3]) for colour in pair.split(" on "))
            assert contrast(one, other) >= 4.5, (scheme, where, pair)
    window.ask("Emulation.setEmulatedMedia", features=[])
