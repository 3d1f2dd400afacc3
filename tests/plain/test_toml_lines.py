"""The line of every part of a TOML text; the standard library's reader says which parts there are.

In the texts every ``@`` is the number of its own line, so that a value says where it was written. The forms are
those of TOML 1.0.0 (toml.io), its examples of dotted keys, multi-line strings and arrays of tables among them.
"""

from __future__ import annotations

import datetime
import functools
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plain.toml.lines import line_map


def numbered(text: str) -> str:
    """Replace every ``@`` by the number of its line, and every ``%`` by that number in six digits."""
    lines = enumerate(text.split("\n"), start=1)
    return "\n".join(line.replace("@", str(number)).replace("%", f"{number:06}") for number, line in lines)


def leaves(value, path=()):
    """Yield path and value of everything that is neither a table nor an array, and the path of every array element."""
    if isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, (*path, key))
    elif isinstance(value, list):
        for rank, part in enumerate(value):
            yield from leaves(part, (*path, rank))
    else:
        yield path, value


def written_on(value) -> int:
    """Return the line a value says it was written on."""
    if isinstance(value, str):
        return int(value.split()[0])
    if isinstance(value, datetime.datetime):
        return value.microsecond
    return round(value)


def check(text: str) -> None:
    """Compare every leaf of a text with the line its value names; nothing else may have a place."""
    data, lines = tomllib.loads(text), line_map(text)
    seen = dict(leaves(data))
    assert seen, "a text with nothing in it proves nothing"
    for path in lines:
        functools.reduce(lambda part, key: part[key], path, data)  # raises for a key or position that is not there
    assert {path: lines.get(path) for path in seen} == {path: written_on(value) for path, value in seen.items()}


TEXTS = {
    "plain keys and comments": '# [no] table\na = @ # = "x"\n\n  b=@\n\tc\t=\t@\n#d = 9\ne = "@ # no comment" # "comment"\n',
    "no newline at the end": "a = @\nb = @",
    "numbers": "a = +@\nb = @.0\nc = @e0\n",
    "dotted keys": "fruit.name = '@ x'\nfruit.colour.dark = @\nfruit . colour . light = @\n3.14159 = @\n",
    "quoted keys": "\"a b\" = @\n'c.d' = @\n\"\" = @\nsite.\"example.org\".x = @\n'quoted \"value\"' = @\n\"\\u00e9\\\"]\" = @\n",
    "tables": "a = @\n[ t ]\na = @\n[t.u.\"v.w\"]\na = @\n[ t . 'x' ] # comment [no]\nb = @\n\n[z]\n\n\na = @\n",
    "table above its part": "[a.b]\nc = @\n[a]\nd = @\n",
    "long strings": 'a = """@\ntwo\n# three\n[four]\n"""\nb = @\nc = \'\'\'@ \\\nx = 1\n\'\'\'\nd = @\n',
    "quotes in long strings": 'a = """@ ""x"" \\"""\n y"""""\nb = @\nc = \'\'\'@ \'\'x\'\'\n\'\'\'\'\'\nd = @\ne = """@ \\\\"""\nf = @\n',
    "line ends in long strings": 'a = """@ \\\n\n   x"""\nb = @\n',
    "quotes in short strings": "a = \"@ \\\" # \\\\\"\nb = '@ \\'\nc = \"@ ' \"\nd = '@ \" '\ne = @\n",
    "arrays": "a = [@, @,\n @, # @, ]\n  [@,\n@], '@ ]',\n\n@ , ]\nb = @\n",
    "arrays of inline tables": "a = [ { b = @, c = '@ }' },\n{b=@}, # {b = 1}\n]\nd = @\n",
    "inline tables": "a = { b = @, c.d = @, \"e f\" = { g = [@, @] } } # }\nh = @\n",
    "inline table with a long string": "a = { b = '''@\n\n''', c = @ }\n",
    "dates with a space": "a = 1979-05-27 07:32:00.% # comment\nb = @\nc = [1979-05-27 07:32:00.%, @]\n",
    "arrays of tables": "[[a]]\nb = @\n\n[[a]] # second\n[[ a ]]\nb = @\n[x]\ny = @\n[[a]]\nb = @\n",
    "nested arrays of tables": (
        '[[fruits]]\nname = "@ apple"\n[fruits.physical]\ncolour = "@ red"\n[[fruits.varieties]]\nname = "@ red delicious"\n'
        '[[fruits.varieties]]\nname = "@ granny smith"\n\n[[fruits]]\nname = "@ banana"\n[[fruits.varieties]]\nname = "@ plantain"\n'
    ),
    "array of tables in a dotted header": "[[a.b]]\nc = @\n[a.b.d]\ne = @\n[[a.b]]\nc = @\n[[a.b.f.g]]\nh = @\n",
    "keys that look like values": "true = @\n1979-05-27 = @\ninf = @\n-1 = @\n",
}


