"""Project and target files with small changes: what is said about each stays as it was read, and what is accepted is still accepted.

No outside source; the other tests of these rooms say what must be right. If a change is meant: see ``tests.recorded``.
"""

from __future__ import annotations

import random
import re
import shutil
import sys

from pipeline.plain.errors import ProjectError
from pipeline.project.loading.load import load_project
from pipeline.target.loading import load_target, shipped_targets
from tests.console.small_project import DEMO
from tests.graph.everything import make_everything
from tests.recorded import differing, hash_of

_NUMBER = re.compile(r"(?<![\w\"'.#-])(?:0x[0-9A-Fa-f]+|\d+(?:\.\d+)?)(?![\w\"'.])")
_TEXT = re.compile(r'"[^"\n]*"')
_KEY = re.compile(r"^[a-z_]+(?= = )", re.MULTILINE)
_WORDS = ('""', '"no such thing"', '"7"', "7", "true", "[]", '["ada"]', '"art/*.png"', '"512 KiB"', '"ada"', '"quay_colours"', '"%"')


def changed(chance: random.Random, text: str) -> str:
    """Return a file with a number, text or key exchanged, a line less or one twice."""
    kind = chance.choice((_NUMBER, _NUMBER, _NUMBER, _TEXT, _TEXT, _KEY, None, None))
    if kind is None:
        lines = text.splitlines(keepends=True)
        at = chance.choice([rank for rank, line in enumerate(lines) if line.strip()])
        lines[at : at + 1] = chance.choice(([], [], [lines[at]] * 2))
        return "".join(lines)
    one = chance.choice(list(kind.finditer(text)))
    if kind is _NUMBER:
        number = float(one[0]) if "." in one[0] else int(one[0], 0)
        new = str(chance.choice((number + 1, number - 1, 0, -number, 2 * number, number * 1000, 1)))
    elif kind is _TEXT:
        others = [other[0] for other in _TEXT.finditer(text)]
        new = chance.choice((*_WORDS, one[0][:-2] + '"' if len(one[0]) > 2 else '"x"', chance.choice(others), chance.choice(others)))
    else:
        new = chance.choice([other[0] for other in _KEY.finditer(text)])
    return text[: one.start()] + new + text[one.end() :]


def test_changed_projects_are_read_as_before(tmp_path):
    """One change, or three at once, of a project with every table, and of the second demo, which holds other keys."""
    shutil.copytree(DEMO / "veillee", tmp_path / "veillee", ignore=shutil.ignore_patterns("build"))
    found = {}
    for folder, count in ((make_everything(tmp_path / "every"), 70), (tmp_path / "veillee", 10)):
        path, chance = folder / "project.toml", random.Random(folder.name)
        text = path.read_text(encoding="utf-8").replace(sys.executable, "python")
        for rank in range(count):
            new = text
            for _ in range(chance.choice((1, 1, 3))):
                new = changed(chance, new)
            path.write_text(new, encoding="utf-8")
            try:
                found[f"{folder.name}, {rank}"] = f"accepted, {len(load_project(folder).assets)} assets"
            except ProjectError as error:
                found[f"{folder.name}, {rank}"] = hash_of(str(error).encode())
    assert differing("projects changed", found) == set()


def test_changed_targets_are_read_as_before(tmp_path):
    """One change, or two at once, of the shipped consoles and of the one with every table."""
    files = {**{name: path.read_text(encoding="utf-8") for name, path in shipped_targets().items()}}
    files["console"] = (make_everything(tmp_path / "every") / "console.toml").read_text(encoding="utf-8")
    found, path = {}, tmp_path / "target.toml"
    for name, text in sorted(files.items()):
        chance = random.Random(name)
        for rank in range(45):
            new = changed(chance, text)
            path.write_text(changed(chance, new) if rank % 3 == 0 else new, encoding="utf-8")
            try:
                found[f"{name}, {rank}"] = f"accepted, {load_target(path, 'target.toml').name}"
            except ProjectError as error:
                found[f"{name}, {rank}"] = hash_of(str(error).encode())
    assert differing("targets changed", found) == set()
