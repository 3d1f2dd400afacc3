"""An author's own templates: bounded in time, memory and size, the same in every build, and their mistakes reported with line and cause.

What a template may say is jinja2's own language (its template designer documentation); the bounds are this tool's own.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import jinja2
import pytest

from pipeline.plain import apart
from pipeline.plain.apart import MEMORY, TooMuch, run_apart
from pipeline.plain.errors import ProjectError
from pipeline.plain.rendering import find_template, render, render_text
from pipeline.plain.template_language import AsItIs, compiled, environment, text_of_messages
from tests.conftest import some

ROOT = Path(__file__).parents[2]
VALUES = {"title": "Kestrel", "names": ["b", "a"], "table": {"one": 1, "two": 2, "three": 3}, "other": {"two": 2}, "say": lambda key: key}


def fill(folder: Path, text: str | bytes, markup: bool = False, **values) -> str:
    """Fill in a template of a project's own."""
    own = folder / "templates/notes.txt.j2"
    own.parent.mkdir(exist_ok=True)
    own.write_bytes(text.encode() if isinstance(text, str) else text)
    return render(find_template(folder, "notes.txt.j2"), VALUES | values, markup)


def refusal(folder: Path, text: str | bytes, markup: bool = False) -> str:
    """Return how a template is refused."""
    with pytest.raises(ProjectError) as refused:
        fill(folder, text, markup)
    assert len(str(refused.value)) < 4000
    return str(refused.value)


MISTAKES = {
    "a macro that calls itself": ("\n{% macro m() %}{{ m() }}{% endmacro %}\n{{ m() }}", "line 2", "calls itself without an end"),
    "a loop that calls itself": ("{% for x in [1] recursive %}{{ loop([1]) }}{% endfor %}", "line 1", "calls itself without an end"),
    "brackets": ("{{ " + "[" * 5000 + "]" * 5000 + " }}", "", "nested too deep"),
    "a template that takes itself in": ("{% include 'notes.txt.j2' %}", "line 1", "no loader"),
    "an attribute of two words": ("\n\n{{ {'a b': 1} | xmlattr }}", "line 3", "Invalid character in attribute name"),
    "an unknown value": ("a\n{{ titel }}", "line 2", "'titel' is undefined"),
    "an unknown filter": ("a\n{{ title | uper }}", "line 2", "No filter named 'uper'"),
    "syntax": ("a\n\n{% if %}", "line 3", "Expected an expression"),
    "a sum that cannot be": ("{{ 1 // 0 }}", "line 1", "zero"),
    "an attribute that is private": ("{{ title.__class__ }}", "line 1", "unsafe"),
    "a list that would be changed": ("{{ names.append(1) }}", "line 1", "unsafe"),
    "words of no meaning": ("\n{{ lipsum() }}", "line 2", "'lipsum' is undefined"),
    "a choice by chance": ("\n{{ names | random }}", "line 2", "No filter named 'random'"),
    "too many loops for Python": ("{% for x in names %}" * 30 + "{% endfor %}" * 30, "", "nested"),
    "a NUL": ("a\nb\0", "line 2", "NUL"),
    "Latin-1": (b"\xe9", "byte 0", "not UTF-8"),
    "half of a pair": ("{{ '\\ud800' }}", "", "surrogate"),
}


@pytest.mark.parametrize(("text", "place", "words"), MISTAKES.values(), ids=MISTAKES)
def test_mistake_is_reported_with_its_line(tmp_path, text, place, words):
    """File, line where there is one, and cause."""
    message = refusal(tmp_path, text)
    assert message.startswith("templates/notes.txt.j2" + (f", {place}: " if place else ""))
    assert words in message