@pytest.mark.parametrize("newline", ["\n", "\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("text", [pytest.param(text, id=name) for name, text in TEXTS.items()])
def test_values_stand_where_they_say(text, newline):
    """Every value is placed on the line whose number it holds, with either kind of line end."""
    check(numbered(text).replace("\n", newline))


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("[a]\n[b.c]\nd = [\n 1,\n]\n", {("a",): 1, ("b", "c"): 2, ("b", "c", "d"): 3, ("b", "c", "d", 0): 4}),
        ("[[a]]\n\n[[a]]\n", {("a",): 1, ("a", 0): 1, ("a", 1): 3}),
        ("[[a]]\n[[a.b]]\n[[a]]\n[[a.b]]\n[a.c]\n", {("a", 0, "b", 0): 2, ("a", 1, "b"): 4, ("a", 1, "b", 0): 4, ("a", 1, "c"): 5}),
        ("\na.b.c = 1\n", {("a",): 2, ("a", "b"): 2, ("a", "b", "c"): 2}),
        ("a = [[],\n[\n[]]]\n", {("a",): 1, ("a", 0): 1, ("a", 1): 2, ("a", 1, 0): 3}),
        ("a = {}\nb = {c = {}}\n", {("a",): 1, ("b",): 2, ("b", "c"): 2}),
    ],
)
def test_tables_and_arrays_have_places_too(text, places):
    """Tables, arrays of tables and their elements are placed at their header or bracket."""
    lines = line_map(text)
    assert {path: lines.get(path) for path in places} == places


@pytest.mark.parametrize("text", ["", "\n", "# only a comment", "  \t\r\n"])
def test_nothing_written(text):
    """A text without keys has no places."""
    assert line_map(text) == {}


VALUES = [
    "@", "'@ #'", '"@ \\" ]"', '"""@\n]\n\\""" """', "'''@\n\n# x'''", "[@, @]", "[ # c\n@,\n\n[@], ]", "{ x = @, 'y z' = [@,\n@] }",
    "[{x = @},\n{x = @}]", "1979-05-27 07:32:00.%",
]  # fmt: skip
KEYS = ["{}", '"k {}"', "'k#{}'", "a{}.b", 'a{} . "c.]d" . e']
HEADERS = ["[t{}]", "[ t{} . u ]", '["t{}]"]', "[[s]]", "[[ s ]] # [x]", "[[s.r]]", "[s.q{}]", "[[s.r]]\n\n[s.r.q{}]"]
NOISE = ["", "\n", "# [c] = '''\n", " \t \n", "\n\n"]


@st.composite
def documents(draw):
    """Draw a valid document of headers, pairs, comments and blank lines; the array of tables it extends comes first."""
    parts, number = [], 0
    for _ in range(draw(st.integers(1, 5))):
        header = draw(st.sampled_from([None, *HEADERS]))
        if header is not None:
            parts.append(header.format(number) + "\n")
        elif parts:
            continue
        for _ in range(draw(st.integers(1, 3))):
            number += 1
            parts.append(draw(st.sampled_from(NOISE)))
            parts.append(f"{draw(st.sampled_from(KEYS)).format(number)} = {draw(st.sampled_from(VALUES))}\n")
        number += 1
    top = "top = @\n[[s]]\n" if any("[s." in part or "[[s" in part for part in parts) else "top = @\n"
    return "".join([top, *parts])


@given(documents(), st.sampled_from(["\n", "\r\n"]))
def test_any_document(text, newline):
    """Documents put together at random are placed as well as those written by hand."""
    check(numbered(text).replace("\n", newline))
