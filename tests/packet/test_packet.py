"""The packet, read back by programs that did not write it: pypdf, pdfium, zxing, and pdftotext and qpdf where installed."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
import zxingcpp
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth

import pipeline.project.file as pf
from pipeline.packet import document
from pipeline.packet.document import write_packet
from pipeline.packet.typeset import style
from pipeline.packet.typeset.codes import CodeDrawing, link_lines
from pipeline.packet.typeset.page import render
from pipeline.packet.typeset.style import Look, use_fonts
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import TEMPLATES
from tests.conftest import need_tool, some
from tests.packet.colours import PAIRS
from tests.packet.packet_boxes import words_of
from tests.release.making import BUGS, BUILD, DATE, FEEDBACK, IMAGE_BYTES, STEM, make_game, make_spec, packet_files, write_boot

ROOT = Path(__file__).parents[2]
HEAD = ["Number", "Severity", "Where", "What happens", "Workaround"]


def make_packet(folder: Path, date=DATE, boot: bool = True, **changed) -> Path:
    out = folder / "packet.pdf"
    picture = write_boot(folder) if boot else None
    said = write_packet(*packet_files(folder), make_spec(**changed), date, "Basalt 32", out, picture, "kest.rom")
    assert said == f"{len(pypdf.PdfReader(out).pages)} pages, {out.stat().st_size:,} bytes"
    return out


def read_pages(path: Path) -> list[str]:
    """Return the text of every page with single spaces; pypdf in strict mode raises on any fault of the file."""
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(path, strict=True).pages]


def all_text(path: Path) -> str:
    return " ".join(read_pages(path))


@pytest.fixture(scope="module")
def packet(tmp_path_factory) -> Path:
    return make_packet(tmp_path_factory.mktemp("packet"))


def test_first_page_has_all_a_tester_needs(packet):
    """Title, version, phase, code, date, console, both links, what to test, and the way to the cautions (reader: pypdf)."""
    first = read_pages(packet)[0]
    for text in ("Kestrel", "0.3.1", "beta", BUILD, "2031-04-09", "Basalt 32", "Cliff Crew"):
        assert text in first
    for link in (FEEDBACK, BUGS):
        assert link in first.replace(" ", "")
    assert "Test checklist ☐ Dive from the highest cliff." in first
    assert "What you should see at boot" in first
    where = next(rank for rank, text in enumerate(read_pages(packet), 1) if "Flashing lights" in text)
    assert f"Before you switch on, read the cautions on page {where}." in first


def test_sections_come_in_the_promised_order(packet):
    """A second reader, pdftotext of poppler, finds every section in its order."""
    printed = subprocess.run([need_tool("pdftotext"), "-raw", str(packet), "-"], capture_output=True, check=True).stdout.decode()
    headings = [
        "Test checklist", "How to copy and run it", "Cautions", "Controls", "What is in this build", "What is not in yet",
        "Known issues", "How to write a useful report", "Links", "About this build",
    ]  # fmt: skip
    places = [printed.index(f"\n{heading}\n") for heading in headings]
    assert places == sorted(places)
    assert "Two-button pad Light gun\nDive A -\nAim B Trigger\n" in printed


def test_issues_are_sorted_and_a_missing_workaround_is_said(packet):
    """Critical before major before minor before cosmetic, each with its marks."""
    text = all_text(packet)
    numbers = re.findall(r"KE-\d+", text)
    assert numbers == ["KE-2", "KE-3", "KE-1", "KE-10"]
    assert "KE-2 critical ■■■■ Start Stops after an hour. Save often." in text
    assert "KE-10 cosmetic ■□□□ Title One pixel is green. None known" in text


def test_build_facts_are_exact(packet):
    """File, sizes and checksums; SHA-256 from hashlib."""
    text = all_text(packet)
    assert f"Image file {STEM}.rom, built as kest.rom" in text
    assert "Image size 8,192 bytes (8 KiB)" in text
    assert "7,000" not in text  # how full the image is helps no tester
    assert "CRC-32 0badcafe" in text
    assert f"SHA-256 {hashlib.sha256(IMAGE_BYTES).hexdigest()}" in text


def test_every_page_says_where_it_belongs(tmp_path):
    """Game, version, build code and page n of m are at the foot of each page."""
    issues = [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what="A feather flickers. " * 6) for rank in range(60)]
    pages = read_pages(make_packet(tmp_path, issue=issues))
    for rank, text in enumerate(pages, 1):
        for part in ("Kestrel 0.3.1", f"build {BUILD}", f"page {rank} of {len(pages)}"):
            assert part in text


def test_qpdf_finds_no_fault(packet):
    """qpdf --check ends with 0 when structure and streams are sound."""
    subprocess.run([need_tool("qpdf"), "--check", str(packet)], check=True, capture_output=True)


@pytest.mark.parametrize("boot", [True, False])
def test_printed_codes_read_exactly(tmp_path, boot):
    """Drawn by pdfium at 150 dpi, a coarse printer, both codes are read by zxing, at least 4 modules of white around."""
    packet = make_packet(tmp_path, boot=boot)
    page = pypdfium2.PdfDocument(packet)[0].render(scale=150 / 72).to_numpy()
    codes = zxingcpp.read_barcodes(np.ascontiguousarray(page[:, :, :3]), formats=zxingcpp.BarcodeFormat.QRCode)
    assert sorted(code.text for code in codes) == sorted([FEEDBACK, BUGS])


@pytest.mark.parametrize("length", [20, 90, 300, 600])
def test_modules_never_get_too_small_to_print(length):
    """At least half a millimetre a module, and a side of 25 to 30 mm for ordinary links. 1 mm = 72 / 25.4 points."""
    code = CodeDrawing("https://example.org/".ljust(length, "x"))
    assert code.module >= 0.5 * 72 / 25.4
    if length <= 90:
        assert 25 <= code.width / 72 * 25.4 <= 30


def test_links_can_be_clicked(packet):
    """Both forms are link annotations of the first page (reader: pypdf)."""
    annotations = [one.get_object() for one in pypdf.PdfReader(packet).pages[0]["/Annots"]]
    links = {one["/A"]["/URI"] for one in annotations if "/A" in one and "/URI" in one["/A"]}
    assert links == {FEEDBACK, BUGS}


def test_every_font_is_embedded(packet):
    """ISO 32000-1, 9.9: an embedded font has a FontFile; a named one looks different on every machine."""
    fonts = {}
    for page in pypdf.PdfReader(packet).pages:
        fonts |= {font["/BaseFont"]: font.get_object() for font in page["/Resources"]["/Font"].get_object().values()}
    assert {name.partition("+")[2] for name in fonts} == {"DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono"}
    assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts.values())


def test_file_says_what_it_is(packet):
    """Title, author, subject, keywords, creator, date, language, title bar and outline (reader: pypdf)."""
    reader = pypdf.PdfReader(packet)
    facts = reader.metadata
    assert facts.title == f"Tester packet of Kestrel 0.3.1, build {BUILD}"
    assert facts.author == "Cliff Crew"
    assert facts.subject == "A bird looks for breakfast."
    assert facts["/Keywords"] == f"Kestrel, KEST, 0.3.1, beta, build {BUILD}, Basalt 32"
    assert facts.creator == "Romwright"
    assert facts["/CreationDate"] == "D:20310409000000Z"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"] in (True, "/true")
    assert [entry.title for entry in reader.outline] == [
        "Start here", "Test checklist", "How to copy and run it", "Cautions", "Controls", "What is in this build",
        "What is not in yet", "Known issues", "How to write a useful report", "Links", "About this build", "Report page",
    ]  # fmt: skip
    pages = read_pages(packet)
    for entry in reader.outline[1:]:
        assert entry.title in pages[reader.get_destination_page_number(entry)]


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 210, 297), ("Letter", 215.9, 279.4)])
def test_paper_is_the_one_asked_for(tmp_path, paper, width, height):
    """ISO 216 A4 is 210 x 297 mm, US Letter 8.5 x 11 inch."""
    box = pypdf.PdfReader(make_packet(tmp_path, game=make_game(paper=paper))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((width / 25.4 * 72, height / 25.4 * 72), abs=0.1)


def test_long_table_repeats_its_head(tmp_path):
    """Two hundred issues: the head of the table is on every page with an issue, once, and no issue is lost."""
    issues = [pf.Issue(id=f"KE-{rank:03}", severity="minor", where="Cliff", what="A feather flickers. " * 3) for rank in range(200)]
    pages = read_pages(make_packet(tmp_path, issue=issues))
    with_issues = [text for text in pages if "KE-" in text]
    assert len(with_issues) > 5
    assert all(text.count(" ".join(HEAD)) == 1 for text in with_issues)
    assert re.findall(r"KE-\d+", " ".join(pages)) == [issue.id for issue in issues]


def test_issue_longer_than_a_page_goes_on_on_the_next(tmp_path):
    """Every word of a very long cell is printed."""
    words = [f"word{rank}" for rank in range(1500)]
    issue = pf.Issue(id="KE-1", severity="major", where="W" * 200, what=" ".join(words))
    text = all_text(make_packet(tmp_path, issue=[issue]))
    assert re.findall(r"word\d+", text) == words


def test_rows_that_fit_a_page_are_not_parted(tmp_path):
    """An issue of half a page stays whole: its first and last word are on one page."""
    whats = [f"first{rank} " + "and so on " * 60 + f"last{rank}" for rank in range(9)]
    issues = [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what=what) for rank, what in enumerate(whats)]
    pages = read_pages(make_packet(tmp_path, issue=issues))
    for rank in range(9):
        assert any(f"first{rank} " in text and f"last{rank} " in text for text in pages)


def test_empty_sections_are_left_out_or_say_so(tmp_path):
    """A project with nothing but a game and links still makes a packet."""
    empty = {"pad": {}, "control": [], "issue": [], "contents": pf.Contents(), "instructions": pf.Instructions()}
    game = make_game(author="", summary="")
    text = all_text(make_packet(tmp_path, date=None, boot=False, game=game, **empty))
    assert "6. When you have finished" not in text
    assert "boot screen" not in text
    assert "Nothing in particular this time. Play as you like and report what you notice." in text
    assert "None are known in this build. Whatever you find is new to us, so please report it." in text
    for absent in ("Controls", "What is in this build", "What is not in yet", "In this build", "Date", "From", "at boot"):
        assert absent not in text


def test_own_steps_replace_the_usual_ones(tmp_path):
    """The author's way of copying is the only one named."""
    steps = pf.Instructions(run=["Blow the whistle.", "Insert the card."])
    text = all_text(make_packet(tmp_path, instructions=steps))
    assert "1. Blow the whistle. 2. Insert the card." in text
    assert "Unpack the kit" not in text


