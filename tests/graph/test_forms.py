"""Both forms: as text, as tables of the project file, and as pages that are filled in in a browser and read again by intake."""

from __future__ import annotations

import csv
import io
import time
import tomllib
from datetime import datetime
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import msgspec
import pytest

from pipeline.project.intake import Intake
from tests.browser import Browser
from tests.conftest import need_tool, only_long
from tests.graph.builds import make_project, run

FILES = ("feedback-form.html", "intake.toml", "questions.txt", "report-form.html")
SEEN = 'The crane, "Agathe",\nlifts; and drops.'


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """A project whose project file has the tables that the command writes."""
    folder = make_project(tmp_path_factory.mktemp("forms") / "small")
    done = run(folder, "forms")
    assert done.returncode == 0, done.stdout
    with open(folder / "project.toml", "a", encoding="utf-8") as file:
        file.write("\n" + (folder / "build/forms/intake.toml").read_text(encoding="utf-8"))
    assert run(folder, "forms").returncode == 0
    return folder


def test_files_and_their_text(made):
    """All four, and no other; the questions of feedback in their order, each with its scale, in the packet's words."""
    assert sorted(path.name for path in (made / "build/forms").iterdir()) == [*FILES]
    text = (made / "build/forms/questions.txt").read_text(encoding="utf-8")
    assert text.index("Report a bug") < text.index("What you saw instead") < text.index("Tell us what you think")
    asked = ("as a whole", "the pictures", "the sounds", "the music", "the controls", "the pace", "What else")
    places = [text.index(word, text.index("Tell us")) for word in asked]
    assert places == sorted(places)
    assert text.count("    - very well\n") == 5
    assert text.count("    - just right\n") == 1
    assert " 1. Build code\n    (one line, must be answered, the code in the link fills it)\n" in text


def test_tables_are_the_project_files(made):
    """Read by tomllib and by the record of the project file."""
    read = tomllib.loads((made / "build/forms/intake.toml").read_text(encoding="utf-8"))["intake"]
    intake = msgspec.convert(read, Intake)
    assert intake.bugs.columns.what == "What you saw instead"
    assert intake.bugs.severities == {name: name for name in ("critical", "major", "minor", "cosmetic")}
    assert intake.bugs.frequencies == ["every time", "sometimes", "once"]
    assert [*intake.feedback.questions] == ["overall", "pictures", "sound", "music", "controls", "pace", "more"]
    assert intake.feedback.answers["pace"][2] == "just right"


