"""The testers' loop once round on the demo: ``pipeline/guide/walk.md`` is done as a reader would, block by block.

What is right about the demo's invented reports is known from the script that writes them, which the tool never sees.
"""

from __future__ import annotations

import base64
import csv
import html
import io
import json
import re
import subprocess
import sys
import tomllib
import zipfile
from collections import Counter
from itertools import combinations

import numpy as np
import pypdf
import pytest
from PIL import Image

from tests.conftest import only_long
from tests.graph.builds import ROOT
from tests.graph.guide_walk import BLOCK, GUIDE, Walk, take_walk


@pytest.fixture(scope="module")
def walk(tmp_path_factory) -> Walk:
    """The whole page."""
    only_long()
    return take_walk(tmp_path_factory.mktemp("clone"))


def block(walk: Walk, word: str, rank: int = 0) -> int:
    """Return the number of the ``rank``-th command block that holds a word."""
    blocks = [text for kind, text in BLOCK.findall(GUIDE) if kind == "sh"]
    return [number for number, text in enumerate(blocks) if word in text][rank]


def rows(files: dict[str, bytes]) -> list[dict[str, str]]:
    """Return the rows of the triage table, in its order."""
    return list(csv.DictReader(io.StringIO(files["build/triage.csv"].decode("utf-8-sig"), newline="")))


def plain(text: str) -> str:
    """Return a text without build codes."""
    return re.sub(r"\b[0-9A-HJKMNP-TV-Z]{6}\b", "......", text)


