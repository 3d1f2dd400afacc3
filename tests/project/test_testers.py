"""The author's list of testers: strictly read, and shortened by whole lines (tomllib says what is left)."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.project.testers import Tester as Person
from pipeline.project.testers import entry_mark, number_in, read_testers, remove_packets, remove_tester, thanked

LIST = """# Testers of the second round.

[[tester]]
number = 7
pads = ["three"]

# Anna, whom I met at the fair
[[tester]] # the first
number = 2
name = "Anna"

# --- from here on: friends ---

# never after nine
[[tester]]
number = 11
name = '''
[[tester]]'''
"""


def write(folder: Path, text: str) -> Path:
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "reports/testers.toml").write_bytes(text.encode())
    return folder


def test_list_is_read_in_the_order_of_numbers(tmp_path):
    """Keys left out have their defaults; no file means no list."""
    assert read_testers(tmp_path) == ()
    testers = read_testers(write(tmp_path, LIST), ["three", "six"])
    assert [(one.number, one.name, one.pads) for one in testers] == [(2, "Anna", None), (7, "", ["three"]), (11, "[[tester]]", None)]


def test_everything_wrong_is_reported_at_once_without_names(tmp_path):
    """File, line, key and remedy; a name is never quoted."""
    text = '[[tester]]\nnumber = 3\nname = "Zabriska"\n[[tester]]\nnumber = 3\nname = "zabriska "\npads = ["thre"]\n'
    text += '[[tester]]\nnumber = 4\nname = "T9"\n'
    with pytest.raises(ProjectError) as refusal:
        read_testers(write(tmp_path, text), ["three"])
    assert str(refusal.value) == (
        "reports/testers.toml, line 5, [[tester]] number 2 number: 3 is given twice\n"
        "    a number is one person's for ever; take a free one\n"
        "reports/testers.toml, line 6, [[tester]] number 2 name: the name is given twice\n"
        "    add what distinguishes the two\n"
        "reports/testers.toml, line 7, [[tester]] number 2 pads[0]: there is no pad 'thre'\n"
        "    did you mean three?\n"
        "reports/testers.toml, line 10, [[tester]] number 3 name: is a number, which would be taken for that of a tester\n"
        "    write a name, or leave it out"
    )


@pytest.mark.parametrize("wrong", ["[[tester]]\nnumber = 0", "[[tester]]\nnumber = 1000", "[[tester]]\nnumbr = 1", "[tester]\nnumber = 1"])
def test_other_shapes_are_refused(tmp_path, wrong):
    """Numbers outside 1 to 999, unknown keys, a table for a list."""
    with pytest.raises(ProjectError):
        read_testers(write(tmp_path, wrong))


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("number", [2, 7, 11])
def test_an_entry_goes_and_every_other_line_stays(tmp_path, number, end):
    """What is left is the file less some lines in a row, and reads as the list without that entry."""
    text = LIST.replace("\n", end)
    folder = write(tmp_path, text)
    wanted = [one for one in tomllib.loads(text)["tester"] if one["number"] != number]
    done, said = remove_tester(folder, number)
    left = (folder / "reports/testers.toml").read_bytes().decode()
    assert done
    assert said.startswith(f"testers.toml: the entry of T{number}, line")
    assert tomllib.loads(left)["tester"] == wanted
    kept, before = left.splitlines(keepends=True), text.splitlines(keepends=True)
    assert any(kept == before[:at] + before[at + len(before) - len(kept) :] for at in range(len(before)))
    assert ("Anna" in left) == (number != 2)  # also the comment that touches her entry
    assert "# --- from here on: friends ---" in left or number == 11


def test_the_last_entry_leaves_an_empty_list(tmp_path):
    """A file without entries is a list of nobody."""
    folder = write(tmp_path, "[[tester]]\nnumber = 5\n")
    assert remove_tester(folder, 5)[0]
    assert read_testers(folder) == ()


def test_an_entry_in_a_line_of_several_is_left_and_reported(tmp_path):
    """Nothing is changed; the line to look at is named."""
    text = "tester = [\n  { number = 1 },\n  { number = 2 }, { number = 3 },\n]\n"
    folder = write(tmp_path, text)
    done, said = remove_tester(folder, 3)
    assert not done
    assert "reports/testers.toml, line 3: remove the entry of T3 by hand" in said
    assert (folder / "reports/testers.toml").read_text() == text


def test_only_their_packet_and_kit_go(tmp_path):
    """T03 is neither T30 nor T13."""
    kit = "kit/testers/K-1.0.0-AAAAAA"
    names = ["work/testers/T03-packet.pdf", "work/testers/T30-packet.pdf", f"{kit}-T03.zip", f"{kit}-T13.zip"]
    for name in names:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    said = remove_packets(tmp_path, 3)
    assert said == [f"build/{names[0]}: their own packet", f"build/{names[2]}: their own kit"]
    assert [name for name in names if (tmp_path / name).exists()] == [names[1], names[3]]


NUMBERS = {"T3": 3, " t03 ": 3, "3": 3, "Ｔ３": 3, "T": None, "T3a": None, "-3": None, "": None}


@pytest.mark.parametrize(("text", "number"), NUMBERS.items())
def test_numbers_as_people_write_them(text, number):
    """Wide forms as Unicode NFKC folds them."""
    assert number_in(text) == number


def test_thanks_name_people_as_they_agreed_to_be_named(tmp_path):
    """A number becomes the name under thanks_as, never the name the list has; other words and numbers stay."""
    people = '[[tester]]\nnumber = 3\nname = "Zabriska Quill"\nthanks_as = "Zab"\n[[tester]]\nnumber = 4\nname = "Odalric"\n'
    testers = read_testers(write(tmp_path, people))
    assert thanked(["T3", "t03", "T4", "T9", "Zoë", "all of you"], testers) == ["Zab", "Zab", "T4", "T9", "Zoë", "all of you"]
    assert thanked([], testers) == []


def test_mark_of_an_entry_changes_with_name_and_message(tmp_path):
    """And with nothing else: pads are settings."""
    one = Person(number=3, name="Ann", message="Hello")
    others = [Person(number=3, name="Ann"), Person(number=3, name="AnnHello"), Person(number=4, name="Ann", message="Hello")]
    assert entry_mark(one) not in {entry_mark(other) for other in others}
    assert entry_mark(one) == entry_mark(Person(number=3, name="Ann", message="Hello", pads=["two"], thanks_as="A"))
