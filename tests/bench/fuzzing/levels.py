"""A level's text: rows of numbers. What is accepted is compared with what Python's csv module reads (RFC 4180). And a file of texts."""

from __future__ import annotations

import csv
import functools
import io
import random
from pathlib import Path

from pipeline.assets.texts.read import read_texts
from pipeline.graph.plan import plan_project
from pipeline.graph.steps.step import Step
from pipeline.joints.layouts import LEVEL, record_bytes
from pipeline.project.loading.load import load_project
from tests.bench.fuzzing.formats import Format, Wrong, perform_here
from tests.bench.fuzzing.parts import Part, damaged
from tests.makers import make_project

_PARTINGS = (",", ",", ",", ";", "\t", " ", " , ")
_ODD = ("", "x", "-1", "+7", "1.5", "1e3", "0x10", "65535", "65536", "9" * 40, "1_0", "٣", '"8"', '"8', "\0", "\ufeff1", " 9 ", "\x0b5")


def _cell(chance: random.Random) -> str:
    return chance.choice(_ODD) if chance.random() < 0.01 else f"{chance.choice((0, 1, 7, 63, 255, chance.randrange(256)))}"


def _level(chance: random.Random) -> Part:
    width, height = (chance.choice((1, 2, 5, 16, 40)) for _ in range(2))
    parting, end = chance.choice(_PARTINGS), chance.choice(("\n", "\n", "\r\n", "\r"))
    rows = []
    for _ in range(height):
        length = width if chance.random() < 0.99 else max(0, width + chance.choice((-1, 1, 100)))
        rows.append((parting.join(_cell(chance) for _ in range(length)) + end).encode())
    mark = b"\xef\xbb\xbf" if chance.random() < 0.1 else b""
    top = Part([mark, *rows])
    return damaged(chance, top, chance.choice((1, 1, 2, 4))) if chance.random() < 0.25 else top


def _run(folder: Path, data: bytes) -> str:
    perform_here(_step(folder))
    blob = (folder / "build/blobs/cave.bin").read_bytes()
    cells = list(blob[-(-record_bytes(LEVEL) // 4) * 4 :])
    text = data.decode("utf-8-sig")
    mark = next((mark for mark in ",;" if mark in text), None)
    lines = io.StringIO(text, newline=None)
    rows = csv.reader(lines, delimiter=mark, skipinitialspace=True) if mark else (line.replace('"', "").split() for line in lines)
    wanted = [int(cell) for row in rows for cell in row]
    if cells != wanted:
        raise Wrong("Python's csv reads other numbers")
    return "accepted"


def _prepare(folder: Path) -> None:
    folder.rmdir()
    make_project(folder, more='[level.cave]\nfile = "cave.csv"\n')
    (folder / "cave.csv").write_bytes(b"1\n")
    (folder / "build/blobs").mkdir(parents=True)
    _step(folder)


@functools.cache
def _step(folder: Path) -> Step:
    return next(one for one in plan_project(load_project(folder)).steps if one.name == "level:cave")


_KEYS = ("start", "over", "a", "a1_b", "A", "1a", "", "a b", "k" * 48, "k" * 49, "é")
_SAID = ("Go", "", "a = b", "\\n", "x\\ny", "\\\\", "\\t", "#", "é\u20ac", "\U0001f6a2", "\t", "\0", "\x85", "\u2028", "x" * 70000)


def _words(chance: random.Random) -> Part:
    end, rows = chance.choice(("\n", "\n", "\r\n", "\r")), []
    for rank in range(chance.choice((1, 2, 8, 40))):
        key = f"key{rank}" if chance.random() < 0.95 else chance.choice(_KEYS)
        said = chance.choice(_SAID) if chance.random() < 0.2 else "word " * chance.randrange(4)
        rows.append(chance.choice(("", " ")) + key + chance.choice(("=", " = ", " = ", "\t=")) + said + end)
        rows += [chance.choice(("# note", "", "  ")) + end] if chance.random() < 0.1 else []
    top = Part([b"\xef\xbb\xbf" if chance.random() < 0.1 else b"", *(row.encode() for row in rows)])
    return damaged(chance, top, chance.choice((1, 1, 2, 4))) if chance.random() < 0.25 else top


def _run_words(folder: Path, data: bytes) -> str:
    found = read_texts(folder, "words.txt")
    lines = [line.strip(" \t") for line in io.StringIO(data.decode("utf-8-sig"), newline=None).read().split("\n")]
    wanted = [line.partition("=")[0].strip(" \t") for line in lines if line and not line.startswith("#")]
    if list(found) != wanted:
        raise Wrong("other keys were found than are before the equals signs")
    return "accepted"


FORMATS = (
    Format("level", _level, "cave.csv", _prepare, _run, 256 << 20),
    Format("texts", _words, "words.txt", lambda folder: None, _run_words, 256 << 20),
)
