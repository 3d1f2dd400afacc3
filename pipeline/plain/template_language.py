"""What a template may say: jinja2's sandbox without whatever would differ from build to build, and less for short texts.

In a template nothing comes from chance: no ``lipsum``, no ``random``, and no object that shows its place in memory. A text of a
message file names values and asks with ``if``, so what it gives is about as long as it is itself.
"""

from __future__ import annotations

import functools
import hashlib
import importlib.util
import marshal
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from types import CodeType
from typing import Any

import jinja2
from jinja2 import nodes
from jinja2.runtime import Macro, Undefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.utils import Cycler, Joiner

from pipeline.plain import errors, sizes
from pipeline.plain.bounded import open_regular
from pipeline.plain.errors import ProjectError, shown
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import show_size

# Control characters that no page may hold (HTML and XML 1.0), what changes the direction of the text around it (Unicode UAX 9:
# embeddings, overrides, isolates), ends of lines and marks that cannot be seen. Letters written from right to left stay.
_HIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb\ud800-\udfff]")
_FILTERS_OF_TEXTS = {"upper", "lower", "capitalize", "title", "trim"}
_PARTS_OF_TEXTS = (
    nodes.Template, nodes.Output, nodes.TemplateData, nodes.Name, nodes.If, nodes.CondExpr, nodes.Const, nodes.Compare, nodes.Operand,
    nodes.And, nodes.Or, nodes.Not, nodes.Filter, nodes.Test, nodes.Concat,
)  # fmt: skip


class AsItIs(str):
    """Text that a page may hold as it is, such as base64: it is not looked through."""

    def __html__(self) -> str:
        return self


def _seen(value: Any) -> Any:
    """Return a value as a page shows it: hidden characters of a text as escapes such as \\u202e."""
    if not isinstance(value, str) or isinstance(value, AsItIs) or value.isprintable():
        return value
    return type(value)(_HIDDEN.sub(lambda found: shown(found[0]), value))


class _Function:
    """A function that a template may call, and that shows its name and not its place in memory."""

    def __init__(self, name: str, function: Callable) -> None:
        self._name = name
        self._function = function

    def __call__(self, *words: Any, **named: Any) -> Any:
        return self._function(*words, **named)

    def __repr__(self) -> str:
        return f"<function {self._name}>"


class _Cycler(Cycler):
    def __repr__(self) -> str:
        return "<cycler>"


class _Joiner(Joiner):
    def __repr__(self) -> str:
        return "<joiner>"


