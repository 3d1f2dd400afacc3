"""The words after ``watch``: what it takes, and what it refuses in words."""

from __future__ import annotations

import pytest

from pipeline.graph.words import asks_to_watch
from pipeline.plain.errors import ProjectError
from pipeline.watching.words import read_words
from tests.graph.builds import make_tiny


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("watch", True),
        ("project=p watch -n 2", True),
        ("-n 2 watch", True),
        ("run watch", True),
        ("list watch", False),
        ("help watch", False),
        ("-o watch rom", False),
        ("rom", False),
        ("project=watch", False),
    ],
)
def test_watch_is_asked_for_where_a_step_would_be(words, expected):
    """Not as the value of an option, and not after another command."""
    assert asks_to_watch(words.split()) is expected


def test_what_a_build_is_given(tmp_path):
    """The project as it was written, answers for the whole time, workers; the port and doit's own file are not for builds."""
    project = make_tiny(tmp_path / "game")
    given = ["-f", "dodo.py", "watch", f"project={project}", "port=8123", "commands=yes", "why=yes", "-n", "2"]
    asked = read_words(given)
    assert asked.folder == project
    assert asked.port == 8123
    assert asked.words == [f"project={project}", "commands=yes", "why=yes", "-n", "2"]
    assert read_words(["watch", f"project={project}", "-n3"]).words[1:] == ["-n", "3"]
    assert read_words(["watch", f"project={project}"]).port == 0


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("port=80", "80 is not a port for this"),
        ("port=65536", "65536 is not a port for this"),
        ("port=", "is not a port for this"),
        ("port=²²²²", "is not a port for this"),
        ("rom", "takes no name of a step: rom"),
        ("--always", "takes no option: --always"),
        ("-nx", "x is not a number of workers"),
        ("prot=8123", "did you mean port=?"),
        ("commands=perhaps", "perhaps is not known"),
        ("project=", "names no folder"),
        ("project=nowhere", "there is no nowhere/project.toml"),
    ],
)
def test_what_is_refused(word, said, tmp_path):
    """Before anything is served or built."""
    project = make_tiny(tmp_path / "game")
    with pytest.raises(ProjectError) as refused:
        read_words(["watch", f"project={project}", word])
    assert said in str(refused.value)