LARGE = {
    "a text times a number": "{{ 'a' * 10 ** 10 }}",
    "the same when the template is compiled": "{% if false %}{{ 'a' * 10 ** 10 }}{% endif %}{{ 'a' * 10 ** 10 }}",
    "a list times a number": "{{ ([0] * 10 ** 10) | length }}",
    "a width": "{{ '%99999999999d' % 1 }}",
    "a width in format": "{{ '{:9999999999}'.format(1) }}",
    "a width in the filter": "{{ '%9999999999d' | format(1) }}",
    "centred": "{{ title | center(10 ** 10) }}",
    "replaced again and again": "{% set ns = namespace(x='aaaa') %}{% for _ in range(99) %}{% set ns.x = ns.x * 9 %}{% endfor %}",
}


@pytest.mark.parametrize("text", LARGE.values(), ids=LARGE)
def test_memory_is_bounded(tmp_path, text):
    """At most 512 MiB, whatever asks for it; in words."""
    message = refusal(tmp_path, text)
    assert "memory" in message or "too large" in message or "Too many" in message or "precision" in message


ENDLESS = {
    "loops in loops": "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}",
    "a power": "{{ 7 ** (10 ** 9) > 1 }}",
}


@pytest.mark.parametrize("text", some(ENDLESS.values(), 1), ids=some(ENDLESS, 1))
def test_time_is_bounded(tmp_path, monkeypatch, text):
    """A second here, ten in a build; sums that no signal handler of Python would interrupt included."""
    monkeypatch.setattr(apart, "RENDERING", apart.Bounds(processor_seconds=1))
    begun = time.monotonic()
    assert "takes more than 1 seconds" in refusal(tmp_path, text)
    assert time.monotonic() - begun < 60


def test_size_is_bounded(tmp_path, monkeypatch):
    """What a template gives is read only so far."""
    monkeypatch.setattr(apart, "RENDERING", apart.Bounds(bytes=1 << 20))
    assert "gives more than 1 MiB" in refusal(tmp_path, "{% for a in range(9999) %}{{ 'a' * 999 }}{% endfor %}")


def test_range_is_bounded(tmp_path):
    """The sandbox's own limit."""
    assert "Range too big" in refusal(tmp_path, "{% for a in range(10 ** 9) %}{% endfor %}")


@pytest.mark.parametrize("text", ["a\nb\n", "a\r\nb\r\n", "\ufeffa\r\nb\n"])
def test_line_ends_and_marks_of_editors_do_not_matter(tmp_path, text):
    """Windows newlines, and a byte order mark, are not part of the text."""
    assert fill(tmp_path, text) == "a\nb\n"


def test_function_of_the_values_may_be_called(tmp_path):
    """What is called in the other process answers as here; a refusal of it is reported as its own."""
    assert fill(tmp_path, "{{ say('x') }}{{ '%s' | format(title.upper()) }}{{ [1, 2] | map('string') | join }}") == "xKESTREL12"

    def say(key):
        raise ProjectError([])

    with pytest.raises(ProjectError):
        fill(tmp_path, "{{ say('x') }}", say=say)


HIDDEN = ["\x00", "\x1b", "\x7f", "\x9b", "\u202e", "\u2066", "\u2069", "\u2028", "\ufeff"]


@pytest.mark.parametrize("char", HIDDEN, ids=ascii)
@pytest.mark.parametrize("text", ["{{ say('<') ~ title }}", "{% macro m() %}{{ title }}{% endmacro %}{{ m() }}", "<i>{{ title | upper }}"])
def test_page_shows_what_would_change_it_unseen(tmp_path, text, char):
    """Unicode UAX 9 for direction; XML 1.0, section 2.2, for control characters. Reported once, by its escape."""
    page = fill(tmp_path, text, markup=True, title=f"a{char}b")
    escape = char.encode("unicode_escape").decode()
    assert char not in page
    assert f"a{escape}b".casefold() in page.casefold()


def test_page_keeps_letters_of_any_direction_and_lines(tmp_path):
    """Hebrew, Arabic with its joiners, marks, emoji and line ends are text."""
    plain = "שלום\u200f عربي\u200c \U0001f469\u200d\U0001f680 a\n\tb\u00a0c"
    assert fill(tmp_path, "{{ title }}", markup=True, title=plain) == plain


