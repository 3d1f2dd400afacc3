"""The generated reader on a 68000: another byte order, no library, every read of the image a single byte inside it."""

from __future__ import annotations

import shutil

import pytest

from tests.conftest import need_library, need_tool, some
from tests.makers import TARGETS
from tests.rom.reader_walk import expected, shared_kind

need_library("unicorn")
from tests.rom.reader_68000 import Console, OutOfBounds, compile_reader, link_walk, undefined  # noqa: E402

LEVELS = ("-Os", "-O2")


@pytest.fixture(scope="module", params=some(TARGETS, 1))
def made(request):
    """A project with every kind of asset, built for a shipped target."""
    need_tool("m68k-linux-gnu-gcc")
    return shared_kind(request.param)


@pytest.fixture(scope="module")
def readers(made, tmp_path_factory):
    """Level of optimization -> the object file of its reader."""
    folder = tmp_path_factory.mktemp("objects")
    return {level: compile_reader(made.project.folder / "build/include", folder, level) for level in LEVELS}


@pytest.mark.parametrize("level", some(LEVELS, 2))
def test_walk_on_a_68000_says_what_decoding_says(made, readers, level, tmp_path):
    """The image is at an odd address, so a word or long that a compiler makes of bytes would stop a console; none is seen."""
    code = link_walk(made.project.folder / "build/include", tmp_path, level, readers[level])
    wanted = expected(made)
    said = Console(code, made.image[: made.map["image"]["used"]], watch=True).walk(made)
    assert said[: len(wanted)].tolist() == wanted.tolist()
    assert not said[len(wanted) :].any()


@pytest.mark.parametrize("level", LEVELS)
def test_reader_asks_for_nothing(readers, level):
    """No library function, not even the compiler's own for multiplying and dividing."""
    assert undefined(readers[level]) == ""


def test_read_of_a_word_is_caught(tmp_path):
    """A reader that takes words at once is found."""
    need_tool("m68k-linux-gnu-gcc")
    made, include = shared_kind("basalt32"), tmp_path / "include"
    shutil.copytree(made.project.folder / "build/include", include)
    bytewise = "unsigned int first = at[0], second = at[1];\n\n    return first << 8 | second;"
    text = (include / "reader.c").read_text()
    assert text.count(bytewise) == 1
    (include / "reader.c").write_text(text.replace(bytewise, "return *(const volatile unsigned short *)(const volatile void *)at;"))
    console = Console(link_walk(include, tmp_path, "-Os"), made.image[: made.map["image"]["used"]], watch=True)
    with pytest.raises(OutOfBounds):
        console.walk(made)
