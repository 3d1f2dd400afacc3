"""Message files: which one a language takes, and what is refused when a project is read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.plain.shipped import TEMPLATES
from pipeline.project.wording import find_wording, lookup_order, names_in, read_wording, wording_name
from tests.makers import make_project, problems, project_text, write_text

SHIPPED = "de, en"
COPY = "which comes with the tool, to templates/packet.{}.toml in the project and translate it"


def own_file(folder: Path, name: str, *changes: tuple[str, str], of: str = "en") -> Path:
    """Write a shipped message file into a project's templates folder, pieces of its text exchanged."""
    text = (TEMPLATES / f"packet.{of}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "templates" / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def in_language(folder: Path, language: str) -> Path:
    """Write a project in a language; its key is in line 8."""
    return make_project(folder, ('target = "basalt32"', f'target = "basalt32"\nlanguage = "{language}"'))


def test_lookup_follows_the_rfcs_example():
    """RFC 4647, section 3.4, its example of lookup for the range zh-Hant-CN-x-private1-private2 (from memory)."""
    assert lookup_order("zh-Hant-CN-x-private1-private2") == [
        "zh-Hant-CN-x-private1-private2",
        "zh-Hant-CN-x-private1",
        "zh-Hant-CN",
        "zh-Hant",
        "zh",
    ]


@pytest.mark.parametrize(
    ("tag", "order"),
    [
        # Tags of RFC 5646, appendix A (from memory); a singleton never ends a shortened tag (RFC 4647, section 3.4, step 3).
        ("de", ["de"]),
        ("sr-Latn-RS", ["sr-Latn-RS", "sr-Latn", "sr"]),
        ("de-CH-1901", ["de-CH-1901", "de-CH", "de"]),
        ("en-US-u-islamcal", ["en-US-u-islamcal", "en-US", "en"]),
        ("en-a-myext-b-another", ["en-a-myext-b-another", "en-a-myext", "en"]),
    ],
)
def test_lookup_shortens_from_the_end(tag, order):
    """One subtag after the other, singletons with what follows them."""
    assert lookup_order(tag) == order


@pytest.mark.parametrize(
    ("language", "own", "wanted"),
    [
        ("en-GB", [], "packet.en.toml"),
        ("de-AT", [], "packet.de.toml"),
        ("DE", [], "packet.de.toml"),
        ("de-AT", ["packet.de-AT.toml"], "packet.de-AT.toml"),
        ("de-at", ["packet.de-AT.toml"], "packet.de-AT.toml"),
        ("de-CH", ["packet.de-AT.toml"], "packet.de.toml"),
        ("de-CH", ["packet.de-Latn-CH.toml"], "packet.de.toml"),
        ("fr-CA", ["packet.fr.toml"], "packet.fr.toml"),
        ("fr", ["packet.fr-CA.toml"], None),
        ("fr", [], None),
        ("den", [], None),  # no prefix of letters counts: Slave is not German (ISO 639)
    ],
)
def test_the_file_of_a_language(tmp_path, language, own, wanted):
    """The longest tag there is; case does not count (RFC 5646, section 2.1.1)."""
    for name in own:
        own_file(tmp_path, name)
    assert wording_name(tmp_path, language) == wanted


def test_own_file_comes_before_the_shipped_one(tmp_path):
    """Though another of the same language is shipped."""
    own_file(tmp_path, "packet.de.toml", ('heading = "Controls"', 'heading = "So geht es"'))
    assert read_wording(find_wording(tmp_path, "de-AT")).tables["controls"]["heading"] == "So geht es"
    assert read_wording(find_wording(tmp_path / "elsewhere", "de-AT")).tables["controls"]["heading"] == "Steuerung"


def test_language_without_a_file_is_refused_with_what_there_is(tmp_path):
    """File, line, key, the value seen, what is there, and both ways out."""
    folder = in_language(tmp_path / "project", "fr-CA")
    assert problems(folder) == [
        f"project.toml, line 8, [game] language: the packet has no wording in 'fr-CA', only in {SHIPPED}\n"
        f"    choose another language, or copy packet.en.toml, {COPY.format('fr')}"
    ]
    own_file(folder, "packet.nl.toml")
    assert "only in de, en, nl\n" in problems(folder)[0]
    own_file(folder, "packet.fr.toml")
    assert problems(folder) == []


def test_all_that_is_wrong_with_an_own_file_is_reported_when_the_project_is_read(tmp_path):
    """Keys missing, unknown, and of another kind, each with its line; and also what is wrong with the project file."""
    folder = make_project(tmp_path / "project", ('target = "basalt32"', 'target = "basalt32"\nlanguage = "fr"\ncartridge = 12345'))
    path = own_file(
        folder,
        "packet.fr.toml",
        ('kind = "Tester packet"', 'kinde = "Cahier"'),
        ('sha256 = "SHA-256"', "sha256 = 256"),
        ('often_words = ["every time", "sometimes", "once"]', 'often_words = "toujours"'),
        ('[more]\nheading = "Links"', '[more]\nheading = ["Liens"]'),
    )
    lines = path.read_text(encoding="utf-8").splitlines()
    shown, copy = "templates/packet.fr.toml", "the shipped packet.en.toml"

    def at(start: str) -> int:
        return next(rank for rank, line in enumerate(lines, 1) if line.startswith(start))

    messages = problems(folder)
    assert [text for text in messages if text.startswith("project.toml, line 9, [game] cartridge: ")]
    assert [text for text in messages if text.startswith(shown)] == [
        f"{shown}, line {at('[first]')}, [first] kind: the key first.kind is missing\n    add it: a text; {copy} has one to copy",
        f"{shown}, line {at('kinde')}, [first] kinde: unknown key 'kinde'\n    did you mean kind?",
        f"{shown}, line {at('heading = [')}, [more] heading: expected a text, saw ['Liens']\n    write it as in {copy}",
        f"{shown}, line {at('sha256 = 256')}, [facts] sha256: expected a text, saw 256\n    write it as in {copy}",
        f"{shown}, line {at('often_words')}, [form] often_words: expected a list of texts, saw 'toujours'\n    write it as in {copy}",
    ]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"Controls"', '"Controls of {{ titel }}"', "[controls] heading: there is no value 'titel' for this text\n    did you mean title?"),
        ('"Controls"', '"Controls, {{ pages }}"', "[controls] heading: there is no value 'pages' for this text"),
        ('"page {{ page }} of', '"{% if pags %}{{ page }}{% endif %} of', "[page] number: there is no value 'pags' for this text"),
        ('"Controls"', '"Controls {{ title"', "[controls] heading: unexpected end of template, expected 'end of print statement'."),
        ('"Controls"', '"Controls {% if %}"', "[controls] heading: Expected an expression, got 'end of statement block'"),
    ],
)
def test_values_that_are_not_there_are_reported_when_the_project_is_read(tmp_path, old, new, message):
    """Misspelt, of another text, in a condition, or no template at all."""
    folder = make_project(tmp_path / "project")
    old = f"heading = {old}" if old == '"Controls"' else old
    own_file(folder, "packet.en.toml", (old, f"heading = {new}" if old.startswith("heading") else new))
    found = problems(folder)
    assert len(found) == 1
    assert re.sub(r"line \d+, ", "", found[0]).startswith(f"templates/packet.en.toml, {message}")