ODD = ["<b>&", "</para>", "{{ x }}", "{% raw %}", "5 < 6 & 7 > 2", "<script>x</script>", '<img src="making.py"/>', "&amp; &#65;"]


@pytest.mark.parametrize("text", some([*ODD, "Łódź naïve Ωμέγα Привет"], 4))
def test_any_text_is_printed_as_it_is(tmp_path, text):
    """Markup, template marks and letters beyond ASCII survive in every place an author writes (reader: pypdf)."""
    packet = make_packet(
        tmp_path,
        game=make_game(title=text, author=text, summary=text),
        links=pf.Links(feedback="https://example.org/f", bugs="https://example.org/b", more={text: "https://example.org/m"}),
        pad={"one": pf.Pad(name=text, buttons=[text])},
        control=[pf.Control(action=text, buttons={"one": text})],
        issue=[pf.Issue(id=text, severity="minor", where=text, what=text, workaround=text)],
        contents=pf.Contents(included=[text], missing=[text]),
        instructions=pf.Instructions(run=[text], test=[text], cautions=[text]),
    )
    pages = read_pages(packet)
    squeezed = "".join(pages).replace(" ", "")
    # Title, summary, author, link, pad, two for the control, four for the issue, in, not in, step, test, caution.
    assert squeezed.count(text.replace(" ", "")) >= 16
    assert pypdf.PdfReader(packet).metadata.author == text


