"""Texts no author means to write, in every file an author keeps: refused in words, at once, and with nothing hidden in the words.

TOML 1.0.0 (toml.io) and RFC 8259 and 7493 say what such texts are worth; the limits are this tool's own.
"""

from __future__ import annotations

import json
import time
import tomllib

import pytest

from pipeline.intake.decisions import read_decisions
from pipeline.intake.store import load_reports
from pipeline.plain.checked import Document, parse_document
from pipeline.plain.errors import Problem, ProjectError, shown, shown_lines
from pipeline.plain.toml.limits import excess
from pipeline.project.ledger import read_ledger
from pipeline.project.loading.load import load_project
from pipeline.project.testers import read_testers
from pipeline.project.wording import find_wording, read_wording
from pipeline.questions.start import start_project
from pipeline.target.loading import load_target

# The text, and what its refusal says. "Integer" of TOML 1.0.0: 64 bits.
EXCESS = {
    "a number of 5,000 digits": ("# one\nodd = " + "9" * 5000, ["line 2", "5,000 digits", "9223372036854775807"]),
    "one of them below 0": ("odd = -" + "9" * 5000, ["line 1", "5,000 digits"]),
    "a number of 65 bits": ("\n\nodd = 9223372036854775808", ["line 3", "odd", "19 digits"]),
    "a number in hexadecimal": ("odd = 0x" + "f" * 5000, ["line 1", "6,021 digits"]),
    "lists 1,000 deep": ("odd = " + "[" * 1000 + "]" * 1000, ["line 1", "1,000 deep", "32 levels"]),
    "lists 40 deep": ("odd = [\n" + "[" * 40 + "]" * 40 + "]", ["line 2", "41 deep"]),
    "lists that never end": ("odd = " + "[" * 1000, ["line 1", "1,000 deep"]),
    "inline tables 400 deep": ("odd = " + "{a=" * 400 + "1" + "}" * 400, ["line 1", "400 deep"]),
    "a header of 3,000 parts": ("\n[" + ".".join("a" * 3000) + "]\n", ["line 2", "3,000 parts", "32"]),
    "a header of 500,000 parts": ("[" + ".".join("a" * 500_000) + "]\n", ["line 1", "500,000 parts"]),
    "quoted parts": ("[ " + " . ".join(['"a.b"'] * 3000) + " ]\n", ["line 1", "3,000 parts"]),
    "a key of 3,000 parts": (".".join("a" * 3000) + " = 1\n", ["line 1", "3,000 parts"]),
    "header and value together": ("[" + ".".join("a" * 20) + "]\nodd = " + "{a=" * 20 + "1" + "}" * 20, ["[a]", "more than 32 deep"]),
}
FILES = ("project.toml", "issues.toml", "reports/testers.toml", "reports/decisions.toml", "templates/packet.en.toml", "odd.toml")


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """A small project as ``doit start`` writes it."""
    folder = tmp_path_factory.mktemp("project")
    start_project(folder, "it")
    return folder


def read(folder, name):
    """Read one file of a project as the tool does."""
    readers = {
        "project.toml": lambda: load_project(folder),
        "issues.toml": lambda: load_project(folder),
        "reports/testers.toml": lambda: read_testers(folder),
        "reports/decisions.toml": lambda: read_decisions(folder / "reports", set(), set()),
        "templates/packet.en.toml": lambda: read_wording(find_wording(folder, "en"), folder),
        "odd.toml": lambda: load_target(folder / "odd.toml", "odd.toml"),
    }
    return readers[name]()


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(("text", "words"), EXCESS.values(), ids=EXCESS)
def test_excess_in_a_toml_file_is_refused_in_words(project, name, text, words):
    """Each file of an author is read by the one reader that refuses it, with file, line and numbers."""
    file = project / name
    file.parent.mkdir(exist_ok=True)
    kept = file.read_bytes() if file.exists() else None
    file.write_text(text)
    try:
        with pytest.raises(ProjectError) as refused:
            read(project, name)
    finally:
        file.unlink() if kept is None else file.write_bytes(kept)
    message = str(refused.value)
    assert message.startswith(name)
    assert len(message) < 3000
    assert [word for word in words if word not in message] == []


