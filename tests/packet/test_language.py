"""Packet and notes in other languages: files compared with the English one, and what is printed, read by pypdf and pdftotext."""

from __future__ import annotations

import json
import re
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pypdf
import pytest

import pipeline.project.file as pf
from pipeline.packet.document import write_packet
from pipeline.plain.shipped import TEMPLATES
from pipeline.plain.sizes import Numbers
from pipeline.project.plan import Plan, Task
from pipeline.release.notes import write_notes
from tests.conftest import need_tool, some
from tests.makers import budget_json, toml_text
from tests.packet.test_budget import SCENE
from tests.packet.test_pictures import asset, changes, pixels
from tests.packet.test_plan import ALONE, DIVE, GRID
from tests.release.making import BUILD, DATE, STEM, make_game, make_spec, notes_files, packet_files, write_boot

pytestmark = pytest.mark.usefixtures("set_once")
OTHERS = sorted(path.name.split(".")[1] for path in TEMPLATES.glob("packet.*.toml") if path.name != "packet.en.toml")
PART = re.compile(r"(\{\{.*?\}\}|\{%.*?%\})")  # written apart from the code's own reader
MASKED = "qaa"  # kept for private use (ISO 639-2)


def tables(language: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads((TEMPLATES / f"packet.{language}.toml").read_text(encoding="utf-8"))


def texts(value: Any) -> Iterator[str]:
    """Yield every text in tables and lists."""
    if isinstance(value, str):
        yield value
    else:
        for part in value.values() if isinstance(value, dict) else value:
            yield from texts(part)


def shape(value: Any) -> Any:
    """Return lists as lists of shapes, and every text as the parts to be filled in, in the order of the alphabet."""
    if isinstance(value, str):
        return sorted(part.replace(" ", "") for part in PART.findall(value))
    return [shape(part) for part in value]


def full_spec(language: str, **game: str) -> dict[str, Any]:
    """Return a game that has every part of a packet."""
    fixed = pf.Issue(
        id="KE-9", severity="minor", where="Nest", what="Chicks sang.", status="fixed", fixed_in="0.3.1", reproduce=["Listen to chicks."]
    )
    places = {"A": "4 3", "B": "6 3", "Hoot": "8 3"}
    spec = make_spec(game=make_game(language=language, **game), plan=Plan(task=[Task(text=DIVE), Task(text=ALONE.text)]))
    spec["issue"].append(fixed)
    spec["pad"]["two"] = pf.Pad(name="Two-button pad", buttons=places)
    spec["links"] = msgspec.structs.replace(
        spec["links"], placeholders=True, download="https://example.org/d", more={"Nest rules": "https://example.org/r"}
    )
    return spec


def moved(before: int | None, now: int | None) -> dict[str, Any]:
    """Return an animation that lasts so many milliseconds."""
    return {"name": "hop", "before": before, "now": now}


def full_changes(folder: Path) -> Path:
    """Write a comparison with every kind of change, pictures of thirteen assets with it."""
    art = pixels(1, 4, 16)
    found = changes(
        changed=[asset(f"gull_{rank}", "sprite", art, pixels(2, 4, 16)) for rank in range(11)],
        added=[asset("tern", "sprite", None, art)],
        removed=[asset("skua", "sprite", art, None)],
        recoloured=[asset("owl", "sprite", art, 255 - art)],
        renamed=[asset("dunlin", "sprite", None, None) | {"was": "stint"}],
        timing=[{"name": "owl", "animations": [moved(9, 9), moved(9, 8), moved(None, 8), moved(9, None)]}],
        anchors=[{"name": "owl", "before": [1, 2], "now": [3, 4]}],
        controls=[{"action": "Hoot", "before": {"Two-button pad": "A"}, "now": None}, {"action": "Dive", "before": None, "now": {}}],
        contents={part: {"added": ["Rain."], "removed": ["Snow."]} for part in ("included", "missing")},
        settled=[{"id": "KE-4", "status": "by design"}, {"id": "KE-5", "status": "cannot reproduce"}],
        fixed=["KE-9"],
        new=["KE-1"],
        words=[{"text": "Feathers are softer.", "line": 3}],
    )
    path = folder / "changes.json"
    path.write_text(json.dumps(found | {"image": {"before": 5000, "now": 2_500_000}}))
    return path


def full_packet(folder: Path, language: str, **more: Any) -> Path:
    out = folder / f"{language}.pdf"
    more = {"spec": full_spec(language), "boot": write_boot(folder), "changes_file": full_changes(folder), "grids": (GRID, ALONE)} | more
    write_packet(*packet_files(folder, language), date=DATE, console="Basalt 32", out=out, image_name="kest.rom", **more)
    return out


def author_packet(folder: Path, language: str) -> Path:
    budget = folder / "budget.json"
    scenes = {"race": SCENE, "calm": SCENE | {"margin": 452, "estimated": 0}}
    budget.write_text(json.dumps(budget_json(scenes, memory=2_500_000, held={"screen": 100})))
    return full_packet(folder, language, budget_file=budget, shares={3: [[0, 1], [0]]})


def personal_packet(folder: Path, language: str) -> Path:
    return full_packet(folder, language, shares={3: [[0, 1], [0]]}, tester="T3", name="Fri Example")


def full_notes(folder: Path, language: str) -> str:
    out = folder / "NOTES.txt"
    write_notes(*notes_files(folder, language), full_spec(language), DATE, "Basalt 32", out, full_changes(folder))
    return out.read_text(encoding="utf-8")


def printed(path: Path) -> str:
    """Return the text of all pages with single spaces (reader: pypdf), and of the outline and the facts of the file."""
    reader = pypdf.PdfReader(path, strict=True)
    outline = [entry.title for entry in reader.outline]
    facts = [str(value) for key, value in reader.metadata.items() if key in ("/Title", "/Keywords")]
    return " ".join(" ".join([*(page.extract_text() for page in reader.pages), *outline, *facts]).split())


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_what_english_has(language):
    """The same tables and keys, lists of the same length, and in every text the same values to be filled in."""
    english, other = tables("en"), tables(language)
    assert {name: set(keys) for name, keys in other.items()} == {name: set(keys) for name, keys in english.items()}
    for name, keys in english.items():
        for key, value in keys.items():
            assert type(other[name][key]) is type(value), f"{name}.{key}"
            assert shape(other[name][key]) == shape(value), f"{name}.{key}"


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_left_untranslated(language):
    """No text of more than one word is as in English, and none is empty where English is not."""
    english, other = list(texts(tables("en"))), list(texts(tables(language)))
    for one, their in zip(english, other, strict=True):
        words = PART.sub(" ", one).replace("SHA-256", "").split()
        assert bool(their) == bool(one), one
        assert one != their or sum(word.isalpha() for word in words) < 2, one


def mask(value: Any) -> Any:
    """Return a message file's content with every letter of its texts Cyrillic, but what is filled in."""
    if isinstance(value, str):
        return "".join(part if PART.fullmatch(part) else re.sub("[A-Za-z]", "ж", part) for part in PART.split(value))
    if isinstance(value, dict):
        return {key: mask(part) for key, part in value.items()}
    return [mask(part) for part in value]


@pytest.fixture
def masked(tmp_path) -> Path:
    """A project's folder with a message file that has no Latin letter."""
    (tmp_path / "templates").mkdir()
    (tmp_path / f"templates/packet.{MASKED}.toml").write_text(toml_text(mask(tables("en"))), encoding="utf-8")
    return tmp_path


def values(data: Any) -> Iterator[str]:
    """Yield every value of plain data as text, without keys; pictures are left out, whose letters make any word."""
    if isinstance(data, dict):
        yield from (text for key, part in data.items() if key != "pictures" for text in values(part))
    elif isinstance(data, list | tuple):
        yield from (text for part in data for text in values(part))
    else:
        yield str(data)


def own_words(folder: Path) -> set[str]:
    """Return all words that are not fixed wording: a project's texts, names of pads and assets, codes, units."""
    spec = full_spec(MASKED)
    fixed = {"game": msgspec.to_builtins(spec["game"]) | {"phase": ""}}
    fixed["issue"] = [msgspec.to_builtins(one) | {"severity": "", "status": ""} for one in spec["issue"]]
    said = [*values(msgspec.to_builtins(spec) | fixed), *values(GRID.values), *GRID.heads, *map(str, spec["pad"]["two"].buttons)]
    said += [text for path in folder.glob("*.json") for text in values(json.loads(path.read_text()))]
    said += [*spec["links"].more, "screen", "race", "calm", STEM, "kest.rom", "Basalt 32", BUILD, "MiB KiB", "Fri Example"]
    return set(re.findall("[a-z]+", " ".join(said).lower()))


def strangers(text: str, own: set[str]) -> list[str]:
    """Return the Latin words of a text that are not known, in its order."""
    return [word for word in re.findall("[A-Za-z]{2,}", text) if word.lower() not in own]


@pytest.mark.parametrize("make", some([full_packet, author_packet, personal_packet], 1))
def test_no_fixed_word_of_the_packet_stands_in_the_program(masked, make):
    """With a wording that has no Latin letter, every Latin word printed is the project's own."""
    text = printed(make(masked, MASKED))
    assert text.count("ж") > 3000
    assert strangers(text, own_words(masked)) == []


def test_no_fixed_word_of_the_notes_stands_in_the_template(masked):
    """But the command to be typed, and what it answers to."""
    text = full_notes(masked, MASKED)
    assert text.count("ж") > 1000
    assert strangers(text, own_words(masked) | {"sha", "sum", "sums", "packet", "pdf", "html"}) == []


def fixed_parts(language: str) -> set[str]:
    """Return the pieces of all texts between what is filled in that are at least two words."""
    return {piece for piece in _pieces(tables(language)) if " " in piece}


def _pieces(value: Any) -> set[str]:
    return {" ".join(piece.split()).strip(" .,:") for text in texts(value) for piece in PART.split(text)[::2]}


@pytest.mark.parametrize("make", some([full_packet, author_packet, personal_packet], 1))
def test_german_packet_has_no_english_wording(tmp_path, make):
    """Nothing of two words or more of the English file is printed, and much of the German file is."""
    text = printed(make(tmp_path, "de"))
    assert [piece for piece in fixed_parts("en") if piece in text] == []
    german = fixed_parts("de") - {piece for table in ("announce", "phone", "forms") for piece in _pieces(tables("de")[table])}
    assert len([piece for piece in german if piece in text]) > 0.55 * len(german)


def test_german_notes_have_no_english_wording(tmp_path):
    """And no line is longer than 76 characters."""
    text = full_notes(tmp_path, "de")
    flat = " ".join(text.split())
    assert [piece for piece in fixed_parts("en") if piece in flat] == []
    assert all(piece in flat for piece in tables("de")["notes"]["cautions"])
    assert "Kestrel 0.3.1, Beta\n===================\n" in text
    assert "KE-2, kritisch: Start\n" in text
    assert "    Ausweg: Save often.\n" in text
    assert max(map(len, text.splitlines())) <= 76


def test_german_headings_come_in_their_order(tmp_path):
    """Read by pdftotext of poppler; the outline has the same (reader: pypdf)."""
    packet = full_packet(tmp_path, "de-AT")
    text = subprocess.run([need_tool("pdftotext"), "-raw", str(packet), "-"], capture_output=True, check=True).stdout.decode()
    headings = [
        "Checkliste", "Bitte erneut testen: behobene Fehler", "Kopieren und starten", "Was sich geändert hat",
        "Was durchzugehen ist", "Was in diesem Build ist", "Was noch fehlt", "Steuerung", "Bekannte Fehler",
        "So schreiben Sie eine hilfreiche Meldung", "Links", "Warnhinweise", "Über diesen Build", "Meldeblatt",
    ]  # fmt: skip
    reader = pypdf.PdfReader(packet, strict=True)
    assert {entry.title for entry in reader.outline} == {"Hier beginnen", *headings}
    places = [text.index(f"\n{entry.title}\n") for entry in reader.outline[1:]]
    assert places == sorted(places)


def test_pdf_says_its_language(tmp_path):
    """ISO 32000-1, 14.9.2: /Lang of the catalogue; the tag is the project's, the wording the nearest there is."""
    reader = pypdf.PdfReader(full_packet(tmp_path, "de-AT"))
    assert reader.trailer["/Root"]["/Lang"] == "de-AT"
    assert reader.metadata.title == f"Testheft zu Kestrel 0.3.1, Build {BUILD}"


def test_german_heads_are_not_parted(tmp_path):
    """A column is as wide as its head: the words of every head are on one line."""
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(personal_packet(tmp_path, "de")).pages)
    for line in ("Nummer\nSchwere\nWo\nWas geschieht\nAusweg\n", "Nummer\nWo\nWas geschah\n", "Testnummer\nT3\n", "Version\n0.3.1\n"):
        assert line in text


