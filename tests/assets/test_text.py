"""Texts: what other readers find in the same files, glyph ranks by the font's own table, widths by fontTools, refusals, the image."""

from __future__ import annotations

import shutil
import struct
import tomllib
import zlib
from pathlib import Path

import msgspec
import pytest
from fontTools.ttLib import TTFont

from pipeline.joints.facts import FontFacts, TextFacts, read_facts
from pipeline.joints.map import decode_map
from pipeline.joints.places import facts_file
from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import MONO
from pipeline.project.loading.load import load_project
from pipeline.reading.verify import verify_image
from tests.makers import TARGETS, make_project, run_steps

FONT = '[font.small]\nfile = "mono.ttf"\nsize = 10\npalette = "figures"\n'
EN = 'start = "Press Start"\nover = "Game\\nover"\nlamp = "Lamps: 8/8"\n'
FR = "# words\nover = Fin\\nde partie\nstart = Appuyez sur Start\n\nlamp=Lampes : 8/8\n"


def texts(
    folder: Path, keys: str = 'font = "small"', files: dict[str, str] | None = None, target: str = "basalt32", font: str = FONT
) -> Path:
    """Return a project with texts in some files, by default in two languages."""
    files = {"en.toml": EN, "fr.txt": FR} if files is None else files
    table = ", ".join(f'{name.partition(".")[0]} = "{name}"' for name in files)
    make_project(folder, target=target, more=f"{font}[text.words]\nlanguages = {{ {table} }}\n{keys}\n")
    shutil.copy(MONO, folder / "mono.ttf")
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def refused(folder: Path) -> str:
    """Return why texts cannot be converted."""
    with pytest.raises(ProjectError) as caught:
        run_steps(load_project(folder), "text:words")
    return str(caught.value)


def read(blob: bytes, order: str = ">") -> tuple[dict, list[list[list[int]]]]:
    """Read a blob by the layout that the guide prints, with struct: its record, and the units of each text, by language and key."""
    version, size, languages, keys, spare, font, end, line_break, table = struct.unpack_from(order + "BBHHHIIII", blob)
    assert (version, spare) == (1, 0)
    found = []
    for rank in range(languages * keys):
        at, count, lines = struct.unpack_from(order + "IHH", blob, table + 8 * rank)
        units = struct.unpack_from(f"{order}{count + 1}{ {1: 'B', 2: 'H', 4: 'I'}[size]}", blob, at)
        assert at % size == 0
        assert units[-1] == end
        assert lines == 1 + units.count(line_break)
        found.append(list(units[:-1]))
    head = {"unit_bytes": size, "font": font, "end": end, "line_break": line_break}
    return head, [found[start : start + keys] for start in range(0, len(found), keys)]


@pytest.mark.parametrize("target", TARGETS)
def test_image_holds_each_text_as_ranks_of_glyphs(tmp_path, target):
    """In every target's order. The glyphs are those of the font's facts; files are read again by tomllib and by hand."""
    folder = texts(tmp_path / "p", target=target)
    project = load_project(folder)
    run_steps(project, "verify", "include")
    entry = decode_map((folder / "build/map.json").read_bytes(), "map.json").by_name()["words"]
    image = next((folder / "build/rom").glob("*.rom")).read_bytes()
    head, found = read(image[entry.offset : entry.offset + entry.bytes], ">" if project.target.byte_order == "big" else "<")
    assert head == {"unit_bytes": 1, "font": zlib.crc32(b"small"), "end": 255, "line_break": 254}
    letters = [chr(code) for code, _ in read_facts(facts_file(folder / "build/blobs", "small"), FontFacts).characters]
    shown = [["".join("\n" if unit == 254 else letters[unit] for unit in text) for text in some] for some in found]
    french = ["Appuyez sur Start", "Fin\nde partie", "Lampes : 8/8"]
    assert shown == [list(tomllib.loads(EN).values()), french]
    assert set(letters) == set("".join(shown[0] + french)) - {"\n"}  # the font has what its texts need, and nothing else was asked for
    constants = (folder / "build/include/assets.inc").read_text()
    for line in ("ASSET_KIND_TEXT = 11", "WORDS_LANGUAGE_FR = 1", "WORDS_TEXT_START = 0", "WORDS_TEXT_LAMP = 2", "WORDS_UNIT_BYTES = 1"):
        assert line in constants


