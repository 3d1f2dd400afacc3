"""Functions by name, loaded only when they are called."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Call:
    """A function of the tool. A step with one among its arguments depends on that function's code and no other's of its table.

    Attributes:
        name: ``module:function``.
    """

    name: str

    def __call__(self, *words: Any, **arguments: Any) -> Any:
        """Call the function and return what it returns."""
        module, _, function = self.name.partition(":")
        return getattr(importlib.import_module(module), function)(*words, **arguments)


def calls_in(arguments: dict[str, Any]) -> tuple[str, ...]:
    """Return the names of the calls among arguments, and of those in tables and tuples among them."""
    return tuple(call.name for value in arguments.values() for call in _calls(value))


def _calls(value: Any) -> Iterator[Call]:
    if isinstance(value, Call):
        yield value
    elif isinstance(value, dict | tuple):
        for part in value.values() if isinstance(value, dict) else value:
            yield from _calls(part)
