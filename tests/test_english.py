"""The project's texts use the common English word: idioms that read as if translated are found, with the word to use instead.

Source of the words: common practice, no source; DEVELOPERS.md, "Rules of style", shows them on sentences of this project.
"""

from __future__ import annotations

import ast
import itertools
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parent.parent
_NUMBER = r"(?:\d[\d,.]*|\{[^}]*\})"


class Idiom(NamedTuple):
    """What not to write: a pattern, the word to use instead, and a sentence that it must find."""

    pattern: str
    instead: str
    example: str


IDIOMS = [
    Idiom(
        r"(?<!there )\b(?:is|are|was|were) no (?!longer\b|more than\b|less than\b|such\b|room\b)[a-z]+",
        "is not a, is not",
        "'two' is no number",
    ),
    Idiom(r"(?<!there )\b(?:is|are|was|were) no such [a-z]+", "is not such a", "the file is no such font"),
    Idiom(r"\bis none of\b", "is not one of", "format 9 is none of 3"),
    Idiom(r"\b(?:tell|tells|telling)\b(?! apart| you (?:that|what)\b)", "show, report, say, list", "The report tells what changed."),
    Idiom(r"\btold\b(?! apart)(?!:)", "reported, listed, shown, said", "Every wrong key is told."),
    Idiom(r"\b(?:tell|tells|told) apart\b|\btells? \w+(?: \w+)? apart\b", "distinguish", "Colours are told apart by it."),
    Idiom(r"\b(?:stand|stands|standing|stood)\b(?!-alone| alone)", "is, are; represents; replaces", "Issues stand in issues.toml."),
    Idiom(r"\b(?:stand|stands|standing|stood) alone\b", "is alone, by itself", "A byte stands alone."),
    Idiom(r"\bbehind\b(?! (?:it|them|a button)\b)", "after", "What is behind the header is skipped."),
    Idiom(r"\b(?:way|ways) round\b", "workaround; the other way", "A way round it is known."),
    Idiom(r"\bturned round\b", "reversed", "A device turned round can break."),
    Idiom(r"\bno more\b(?! than| expensive| room)", "no longer, not any more", "Such a file is read no more."),
    Idiom(r"\b(?:no|not) more than\b", "at most", "A name has no more than 8 letters."),
    Idiom(rf"\b{_NUMBER} [a-z]+ at most\b", "at most, before the number", "It has 8 letters at most."),
    Idiom(r"\banew\b", "again", "The packet is made anew."),
    Idiom(r"\bbesides\b", "also, apart from, in addition to", "It holds besides the usual keys."),
    Idiom(r"\bamiss\b", "wrong", "Say what is amiss."),
    Idiom(r"\bmend(?:s|ed|ing)?\b", "fix", "The bug is mended."),
    Idiom(r"\b(?:must|is|are|has|have) yet (?:be|to)\b|\byet be\b", "is not ... yet", "The image must yet be read."),
    Idiom(r"\bin the place of\b", "in place of", "A link in the place of a folder."),
    Idiom(r"\bat hand\b", "current, available", "The build at hand."),
    Idiom(r"\bput right\b", "correct", "Something the author can put right."),
    Idiom(r"\bbe (?:it|they) (?:a|an|the|one|of|in|empty)\b", "whether it is", "A file, be it a picture or a sound."),
    Idiom(r"\b(?:where|there|here)(?:of|in|with|upon|unto|from|to)\b", "of it, in it, with it", "A file and the parts thereof."),
    Idiom(r"\bthat which\b", "what", "It keeps that which changed."),
    Idiom(r"\blest\b", "or, so that ... not", "Sort it, lest the order changes."),
    Idiom(r"\bnought\b|\baught\b|\bwhilst\b|\bamongst\b", "nothing, anything, while, among", "Whilst it runs."),
    Idiom(r"\bso (?:many|much) (?:bytes|bits|pixels|columns|hundredths|parts|pieces|modules)\b", "this many", "It holds so many bytes."),
    Idiom(
        r"(?<![\d,.+] )(?<![\d,.])\b1 (?:frame|byte|pixel|tile|cell|colour|file|asset|bank|scene|row|column|step|glyph|report|bit)s\b",
        "1 frame, 2 frames",
        "There are 1 frames.",
    ),
    Idiom(r"\bof its own accord\b|\bby itself alone\b", "on its own", "It ends of its own accord."),
    Idiom(r"\bis asked for of\b|\bis not asked for\b", "is not required, is not used", "What is not there is not asked for."),
    Idiom(r"\bthe most (?:often|alike)\b", "most often, most similar", "What happens the most often."),
    Idiom(r"\bmake ready\b|\bmakes ready\b", "prepare", "The step makes ready the folder."),
    Idiom(r"\bcomes? to stand\b|\bcomes? to lie\b", "is", "The anchor comes to stand at 0."),
    Idiom(r"\bpassed over\b|\bpasses over\b", "skipped, skips", "Empty lines are passed over."),
    Idiom(r"\b(?:which|that|who) (?:be|were it)\b", "is", "A value that be it large."),
    Idiom(r"\b(?:a|its) most\b(?! [a-z]+(?:ant|ent|al|ed)\b)", "a limit, its limit", "Every input has a most."),
]

# Words of the trade or of a language's own grammar that look like an idiom, as they are written in the texts; a figure of a test
# game that stands; an animation of that name.
ALLOWED = re.compile(r"other way round|while standing|figure stands|stand = \{|see stand\b|TELL US", re.IGNORECASE)
_CODE = re.compile(r"``[^`]*``|`[^`]*`|\{\{.*?\}\}|\{%.*?%\}|<[^>]*>|https?://\S+")