@pytest.mark.parametrize(
    ("text", "size", "keys"),
    [("abc", 1, ""), ("ÿ\\n", 1, ""), ("Ā", 2, ""), ("\U0001f6a2", 4, ""), ("abc", 2, "unit_bytes = 2"), ("€", 4, "unit_bytes = 4")],
)
def test_without_a_font_units_are_code_points(tmp_path, text, size, keys):
    """Source: Python's own code points; the fewest bytes that hold all, or more where the author says so."""
    folder = texts(tmp_path / "p", keys, {"en.toml": f'a = "{text}"\nb = ""\nc = "{text}"\n'}, font="")
    run_steps(load_project(folder), "text:words")
    blob = (folder / "build/blobs/words.bin").read_bytes()
    head, found = read(blob)
    units = [ord(one) for one in text.replace("\\n", "\n")]
    assert head == {"unit_bytes": size, "font": 0, "end": 0, "line_break": 10}
    assert found == [[units, [], units]]
    assert len(blob) == 24 + 3 * 8 + (len(units) + 1 + 1) * size  # equal texts are stored once


def test_many_glyphs_take_two_bytes(tmp_path):
    """254 glyphs leave room for the end and the line break in a byte, 255 do not."""
    for count, size in ((254, 1), (255, 2)):
        letters = "".join(chr(code) for code in sorted(TTFont(MONO).getBestCmap()) if code > 0x20 and chr(code) not in '"\\')[:count]
        folder = texts(tmp_path / str(count), files={"en.txt": f"all = {letters}\n"}, keys='font = "small"')
        run_steps(load_project(folder), "text:words")
        head, found = read((folder / "build/blobs/words.bin").read_bytes())
        assert (head["unit_bytes"], found[0][0]) == (size, list(range(count)))


def test_plain_files_are_read_whatever_ends_their_lines(tmp_path):
    """A byte order mark, CRLF and old line ends; an equals sign in a text, blanks around key and text, a backslash."""
    text = "\ufeff# comment\r\n  one =  a = b  \r\n\r\ntwo=x\\\\ny\rthree = #3\n"
    folder = texts(tmp_path / "p", "", {"en.txt": text}, font="")
    run_steps(load_project(folder), "text:words")
    _, found = read((folder / "build/blobs/words.bin").read_bytes())
    assert ["".join(map(chr, units)) for units in found[0]] == ["a = b", "x\\ny", "#3"]
    assert read_facts(facts_file(folder / "build/blobs", "words"), TextFacts).keys == ["one", "two", "three"]


def test_widths_are_the_font_s(tmp_path):
    """Source: fontTools' advances of a font of one width, at 10 pixels; of several lines the widest counts."""
    table = TTFont(MONO)
    advance = round(table["hmtx"][table.getBestCmap()[ord("a")]][0] * 10 / table["head"].unitsPerEm)
    fits = texts(tmp_path / "a", f'font = "small"\nwidth = {17 * advance}')
    run_steps(load_project(fits), "text:words")
    assert read_facts(facts_file(fits / "build/blobs", "words"), TextFacts).widest == [11 * advance, 17 * advance]
    found = refused(texts(tmp_path / "b", f'font = "small"\nwidth = {17 * advance - 1}'))
    assert found.startswith(f"fr.txt, line 3, start: start in fr is {17 * advance} pixels wide, {17 * advance - 1} are allowed")
    own = {"en.toml": 'start = { text = "Go", width = 11 }\nover = { text = "x", width = 50 }\n'}
    assert "en.toml, line 1, [start]: start in en is 12 pixels wide, 11 are allowed" in refused(texts(tmp_path / "c", files=own))


