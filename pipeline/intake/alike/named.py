"""What testers call things, and the names that the project has for them."""

from __future__ import annotations

import re


class Names:
    """The names of a project's places and figures."""

    def __init__(self, names: dict[str, list[str]]) -> None:
        """Take name -> what else it is called."""
        self._of = {said.casefold(): name for name, every in names.items() for said in every if said.strip()}
        longest = sorted(self._of, key=lambda said: (-len(said), said))
        self._pattern = _pattern(longest)
        self._names = _pattern(sorted({name for name in names if name.strip()}, key=lambda name: (-len(name), name)))

    def named(self, text: str) -> str:
        """Return a text in which things have their names."""
        if self._pattern is None:
            return text
        return self._pattern.sub(lambda match: self._of.get(match[0].casefold(), match[0]), text)

    def without(self, text: str) -> str:
        """Return a text in which things have their names with "it" for each."""
        return text if self._names is None else self._names.sub("it", text)


def _pattern(longest: list[str]) -> re.Pattern[str] | None:
    return re.compile(r"(?<!\w)(?:" + "|".join(map(re.escape, longest)) + r")(?!\w)", re.IGNORECASE) if longest else None