# Expressions that show an address or the order of a set where nobody takes care.
CHANCE = (
    "cycler(1)", "joiner()", "range", "say", "title.upper", "'%s' | format(say)", "say | string", "[say] | string", "{'a': say} | pprint",
    "names | map('upper')", "names | select", "names | reject('none')", "names | batch(1)", "names | slice(1)", "names | reverse",
    "table | items", "names | unique", "(table.keys() - other.keys()) | list", "table.keys() - other.keys()", "table.items",
    "title['upper']", "title | attr('upper')", "'{}'.format(say)", "'{0.upper}'.format(title)", "namespace(a=say)", "[say, title.upper]",
    "say ~ ''", "names | map('attr', 'upper') | list", "dict(a=say)", "table.values() | map('string')", "'{}'.format", "namespace", "dict",
    "[{'a': names.index}] | map(attribute='a') | list", "[names] | groupby('index')", "self", "self.b", "(table | items | list)[0].index",
)  # fmt: skip
PROGRAM = """
import sys
from pathlib import Path
from tests.plain.test_rendering import CHANCE, VALUES
from pipeline.plain.template_language import environment, named
ballast = [object() for _ in range(int(sys.argv[1]))]
values = {key: named(key, value) for key, value in VALUES.items()}
for one in CHANCE:
    try:
        print(one, environment(False).from_string("{% block b %}{% endblock %}{{ " + one + " }}").render(values))
    except Exception as error:
        print(one, type(error).__name__)
"""


def test_nothing_in_a_template_comes_from_chance():
    """Two processes with other hash seeds and other places in memory say the same, and none shows a place."""
    said = [
        subprocess.run(
            [sys.executable, "-c", PROGRAM, seed],
            cwd=ROOT,
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2222")
    ]
    assert said[0] == said[1]
    assert " at 0x" not in said[0]
    assert len(said[0].splitlines()) == len(CHANCE)


# --- what is kept of the tool's own templates -------------------------------------------------------------------------


def _text_of(template: jinja2.Template) -> str:
    return template.render({"a": "<x>"})


def test_compiled_template_is_kept_and_believed_only_if_it_is_of_this_text(tmp_path, monkeypatch):
    """Damage of every byte, another text, another escaping: compiled again. What is kept is not compiled again."""
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", None)
    file, text = tmp_path / "page.html.j2", "{{ a }}!"
    fresh = compiled.__wrapped__
    assert _text_of(fresh(text, True, file)) == "&lt;x&gt;!"
    kept = next((tmp_path / "__pycache__").iterdir())
    data = kept.read_bytes()
    count = []
    compile_text = jinja2.Environment.compile
    monkeypatch.setattr(jinja2.Environment, "compile", lambda *words, **named: count.append(1) or compile_text(*words, **named))
    assert _text_of(fresh(text, True, file)) == "&lt;x&gt;!"
    assert count == []
    for at in (0, 31, 32, 63, 64, 65, len(data) - 1):
        kept.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert _text_of(fresh(text, True, file)) == "&lt;x&gt;!"
        assert kept.read_bytes() == data
    kept.write_bytes(data[:40])
    assert _text_of(fresh(text, True, file)) == "&lt;x&gt;!"
    assert _text_of(fresh(text, False, file)) == "<x>!"
    assert _text_of(fresh("{{ a }}?", True, file)) == "&lt;x&gt;?"
    assert len(count) == 10


def test_compiled_template_is_not_kept_where_that_is_not_wanted(tmp_path, monkeypatch):
    """As Python does with modules: no folder where none can be made, none where the person does not want it."""
    monkeypatch.setattr(sys, "pycache_prefix", None)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert _text_of(compiled.__wrapped__("{{ a }}", False, tmp_path / "page.j2")) == "<x>"
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    (tmp_path / "__pycache__").write_text("in the way")
    assert _text_of(compiled.__wrapped__("{{ a }}", False, tmp_path / "page.j2")) == "<x>"


def test_text_as_it_is_is_neither_looked_through_nor_escaped():
    """Of base64 (RFC 4648) nothing means anything in markup."""
    assert environment(True).from_string("{{ a }}{{ b }}").render(a=AsItIs("+/="), b="<") == "+/=&lt;"


# --- texts of message files -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("{{ a }} of {{ b }}", "1 of x"),
        ("{% if b == 'x' and not c %}{{ b | upper }}{% else %}{{ c }}{% endif %}", "X"),
        ("{{ a if c else b ~ '!' }}", "x!"),
        ("{{ b is defined }}", "True"),
        ("{{a}}: {{  b  }}\n", "1: x\n"),
        ("no value } }} %}\r\n", "no value } }} %}\n"),
        ("{{ true }} {{ none }}", "True None"),
        ("{# nothing #}{{ a }}", "1"),
    ],
)
def test_text_of_a_message_file_names_values_and_asks(text, filled):
    """Values, if, comparisons, and filters that add nothing."""
    assert render_text(text, "packet.en.toml", {"a": 1, "b": "x", "c": ""}) == filled


