"""Writing a document of tables, lists and plain values as TOML, in one of many styles that all mean the same."""

from __future__ import annotations

import json
import random
import re
from typing import Any

DATE = "@date "  # before a text that represents a date, which JSON has no type for
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def write_toml(data: dict[str, Any], style: int = 0) -> str:
    """Return a document as TOML.

    Args:
        data: tables in order; within a table plain values are written before tables, which TOML asks for.
        style: 0 for the plain style; other numbers draw comments, empty lines, quotes and inline tables at random.
    """
    return _Writer(random.Random(style) if style else None).document(data)


class _Writer:
    def __init__(self, rng: random.Random | None) -> None:
        self.rng = rng
        self.lines: list[str] = []

    def _luck(self, share: float) -> bool:
        return self.rng is not None and self.rng.random() < share

    def document(self, data: dict[str, Any]) -> str:
        self._body(data, ())
        return "\n".join(self.lines) + "\n"

    def _body(self, table: dict[str, Any], path: tuple[str, ...]) -> None:
        later = []
        for key, value in table.items():
            if self._as_tables(value):
                later.append((key, value))
            else:
                comment = "  # so it is" if self._luck(0.1) else ""
                self.lines.append(f"{_key(key)} = {self._value(value)}{comment}")
        for key, value in later:
            name = ".".join(map(_key, (*path, key)))
            for part in [value] if isinstance(value, dict) else value:
                if self._luck(0.3):
                    self.lines.append("")
                if self._luck(0.1):
                    self.lines.append("# Another part.")
                # A table that only holds tables needs no header; an empty one does.
                if isinstance(value, list):
                    self.lines.append(f"[[{name}]]")
                elif not part or not all(self._as_tables(one) for one in part.values()):
                    self.lines.append(f"[{name}]")
                self._body(part, (*path, key))

    def _as_tables(self, value: Any) -> bool:
        if isinstance(value, list):
            return bool(value) and all(isinstance(one, dict) for one in value)
        return isinstance(value, dict)

    def _value(self, value: Any) -> str:
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, str):
            return value.removeprefix(DATE) if value.startswith(DATE) else self._text(value)
        if isinstance(value, list):
            if value and self._luck(0.3):
                return "[\n" + "".join(f"    {self._value(one)},\n" for one in value) + "]"
            return f"[{', '.join(map(self._value, value))}]"
        if isinstance(value, dict):
            return "{ " + ", ".join(f"{_key(key)} = {self._value(one)}" for key, one in value.items()) + " }" if value else "{}"
        return repr(value)

    def _text(self, value: str) -> str:
        if self._luck(0.3) and "'" not in value and value.isprintable():
            return f"'{value}'"
        # TOML has no pairs of surrogates for letters beyond 16 bits, as JSON has.
        return json.dumps(value, ensure_ascii=max(value, default="a") < "\U00010000" and self._luck(0.3)).replace("\x7f", "\\u007f")




def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)
