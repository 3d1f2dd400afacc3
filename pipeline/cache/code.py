"""The tool's own code that a function can reach, and the libraries that this code names: what a result of it depends on."""

from __future__ import annotations

import functools
import hashlib
import re
import sys
import zlib
from importlib import metadata
from pathlib import Path

from pipeline.plain import shipped
from pipeline.plain.bounded import open_regular

_ROOT = Path(__file__).parents[1]
_IMPORT = re.compile(r"^\s*(?:from (pipeline[\w.]*) import (.+)|import (pipeline[\w.]*))", re.MULTILINE)
_LIBRARY = re.compile(
    r"^\s*(?:from|import) (deflate|lz4|numpy|PIL|soxr|soundfile|qrcode|zxingcpp|jinja2|reportlab|msgspec|freetype)\b", re.MULTILINE
)
# What a module imports by its name -> a file that comes with the tool.
_SHIPPED = {f"{shipped.__name__}.{name}": path for name in ("REGULAR", "BOLD", "MONO") for path in [getattr(shipped, name)]}
_DISTRIBUTION = {"PIL": "pillow", "zxingcpp": "zxing-cpp", "freetype": "freetype-py"}


# What was found out in this process, or before by one with the same tool and libraries: by the names of functions.
_digests: dict[tuple[str, ...], dict[str, str | None]] = {}
_versions: dict[tuple[str, ...], dict[str, str]] = {}


def code_digests(*calls: str) -> dict[str, str | None]:
    """Return file -> SHA-256 for the modules of some functions and every module of the tool that they import, however deep.

    A font that comes with the tool counts as part of the modules that import its name from ``plain.shipped``.

    Args:
        calls: names of functions; see ``steps.step.Step.calls``.
    """
    if calls not in _digests:
        _digests[calls] = _find_digests(calls)
    return _digests[calls]


def library_versions(*calls: str) -> dict[str, str]:
    """Return library -> version for every library that the modules of some functions name, and for Python and its zlib."""
    if calls not in _versions:
        _versions[calls] = _find_versions(calls)
    return _versions[calls]


def known_code() -> tuple[dict[tuple[str, ...], dict[str, str | None]], dict[tuple[str, ...], dict[str, str]]]:
    """Return what ``code_digests`` and ``library_versions`` have found out, to be given to ``learn_code`` in another process."""
    return dict(_digests), dict(_versions)


def learn_code(digests: dict[tuple[str, ...], dict[str, str | None]], versions: dict[tuple[str, ...], dict[str, str]]) -> None:
    """Take over what another process found out; tool and libraries must be the same as they were for it."""
    _digests.update(digests)
    _versions.update(versions)


def _find_digests(calls: tuple[str, ...]) -> dict[str, str | None]:
    found: dict[str, str | None] = {}
    waiting = [call.partition(":")[0] for call in calls]
    while waiting:
        path, known_as = _file_of(waiting.pop())
        if path is not None and known_as not in found:
            found[known_as] = _digest(path)
            waiting.extend(_imported(path) if path.suffix == ".py" else ())
    return dict(sorted(found.items()))


def _find_versions(calls: tuple[str, ...]) -> dict[str, str]:
    names = {name for file in code_digests(*calls) if file.endswith(".py") for name in _libraries(_ROOT / file)}
    versions = {name: _version(name) for name in sorted(names)}
    return versions | {"python": f"{sys.version_info.major}.{sys.version_info.minor}", "zlib": zlib.ZLIB_RUNTIME_VERSION}


@functools.cache
def _version(name: str) -> str:
    return metadata.version(_DISTRIBUTION.get(name, name))


@functools.cache
def _libraries(path: Path) -> tuple[str, ...]:
    return tuple(_LIBRARY.findall(path.read_text(encoding="utf-8")))


@functools.cache
def _imported(path: Path) -> list[str]:
    modules = []
    for package, names, module in _IMPORT.findall(path.read_text(encoding="utf-8")):
        modules.append(module or package)
        # "from pipeline.a import b" may name a module b of the package a.
        modules += [f"{package}.{name.strip().split(' ')[0]}" for name in names.strip("( )").split(",") if package and name.strip()]
    return modules


@functools.cache  # asked for each import of each module, again for every step
def _file_of(name: str) -> tuple[Path | None, str]:
    """Return the file of a module, or of what comes with the tool, and its name from the tool's folder; None for any other name."""
    path, top = (_SHIPPED[name], shipped.TEMPLATES.parent) if name in _SHIPPED else (_module_file(name), _ROOT)
    return path, path.relative_to(top).as_posix() if path is not None else ""


def _module_file(name: str) -> Path | None:
    inside = name.split(".")[1:]
    file = _ROOT.joinpath(*inside).with_suffix(".py") if inside else None
    if file is not None and file.is_file():
        return file
    package = _ROOT.joinpath(*inside, "__init__.py")
    return package if package.is_file() else None


@functools.cache  # the same files for nearly every function
def _digest(path: Path) -> str | None:
    """Return the SHA-256 of a file in hex, or None when it cannot be read."""
    try:
        with open_regular(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