PATTERNS = [(re.compile(idiom.pattern, re.IGNORECASE), idiom) for idiom in IDIOMS]
_BETWEEN = "\0"  # two texts looked through at once; in no pattern


def found(text: str) -> list[str]:
    """Return for each idiom of a text the words found and what to write instead."""
    plain = _plain(text)
    return [f"{match[0]!r}: write {idiom.instead}" for pattern, idiom in PATTERNS for match in pattern.finditer(plain)]


def found_in(texts: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    """Return line and finding of every idiom of some texts, which are looked through one by one only if all together have one."""
    texts = list(texts)
    whole = _BETWEEN.join(_plain(text) for _, text in texts)
    if not any(pattern.search(whole) for pattern, _ in PATTERNS):
        return []
    return [(line, one) for line, text in texts for one in found(text)]


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", ALLOWED.sub(" ", _CODE.sub(" ", text)))


def texts_of_python(source: str) -> Iterator[tuple[int, str]]:
    """Yield line and text of every comment and of every literal with a space: docstrings, messages and their parts."""
    lines, literal = source.split("\n"), defaultdict(list)  # line -> from where to where it is part of a literal, in bytes
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip():
            yield node.lineno, node.value
        if isinstance(node, ast.JoinedStr) or isinstance(node, ast.Constant) and isinstance(node.value, str | bytes):
            for number in range(node.lineno, node.end_lineno + 1):
                first = node.col_offset if number == node.lineno else 0
                literal[number].append((first, node.end_col_offset if number == node.end_lineno else len(lines[number - 1].encode())))
    for number, line in enumerate(lines, 1):  # to read all tokens takes far longer
        if "#" in line:
            places = (match.start() for match in re.finditer(b"#", line.encode()))
            start = next((at for at in places if not any(first <= at < end for first, end in literal[number])), None)
            if start is not None:
                yield number, line.encode()[start:].decode()


def texts_of_page(page: str) -> Iterator[tuple[int, str]]:
    """Yield line and text of every line outside blocks of code and outside the table of examples."""
    code = example = False
    for number, line in enumerate(page.splitlines(), 1):
        code ^= line.lstrip().startswith("```")
        example = line.startswith("| before") or example and line.startswith("|")
        if not code and not example and not line.lstrip().startswith("```"):
            yield number, line


def _files() -> list[Path]:
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "pipeline/guide").glob("*.md")]
    pages += [path for path in (ROOT / "demo_project").rglob("*.md") if "build" not in path.parts]
    templates = [
        path for path in (ROOT / "templates").rglob("*") if path.suffix in (".j2", ".c", ".h", ".js") or path.name == "packet.en.toml"
    ]
    return sorted([*(ROOT / "pipeline").rglob("*.py"), *pages, *templates, *((ROOT / "tests").rglob("*.py"))])


# The words to find, and reports as people of many countries write them.
_NOT_OURS = ("tests/test_english.py", "tests/intake/invented_reports.py")
FILES = {name: path for path in _files() if (name := path.relative_to(ROOT).as_posix()) not in _NOT_OURS}


def test_texts_use_the_common_word():
    """No text of any file has an idiom; the failure shows file, line, words and what to write instead."""
    wrong = []
    for name, path in FILES.items():
        source = path.read_text(encoding="utf-8")
        texts = texts_of_python if name.endswith(".py") else texts_of_page
        wrong += [f"{name}:{line}: {one}" for line, one in found_in(texts(source))]
    assert wrong == [], "\n".join(wrong)


def test_every_pattern_finds_its_example():
    """The sentence beside each pattern is found by that pattern, as a message, a docstring, a comment and on a page."""
    for idiom in IDIOMS:
        assert any(one.endswith(f"write {idiom.instead}") for one in found(idiom.example)), idiom
        said = idiom.example
        for source in (f"x = {said!r}\n", f'"""{said}"""\n', f"# {said}\n", f"y = f{said + ' {x}'!r}\n"):
            assert found_in(texts_of_python(source)), source
        assert found_in(texts_of_page(f"# A page\n\n{idiom.example}\n")), idiom


def test_an_idiom_among_other_texts_is_found_with_its_line():
    """Wherever it is in a file: what is looked through at once hides nothing at the beginning or the end of a text."""
    for idiom in IDIOMS:
        texts = [(1, "a line"), (2, "`code` and"), (7, idiom.example), (8, "`more` of it"), (9, "the end")]
        assert found_in(texts) == [(7, one) for one in found(idiom.example)], idiom


@pytest.mark.parametrize(
    "sentence",
    [
        "It is no longer read.",
        "There is no room left.",
        "`stands` is a key of ``table``, and {{ told }} a value.",
        "The frames are numbered 0 to 11 and there is 1 frame.",
        "At most 16 frames are accepted.",
        "The other way round.",
    ],
)
def test_plain_sentence_is_left_alone(sentence):
    """What a native writer would write has no finding."""
    assert found(sentence) == []


def test_all_kinds_of_text_are_read():
    """Code, hand-written pages, templates and the demo's pages are among the files; the German words are not."""
    assert {"pipeline/plain/files.py", "README.md", "pipeline/guide/walk.md", "templates/packet.en.toml"} <= FILES.keys()
    assert {"demo_project/README.md", "tests/warm.py", "tests/bench/kills.py"} <= FILES.keys()
    assert "templates/packet.de.toml" not in FILES


def test_examples_of_the_page_are_real():
    """Each "before" of the page of style has an idiom, each "after" none."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = itertools.takewhile(lambda line: line.startswith("|"), page.partition("| before")[2].splitlines()[2:])
    rows = [line.strip("| ").split(" | ") for line in table]
    assert len(rows) >= 30
    assert [row for row in rows if len(row) != 2 or found(row[1])] == []
    assert sum(bool(found(row[0])) for row in rows) >= 25
