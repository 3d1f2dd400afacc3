"""The C decoders for the console, built for this machine with address and undefined-behaviour sanitizers.

One process runs over a file of cases; any read or write outside a buffer ends it with an error.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from pipeline.plain.shipped import TEMPLATES
from tests.codec.cases import DECODERS, Case, spoilt_cases, valid_cases, verdict
from tests.conftest import need_tool, some, tries

CONSOLE = TEMPLATES / "console"
NUMBERS = {"packbits": 1, "lz4": 2}


@pytest.fixture(scope="module")
def program(tmp_path_factory) -> Path:
    """The decoders and ``unpack_cases.c``, built so that a fault ends the process."""
    return build(CONSOLE / "unpack.c", tmp_path_factory.mktemp("unpack"))


def build(decoders: Path, folder: Path) -> Path:
    """Compile decoders with the sanitizers; return the program."""
    flags = ["-std=c89", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-O1", "-g"]
    checks = ["-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
    sources = [str(decoders), str(Path(__file__).parent / "unpack_cases.c")]
    command = [need_tool("gcc"), *flags, *checks, f"-I{CONSOLE}", *sources, "-o", str(folder / "unpack_cases")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return folder / "unpack_cases"


def write_cases(path: Path, cases: list[Case]) -> Path:
    """Write cases as ``unpack_cases.c`` reads them."""
    with open(path, "wb") as file:
        for case in cases:
            file.write(bytes([NUMBERS[case.codec]]) + len(case.packed).to_bytes(4, "little") + case.size.to_bytes(4, "little"))
            file.write(case.packed)
    return path


def answers(program: Path, folder: Path, cases: list[Case]) -> list[bytes | None]:
    """Return what the decoders make of each case; None where they refuse."""
    asked, replies = write_cases(folder / "cases", cases), folder / "answers"
    done = subprocess.run([program, asked, replies], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    found, data, at = [], replies.read_bytes(), 0
    for case in cases:
        good, at = data[at], at + 1
        found.append(data[at : at + case.size] if good else None)
        at += case.size if good else 0
    assert at == len(data)
    return found


def test_valid_data_unpacks(program, tmp_path):
    """2,000 blobs of every shape, empty ones and long ones among them."""
    cases = [*valid_cases(1800), *valid_cases(tries(40, 200), 70_000)]
    assert answers(program, tmp_path, cases) == [DECODERS[case.codec](case.packed, case.size) for case in cases]


def test_spoilt_data_does_no_harm_and_is_judged_as_by_the_other_decoders(program, tmp_path):
    """10,000 spoilt inputs: no byte outside the buffers is touched, and the answer is the Python decoders'."""
    cases = spoilt_cases(10_000)
    wanted = [verdict(DECODERS[case.codec], case.packed, case.size) for case in cases]
    assert answers(program, tmp_path, cases) == wanted
    assert 5_000 < wanted.count(None) < 10_000


GUARDS = {
    "reads after the end": ("if (count > room || count > (unsigned long)(in_end - in))", "if (count > room)", 2),
    "writes after the end": ("if (count > room || in == in_end)", "if (in == in_end)", 1),
    "looks before the start": ("back > out_bytes - room || ", "", 1),
}


@pytest.mark.parametrize("name", some(GUARDS, 1))
def test_decoder_without_a_guard_is_caught(name, tmp_path):
    """The same cases end the process of a decoder from which one guard was taken, so they would find its loss."""
    guard, less, count = GUARDS[name]
    text = (CONSOLE / "unpack.c").read_text(encoding="utf-8")
    assert text.count(guard) == count
    weak = tmp_path / "weak.c"
    weak.write_text(text.replace(guard, less), encoding="utf-8")
    asked = write_cases(tmp_path / "cases", spoilt_cases(10_000))
    done = subprocess.run([build(weak, tmp_path), asked, tmp_path / "answers"], capture_output=True, text=True)
    assert done.returncode != 0
    assert "AddressSanitizer" in done.stderr