def test_control_characters_are_left_out_and_lines_kept(tmp_path):
    """A bell, a byte-order mark and a direction mark are not printed; a line end is."""
    issue = pf.Issue(id="KE-1", severity="minor", where="Cl\x07iff\ufeff", what="first\nsecond\u202e\tthird")
    packet = make_packet(tmp_path, issue=[issue])
    assert "KE-1 minor ■■□□ Cliff first second third" in all_text(packet)
    assert "first\nsecond third" in "\n".join(page.extract_text() for page in pypdf.PdfReader(packet).pages)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("Fly 🚀 now", "'🚀' (U+1F680 ROCKET) in 'Fly 🚀 now' is not in the packet's font"),
        ("隼", "'隼' (U+96BC CJK UNIFIED IDEOGRAPH-96BC) in '隼' is not in the packet's font"),
    ],
)
def test_characters_the_font_lacks_are_refused(tmp_path, text, problem):
    """Named with code point and Unicode name, not printed as an empty box."""
    with pytest.raises(ProjectError) as refusal:
        make_packet(tmp_path, contents=pf.Contents(included=["Cliffs", text]))
    remedy = "use other characters: the packet's font has Latin, Greek and Cyrillic letters, arrows and common signs"
    assert str(refusal.value) == f"project.toml, contents.included[1]: {problem}\n    {remedy}"
    assert not (tmp_path / "packet.pdf").exists()


