"""Whether a step must run, and why. The answer is data: a list of reasons, kept for every step that ran.

A step is fresh when nothing it depends on differs from its last good run: the bytes of every file read, the settings,
the code of the tool it can reach, the libraries' versions, and the bytes of every file it wrote.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.cache.code import code_digests, library_versions
from pipeline.graph.freshness.digest import file_digest, read_digest
from pipeline.graph.freshness.manifest import listed_files
from pipeline.graph.freshness.settings import ORDER, flatten, is_hashed, shown_path
from pipeline.graph.steps.step import Step


class Freshness:
    """The check of one step; doit calls it with the values saved by the step's last good run."""

    def __init__(self, step: Step, folder: Path) -> None:
        self.step = step
        self.folder = folder
        self.reasons: list[str] = []
        self._now: dict[str, dict[str, Any]] = {}
        self._task: Any = None  # doit's own
        self._left: dict[str, str | None] | None = None

    def __call__(self, task, values) -> bool:
        """Return whether the step is fresh; ``reasons`` says why not."""
        self._task = task
        self._now = self._inputs()
        if self._save not in task.value_savers:
            task.value_savers.append(self._save)
        before, self._left = values.get("inputs"), values.get("outputs")
        if self.step.always:
            self.reasons = []
            return False
        if before is None:
            self.reasons = ["it has not been built yet"]
            return False
        self.reasons = [reason for part in _PARTS for reason in _compare(part, before.get(part, {}), self._now[part])]
        self.reasons += self._output_reasons(values.get("outputs", {}))
        return not self.reasons

    def _inputs(self) -> dict[str, dict[str, Any]]:
        return {
            "settings": flatten(self.step.arguments, self.folder),
            "reads": {self._shown(path): read_digest(path, self.step.views) for path in self.step.reads},
            "code": code_digests(*self.step.calls) | {"function": self.step.call},
            "libraries": library_versions(*self.step.calls),
        }

    def _save(self) -> dict[str, Any]:
        """Values doit keeps after a good run. The files' hashes are those of ``perform``: what the step has read."""
        read = self._task.values.pop("read")
        self._task.result = None  # doit would keep it a second time
        self._now["reads"] = {self._shown(path): read[str(path)] for path in self.step.reads}
        outputs = {self._shown(path): file_digest(path) for path in self._outputs()}
        self._left = outputs
        return {"inputs": self._now, "outputs": outputs, "reasons": self.reasons}

    def is_as_left(self) -> bool:
        """Return whether the step's outputs are, at this moment, those of its last good run."""
        return self._left is not None and not self._output_reasons(self._left)

    def _outputs(self) -> list[Path]:
        paths = list(self.step.writes)
        if self.step.manifest:
            paths += sorted(listed_files(self.step.manifest) or ())
        return paths

    def _output_reasons(self, before: dict[str, str | None]) -> list[str]:
        reasons = []
        for name in sorted(before.keys() | {self._shown(path) for path in self._outputs()}):
            digest = file_digest(self.folder / name)
            if digest is None:
                reasons.append(f"output missing: {name}")
            elif digest != before.get(name):
                reasons.append(f"output altered: {name}")
        return reasons

    def _shown(self, path: Path) -> str:
        return shown_path(path, self.folder)


_PARTS = {"settings": "setting", "reads": "file", "code": "tool", "libraries": "library"}


def _compare(part: str, before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    word, reasons = _PARTS[part], []
    unlike = before.keys() ^ now.keys()
    for key in sorted(before.keys() | now.keys()):
        old, new = before.get(key), now.get(key)
        if old == new or _is_implied(key, unlike):
            continue
        if key not in before:
            reasons.append(f"{word} added: {key}")
        elif key not in now:
            reasons.append(f"{word} gone: {key}")
        elif part in ("settings", "libraries") and not is_hashed(str(old)):
            reasons.append(f"{word} changed: {key} from {old} to {new}")
        else:
            reasons.append(f"{word} changed: {key}")
    return reasons


def _is_implied(key: str, unlike: set[str]) -> bool:
    """Return whether a key is the order of a table in which something was added or gone, which is reason enough."""
    return key.startswith(ORDER) and any(one.startswith(f"{key.removeprefix(ORDER)}.") for one in unlike)
