"""Known issues that a text cites by number, in any spelling: ``HR-009``, ``hr 9``, ``Hr009``, ``#9``, ``known issue no. 9``."""

from __future__ import annotations

import re
from collections.abc import Iterable

_SIGN = r"(?:#|nr\.?|no\.?|n[º°]|number)"
_ISSUE = rf"(?:(?:known\s+)?issue|known\s+(?:bug|problem)|bekannte\w*\s+(?:fehler|problem)|(?:fehler|problema?|error|bug)\s*{_SIGN})"
_NUMBER = re.compile(rf"(?:(?<!\w){_ISSUE}\s*{_SIGN}?\s*|(?<![\w&])#)0*([0-9]{{1,6}})(?![\w.]*\d)", re.IGNORECASE)
_PARTS = re.compile(r"(.*?)[\W_]*0*([0-9]{1,6})", re.DOTALL)


class Citations:
    """The ids of the known issues, by how they may be written."""

    def __init__(self, ids: Iterable[str]) -> None:
        """Take the ids, such as ``HR-009``."""
        self._by_number: dict[str, list[str]] = {}
        self._patterns = []
        for one in ids:
            parts = _PARTS.fullmatch(one)
            letters, number = (parts[1], parts[2]) if parts else (one, "")
            if number:
                self._by_number.setdefault(number, []).append(one)
            if letters:
                spaced = r"[\W_]*".join(re.escape(word) for word in re.findall(r"[^\W_]+", letters)) or re.escape(letters)
                tail = rf"[\W_]{{0,3}}0*{number}(?![0-9])" if number else r"(?!\w)"
                self._patterns.append((one, re.compile(rf"(?<!\w){spaced}{tail}", re.IGNORECASE)))

    def cited(self, text: str) -> list[str]:
        """Return the ids that a text cites, each once, in the order of the project."""
        found = {one for one, pattern in self._patterns if pattern.search(text)}
        numbers = [match[1] for match in _NUMBER.finditer(text)]
        if not {"1", "2"} <= set(numbers):  # "issue 1: ... issue 2: ..." numbers the tester's own list
            found |= {ids[0] for number in numbers if len(ids := self._by_number.get(number, [])) == 1}
        return [one for ids in self._by_number.values() for one in ids if one in found] + sorted(
            one for one in found if not any(one in ids for ids in self._by_number.values())
        )

    def answered(self, text: str) -> list[str]:
        """Return the ids that the answer to "which known issue is it?" cites: there, a number alone does."""
        found = self.cited(text)
        alone = re.fullmatch(r"\W*0*([0-9]{1,6})\W*", text)
        return found or (self._by_number.get(alone[1], [])[:1] if alone else [])
