"""Data flows one way: which rooms may import which, and what a build with nothing to do must not import."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "pipeline"
# Room -> rooms it may import besides itself and the modules that belong to no room.
MAY_IMPORT = {
    "pixels": set(),
    "sound": set(),
    "codec": set(),
    "assets": {"pixels", "sound", "codec"},
    "rom": set(),
    "memory": set(),
    "release": {"memory"},
    "report": {"rom", "pixels", "memory"},
    "intake": set(),
    "reference": set(),
    "graph": {"pixels", "sound", "codec", "assets", "rom", "memory", "release", "intake", "report", "reference"},
}
# Modules outside any room that may look into one: the front doors, and checks that share the target's formats.
FRONT = {"__main__": {"graph"}, "start": set()}


def _modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _room(path: Path) -> str:
    inside = path.relative_to(PACKAGE)
    return inside.parts[0] if len(inside.parts) > 1 else ""


def _imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} has a relative import; write it in full, so that code_digests sees it"
            found.update({node.module} | {f"{node.module}.{alias.name}" for alias in node.names})
    return found


def _rooms_of(names: set[str]) -> set[str]:
    parts = [name.split(".") for name in names if name.startswith("pipeline.")]
    return {part[1] for part in parts if (PACKAGE / part[1]).is_dir()}


@pytest.mark.parametrize("path", _modules(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_module_imports_only_rooms_below_its_own(path):
    """A module imports its own room and those the table allows; a module of no room imports no room."""
    room = _room(path)
    allowed = MAY_IMPORT[room] | {room} if room else FRONT.get(path.stem, set())
    assert _rooms_of(_imports(path)) <= allowed


def test_every_room_is_in_the_table():
    """A new room must be given its place before it can land."""
    rooms = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert rooms == set(MAY_IMPORT)


@pytest.mark.parametrize("path", _modules(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_only_graph_and_the_command_know_doit(path):
    """No other module imports doit."""
    knows = any(name.split(".")[0] == "doit" for name in _imports(path))
    assert not knows or _room(path) == "graph" or path.stem == "__main__"


def test_reader_shares_only_field_definitions_with_the_writer():
    """The modules that read an image back import nothing that writes one."""
    writers = {"pipeline.rom.image", "pipeline.rom.layout", "pipeline.rom.checksum", "pipeline.rom.steps", "pipeline.pixels.pack"}
    for name in ("reader", "reader_sums", "decode", "show", "unpack", "verify"):
        assert not _imports(PACKAGE / f"rom/{name}.py") & writers, name


def test_loading_a_plan_imports_no_heavy_library():
    """What every start imports, a build with nothing to do included, leaves out numpy, Pillow and reportlab."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from pipeline.graph.front import tasks\n"
        "from pipeline.graph.plan import plan_project\n"
        "from pipeline.project import load_project\n"
        "plan = plan_project(load_project(Path('demo_project')))\n"
        "assert len(list(tasks(plan))) > 50\n"
        "heavy = {'numpy', 'PIL', 'reportlab', 'jinja2', 'qrcode', 'soxr', 'zxingcpp', 'rapidfuzz'} & set(sys.modules)\n"
        "print(sorted(heavy))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("path", _modules(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_module_says_its_purpose_first(path):
    """Every module opens with a docstring; none is a catch-all by name."""
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert path.stem not in ("utils", "helpers", "common", "misc")