def test_all_refused_texts_are_named_with_their_lines(tmp_path):
    """Where the project file can be read, a refusal names the line; right-to-left letters would come out reversed."""
    (tmp_path / "project.toml").write_text('[game]\ntitle = "שלום"\n\n[[issue]]\nid = "1"\nwhat = "🚀"\n', encoding="utf-8")
    issue = pf.Issue(id="1", severity="minor", where="x", what="🚀")
    with pytest.raises(ProjectError) as refusal:
        make_packet(tmp_path, game=make_game(title="שלום"), issue=[issue])
    assert str(refusal.value) == (
        "project.toml, line 2, [game] title: 'ש' (U+05E9 HEBREW LETTER SHIN) in 'שלום' runs from right to left,"
        " which the packet cannot set\n    write it in letters that run from left to right\n"
        "project.toml, line 6, [[issue]] number 1 what: '🚀' (U+1F680 ROCKET) in '🚀' is not in the packet's font\n"
        "    use other characters: the packet's font has Latin, Greek and Cyrillic letters, arrows and common signs"
    )


def own_wording(folder: Path, change) -> None:
    (folder / "templates").mkdir()
    text = (TEMPLATES / "packet.en.toml").read_text(encoding="utf-8")
    (folder / "templates" / "packet.en.toml").write_text(change(text), encoding="utf-8")


def test_own_wording_wins(tmp_path):
    """A project's templates/packet.en.toml replaces the shipped one, placeholders and all."""
    issues = '"Bekannte Fehler in {{ version }}"'
    own_wording(tmp_path, lambda text: text.replace('"Known issues"', issues).replace('beta = "beta"', 'beta = "Probe"'))
    text = all_text(make_packet(tmp_path))
    assert "Bekannte Fehler in 0.3.1" in text
    assert "Probe" in text
    assert "Known issues" not in text