@pytest.mark.parametrize(
    "text",
    [
        'odd = "' + ".".join("a" * 3000) + '"',
        "odd = '''\n" + ".".join("a" * 3000) + "\n[[[['''\n# " + ".".join("a" * 3000),
        'odd = "' + "[" * 3000 + '"',
        "odd = [" + "[]," * 3000 + "]",
        "odd = -9223372036854775808",
        "odd = '" + "9" * 5000 + "'",
        "9" * 5000 + " = 1",
        "odd = " + "[" * 31 + "]" * 31,
        ".".join("a" * 32) + " = 1",
    ],
    ids=lambda text: text[:20],
)
def test_much_that_is_no_excess_is_read(text):
    """Dots, brackets and digits in texts and comments are none; the standard reader says what the text holds."""
    assert parse_document(text, "f.toml").data == tomllib.loads(text)


def test_words_of_excess_do_not_need_a_valid_text():
    """What cannot be read is looked through as well: quotes that never end, brackets that close nothing."""
    assert excess("]]]}}}" + '"' * 99 + "'''") is None
    assert excess("]]]" + "[" * 40) == (1, "tables and lists nested 40 deep; 32 levels are the most")


def test_a_megabyte_of_toml_is_read_in_time(project, tmp_path):
    """A file of 1 MB with an error on every line is refused within seconds, and its refusal can be read."""
    start_project(tmp_path, "it")
    file = tmp_path / "project.toml"
    file.write_text(file.read_text() + "\n[odd]\n" + "".join(f"key_{number} = {number}\n" for number in range(60_000)))
    begun = time.process_time()
    with pytest.raises(ProjectError) as refused:
        load_project(tmp_path)
    assert time.process_time() - begun < 5
    assert len(str(refused.value)) < 60_000


