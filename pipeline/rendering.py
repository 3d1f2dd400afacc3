"""Templates: an author's own, from the project's ``templates`` folder, before the ones that come with the tool."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.bounded import read_whole
from pipeline.bounds import WORDS_BYTES
from pipeline.errors import refuse
from pipeline.shipped import TEMPLATES


def template_file(folder: Path, name: str) -> Path:
    """Return the template used for a project: its own ``templates/NAME`` where there is one, else the shipped one.

    Raises:
        ProjectError: the project's own is a link that leads outside its folder.
    """
    own = folder / "templates" / name
    if not own.is_file():
        return TEMPLATES / name
    if not own.resolve().is_relative_to(folder.resolve()):
        wrong = "leads outside the project folder"
        raise refuse(f"templates/{name}", "", wrong, "copy the template into the project; a kit must not carry your disk")
    return own


def render(folder: Path, name: str, values: dict[str, Any], markup: bool = False) -> str:
    """Return a template filled in.

    Args:
        folder: the project folder.
        values: plain data, and functions that return it; a template sees nothing else.
        markup: escape values for XML.

    Raises:
        ProjectError: the template has a syntax error, or names a value there is not.
    """
    shown = f"templates/{name}"
    try:
        text = read_whole(template_file(folder, name), shown, WORDS_BYTES).decode("utf-8")
    except UnicodeDecodeError as error:
        raise refuse(shown, f"byte {error.start}", "not UTF-8 text", "save the template as UTF-8") from None
    return render_text(text, shown, values, markup)


def render_text(text: str, shown: str, values: dict[str, Any], markup: bool = False) -> str:
    """Return a text with its ``{{ value }}`` parts filled in; see ``render``."""
    import jinja2
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        undefined=jinja2.StrictUndefined, autoescape=markup, keep_trailing_newline=True, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["hex"] = lambda number, digits=8: f"0x{number:0{digits}x}"
    environment.filters["size"] = _size
    try:
        return environment.from_string(text).render(values)
    except jinja2.TemplateSyntaxError as error:
        raise refuse(shown, f"line {error.lineno}", error.message, "correct the template, or remove it to use the shipped one") from None
    except (jinja2.TemplateError, ArithmeticError, TypeError, ValueError, LookupError) as error:
        # The author's template may compute anything, so what goes wrong in it is the author's to correct.
        raise refuse(shown, "", str(error), "correct the template, or remove it to use the shipped one") from None


def _size(count: int) -> str:
    from pipeline.sizes import show_size

    return show_size(count)