def test_wording_that_is_not_whole_is_refused(tmp_path):
    """Missing, misspelt and mistyped keys are all named at once, with the file."""

    def change(text: str) -> str:
        text = text.replace('heading = "Controls"\n', "").replace('kind = "Tester packet"', 'kinde = "Tester packet"')
        return text.replace('sha256 = "SHA-256"', "sha256 = 256")

    own_wording(tmp_path, change)
    with pytest.raises(ProjectError) as refusal:
        make_packet(tmp_path)
    shown = "templates/packet.en.toml"
    seen = [(problem.file, re.sub(r"line \d+, ", "", problem.place), problem.wrong, problem.remedy) for problem in refusal.value.problems]
    copy = "add it: a text; the shipped packet.en.toml has one to copy"
    assert sorted(seen) == [
        (shown, "[controls] heading", "the key controls.heading is missing", copy),
        (shown, "[facts] sha256", "expected a text, saw 256", "write it as in the shipped packet.en.toml"),
        (shown, "[first] kind", "the key first.kind is missing", copy),
        (shown, "[first] kinde", "unknown key 'kinde'", "did you mean kind?"),
    ]


def test_wording_with_an_unknown_value_is_refused(tmp_path):
    """A misspelt placeholder is an error of the author, reported without a traceback."""
    own_wording(tmp_path, lambda text: text.replace('number = "page {{ page }} of', 'number = "page {{ pgae }} of'))
    with pytest.raises(ProjectError) as refusal:
        make_packet(tmp_path)
    message = re.sub(r"line \d+", "line N", str(refusal.value))
    assert message == "templates/packet.en.toml, line N, [page] number: there is no value 'pgae' for this text\n    did you mean page?"


def test_same_bytes_anywhere_anytime(tmp_path):
    """Two other processes with other time zones, hash seeds, folders and clocks of the environment make the same file."""
    want = make_packet(tmp_path).read_bytes()
    script = (
        f"import sys; sys.path[:0] = [{str(ROOT)!r}]\n"
        "from pathlib import Path; from tests.packet.test_packet import make_packet\n"
        "make_packet(Path(sys.argv[1]))"
    )
    for zone, seed, epoch in (("Pacific/Kiritimati", "1", ""), ("America/Adak", "777", "1700000000")):
        folder = tmp_path / seed
        folder.mkdir()
        environment = os.environ | {"TZ": zone, "PYTHONHASHSEED": seed, "SOURCE_DATE_EPOCH": epoch, "LC_ALL": "C"}
        subprocess.run([sys.executable, "-c", script, str(folder)], env=environment, check=True)
        assert (folder / "packet.pdf").read_bytes() == want


def test_second_packet_of_a_process_is_the_same(tmp_path, packet):
    """Nothing of one packet leaks into the next."""
    make_packet(tmp_path, game=make_game(title="Ωμέγα"))
    assert make_packet(tmp_path).read_bytes() == packet.read_bytes()


def contrast(one, other) -> float:
    """WCAG 2.2, contrast ratio, from relative luminance as defined there."""

    def luminance(colour) -> float:
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour.rgb()]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


def test_a_packet_is_drawn_once(tmp_path, monkeypatch):
    """Laying it out finds every page that a text names, so that the first pass that draws is the last."""
    passes = []
    monkeypatch.setattr(document, "render", lambda draft, *given: passes.append(draft) or render(draft, *given))
    for text in ("normal", "large"):
        make_packet(tmp_path, game=make_game(text=text))
    assert len(passes) == 2


@pytest.mark.parametrize("guess", [{}, {"pages": 99, "form": 8, "cautions": 7, "run": 6}])
def test_wrong_guess_of_the_pages_changes_nothing(tmp_path, packet, monkeypatch, guess):
    """It is drawn again until the pages named are those there are."""
    monkeypatch.setattr(document, "_guess_pages", lambda draft: draft.seen.update(guess))
    assert make_packet(tmp_path).read_bytes() == packet.read_bytes()


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_every_colour_of_text_can_be_read(pair):
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    assert contrast(*PAIRS[pair]) >= 4.5