def test_long_labels_of_the_first_page_are_not_parted(tmp_path):
    """A column of facts is as wide as its label, though the value is short."""
    (tmp_path / "templates").mkdir()
    text = (TEMPLATES / "packet.de.toml").read_text(encoding="utf-8")
    text = text.replace('version = "Version"', 'version = "Versionsbezeichnungsangabe"', 1)
    (tmp_path / "templates/packet.de.toml").write_text(text, encoding="utf-8")
    spec = full_spec("de", author="Quayside Evenings (an invented one-person studio)")
    lines = pypdf.PdfReader(full_packet(tmp_path, "de", spec=spec)).pages[0].extract_text().splitlines()
    assert "Versionsbezeichnungsangabe" in lines


@pytest.mark.parametrize("phase", ["alpha", "release candidate"])
def test_facts_of_the_first_page_are_not_parted(tmp_path, phase):
    """A long phase beside a long author: the author gets a row of its own, and no other value is parted."""
    spec = full_spec("de", phase=phase, author="Quayside Evenings (an invented one-person studio)")
    packet = full_packet(tmp_path, "de", spec=spec, tester="T3", shares={3: [[0, 1], [0]]})
    lines = pypdf.PdfReader(packet).pages[0].extract_text().splitlines()
    wanted = ["T3", "0.3.1", {"alpha": "Alpha", "release candidate": "Release-Kandidat"}[phase], "Basalt 32", "2031-04-09"]
    assert [line for line in lines if line in wanted] == wanted