def test_every_text_may_name_the_general_values(tmp_path):
    """Those at the top of the English file are allowed where English does not use them."""
    comment = " ".join((TEMPLATES / "packet.en.toml").read_text(encoding="utf-8").replace("#", "").split())
    listed = re.search(r"all texts may use (.*?), others", comment)[1]
    values = "".join(f"{{{{ {name} }}}}" for name in listed.split(", "))
    assert values.count("{{") == 13
    folder = make_project(tmp_path / "project")
    own_file(folder, "packet.en.toml", ('heading = "Controls"', f'heading = "{values}"'))
    assert problems(folder) == []


def test_file_without_a_language_is_refused(tmp_path):
    """It is not silently ignored; the remedy names the file it becomes."""
    folder = in_language(tmp_path / "project", "de-AT")
    own_file(folder, "packet.toml")
    wrong = "templates/packet.toml: is no longer read: each language has its own file"
    assert problems(folder) == [f"{wrong}\n    rename it to packet.de-AT.toml, or remove it"]
    (folder / "templates/packet.toml").rename(folder / "templates/packet.de-AT.toml")
    assert problems(folder) == []


def test_two_files_of_one_language_are_refused(tmp_path):
    """Which one was meant cannot be known."""
    folder = make_project(tmp_path / "project")
    own_file(folder, "packet.en-GB.toml")
    own_file(folder, "packet.EN-gb.toml")
    if len(list((folder / "templates").iterdir())) == 1:
        pytest.skip("this file system does not distinguish small and capital letters")
    wrong = "templates: there are 2 of en-gb: packet.EN-gb.toml, packet.en-GB.toml"
    assert problems(folder) == [f"{wrong}\n    keep one: the case of a language tag does not count"]