def test_no_other_colour_is_used(packet):
    """The fill colours of the pages' own drawing operators are those of the table of pairs, and the tints."""
    known = {tuple(round(part, 3) for part in colour.rgb()) for pair in PAIRS.values() for colour in pair}
    seen = set()
    for page in pypdf.PdfReader(packet).pages:
        for operands, operator in page.get_contents().operations:
            if operator == b"rg":
                seen.add(tuple(round(float(part), 3) for part in operands))
    close = {colour for colour in seen if any(np.allclose(colour, one, atol=0.002) for one in known)}
    assert seen == close


def test_foot_of_each_page_is_below_a_quiet_rule(packet):
    """One line from margin to margin, in the colour of rules."""
    for page in pypdf.PdfReader(packet).pages:
        stroke, colours, ends = None, [], (style.MARGIN, float(page.mediabox.width) - style.MARGIN)
        for operands, operator in page.get_contents().operations:
            if operator == b"RG":
                stroke = [float(part) for part in operands]
            elif operator == b"m":
                begin = [float(part) for part in operands]
            elif operator == b"l" and (begin[0], float(operands[0])) == pytest.approx(ends, abs=0.01) and begin[1] < style.MARGIN:
                colours.append(stroke)
        assert len(colours) == 1
        assert colours[0] == pytest.approx(style.RULE.rgb(), abs=0.002)


def test_body_text_is_large_enough():
    """The team's own rule: running text of 9.5 to 10.5 points, nothing under 8."""
    look = Look()
    assert min(one.fontSize for one in vars(look).values() if isinstance(one, ParagraphStyle)) >= 8
    assert all(9.5 <= one.fontSize <= 10.5 for one in (look.BODY, look.NOTE, look.ITEM, look.STEP))


def test_a_failed_packet_leaves_the_last_one(tmp_path):
    """A refusal leaves the good file untouched and no half file."""
    packet = make_packet(tmp_path)
    before = packet.read_bytes()
    with pytest.raises(ProjectError):
        make_packet(tmp_path, game=make_game(title="🚀"))
    assert packet.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["boot.png", "map.json", "packet.pdf"]


def test_long_title_and_links_do_not_break_the_page(tmp_path):
    """The longest title, version and links that are allowed still make a first page with both codes."""
    title = "The Long and Winding Search of the Kestrel for Its Breakfast"
    game = make_game(title=title, version="10.20.30-rc.1", phase="release candidate")
    links = pf.Links(feedback="https://example.org/" + "f" * 560, bugs="https://example.org/" + "b" * 250)
    packet = make_packet(tmp_path, boot=False, game=game, links=links)
    page = pypdfium2.PdfDocument(packet)[0].render(scale=200 / 72).to_numpy()
    codes = zxingcpp.read_barcodes(np.ascontiguousarray(page[:, :, :3]), formats=zxingcpp.BarcodeFormat.QRCode)
    assert {code.text for code in codes} == {f"{links.feedback}?b={BUILD}", f"{links.bugs}?b={BUILD}"}
    assert f"{game.title} 10.20.30-rc.1 " in read_pages(packet)[1]


def test_foot_keeps_the_version_of_a_wide_title(tmp_path):
    """Sixty of the widest letters do not fit the foot: the title loses its end, version and build code stay whole."""
    pages = read_pages(make_packet(tmp_path, game=make_game(title="W" * 60)))
    assert all(re.search(rf"build {BUILD} W{{20,50}}… 0\.3\.1 ", text) for text in pages)


@pytest.mark.parametrize("placeholders", [False, True])
def test_packet_of_an_example_says_that_its_links_lead_nowhere(tmp_path, placeholders):
    """Only where the project says so (reader: pypdf)."""
    links = pf.Links(feedback="https://example.org/f", bugs="https://example.org/b", placeholders=placeholders)
    text = all_text(make_packet(tmp_path, links=links))
    assert ("This packet is an example. Its links are made up and lead nowhere." in text) == placeholders


