"""Strict reading of TOML: every kind of refusal word for word, and all of a file's refusals at once.

Line numbers in the tables are those of the TOML texts beside them, counted by hand from 1; what TOML's own values are is
toml.io's 1.0.0. The words are the project's own, and are compared whole since they are what an author reads.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

import pytest
from msgspec import Meta, field

from pipeline.plain.checked import Document, build, check_part, describe, read_document
from pipeline.plain.errors import ProjectError, nearest_name
from pipeline.plain.written import Record, about
from pipeline.target.records import Size
from tests.makers import record_problems


class Crate(Record):
    """A table inside tables."""

    weight: Annotated[int, Meta(ge=1, le=9)]
    stacked: bool = False


class Ferry(Record):
    """One key of every kind of value."""

    name: str
    length: float = 1.0
    room: Size = 0
    colour: Literal["red", "green"] = "red"
    built: datetime.date | None = None
    code: Annotated[str, Meta(pattern="^[A-Z]+$", title="capitals", examples=["TF"])] = "A"
    stops: list[str] = field(default_factory=list)
    at: tuple[int, int] = (0, 0)
    crate: dict[str, Crate] = field(default_factory=dict)
    crates: list[Crate] = field(default_factory=list)
    bridge: Crate | None = None
    extra: dict = field(default_factory=dict)
    speed: Annotated[int | None, about("Knots.", ge=0, le=40)] = None
    depth: Annotated[float, about("Metres.", gt=0, le=30)] = 2.0
    motto: Annotated[str, about("Words.", max_length=8)] = ""


GOOD = 'name = "Tin"\n'
# text, place, what is wrong, remedy
ONE_PROBLEM = [
    ("length = 2\n", "[] name", "name is missing", "add name: text"),
    (GOOD + "nmae = 1\n", "line 2, nmae", "unknown key 'nmae'", "did you mean name?"),
    (
        GOOD + "xyzzy = 1\n",
        "line 2, xyzzy",
        "unknown key 'xyzzy'",
        "the keys here are at, bridge, built, code, colour, crate, crates, depth, extra, length, motto, name, room, speed, stops",
    ),
    ("name = 3\n", "line 1, name", "expected text, saw 3", "write text"),
    (GOOD + 'length = "long"\n', "line 2, length", "expected a number, saw 'long'", "write a number"),
    (GOOD + "room = true\n", "line 2, room", "expected a size, saw true", 'for example: "64 KiB"'),
    (GOOD + 'room = "2MB"\n', "line 2, room", "unknown unit in size '2MB'", 'was "2 MiB" meant?'),
    (GOOD + 'room = "2 gb"\n', "line 2, room", "unknown unit in size '2 gb'", 'was "2 GiB" meant?'),
    (GOOD + 'room = "2 bananas"\n', "line 2, room", "unknown unit in size '2 bananas'", "the units are B, KiB, MiB and GiB"),
    (GOOD + 'room = "much"\n', "line 2, room", "expected a size, saw 'much'", 'write bytes or text such as "64 KiB"'),
    (GOOD + 'room = "1.5 KiB"\n', "line 2, room", "expected a size, saw '1.5 KiB'", 'write bytes or text such as "64 KiB"'),
    (GOOD + "room = 1.5\n", "line 2, room", "expected a size, saw 1.5", 'for example: "64 KiB"'),
    (GOOD + "room = -1\n", "line 2, room", "expected a size, saw -1", "a size cannot be negative"),
    (GOOD + 'colour = "gren"\n', "line 2, colour", 'expected "red" or "green", saw \'gren\'', 'did you mean "green"?'),
    (GOOD + 'colour = "xyz"\n', "line 2, colour", 'expected "red" or "green", saw \'xyz\'', "write one of those"),
    (
        GOOD + 'built = "today"\n',
        "line 2, built",
        "expected a date, saw 'today'",
        "write year, month and day without quotes, for example 2026-11-20",
    ),
    (GOOD + 'code = "tf"\n', "line 2, code", "expected text, capitals, saw 'tf'", 'for example: "TF"'),
    (GOOD + 'stops = "quay"\n', "line 2, stops", "expected a list of text, saw 'quay'", "write a list of text"),
    (GOOD + "stops = [\n  'quay',\n  3]\n", "line 4, stops[1]", "expected text, saw 3", "write text"),
    (
        GOOD + "at = [1, 2, 3]\n",
        "line 2, at",
        "expected a list of 2: a whole number, a whole number, saw [1, 2, 3]",
        "write a list of 2: a whole number, a whole number",
    ),
    (GOOD + "crate = 3\n", "line 2, crate", "expected a table of tables, saw 3", "write a table of tables"),
    (GOOD + "crate = { one = 3 }\n", "line 2, [crate] one", "expected a table, saw 3", "write it as a [table] with keys"),
    (GOOD + "[crate.one]\n", "line 2, [crate.one] weight", "weight is missing", "add weight: a whole number, 1 to 9"),
    (
        GOOD + "[crate.one]\nweight = 10\n",
        "line 3, [crate.one] weight",
        "expected a whole number, 1 to 9, saw 10",
        "write a whole number, 1 to 9",
    ),
    (
        GOOD + "[crate.one]\nweight = 1\nstacked = 1\n",
        "line 4, [crate.one] stacked",
        "expected true or false, saw 1",
        "write true or false",
    ),
    (
        GOOD + "[[crates]]\nweight = 1\n[[crates]]\nweigth = 2\nweight = 2\n",
        "line 5, [[crates]] number 2 weigth",
        "unknown key 'weigth'",
        "did you mean weight?",
    ),
    (
        GOOD + "[[crates]]\nweight = 1\n[[crates]]\n",
        "line 4, [[crates]] number 2 weight",
        "weight is missing",
        "add weight: a whole number, 1 to 9",
    ),
    (GOOD + "[bridge]\nweight = 0\n", "line 3, [bridge] weight", "expected a whole number, 1 to 9, saw 0", "write a whole number, 1 to 9"),
    (GOOD + "speed = 41\n", "line 2, speed", "expected a whole number, 0 to 40, saw 41", "write a whole number, 0 to 40"),
    (GOOD + "depth = 0\n", "line 2, depth", "expected a number, above 0, at most 30, saw 0", "write a number, above 0, at most 30"),
    (GOOD + "depth = nan\n", "line 2, depth", "expected a number, above 0, at most 30, saw nan", "write a number, above 0, at most 30"),
    (
        GOOD + 'motto = "far too many words"\n',
        "line 2, motto",
        "expected text, at most 8 characters, saw 'far too many words'",
        "write text, at most 8 characters",
    ),
    (
        GOOD + f'speed = "{"x" * 80}"\n',
        "line 2, speed",
        f"expected a whole number, 0 to 40, saw '{'x' * 56}...",
        "write a whole number, 0 to 40",
    ),
]


@pytest.mark.parametrize(("text", "place", "wrong", "remedy"), ONE_PROBLEM, ids=lambda value: value[-18:])
def test_refusal_names_line_key_value_and_remedy(tmp_path, text, place, wrong, remedy):
    """A wrong value is refused with its line, table and key, what was seen, and what to do."""
    where = f"file.toml, {place.removeprefix('[] ')}"
    assert record_problems(tmp_path, text, Ferry) == [f"{where}: {wrong}\n    {remedy}"]


def test_every_problem_of_a_file_is_reported_in_its_order(tmp_path):
    """No problem hides another one, however deep they are; they come in the order of the lines."""
    text = 'name = 3\nroom = "2MB"\ncolour = "gren"\n[crate.one]\nweight = 10\nstaked = true\n[[crates]]\nweight = "x"\n'
    assert record_problems(tmp_path, text, Ferry) == [
        "file.toml, line 1, name: expected text, saw 3\n    write text",
        "file.toml, line 2, room: unknown unit in size '2MB'\n    was \"2 MiB\" meant?",
        'file.toml, line 3, colour: expected "red" or "green", saw \'gren\'\n    did you mean "green"?',
        "file.toml, line 5, [crate.one] weight: expected a whole number, 1 to 9, saw 10\n    write a whole number, 1 to 9",
        "file.toml, line 6, [crate.one] staked: unknown key 'staked'\n    did you mean stacked?",
        "file.toml, line 8, [[crates]] number 1 weight: expected a whole number, 1 to 9, saw 'x'\n    write a whole number, 1 to 9",
    ]


def test_good_file_is_read_with_its_values(tmp_path):
    """Sizes become bytes, dates dates, and keys left out their defaults."""
    (tmp_path / "f.toml").write_text('name = "Tin"\nroom = "2 MiB"\nbuilt = 2026-01-02\nat = [3, 4]\nlength = 2\n[crate.a]\nweight = 9\n')
    document = read_document(tmp_path / "f.toml", "f.toml")
    ferry = build(document, (), document.data, Ferry)
    document.finish()
    assert (ferry.room, ferry.built, ferry.at, ferry.length) == (2 * 1024 * 1024, datetime.date(2026, 1, 2), (3, 4), 2.0)
    assert (ferry.crate["a"].weight, ferry.colour, ferry.speed) == (9, "red", None)


# The words of the syntax error are those of the standard library's reader (tomllib of Python 3.11).
UNREADABLE = [
    (None, "file.toml: there is no such file\n    check the path, or make a project with: doit start"),
    (b"name = 'caf\xe9'\n", "file.toml, byte 11: not UTF-8 text\n    save the file as UTF-8"),
    (
        b"name = \n",
        "file.toml, line 1, column 8: not TOML: Invalid value\n    correct the syntax there; see toml.io for the rules",
    ),
    (
        b"[a]\nb = 1\n[a]\n",
        "file.toml, line 3, column 3: not TOML: Cannot declare ('a',) twice\n    correct the syntax there; see toml.io for the rules",
    ),
]


@pytest.mark.parametrize(("content", "said"), UNREADABLE, ids=["missing", "latin-1", "syntax", "declared twice"])
def test_unreadable_file_is_refused(tmp_path, content, said):
    """A file that is missing, not UTF-8 or not TOML is refused with the place the standard reader gives."""
    if content is not None:
        (tmp_path / "file.toml").write_bytes(content)
    with pytest.raises(ProjectError) as caught:
        read_document(tmp_path / "file.toml", "file.toml")
    assert str(caught.value) == said


def test_folder_in_place_of_a_file_is_refused(tmp_path):
    """What the system says about a file that is a folder is passed on (POSIX: EISDIR)."""
    with pytest.raises(ProjectError) as caught:
        read_document(tmp_path, "file.toml")
    assert str(caught.value) == "file.toml: cannot be read: Is a directory\n    check the file and its permissions"


def test_part_of_a_record_is_checked_without_its_required_keys():
    """Defaults may leave keys out; their wrong values are noted and not passed on."""
    text = "\n" * 6 + "defaults.weight = 12\ndefaults.stacked = true\ndefaults.wide = 1\n"
    document = Document("file.toml", {"defaults": {"weight": 12, "stacked": True, "wide": 1}}, text)
    assert check_part(document, ("defaults",), document.data["defaults"], Crate) == {"stacked": True}
    assert [str(one) for one in document.problems] == [
        "file.toml, line 7, [defaults] weight: expected a whole number, 1 to 9, saw 12\n    write a whole number, 1 to 9",
        "file.toml, line 9, [defaults] wide: unknown key 'wide'\n    the keys here are stacked, weight",
    ]


DESCRIBED = [
    (str, "text"),
    (int | None, "a whole number"),
    (list[Crate], "a list of tables"),
    (dict[str, Crate], "a table of tables"),
    (Annotated[int, Meta(ge=3)], "a whole number, at least 3"),
    (Annotated[float, Meta(gt=0)], "a number, above 0"),
    (Size | None, "a size"),
    (str | list[int], "text or a list of a whole number"),
]


@pytest.mark.parametrize(("hint", "words"), DESCRIBED, ids=[words for _, words in DESCRIBED])
def test_type_is_reported_in_words(hint, words):
    """A type reads as an author would say it, its limits included."""
    assert describe(hint) == words


@pytest.mark.parametrize(("seen", "near"), [("feedbak", "feedback"), ("bug", "bugs"), ("zzz", None), ("", None)])
def test_nearest_name_is_one_that_is_close_or_none(seen, near):
    """A misspelt name finds its neighbour; a name unlike all others finds none."""
    assert nearest_name(seen, ["feedback", "bugs", "more"]) == near