def test_own_file_that_cannot_be_read_is_reported(tmp_path):
    """Not TOML, not UTF-8, or a link that leads out of the project."""
    folder = make_project(tmp_path / "project")
    path = own_file(folder, "packet.en.toml")
    path.write_text('[page]\nbuild = "\n')
    assert [text.partition(":")[0] for text in problems(folder)] == ["templates/packet.en.toml, line 2, column 10"]
    path.write_bytes('[page]\nbuild = "Stück"\n'.encode("latin-1"))
    assert problems(folder) == ["templates/packet.en.toml, byte 18: not UTF-8 text\n    save the file as UTF-8"]
    path.unlink()
    (tmp_path / "secret.toml").write_text("")
    path.symlink_to(tmp_path / "secret.toml")
    assert problems(folder)[0].startswith("templates/packet.en.toml: leads outside the project folder\n")


def test_whole_sections_of_another_kind_are_reported(tmp_path):
    """A table that is a text, and one that nothing reads."""
    folder = make_project(tmp_path / "project")
    path = own_file(folder, "packet.en.toml", ("[more]", "[mores]"))
    path.write_text('missing = "x"\n' + path.read_text(encoding="utf-8").replace("[missing]", "[missings]"), encoding="utf-8")
    messages = [re.sub(r"line \d+, ", "", text).split("\n")[0] for text in problems(folder)]
    assert "templates/packet.en.toml, missing: expected a table, saw 'x'" in messages
    assert "templates/packet.en.toml, [mores]: unknown key 'mores'" in messages
    assert "templates/packet.en.toml, more.placeholders: the key more.placeholders is missing" in messages


def test_other_files_of_a_project_are_not_read(tmp_path):
    """A language that is not the project's may be half done."""
    folder = make_project(tmp_path / "project")
    own_file(folder, "packet.fr.toml").write_text("half")
    assert problems(folder) == []
    write_text(folder, project_text(('target = "basalt32"', 'target = "basalt32"\nlanguage = "fr"')))
    assert problems(folder)[0].startswith("templates/packet.fr.toml, ")


def test_reading_a_wording_that_is_not_there_is_a_problem_too(tmp_path):
    """A step that is called by itself says the same."""
    with pytest.raises(ProjectError, match=r"no wording in 'eo', only in de, en"):
        find_wording(tmp_path, "eo")


def test_names_are_those_a_text_is_filled_in_with():
    """Of lists too, in conditions too."""
    text = "{{ a }} {% if b %}{{ c|upper }}{% endif %} {{ d if e == 'f' else 'f' }}"
    assert names_in([["x", text], ["{{ g }}", "h"]]) == {"a", "b", "c", "d", "e", "g"}