def test_only_open_issues_are_known_ones(tmp_path):
    """Fixed in this version: to be tested again; fixed earlier, by design, not to be reproduced: not listed at all."""
    states = (("open", None), ("fixed", "0.3.1"), ("fixed", "0.3.0"), ("by design", None), ("cannot reproduce", None))
    every = [{"id": f"KE-{rank}", "severity": "minor", "where": "Cliff", "what": f"Thing {rank}."} for rank in range(len(states))]
    issues = [pf.Issue(status=state, fixed_in=at, **keys) for keys, (state, at) in zip(every, states, strict=True)]
    text = all_text(make_packet(tmp_path, issue=issues))
    assert "KE-0 minor" in text
    assert "☐ KE-1 Cliff Thing 1." in text
    assert not any(f"KE-{rank}" in text for rank in (2, 3, 4))
    assert "Retest what we fixed" not in all_text(make_packet(tmp_path, issue=issues[:1]))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("text", ["normal", "large"])
@pytest.mark.parametrize("before", some(range(1, 40, 3), 1))
def test_no_link_is_parted_inside_a_code(tmp_path, paper, text, before):
    """Whatever the length before it, a build code stays in one line, beside the codes, in the list of links and on the form (pypdf)."""
    links = pf.Links(feedback="https://example.org/" + "f" * before + "/{build}", bugs="https://example.org/" + "b" * before + "?x={build}")
    packet = make_packet(tmp_path, links=links, game=make_game(paper=paper, text=text))
    lines = [line for page in pypdf.PdfReader(packet).pages for line in page.extract_text().splitlines()]
    assert sum(line.rstrip().endswith((f"/{BUILD}", f"={BUILD}")) for line in lines) == 5


@pytest.mark.parametrize("width", [60, 100, 170, 400])
@pytest.mark.parametrize("link", [f"https://example.org/f/{BUILD}?t=T12&b={BUILD}#a", f"https://example.org/{'x' * 90}-{BUILD}", "x" * 50])
def test_lines_of_a_link_fit_and_are_the_link(width, link):
    """Together they are the link; each fits its column; the code is whole (widths: reportlab)."""
    use_fonts()
    look = Look("normal").CARD_LINK
    lines = link_lines(link, look, width)
    assert "".join(lines) == link
    assert all(stringWidth(line, look.fontName, look.fontSize) <= width for line in lines)
    assert sum(line.count(BUILD) for line in lines) == link.count(BUILD)


def thin_pages(path: Path) -> list[int]:
    """Return the pages but the last of which less than a third is used, by the lowest word above the foot (poppler's boxes)."""
    found = []
    for rank, (_, height, words) in enumerate(words_of(path)[:-1], 1):
        lowest = max((word.bottom for word in words if word.bottom < height - style.BOTTOM), default=0)
        if (lowest - style.TOP) / (height - style.TOP - style.BOTTOM) < 1 / 3:
            found.append(rank)
    return found


ROOMS = {  # what moves the page breaks: how much there is of each part
    "little": {"issue": [], "contents": pf.Contents()},
    "many issues": {"issue": [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what="It flickers. " * 9) for rank in range(23)]},
    "long issues": {"issue": [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what="It flickers. " * 90) for rank in range(5)]},
    "much to test": {"instructions": pf.Instructions(test=["Dive from each of the cliffs, and look at every feather. " * 3] * 9)},
    "much to read": {"contents": pf.Contents(included=["A cliff"] * 30, missing=["Rain"] * 25)},
    "many cautions": {"instructions": pf.Instructions(cautions=["Lightning on the third cliff flashes twice. " * 6] * 5)},
    "many links": {"links": pf.Links(feedback="https://example.org/f", bugs="https://example.org/b",
                                     more={f"Page {rank}": f"https://example.org/{rank}" for rank in range(14)})},
}  # fmt: skip


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("text", ["normal", "large"])
@pytest.mark.parametrize("room", some(ROOMS, 1))
def test_no_page_but_the_last_is_nearly_empty(tmp_path, room, text, paper):
    """Less than a third of a page looks left over; common practice, no source."""
    need_tool("pdftotext")
    packet = make_packet(tmp_path, game=make_game(paper=paper, text=text), **ROOMS[room])
    assert thin_pages(packet) == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("text", ["normal", "large"])