class TemplateEnvironment(ImmutableSandboxedEnvironment):
    """The environment of every template."""

    intercepted_binops = frozenset("-")

    def __init__(self, markup: bool) -> None:
        super().__init__(
            undefined=jinja2.StrictUndefined,
            autoescape=markup,
            finalize=_seen if markup else None,
            keep_trailing_newline=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        del self.globals["lipsum"], self.filters["random"]
        self.globals |= {"cycler": _Cycler, "joiner": _Joiner, "range": _Function("range", self.globals["range"])}
        for name in ("map", "select", "reject", "selectattr", "rejectattr", "batch", "slice", "items", "reverse", "unique"):
            self.filters[name] = _as_list(self.filters[name])
        self.filters["hex"] = lambda number, digits=8: f"0x{number:0{digits}x}"
        self.filters["size"] = show_size

    def getattr(self, obj: Any, attribute: str) -> Any:
        return named(attribute, super().getattr(obj, attribute))

    def getitem(self, obj: Any, argument: Any) -> Any:
        return named(str(argument), super().getitem(obj, argument))

    def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
        """Return the difference of two values; that of the keys of two tables as a sorted list, since a set has no order."""
        found = super().call_binop(context, operator, left, right)
        return sorted(found) if isinstance(found, set | frozenset) else found


def named(name: str, value: Any) -> Any:
    """Return a value as a template may see it: a function under its name, all else as it is."""
    is_function = callable(value) and not isinstance(value, type | Macro | Undefined | _Function)
    return _Function(name, value) if is_function else value


def _as_list(function: Callable) -> Callable:
    """Return a filter whose result is a list where it would be a generator, which shows its place in memory."""

    @functools.wraps(function)  # takes over what marks a filter that is given the context
    def listed(*words: Any, **named_words: Any) -> Any:
        found = function(*words, **named_words)
        return list(found) if isinstance(found, Iterator) else found

    return listed


@functools.cache
def environment(markup: bool) -> TemplateEnvironment:
    """Return the environment of templates that escape values for XML, or do not."""
    return TemplateEnvironment(markup)


@functools.lru_cache(256)
def compiled(text: str, markup: bool, file: Path | None = None) -> jinja2.Template:
    """Return a template of such an environment; compiled once in a process, and in those forked from it.

    Args:
        file: of the tool's own that holds the text. What it is compiled to is kept as Python keeps that of a module: in a folder
            beside it, and where that cannot be written it is not. It is used while text, environment and Python are the same.

    Raises:
        jinja2.TemplateSyntaxError: it is not a template.
    """
    if file is None:
        return environment(markup).from_string(text)
    kept, stamp = Path(importlib.util.cache_from_source(str(file))), _stamp(text, markup)
    code = _kept_code(kept, stamp)
    if code is None:
        code = environment(markup).compile(text)
        if not sys.dont_write_bytecode:
            body = marshal.dumps(code)
            with suppress(ProjectError, OSError):
                kept.parent.mkdir(exist_ok=True)
                write_bytes(kept, stamp + hashlib.sha256(body).digest() + body)
    return environment(markup).template_class.from_code(environment(markup), code, environment(markup).make_globals(None))


def _stamp(text: str, markup: bool) -> bytes:
    """Return a hash of all that compiled code depends on."""
    return hashlib.sha256(_environment_sum() + bytes([markup]) + text.encode("utf-8", "surrogatepass")).digest()


@functools.cache
def _environment_sum() -> bytes:
    """Return a hash of Python, jinja2, and the code that may have worked out constant parts of a template."""
    known = [importlib.util.MAGIC_NUMBER, sys.version.encode(), jinja2.__version__.encode()]
    known += [Path(file).read_bytes() for file in (__file__, errors.__file__, sizes.__file__)]
    return hashlib.sha256(b"".join(hashlib.sha256(one).digest() for one in known)).digest()


def _kept_code(file: Path, stamp: bytes) -> CodeType | None:
    """Return what was compiled before, or None where that is damaged or of something else."""
    try:
        with open_regular(file) as opened:
            data = opened.read()
    except OSError:
        return None
    start, body = data[:64], data[64:]
    return marshal.loads(body) if start == stamp + hashlib.sha256(body).digest() else None


@functools.lru_cache(2048)
def text_of_messages(text: str) -> tuple[jinja2.Template, frozenset[str]]:
    """Return a text of a message file as a template, and the names of all values it is filled in with.

    Raises:
        jinja2.TemplateSyntaxError: it is not a template, or says more than such a text may.
    """
    try:
        tree = environment(False).parse(text)
        names = {one.name for one in _parts(tree) if isinstance(one, nodes.Name)}
        return environment(False).from_string(text), frozenset(names)
    except (RecursionError, MemoryError, SyntaxError):
        raise jinja2.TemplateSyntaxError("nested too deep", 1) from None


def _parts(tree: nodes.Template) -> Iterator[nodes.Node]:
    """Yield every part of a text, none of which repeats, computes or calls anything.

    Raises:
        jinja2.TemplateSyntaxError: one does.
    """
    waiting: list[nodes.Node] = [tree]
    while waiting:
        part = waiting.pop()
        yield part
        if not isinstance(part, _PARTS_OF_TEXTS) or isinstance(part, nodes.Filter) and part.name not in _FILTERS_OF_TEXTS:
            what = f"the filter {part.name}" if isinstance(part, nodes.Filter) else type(part).__name__.lower()
            allowed = "values, if, comparisons, ~ and the filters " + ", ".join(sorted(_FILTERS_OF_TEXTS))
            raise jinja2.TemplateSyntaxError(f"{what} is not for a text of a message file, which may have {allowed}", part.lineno)
        waiting.extend(part.iter_child_nodes())