def test_reports_are_as_forms_export_them(tmp_path):
    """The same bytes every time; read with Python's csv: codes typed in many ways, cells of several lines, a formula, UTF-16."""
    for folder in ("one", "two"):
        command = [sys.executable, str(ROOT / "demo_project/make/reports.py"), str(tmp_path / folder), "0AB1CD"]
        subprocess.run(command, check=True, capture_output=True)
    for name in ("bugs.csv", "feedback.txt"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    with open(tmp_path / "one/bugs.csv", encoding="utf-8", newline="") as file:
        bugs = list(csv.DictReader(file))
    assert len(bugs) == 240
    typed = {one["Build code"] for one in bugs}
    assert {"0AB1CD", "0ab1cd", "oablcd", "0AB 1CD", "0AB-1CD", "build 0AB1CD", "", "7QX4TM", "0AB1C2"} <= typed
    assert sum("\n" in one["What happened?"] for one in bugs) > 10
    assert sum(one["What happened?"].startswith(("=", "+", "-", "@")) for one in bugs) == 4
    assert {one["E-mail"].rpartition("@")[2] for one in bugs} == {"example.org", ""}
    with open(tmp_path / "one/feedback.txt", encoding="utf-16", newline="") as file:
        assert len(list(csv.DictReader(file, delimiter="\t"))) == 60


def test_page_shows_what_is_printed():
    """Every block of output on the page belongs to the commands before it; there are enough to see every step."""
    kinds = [kind for kind, _ in BLOCK.findall(GUIDE)]
    assert kinds.count("sh") >= 10
    assert kinds.count("text") >= 7
    assert ("text", "text") not in set(zip(kinds, kinds[1:], strict=False))


def test_commands_print_what_the_page_says(walk):
    """Line by line, but for build codes, which change with the demo."""
    number = -1
    for kind, text in BLOCK.findall(GUIDE):
        number += kind == "sh"
        if kind == "text":
            printed = plain(walk.said[number]).splitlines()
            assert [line for line in plain(text).splitlines() if line not in printed] == []


def test_groups_against_the_labels(walk):
    """The share of reports in the five largest groups that are of one bug, and of pairs found, are those on the page; floors for both."""
    groups: dict[str, list[str]] = {}
    table = rows(walk.files[block(walk, "feedback.txt")])
    assert len(table) == 240
    for one in table:
        groups.setdefault(one["group"], []).append(walk.labels[int(one["report"][2:]) - 1])
    right, total = (sum(counts) for counts in zip(*map(purity, sorted(groups.values(), key=len)[-5:]), strict=True))
    pairs = Counter(bug for bug in walk.labels[:240] if bug)
    together = sum(len([1 for a, b in combinations(group, 2) if a and a == b]) for group in groups.values())
    share = 100 * together // sum(count * (count - 1) // 2 for count in pairs.values())
    assert f"{right} of the {total} reports in the five largest groups are of one bug each" in " ".join(GUIDE.split())
    assert f"{share} % of all pairs of reports of one bug are in one group" in " ".join(GUIDE.split())
    assert right / total > 0.9
    assert share > 45
    first = list(groups.values())[:5]
    assert sum(purity(group)[0] for group in first) / sum(map(len, first)) > 0.9


def purity(group: list[str]) -> tuple[int, int]:
    """Return how many of a group are of its most frequent bug, and how many there are; reports of no bug are each their own."""
    return max(Counter(bug for bug in group if bug).values(), default=1), len(group)


def test_page_suggests_what_is_pasted(walk):
    """The first group's ready entry, read as TOML, is the walk's first new issue; known ones are suggested."""
    page = walk.files[block(walk, "feedback.txt")]["build/triage.html"].decode()
    card = page.split('id="R-0002">')[1].split("</section>")[0]
    (entry,) = re.findall(r"<pre>(\[\[issue\]\].*?)</pre>", card, re.DOTALL)
    (suggested,) = tomllib.loads(html.unescape(entry))["issue"]
    assert (suggested["id"], suggested["severity"], suggested["since"]) == ("HR-014", "critical", "0.4.0")
    assert 'R-0002 = "HR-014"' in html.unescape(card)
    for report, issue in (("R-0001", "HR-002"), ("R-0020", "HR-006"), ("R-0008", "HR-004")):
        assert f'{report} = "{issue}"' in html.unescape(page.split(f'id="{report}">')[1].split("</section>")[0])
    assert "=HYPERLINK" in page
    assert "'=HYPERLINK" in [one["what"][:11] for one in rows(walk.twice)]


def test_export_read_twice_adds_nothing(walk):
    """All that is kept, and the page, byte for byte."""
    once = walk.files[block(walk, "feedback.txt")]
    assert {name for name in once if name.startswith("reports/")} == {f"reports/{name}.json" for name in ("bugs", "feedback", "testers")}
    assert walk.twice == once


def test_packet_of_the_second_build(walk):
    """Read with pypdf: what is fixed is to be tested again and no known issue, what is new is one; own words, the changed figure."""
    files = walk.files[block(walk, "doit release", 1)]
    pages = pypdf.PdfReader(io.BytesIO(files["build/packet.pdf"])).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    again = text[text.index("Retest what we fixed These were") : text.index("Known issues The worst")]
    assert "HR-015" in again
    assert "HR-004" in again
    assert "Walk past the arcades on the left" in again
    assert "HR-014" not in again
    known = text[text.index("Known issues The worst") : text.index("What changed Since")]
    found = re.findall(r"HR-0[0-9]{2}", known)
    assert {"HR-014", "HR-016", "HR-002"} <= set(found)
    assert not {"HR-004", "HR-015"} & set(found)
    changed = text[text.index("What changed Since version 0.4.0") :]
    assert "Tove has a red plume" in changed
    assert re.search(r"Changed\W+tove", changed)
    assert "emberdock" not in changed, "its sky is dithered now, which nobody sees in a small picture"
    pictures = [image for page in pages[1:] for image in page.images]  # the boot notice is on the first
    assert len(pictures) == 3, "of HR-003, and tove before and now"
    # A row of frames is far wider than a harbour; of the two rows the later has the red plume.
    red = sorted(bright_red(image.data) for image in pictures if image.image.width > 3 * image.image.height)
    assert len(red) == 2
    assert red[1] > 5 * max(red[0], 1), "tove's frames with the white plume, and with the red one"


def test_notes_of_the_second_build(walk):
    """The same in plain text, and the kit has these notes and this packet."""
    files = walk.files[block(walk, "doit release", 1)]
    lines = files["build/work/NOTES.txt"].decode().splitlines()
    again = lines[lines.index("Retest what we fixed") : lines.index("What changed")]
    assert [line[:7] for line in again if line.startswith("HR-")] == ["HR-015:", "HR-004:"]
    for line in ("  * Fixed: HR-004, HR-015: please retest", "  * New known issues: HR-014, HR-016"):
        assert line in lines
    assert any(line.startswith("  * Changed: tove") for line in lines)
    (folder,) = {name.split("/")[0] for name in zipfile.ZipFile(io.BytesIO(walk.kit)).namelist()}
    with zipfile.ZipFile(io.BytesIO(walk.kit)) as kit:
        contents = {name.rsplit("/", 1)[1]: kit.read(name) for name in kit.namelist()}
    assert "0.5.0" in folder
    assert files["build/work/NOTES.txt"] in contents.values()
    assert files["build/packet.pdf"] in contents.values()


def test_report_shows_the_plume_before_and_now(walk):
    """The picture before is the first release's; the one now has far more bright red, the plume's (208, 42, 42)."""
    page = walk.files[block(walk, "doit preflight")]["build/report.html"].decode()
    shown = dict(re.findall(r'<img src="data:image/png;base64,([^"]+)"[^>]*alt="((?:tove|emberdock), (?:before|now))"', page))
    pictures = {words: base64.b64decode(data) for data, words in shown.items()}
    first = json.loads(walk.files[-2]["ledger.json"])["releases"][0]
    entry = first["assets"]["tove"]
    with Image.open(io.BytesIO(walk.pictures[entry["picture"]])) as kept, Image.open(io.BytesIO(pictures["tove, before"])) as row:
        (width, height), sheet = entry["frame"], np.asarray(kept.convert("RGB"))
        frames = [np.asarray(row.convert("RGB").crop((left, 0, left + width, height))) for left in range(0, row.width, width)]
    places = [(top, left) for top in range(0, sheet.shape[0], height) for left in range(0, sheet.shape[1], width)]
    cells = [sheet[top : top + height, left : left + width] for top, left in places]
    assert all(any(np.array_equal(frame, cell) for cell in cells) for frame in frames)
    assert "emberdock, now" not in pictures
    red = {words: bright_red(pictures[words]) for words in ("tove, before", "tove, now")}
    assert red["tove, now"] > 10 * max(red["tove, before"], 1), red


def bright_red(png: bytes) -> int:
    """Return the number of pixels that are far more red than green or blue."""
    with Image.open(io.BytesIO(png)) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    return int((pixels[..., 0] - pixels[..., 1:].max(axis=-1) > 95).sum())


def test_names_stay_in_reports(walk):
    """Names and addresses of testers are where the page says, and in no other file of the copy, the build folder or the kits."""
    assert walk.named == ["my_game/reports/exports/bugs.csv", "my_game/reports/testers.json"]


def test_preflight_and_changes(walk):
    """Every check of the second build is a tick; the changes are shown with the issues."""
    checks = re.findall(r"^  (\S) (version|phase|memory|image|links|origins|issues) ", walk.said[block(walk, "doit preflight")], re.M)
    assert [mark for mark, _ in checks] == ["✓"] * 7
    listed = walk.said[block(walk, "doit changes")]
    unseen = re.search(r"^  unseen     other colours, too near to be seen: (.*)$", listed, re.M)
    assert unseen
    assert {"pell", "bram", "isk", "orrin", "wick"} <= {*unseen[1].split(", ")}
    assert "northpier" not in listed


def test_what_is_said_of_fixed_bugs(walk):
    """After the second release reports of the first build say that it is fixed in 0.5.0; a report of the second one is seen again."""
    before = [one for one in rows(walk.settled) if one["fixed in"]]
    assert {(one["known issue"], one["fixed in"], one["seen again"]) for one in before} == {
        ("HR-004", "0.5.0", ""), ("HR-015", "0.5.0", ""),
    }  # fmt: skip
    assert rows(walk.settled)[-1]["known issue"] == "HR-004"
    # What issues.toml no longer says of HR-004, the ledger does.
    assert {(one["fixed in"], one["seen again"]) for one in rows(walk.removed) if one["known issue"] == "HR-004"} == {("0.5.0", "")}
    apart = walk.settled["build/triage.html"].decode().split("<h2>Said to be fixed, and not seen since</h2>")[1]
    assert re.findall(r'<section class="group \w*" id="(R-[0-9]+)"', apart) == ["R-0004", "R-0008"]
    after = [one for one in rows(walk.files[block(walk, "reports.py", 1)]) if one["fixed in"]]
    assert {(one["known issue"], one["seen again"]) for one in after} == {("HR-004", ""), ("HR-015", "yes")}
    second = json.loads(walk.files[-2]["ledger.json"])["releases"][1]["build_code"]
    (new,) = [one for one in after if one["build"] == second]
    assert "black and white television" in new["what"]
    assert walk.labels[int(new["report"][2:]) - 1] == "plume"
    page = walk.files[block(walk, "reports.py", 1)]["build/triage.html"].decode()
    assert '<p class="again">HR-015 was said to be fixed in 0.5.0; this is reported from a build since.</p>' in page


def test_forgotten_tester_is_gone(walk):
    """The one of that number, their reports, and nobody else."""
    before, after = (json.loads(walk.files[at]["reports/testers.json"])["testers"] for at in (-3, -2))
    assert [one for one in before if one not in after] == [one for one in before if one["number"] == 3]
    reports = [json.loads(walk.files[at]["reports/bugs.json"])["reports"] for at in (-3, -2)]
    gone = [one for one in reports[0] if one not in reports[1]]
    assert gone
    assert {one["tester"] for one in gone} == {3}


def test_nothing_is_left(walk):
    """The last block takes the copy away; the demo itself was never touched."""
    assert not walk.game.exists()
    assert not (walk.folder / "demo_project/ledger.json").exists()
    assert not (walk.folder / "demo_project/build").exists()