def test_cautions_and_controls_come_early_or_have_a_page(tmp_path, text, paper):
    """Cautions begin on the second page at the latest; controls are on it too, or begin a page (pypdf)."""
    packet = make_packet(tmp_path, game=make_game(paper=paper, text=text))
    reader = pypdf.PdfReader(packet)
    begins = {entry.title: reader.get_destination_page_number(entry) + 1 for entry in reader.outline}
    assert begins["Cautions"] <= 2
    lines = [line for line in reader.pages[begins["Controls"] - 1].extract_text().splitlines() if not line.startswith("page ")]
    assert begins["Controls"] <= 2 or "Controls" in lines[:4]


def test_no_heading_is_alone_at_the_foot_of_a_page(tmp_path):
    """Under every heading is something on its page, with any number of issues (poppler's boxes)."""
    need_tool("pdftotext")
    for count in range(1, 30, 4):
        issues = [pf.Issue(id=f"KE-{rank}", severity="minor", where="Cliff", what="It flickers. " * 5) for rank in range(count)]
        packet = make_packet(tmp_path, issue=issues)
        reader, pages = pypdf.PdfReader(packet), words_of(packet)
        for entry in reader.outline:
            _, height, words = pages[reader.get_destination_page_number(entry)]
            top = height - float(entry.top)
            assert any(top + 30 < word.top < height - style.BOTTOM for word in words), (count, entry.title)


def test_days_thanks_and_pictures_of_issues_are_in_the_packet(tmp_path):
    """Until when feedback counts and the build is used, whom the author thanks, and a picture in its row (pypdf)."""
    spec = make_spec(
        game=make_game(deadline=DATE, expires=DATE.replace(day=30)),
        instructions=pf.Instructions(test=["Dive."], thanks=["Ann", "T3", "Zoë"]),
    )
    out = tmp_path / "packet.pdf"
    write_packet(*packet_files(tmp_path), spec, DATE, "Basalt 32", out, None, "kest.rom", issue_pictures={"KE-2": write_boot(tmp_path)})
    text = all_text(out)
    assert "Feedback on this build counts until 2031-04-09. Do not use this build after 2031-04-30; ask for a newer one." in text
    assert "above all to Ann, T3 and Zoë." in text
    (picture,) = [image for page in pypdf.PdfReader(out).pages for image in page.images]
    assert picture.image.width % 64 == 0
    plain = all_text(make_packet(tmp_path))
    for absent in ("counts until", "Do not use", "Thank you"):
        assert absent not in plain


def test_words_for_one_tester_are_on_their_first_page(tmp_path):
    """Short ones; long ones come before the test checklist, and push nothing off the first page."""
    for message, page in (("Look at the feathers.", 0), ("Look at every feather. " * 25, None)):
        out = tmp_path / "own.pdf"
        given = {"tester": "T3", "name": "Zoë", "message": message}
        write_packet(*packet_files(tmp_path), make_spec(), DATE, "Basalt 32", out, write_boot(tmp_path), "kest.rom", **given)
        pages = read_pages(out)
        assert "read the cautions on page" in pages[0]
        where = next(rank for rank, text in enumerate(pages) if "For you" in text)
        assert page in (None, where)
        assert " ".join(pages).index("For you") < " ".join(pages).index("Test checklist")
