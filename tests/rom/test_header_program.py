"""Of several programs the header is about the one that is named, wherever placement puts them.

The shipped target's header gives the address at which the program starts in four bytes at 0x50, and its size at 0x54.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.joints.map import ImageMap
from pipeline.project.loading.load import load_project
from pipeline.reading.verify import verify_image
from tests.makers import Built, as_map, build_here, make_project, problems

TWO = '[program.driver]\nfile = "driver.bin"\n'


def two(folder: Path, *changes: tuple[str, str], more: str = TWO) -> Path:
    """A program of two bytes, and a sound driver of 300 that placement puts first."""
    make_project(folder, *changes, more=more)
    (folder / "main.bin").write_bytes(b"\x4e\x71")
    (folder / "driver.bin").write_bytes(bytes(300))
    return folder


def places(built: Built) -> dict[str, tuple[int, int]]:
    return {one.name: (one.address, one.bytes) for one in as_map(built.map).entries if one.kind == "program"}


def header(built: Built) -> tuple[int, int]:
    return int.from_bytes(built.image[0x50:0x54], "big"), int.from_bytes(built.image[0x54:0x58], "big")


def test_header_starts_main_whatever_comes_first(tmp_path):
    """The driver is larger, and so comes first in the image."""
    built = build_here(two(tmp_path / "ferry"))
    found = places(built)
    assert found["driver"][0] < found["main"][0]
    assert header(built) == found["main"] == (found["main"][0], 2)


@pytest.mark.parametrize("by", ["project", "target"])
def test_project_or_target_names_another(by, tmp_path):
    """A key of either; where both say something, the project's counts."""
    named = [("[links]", 'program = "driver"\n[links]')] if by == "project" else []
    folder = two(tmp_path / "ferry", *named)
    target = (Path(__file__).parents[2] / "pipeline/targets/basalt32.toml").read_text(encoding="utf-8")
    said = '[header]\nprogram = "main"' if by == "project" else '[header]\nprogram = "driver"'
    (folder / "own.toml").write_text(target.replace("[header]", said, 1), encoding="utf-8")
    text = (folder / "project.toml").read_text(encoding="utf-8")
    (folder / "project.toml").write_text(text.replace('"basalt32"', '"own.toml"'), encoding="utf-8")
    built = build_here(folder)
    assert header(built) == places(built)["driver"] == (places(built)["driver"][0], 300)


def test_only_program_needs_no_name(tmp_path):
    """As before there were names."""
    built = build_here(make_project(tmp_path / "ferry", ("[program.main]", "[program.game]")))
    assert header(built) == places(built)["game"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            [("[program.main]", "[program.game]")],
            "[game] program: is missing: game and driver are programs, and none has the name main\n"
            '    say which one the header\'s entry is about, such as program = "game"',
        ),
        ([("[links]", 'program = "diver"\n[links]')], "[game] program: there is no program 'diver'\n    did you mean driver?"),
        ([("[links]", 'program = "level"\n[links]')], "[game] program: there is no program 'level'\n    the programs are main, driver"),
    ],
)
def test_choice_that_is_not_one_is_refused(changes, said, tmp_path):
    """No build starts with a header that could be about either program."""
    (found,) = problems(two(tmp_path / "ferry", *changes))
    assert said in found


def test_header_about_another_program_is_found(tmp_path):
    """An image whose header starts the driver, compared with a project that starts main, and a map without that program."""
    built = build_here(two(tmp_path / "ferry", ("[links]", 'program = "driver"\n[links]')))

    def faults(program: str, image_map: ImageMap) -> list[str]:
        return verify_image(built.image, built.project.target, image_map, built.facts, {}, program=program)

    whole = as_map(built.map)
    assert faults("driver", whole) == []
    (address, size), (other, _) = places(built)["main"], places(built)["driver"]
    assert faults("main", whole) == [
        f"the header says program.bytes is 0x12c, of main it is {size:#x}",
        f"the header says program.entry is {other:#x}, of main it is {address:#x}",
    ]
    assert "the map has no program sound, which the header is about" in faults("sound", whole)


def test_without_programs_there_is_no_choice(tmp_path):
    """Art alone is an image, too."""
    folder = make_project(tmp_path / "ferry", ('[program.main]\nfile = "main.bin"\n', ""))
    assert load_project(folder).header_program() is None
    text = (folder / "project.toml").read_text(encoding="utf-8")
    (folder / "project.toml").write_text(text.replace("[links]", 'program = "main"\n[links]'), encoding="utf-8")
    (found,) = problems(folder)
    assert "there is no program 'main'\n    leave it out" in found
