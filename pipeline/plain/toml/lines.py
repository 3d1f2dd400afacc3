"""On which line of a TOML file each key, table and array element is. (The standard reader does not say.)

The text must already have been accepted by ``tomllib``; the scanner relies on that and checks nothing.
"""

from __future__ import annotations

import re

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^\s,\]}#]+(?: [0-9][^\s,\]}#]*)?")  # a date and a time may be separated by a space

Path = tuple[str | int, ...]


def line_map(text: str) -> dict[Path, int]:
    """Return path -> line (from 1) for every key, table, array of tables and array element of a valid TOML text.

    A path is the sequence of keys and array positions: ``("issue", 2, "severity")``.
    """
    return _Scanner(text).scan()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}

    def scan(self) -> dict[Path, int]:
        table: Path = ()
        while self._skip_blank():
            if self.text.startswith("[[", self.at):
                table = self._array_header()
            elif self.text[self.at] == "[":
                self._move(1)
                table = self._resolve(self._keys())
                self._skip_inline()
                self._move(1)
                self.lines.setdefault(table, self.line)
            else:
                self._pair(table)
        return self.lines

    def _array_header(self) -> Path:
        self._move(2)
        *outer, last = self._keys()
        parent = (*self._resolve(outer), last)
        self._skip_inline()
        self._move(2)
        index = self.counts.get(parent, 0)
        self.counts[parent] = index + 1
        self.lines.setdefault(parent, self.line)
        table = (*parent, index)
        self.lines[table] = self.line
        return table

    def _resolve(self, keys: list[str]) -> Path:
        """Walk a header's keys; a key that names an array of tables means its newest element."""
        path: Path = ()
        for key in keys:
            path = (*path, key)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def _pair(self, table: Path) -> None:
        path = table
        for key in self._keys():
            path = (*path, key)
            self.lines.setdefault(path, self.line)
        self._skip_inline()
        self._move(1)  # the equals sign
        self._skip_inline()
        self._value(path)

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip_inline()
            char = self.text[self.at]
            if char in "\"'":
                start = self.at
                self._string()
                keys.append(_unquote(self.text[start : self.at]))
            else:
                keys.append(self._matched(_BARE))
                self._move(len(keys[-1]))
            self._skip_inline()
            if self.text[self.at] != ".":
                return keys
            self._move(1)

    def _matched(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not TOML at character {self.at}")
        return found[0]

    def _value(self, path: Path) -> None:
        char = self.text[self.at]
        if char in "\"'":
            self._string()
        elif char == "[":
            self._array(path)
        elif char == "{":
            self._inline_table(path)
        else:
            self._move(len(self._matched(_SCALAR)))

    def _array(self, path: Path) -> None:
        self._move(1)
        index = 0
        while True:
            self._skip_blank()
            char = self.text[self.at]
            if char == "]":
                self._move(1)
                return
            if char == ",":
                self._move(1)
                continue
            self.lines[(*path, index)] = self.line
            self._value((*path, index))
            index += 1

    def _inline_table(self, path: Path) -> None:
        self._move(1)
        while True:
            self._skip_blank()
            char = self.text[self.at]
            if char == "}":
                self._move(1)
                return
            if char == ",":
                self._move(1)
                continue
            self._pair(path)

    def _string(self) -> None:
        quote = self.text[self.at]
        if self.text.startswith(quote * 3, self.at):
            end = self._end_of_long(quote)
        else:
            end = self.at + 1
            while self.text[end] != quote:
                end += 2 if quote == '"' and self.text[end] == "\\" else 1
            end += 1
        self._move(end - self.at)

    def _end_of_long(self, quote: str) -> int:
        end = self.at + 3
        while not self.text.startswith(quote * 3, end):
            end += 2 if quote == '"' and self.text[end] == "\\" else 1
        end += 3
        while self.text.startswith(quote, end):  # one or two quotes may come before the closing three
            end += 1
        return end

    def _skip_inline(self) -> None:
        while self.at < len(self.text) and self.text[self.at] in " \t":
            self.at += 1

    def _skip_blank(self) -> bool:
        """Skip white space and comments; False at the end of the text."""
        while self.at < len(self.text):
            char = self.text[self.at]
            if char == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif char in " \t\r\n":
                self._move(1)
            else:
                return True
        return False

    def _move(self, count: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count


def _unquote(quoted: str) -> str:
    if quoted[0] == "'":
        return quoted[1:-1]
    import tomllib

    return next(iter(tomllib.loads(f"{quoted} = 0")))