def test_numbers_are_written_in_the_language(tmp_path):
    """German parts thousands by a point and tenths by a comma (Unicode CLDR, from memory); dates stay ISO 8601."""
    text = printed(full_packet(tmp_path, "de"))
    for words in ("8.192 Bytes (8 KiB)", "2031-04-09"):
        assert words in text
    assert "8.192 Bytes" in full_notes(tmp_path, "de")
    own = printed(author_packet(tmp_path, "de"))
    assert "race braucht im schlimmsten Fall 2,4 KiB von 2,4 MiB, 452 Bytes ZU VIEL (2,0 KiB davon geschätzt)" in own
    assert "2.300: ann, cat" in own


@pytest.mark.parametrize(
    ("number", "english", "german"),
    [
        (0, "0 bytes", "0 Bytes"),
        (999, "999 bytes", "999 Bytes"),
        (1_234_567, "1,234,567 bytes", "1.234.567 Bytes"),
        (-2_000, "-2,000 bytes", "-2.000 Bytes"),
    ],
)
def test_thousands_are_parted(number, english, german):
    """Three digits at a time from the right."""
    assert Numbers().exact(number) == english
    assert Numbers(".", ",", "Bytes").exact(number) == german


def test_a_point_and_a_comma_may_change_places():
    """Neither sign is exchanged twice."""
    german = Numbers(thousands=".", decimal=",", bytes="Bytes")
    assert german.size(1024 * 1024 * 5 // 2) == "2,5 MiB"
    assert german.size(1023 * 1024 + 512) == "1023,5 KiB"
    assert german.size(17) == "17 Bytes"


def test_same_bytes_in_german(tmp_path):
    """Two runs make the same file."""
    first = full_packet(tmp_path, "de").read_bytes()
    assert full_packet(tmp_path, "de").read_bytes() == first


def test_own_notes_may_take_their_words_from_the_message_file(tmp_path):
    """Texts and lists by key; the phase as the project has it, and in the language."""
    (tmp_path / "templates").mkdir()
    own = '{{ say("issues.heading") }} / {{ phase }} / {{ say("phase." ~ phase) }} / {{ say_all("form.often_words") | join("+") }}\n'
    (tmp_path / "templates/notes.txt.j2").write_text(own)
    assert full_notes(tmp_path, "de") == "Bekannte Fehler / beta / Beta / jedes Mal+manchmal+einmal\n"


def test_notes_of_a_game_without_boot_notice_can_say_so(tmp_path):
    """boot_screen is a value of the notes too."""
    (tmp_path / "templates").mkdir()
    text = (TEMPLATES / "packet.en.toml").read_text(encoding="utf-8")
    text = text.replace('whole = "Check', 'whole = "{% if boot_screen %}Look, then {% endif %}Check')
    (tmp_path / "templates/packet.en.toml").write_text(text, encoding="utf-8")
    for shown in (True, False):
        out = tmp_path / "NOTES.txt"
        write_notes(*notes_files(tmp_path), make_spec(), DATE, "Basalt 32", out, boot_screen=shown)
        assert ("\nLook, then Check that the kit is whole\n" in out.read_text()) is shown