def opened(tmp_path: Path, page: Path, width: int) -> Browser:
    browser = Browser(need_tool("chromium"), tmp_path / f"profile {page.stem} {width}", page.as_uri() + "?t=T7", (width, 900))
    browser.ask("Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=width < 600)
    browser.until(READY)
    load_again(browser)
    return browser


READY = "!window.old && document.readyState === 'complete' && document.querySelector('[name=build]')?.value"


def load_again(browser: Browser) -> None:
    """Load the page again, and wait for that: the old one may still answer for a while."""
    browser.value("window.old = true")
    browser.ask("Page.reload")
    browser.until(READY)


FILL = """
(answers) => {
  for (const [name, value] of Object.entries(answers)) {
    const parts = [...document.querySelectorAll(`[name="${name}"]`)];
    const one = parts[0].type === "radio" ? parts.find((part) => part.value === value) : parts[0];
    if (one.type === "radio") one.click(); else one.value = value;
    one.dispatchEvent(new Event("input", { bubbles: true }));
  }
}
"""
SAVED = """
new Promise((done) => {
  URL.createObjectURL = (blob) => { blob.arrayBuffer().then((data) => done([...new Uint8Array(data)])); return "about:blank#"; };
  HTMLAnchorElement.prototype.click = function () { window.called = this.download; };
  document.getElementById("save").click();
})
"""


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("form", ["report", "feedback"])
def test_a_page_keeps_what_is_typed_and_makes_a_file_that_intake_reads(made, tmp_path, form, width):
    """In Chromium, on a telephone and on a desk: nothing is wider than the window, and nothing is loaded from anywhere."""
    only_long()
    page = made / f"build/forms/{form}-form.html"
    answers = {"what": SEEN, "severity": "major", "often": "once"}
    if form == "feedback":
        answers = {"overall": "well", "pace": "just right", "more": SEEN}
    browser = opened(tmp_path, page, width)
    try:
        assert browser.value("document.documentElement.scrollWidth") <= width
        assert browser.value("performance.getEntriesByType('resource').length") == 0
        assert browser.value("document.querySelector('[name=tester]').value") == "T7"
        assert len(browser.value("document.querySelector('[name=build]').value")) == 6
        browser.value("document.getElementById('save').click()")
        assert browser.value("document.getElementById('said').textContent").startswith("Please answer what is marked with *")
        for _ in range(5):  # a browser whose profile is being made may lose what is kept in its first seconds
            browser.value(f"({FILL})({msgspec.json.encode(answers).decode()})")
            time.sleep(0.5)
            load_again(browser)
            if "Agathe" in browser.value("document.querySelector('[name=what], [name=more]').value"):
                break
        browser.picture(tmp_path / f"{form}-{width}.png")
        mail = urlsplit(browser.value("document.getElementById('mail').href"))
        assert mail.scheme == "mailto"
        body = parse_qs(mail.query)["body"][0]
        assert SEEN.replace("\n", "\r\n") in body
        data = bytes(browser.value(SAVED))
        name = browser.value("window.called")
    finally:
        browser.close()
    heading, row = csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True)
    found = dict(zip(heading, row, strict=True))
    assert SEEN in found.values() or SEEN.replace("\n", "\r\n") in found.values()
    assert found["Tester's number"] == "T7"
    datetime.fromisoformat(found["Time"])
    assert name.startswith("SMALL-0.1.0-")
    assert name.endswith(".csv")
    folder = tmp_path / "incoming"
    folder.mkdir()
    (folder / name).write_bytes(data)
    (folder / "picture.png").write_bytes(b"beside it")
    read = run(made, "intake", f"csv={folder}")
    assert read.returncode == 0, read.stdout
    kept = (made / f"reports/{'bugs' if form == 'report' else 'feedback'}.json").read_text(encoding="utf-8")
    assert "Agathe" in kept
    assert "T7" in (made / "reports/testers.json").read_text(encoding="utf-8")


OWN = """
[intake.bugs]
severities = { "Naja" = "minor", "Schlimm" = "critical" }
[intake.bugs.columns]
what = "Und <dann>?"
time = "Wann"
[intake.feedback]
questions = { fun = "Spaß?", pace = "Zu schnell?", wish = "Wünsche?" }
answers = { fun = ["nein", "ja"] }
"""


def test_headings_of_the_project_are_kept(tmp_path):
    """A project that has a form already gets pages whose files its own tables read; the language is the packet's."""
    folder = make_project(tmp_path / "small")
    text = (folder / "project.toml").read_text(encoding="utf-8").replace('title = "Small Game"', 'title = "Small Game"\nlanguage = "de"')
    (folder / "project.toml").write_text(text + OWN, encoding="utf-8")
    assert run(folder, "forms").returncode == 0
    page = (folder / "build/forms/report-form.html").read_text(encoding="utf-8")
    assert '["what", "Und \\u003cdann>?"]' in page
    assert '<html lang="de">' in page
    assert "Als Datei speichern" in page
    read = tomllib.loads((folder / "build/forms/intake.toml").read_text(encoding="utf-8"))["intake"]
    assert read["bugs"]["columns"]["what"] == "Und <dann>?"
    assert read["bugs"]["columns"]["time"] == "Wann"
    assert read["bugs"]["severities"] == {"Schlimm": "critical", "Naja": "minor"}
    assert read["feedback"]["questions"] == {"fun": "Spaß?", "pace": "Zu schnell?", "wish": "Wünsche?"}
    assert read["feedback"]["answers"] == {"fun": ["nein", "ja"], "pace": ["viel zu langsam", "etwas zu langsam", "genau richtig",
                                                                           "etwas zu schnell", "viel zu schnell"]}  # fmt: skip
    assert [page.count(f'value="{word}"') for word in ("Schlimm", "Naja", "kritisch")] == [1, 1, 0]
