"""The author's own words about each version."""

from __future__ import annotations

import pytest

from pipeline.plain.errors import ProjectError
from pipeline.project.words import read_words


def words(folder, text) -> dict:
    (folder / "changes.md").write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_words(folder)


def test_words_stand_by_version_and_paragraph(tmp_path):
    """Lines are joined, empty lines part, points stay apart; each knows its line."""
    said = words(tmp_path, "# Title\n\n## 0.2.0\n\nOne\ntwo.\n\nThree.\n- four\n  five\n* six\n\n##  0.1.0-rc.1 \nSeven.\n")
    assert said == {
        "0.2.0": [
            {"text": "One two.", "line": 5},
            {"text": "Three.", "line": 8},
            {"text": "four five", "line": 9},
            {"text": "six", "line": 11},
        ],
        "0.1.0-rc.1": [{"text": "Seven.", "line": 14}],
    }


def test_no_file_and_an_empty_one_say_nothing(tmp_path):
    """Nobody has to write."""
    assert read_words(tmp_path) == {}
    assert words(tmp_path, "\ufeff# Title\n") == {}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("Hello.\n## 0.1.0\n", "changes.md, line 1: text before the first version\n    write a line such as ## 0.4.0 above it"),
        ("## Soon\nx\n", "changes.md, line 1: 'Soon' is not a valid version\n    write only a version, such as ## 0.4.0"),
        ("## 0.1.0\n### More\n", "changes.md, line 2: 'More' is not a valid version\n    write only a version, such as ## 0.4.0"),
        ("## 0.1.0\nx\n## 0.1.0\n", "changes.md, line 3: 0.1.0 is here a second time\n    write it all under one heading"),
        (b"## 0.1.0\n\xe9\n", "changes.md, byte 9: not UTF-8 text\n    save the file as UTF-8"),
    ],
)
def test_what_cannot_be_read_is_refused(tmp_path, text, message):
    """Word for word."""
    with pytest.raises(ProjectError) as caught:
        words(tmp_path, text)
    assert str(caught.value) == message