@pytest.mark.parametrize("name", ["a\\u0000b.toml", "a" * 5000 + ".toml", "../" * 2000 + "x.toml", "loop.toml", "x" * 10**6])
def test_target_that_is_no_path_is_refused(tmp_path, name):
    """A NUL, a name longer than the system has, a link to itself."""
    start_project(tmp_path, "it")
    (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
    file = tmp_path / "project.toml"
    file.write_text(file.read_text().replace('"basalt32"', f'"{name}"'))
    with pytest.raises(ProjectError, match=r"\[game\] target: (there is no target file|unknown target)") as refused:
        load_project(tmp_path)
    assert len(str(refused.value)) < 2000


def test_places_are_found_in_one_pass():
    """A hundred thousand tables named only in their parts, and an error in each of the first hundreds."""
    text = "".join(f"[a{number}.b]\nc = 1\n" for number in range(30_000))
    document = parse_document(text, "f.toml")
    begun = time.process_time()
    for number in range(Document.most - 1):
        document.say((f"a{number}",), "odd", "fix it")
    assert time.process_time() - begun < 2
    assert document.problems[7].place == "line 15, [a7]"


def test_number_of_problems_reported_is_bounded():
    """A hundred are reported, and how many more there are."""
    error = ProjectError(Problem("f", f"line {number}", "odd", "fix it") for number in range(512))
    assert str(error).count("fix it") == 100
    assert str(error).endswith("\nand 412 more")


def test_a_document_stops_at_its_most():
    """Checking goes no further than what anybody would read."""
    document = Document("f", {})
    for _ in range(Document.most - 1):
        document.say((), "odd", "fix it")
    with pytest.raises(ProjectError) as refused:
        document.say((), "odd", "fix it")
    assert len(refused.value.problems) == Document.most


# --- JSON -------------------------------------------------------------------------------------------------------------

ODD_JSON = {
    "arrays 100,000 deep": (b"[" * 100_000 + b"]" * 100_000, "more than 64 deep"),
    "objects 2,000 deep": (b'{"a":' * 2000 + b"1" + b"}" * 2000, "more than 64 deep"),
    "arrays 100 deep": (b"[" * 100 + b"]" * 100, "more than 64 deep"),
    "a number of 5,000 digits": (b'{"next": ' + b"9" * 5000 + b"}", "5,000 digits"),
    "a number of 65 bits": (b'{"next": 9223372036854775808}', "19 digits"),
    "NaN": (b'{"next": NaN}', "NaN is not a number"),
    "Infinity": (b'{"next": -Infinity}', "-Infinity is not a number"),
    "1e999": (b'{"next": 1e999}', "1e999"),
    "a key twice": (b'{"next": 1, "next": 2}', "'next' is twice in one object"),
    "half of a surrogate pair": (b'{"a": "\\ud800"}', "surrogate"),
    "half of one as a key": (b'{"\\uDFFF": 1}', "surrogate"),
    "Latin-1": (b'{"a": "\xe9"}', "byte 7"),
    "UTF-16": ('{"a": 1}'.encode("utf-16"), "byte 0"),
    "NUL": (b'{"a": "\0"}', "line 1, column 8"),
    "nothing": (b"", "line 1, column 1"),
}


@pytest.mark.parametrize("name", ["ledger.json", "reports/bugs.json"])
@pytest.mark.parametrize(("data", "words"), ODD_JSON.values(), ids=ODD_JSON)
def test_odd_json_of_an_author_is_refused_in_words(tmp_path, name, data, words):
    """Python's own reader takes some of these and fails over others with errors that are none of JSON."""
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_bytes(data)
    with pytest.raises(ProjectError) as refused:
        read_ledger(tmp_path) if name == "ledger.json" else load_reports(tmp_path / "reports", "bugs")
    assert str(refused.value).startswith(name)
    assert words in str(refused.value)


@pytest.mark.parametrize("value", [None, True, 5, "text", [], {"releases": {}}, {"releases": [5]}, {"releases": [{"version": []}]}])
def test_ledger_of_another_shape_is_refused(tmp_path, value):
    """Valid JSON that is not laid out as a release lays it out."""
    (tmp_path / "ledger.json").write_text(json.dumps(value))
    with pytest.raises(ProjectError, match="ledger.json"):
        read_ledger(tmp_path)


@pytest.mark.parametrize(
    "changed", [{"next": True}, {"next": 0}, {"next": -5}, {"fields": [{}]}, {"fields": "what"}, {"reports": [[]]}, {"format": [1]}]
)
def test_reports_of_another_shape_are_refused(tmp_path, changed):
    """Numbers of reports go up from 1, and fields are texts."""
    (tmp_path / "bugs.json").write_text(json.dumps({"format": 1, "next": 1, "fields": [], "reports": []} | changed))
    with pytest.raises(ProjectError, match="not laid out as this tool writes it"):
        load_reports(tmp_path, "bugs")


def test_json_texts_with_brackets_and_pairs_are_read(tmp_path):
    """Brackets in texts are not levels, and a whole surrogate pair is one character (RFC 8259, section 7)."""
    report = {"id": "R-0001", "tester": 1, "what": '["[{\\' * 500 + "\U0001f600"}
    (tmp_path / "bugs.json").write_text(json.dumps({"format": 1, "next": 2, "fields": [], "reports": [report]}))
    assert load_reports(tmp_path, "bugs").reports == [report]


# --- words of a message -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("plain, ünïcode, 日本, שלום, \U0001f600, a\u00a0b", "plain, ünïcode, 日本, שלום, \U0001f600, a\u00a0b"),
        ("\x1b[2J\x07\x00\x7f\x9b", "\\x1b[2J\\x07\\x00\\x7f\\x9b"),
        ("\u202ea\u2066b\u2069\u200f\ufeff", "\\u202ea\\u2066b\\u2069\\u200f\\ufeff"),
        ("a\nb\rc\u2028d\u2029e\x85f\tg", "a\\nb\\rc\\u2028d\\u2029e\\x85f\\tg"),
        ("\ud800\udcff", "\\ud800\\udcff"),
        ("\U000e0001\ue000\uffff", "\\U000e0001\\ue000\\uffff"),
    ],
)
def test_what_cannot_be_seen_is_escaped(text, seen):
    """Unicode 15, categories Cc, Cf, Cs, Co, Cn, Zl and Zp; letters that are written from right to left stay as they are."""
    assert shown(text) == seen


def test_a_long_text_is_cut_in_its_middle():
    """Both ends stay, and the number of characters left out is given."""
    cut = shown("a" * 600_000 + "b" * 600_000)
    assert cut.startswith("aaaa")
    assert cut.endswith("bbbb")
    assert len(cut) < 1100
    assert "1,199,084 characters left out" in cut


def test_a_problem_shows_what_it_quotes():
    """A name with a newline begins no line of its own, and a megabyte of text is cut, in every part of a problem."""
    message = str(Problem("a\nb", "\x1b[31m", "\u202e" + "x" * 10**6, "y" * 10**6))
    assert message.count("\n") == 1
    assert len(message) < 3000
    assert "\x1b" not in message
    assert "\u202e" not in message
    assert message.startswith("a\\nb, \\x1b[31m: \\u202exxx")


def test_lines_of_an_answer_are_bounded():
    """Each line is cut by itself; lines too many are counted."""
    assert shown_lines("a\tb\r\n\x1bc", lines=2) == "a\\tb\n\\x1bc"
    assert shown_lines("\n".join("x" * 50), lines=3) == "x\nx\nx\n... and 47 more lines"
