"""Templates: an author's own, from the project's ``templates`` folder, before the ones that come with the tool.

Those of the tool are filled in at once. An author's own could run for ever or fill the memory, by mistake or because somebody
else wrote it, so it is filled in by a process of its own with the bounds of ``apart``.
"""

from __future__ import annotations

import functools
import json
import re
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any

from pipeline.plain.apart import TooMuch, run_apart
from pipeline.plain.bounded import read_whole
from pipeline.plain.bounds import WORDS_BYTES
from pipeline.plain.errors import Problem, ProjectError, refuse
from pipeline.plain.shipped import TEMPLATES

_REMEDY = "correct the template, or remove it to use the shipped one"
_VALUE = re.compile(r"\{\{ *([a-z_]+) *\}\}")
# Words of the template language that are not the names of values.
_WORDS = frozenset({"and", "elif", "else", "false", "if", "in", "is", "none", "not", "or", "true"})


@dataclass(frozen=True)
class Template:
    """A template that was found.

    Attributes:
        file: where it is.
        name: of the file below the folder ``templates``, the project's or the tool's.
    """

    file: Path
    name: str

    @property
    def shipped(self) -> bool:
        """Whether it is the tool's own."""
        return self.file == TEMPLATES / self.name


def find_template(folder: Path, name: str) -> Template:
    """Return the template used for a project: its own ``templates/NAME`` where there is one, else the shipped one.

    Raises:
        ProjectError: the project's own is a link that leads outside its folder.
    """
    own = folder / "templates" / name
    if not own.is_file():
        return Template(TEMPLATES / name, name)
    if not own.resolve().is_relative_to(folder.resolve()):
        wrong = "leads outside the project folder"
        raise refuse(f"templates/{name}", "", wrong, "copy the template into the project; a kit must not carry your disk")
    return Template(own, name)


def render(template: Template, values: dict[str, Any], markup: bool = False) -> str:
    """Return a template filled in.

    Args:
        values: plain data, and functions that return it; a template sees nothing else.
        markup: escape values for XML.

    Raises:
        ProjectError: the template has a syntax error, names an unknown value, or needs more than ``apart`` allows.
    """
    shown, file = f"templates/{template.name}", template.file
    try:
        text = read_whole(file, shown, WORDS_BYTES).decode("utf-8-sig")  # some editors begin a file with a byte order mark
    except UnicodeDecodeError as error:
        raise refuse(shown, f"byte {error.start}", "not UTF-8 text", "save the template as UTF-8") from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise refuse(shown, f"line {line}", "holds a NUL character", "save the template as plain text in UTF-8")
    if template.shipped:
        return _fill(text, shown, values, markup, file)
    return _fill_apart(text, shown, values, markup)


def render_text(text: str, shown: str, values: dict[str, Any]) -> str:
    """Return a text of a message file with its ``{{ value }}`` parts filled in.

    Raises:
        ProjectError: it is not a template, says more than ``plain.template_language`` allows such a text, or names a value there is not.
    """
    parts = simple_parts(text)
    if parts is not None and values.keys() >= set(parts[1::2]):
        return "".join(str(values[part]) if rank % 2 else part for rank, part in enumerate(parts))
    import jinja2

    from pipeline.plain.template_language import text_of_messages

    try:
        return text_of_messages(text)[0].render(values)
    except jinja2.TemplateSyntaxError as error:
        raise refuse(shown, "", str(error.message), _REMEDY) from None
    except (jinja2.TemplateError, TypeError) as error:
        raise refuse(shown, "", str(error), _REMEDY) from None


@functools.lru_cache(2048)
def simple_parts(text: str) -> tuple[str, ...] | None:
    """Return a text that is a template of names alone, such as ``{{ build }}``, as text, name, text, name ... text; None for any other.

    Most texts of a message file are of this kind, and filling in is then far quicker than compiling a template for each.
    """
    parts = tuple(_VALUE.split(text))
    # All else is for jinja2: other parts of its language, and ends of lines, which it makes alike.
    simple = not any("{" in part or "\r" in part for part in parts[::2]) and _WORDS.isdisjoint(parts[1::2])
    return parts if simple else None


def _fill_apart(text: str, shown: str, values: dict[str, Any], markup: bool) -> str:
    def fill() -> bytes:
        try:
            return b"+" + _fill(text, shown, values, markup).encode()
        except ProjectError as error:
            return b"-" + json.dumps([astuple(problem) for problem in error.problems]).encode()
        except UnicodeEncodeError:
            return b"-" + json.dumps([[shown, "", "gives half of a surrogate pair, which no file can hold", _REMEDY]]).encode()

    try:
        said = run_apart(fill)
    except TooMuch as error:
        raise refuse(shown, "", str(error), "look for a loop, a macro or a number that is larger than meant; " + _REMEDY) from None
    if said[:1] == b"-":
        raise ProjectError(Problem(*parts) for parts in json.loads(said[1:]))
    return said[1:].decode()


def _fill(text: str, shown: str, values: dict[str, Any], markup: bool, shipped: Path | None = None) -> str:
    import jinja2

    from pipeline.plain.template_language import compiled, named

    try:
        template = compiled(text, markup, shipped)
        return template.render({name: named(name, value) for name, value in values.items()})
    except jinja2.TemplateSyntaxError as error:
        raise refuse(shown, f"line {error.lineno}", str(error.message), _REMEDY) from None
    except ProjectError:
        raise
    except RecursionError as error:
        raise refuse(shown, _line(error), "is nested too deep, or calls itself without an end", _REMEDY) from None
    except MemoryError:
        raise
    except Exception as error:
        # The author's template may compute anything, so what goes wrong in it is the author's to correct.
        raise refuse(shown, _line(error), str(error) or type(error).__name__, _REMEDY) from None


def _line(error: BaseException) -> str:
    """Return the line of the template in which an error arose, as far as jinja2 has put it into the traceback."""
    trace, line = error.__traceback__, ""
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == "<template>":
            line = f"line {trace.tb_lineno}"
        trace = trace.tb_next
    return line