@pytest.mark.parametrize("text", ["", "a\n\n", "{{ a }}", "{{a}}{{ b }}{{ a }}\n", " }} {{ c }} %}", "{{ A }}", "{ {{ a }}", "{{ a\n}}"])
def test_texts_filled_in_without_the_template_language_are_the_same(text):
    """Against jinja2, which fills in all others."""
    values = {"a": 1, "b": "<x>", "c": None, "A": "y"}
    assert render_text(text, "packet.en.toml", values) == text_of_messages(text)[0].render(values)


@pytest.mark.parametrize(
    "text",
    [
        "{{ 'a' * 10 ** 10 }}", "{% for x in a %}{{ x }}{% endfor %}", "{{ a.b }}", "{{ a[0] }}", "{{ a() }}", "{% set a = 1 %}",
        "{{ a | center(9) }}", "{% macro m() %}{% endmacro %}", "{{ a + a }}", "{{ '%9d' % a }}", "{{ a | replace('a', 'aa') }}",
        "{% include 'a' %}", "{{ [a] }}", "{{ {'a': 1} }}",
        "{{ " + "(" * 3000 + "a" + ")" * 3000 + " }}", "{{ " + "not " * 3000 + "a }}", "{% if a %}" * 500 + "{% endif %}" * 500,
        "{{ a | trim(chars='x') }}", "{{ a", "{{ lipsum() }}",
    ],
    ids=lambda text: text[:30],
)  # fmt: skip
def test_text_of_a_message_file_says_no_more(text):
    """Nothing that repeats, computes, or calls; refused before anything of it is worked out."""
    with pytest.raises(jinja2.TemplateSyntaxError):
        text_of_messages(text)
    with pytest.raises(ProjectError, match=r"packet\.en\.toml"):
        render_text(text, "packet.en.toml", {"a": "x"})


# --- the process of its own -------------------------------------------------------------------------------------------


def test_what_runs_apart_changes_nothing_here():
    """A fork: what it sets is its own, and what it returns comes back whole."""
    seen = []
    assert run_apart(lambda: seen.append(1) or b"x" * 3_000_000) == b"x" * 3_000_000
    assert seen == []


def test_what_runs_apart_has_its_memory_beyond_ours():
    """What this process holds does not count, so a large build leaves a template as much as a small one."""
    held = bytearray(MEMORY)
    assert run_apart(lambda: b"x" * (8 << 20)) == b"x" * (8 << 20)
    with pytest.raises(TooMuch, match="memory"):
        run_apart(lambda: bytes(2 * MEMORY))
    assert len(held) == MEMORY


def test_what_ends_its_process_is_reported():
    """Whatever ends it: no traceback of the fork is written, and the build goes on."""
    with pytest.raises(TooMuch, match="status 7"):
        run_apart(lambda: os._exit(7))
    with pytest.raises(TooMuch, match="status 1"):
        run_apart(lambda: 1 // 0)
