"""The assembler's include files: both syntaxes define the same constants as ``assets.h``, read by GNU as, in MRI mode for ``equ``."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.conftest import need_tool
from tests.makers import build_here, make_project


@pytest.fixture(scope="module")
def include(tmp_path_factory) -> Path:
    """The include folder of a project whose anchor is negative."""
    change = ('palette = "figures"\n[sprite', 'palette = "figures"\nanchor = [-3, 4]\n[sprite')
    folder = make_project(tmp_path_factory.mktemp("include") / "project", change)
    return build_here(folder, "verify", "include").project.folder / "build/include"


def defined(header: Path) -> dict[str, int]:
    """Return the constants of ``assets.h``, as 32 bits."""
    found = re.findall(r"^#define (\w+) \(?(-?\w+?)(?:ul)?\)?(?: /\*.*)?$", header.read_text(), re.MULTILINE)
    return {name: int(value, 0) & 0xFFFF_FFFF for name, value in found}


def test_bank_of_an_asset_is_the_maps(tmp_path):
    """On a console with banks each asset has its bank's number, which is its offset in whole banks; others have none."""
    folder = make_project(tmp_path / "ferry", target="pebble8")
    (folder / "level.bin").write_bytes(bytes(16 << 10))  # as large as a bank, so it cannot share the header's
    made = build_here(folder, "verify", "include")
    constants = defined(made.project.folder / "build/include/assets.h")
    size = made.project.target.cartridge.banks.size
    assert {name: constants[f"{name.upper()}_BANK"] for name in made.facts} == {
        entry["name"]: entry["offset"] // size for entry in made.map["entries"]
    }
    assert len({entry["offset"] // size for entry in made.map["entries"]}) > 1


def test_console_without_banks_has_no_bank_constants(include):
    """A program that asks for one does not compile, instead of getting a wrong number."""
    assert not [name for name in defined(include / "assets.h") if name.endswith("_BANK")]


@pytest.mark.parametrize(("name", "flags"), [("assets.inc", ()), ("assets_equ.inc", ("--mri",))])
def test_assembler_knows_the_constants(include, name, flags, tmp_path):
    """Each file is assembled and the symbol table compared; names and values are those of the C header."""
    made = tmp_path / "made.o"
    done = subprocess.run([need_tool("m68k-linux-gnu-as"), *flags, include / name, "-o", made], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    symbols = subprocess.run([need_tool("m68k-linux-gnu-nm"), made], capture_output=True, text=True, check=True).stdout.splitlines()
    seen = {parts[2]: int(parts[0], 16) for parts in map(str.split, symbols)}
    wanted = defined(include / "assets.h")
    assert len(wanted) > 50
    assert wanted["ADA_ANCHOR_X"] == 0xFFFF_FFFD
    assert seen == wanted
