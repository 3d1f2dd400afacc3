"""Docstrings of records, also when Python leaves them out (``python -OO``): schema and pages are made from them."""

from __future__ import annotations

import ast
import functools
import sys
from pathlib import Path

from pipeline.plain.written import Record


def restore_docs() -> None:
    """Give every record that has lost its docstring the one in its module's source."""
    if sys.flags.optimize < 2:
        return
    waiting = [Record]
    while waiting:
        record = waiting.pop()
        waiting.extend(record.__subclasses__())
        if record.__doc__ is None:
            record.__doc__ = _docs_of(record.__module__).get(record.__name__)


@functools.cache
def _docs_of(module: str) -> dict[str, str]:
    """Return class -> docstring, as Python itself keeps it."""
    file = sys.modules[module].__file__
    if file is None:
        return {}
    tree = ast.parse(Path(file).read_text(encoding="utf-8"))
    found = {one.name: ast.get_docstring(one, clean=False) for one in ast.walk(tree) if isinstance(one, ast.ClassDef)}
    return {name: text for name, text in found.items() if text is not None}