@pytest.mark.parametrize(
    ("files", "keys", "said"),
    [
        ({"en.toml": EN, "fr.txt": "start = a\nmore = b\n"}, "", "fr.txt: over is missing, which en has\n    add it there"),
        ({"en.toml": EN, "fr.txt": "start = a\nmore = b\n"}, "", "en.toml: more is missing, which fr has"),
        ({"en.toml": ""}, "", "en.toml: holds no text"),
        ({"en.txt": "# nothing\n"}, "", "en.txt: holds no text"),
        ({"en.toml": "start = 3\n"}, "", "en.toml, line 1, start: 3 is not a text"),
        ({"en.toml": 'start = { txt = "a" }\n'}, "", "unknown key 'txt'\n    did you mean text?"),
        ({"en.toml": 'Start = "a"\n'}, "", "'Start' is not a valid key"),
        ({"en.txt": "Start = a\n"}, "", "en.txt, line 1: 'Start' is not a valid key"),
        ({"en.txt": "start a\n"}, "", "en.txt, line 1: 'start a' has no equals sign"),
        ({"en.txt": "a = 1\nb = 2\na = 3\n"}, "", "en.txt, line 3: a is there already, in line 1"),
        ({"en.toml": 'a = "x\\ty"\n'}, "", "en.toml, line 1, a: a has the control character '\\t' (U+0009)"),
        ({"en.toml": 'a = "€"\n'}, "unit_bytes = 1", "[text.words] unit_bytes: 1 byte cannot hold U+20AC\n    set unit_bytes = 2"),
        ({"en.toml": 'a = { text = "x", width = 9 }\n'}, "", "a has a width, and no font says how wide its characters are"),
        ({"en.txt": f"a = {'x' * 65536}\n"}, "", "a has 65,536 characters, at most 65,535 are taken"),
        ({"en.toml": 'a = "\ue000"\n'}, 'font = "small"', "en.toml, line 1, a"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_refused_with_key_and_language(tmp_path, files, keys, said):
    """File, line and key, what is wrong, and what to do. Common practice, no source."""
    assert said in refused(texts(tmp_path / "p", keys, files, font=FONT if "font" in keys else ""))


def test_characters_that_a_strip_lacks_are_named_with_key_and_language(tmp_path):
    """A strip that is taken whole does not grow with its texts: the texts are refused, each character once."""
    font = '[font.small]\nfile = "strip.png"\ncell = [4, 8]\norder = "AB "\nbaseline = 6\npalette = "figures"\n'
    folder = texts(tmp_path / "p", files={"en.toml": 'a = "AB"\nb = "ABC"\nc = "C"\n', "fr.txt": "a = A\nb = É\nc = B\n"}, font=font)
    from PIL import Image

    picture = Image.new("RGBA", (12, 8))
    picture.paste((250, 250, 240, 255), (0, 1, 3, 6))
    picture.paste((250, 250, 240, 255), (4, 2, 6, 6))
    picture.save(folder / "strip.png")
    found = refused(folder)
    assert "en.toml, line 2, b: b and 1 other text in en needs 'C' (U+0043), which the font small lacks\n    add the character" in found
    assert "fr.txt, line 2, b: b in fr needs 'É' (U+00C9), which the font small lacks" in found
    assert found.count("lacks") == 2


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("languages = {}", "is empty"),
        ('languages = { EN = "en.toml" }', "'EN' is not a valid name"),
        ('languages = { en = "gone.toml" }', "there is no file 'gone.toml'"),
        ('languages = { en = "en.toml" }\nfont = "smal"', "there is no font 'smal'\n    did you mean small?"),
        ('languages = { en = "en.toml" }\nwidth = 30', "is given, and no font says how wide characters are"),
        ('languages = { en = "en.toml" }\nunit_bytes = 3', "unit_bytes"),
    ],
)
def test_keys_that_cannot_be_are_refused(tmp_path, keys, said):
    """With the line of the project file. Common practice, no source."""
    folder = texts(tmp_path / "p")
    text = (folder / "project.toml").read_text()
    (folder / "project.toml").write_text(text[: text.index("languages")] + keys + "\n")
    with pytest.raises(ProjectError) as caught:
        load_project(folder)
    assert said in str(caught.value)


def test_a_misspelt_font_is_reported_once(tmp_path):
    """The font that was meant is not blamed for having no characters of its own; without texts that name a font it is. Common practice."""
    folder = texts(tmp_path / "p")
    text = (folder / "project.toml").read_text()
    for keys in ('font = "smal"', 'font = "other"', ""):
        (folder / "project.toml").write_text(text.replace('font = "small"', keys))
        with pytest.raises(ProjectError) as caught:
            load_project(folder)
        assert str(caught.value).count("project.toml, ") == 1
        assert ("characters: is missing" in str(caught.value)) == (not keys)


def test_verify_finds_other_texts(tmp_path):
    """What differs from what conversion found is named. Common practice, no source."""
    folder = texts(tmp_path / "p")
    project = load_project(folder)
    run_steps(project, "verify", "proof:words")
    build = folder / "build"
    image_map = decode_map((build / "map.json").read_bytes(), "map.json")
    facts = {entry.name: read_facts(facts_file(build / "blobs", entry.name)) for entry in image_map.entries}
    image = next((build / "rom").glob("*.rom")).read_bytes()
    known = read_facts(facts_file(build / "blobs", "words"), TextFacts)
    other = msgspec.structs.replace(known.intent, sha256="0" * 64)
    for changed, said in (
        (msgspec.structs.replace(known, keys=["start"]), "words: its key count is 3, not 1"),
        (msgspec.structs.replace(known, font=None), "words: its end is 255, not 0"),
        (msgspec.structs.replace(known, intent=other), "words: its texts are not the converted ones"),
    ):
        assert said in verify_image(image, project.target, image_map, {**facts, "words": changed}, {})
    assert verify_image(image, project.target, image_map, facts, {}) == []
