"""Whether a step must run, and why. The answer is data: a list of reasons, kept for every step that ran.

A step is fresh when nothing it depends on differs from its last good run: the bytes of every file read, the settings,
the code of the tool it can reach, the libraries' versions, and the bytes of every file it wrote.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import msgspec

from pipeline.graph.digest import code_digests, file_digest, library_versions
from pipeline.graph.manifest import listed_files
from pipeline.graph.step import Step

_LONG = 80  # longer settings are kept as a hash


class Freshness:
    """The check of one step; doit calls it with the values saved by the step's last good run."""

    def __init__(self, step: Step, folder: Path) -> None:
        self.step = step
        self.folder = folder
        self.reasons: list[str] = []
        self._now: dict[str, dict[str, Any]] = {}

    def __call__(self, task, values) -> bool:
        """Return whether the step is fresh; ``reasons`` says why not."""
        self._now = self._inputs()
        if self._save not in task.value_savers:
            task.value_savers.append(self._save)
        before = values.get("inputs")
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
            "settings": flatten(self.step.arguments, str(self.folder)),
            "reads": {self._shown(path): file_digest(path) for path in self.step.reads},
            "code": code_digests(self.step.call),
            "libraries": library_versions(self.step.call),
        }

    def _save(self) -> dict[str, Any]:
        """Values doit keeps after a good run. The inputs are those seen before it, so that an edit meanwhile counts as new."""
        outputs = {self._shown(path): file_digest(path) for path in self._outputs()}
        return {"inputs": self._now, "outputs": outputs, "reasons": self.reasons}

    def _outputs(self) -> list[Path]:
        paths = list(self.step.writes)
        if self.step.manifest:
            paths += sorted(listed_files(self.step.manifest) or ())
        return paths

    def _output_reasons(self, before: dict[str, str]) -> list[str]:
        reasons = []
        for name in sorted(before.keys() | {self._shown(path) for path in self._outputs()}):
            digest = file_digest(self.folder / name)
            if digest is None:
                reasons.append(f"output missing: {name}")
            elif digest != before.get(name):
                reasons.append(f"output altered: {name}")
        return reasons

    def _shown(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else f"tool:{path.name}"


_PARTS = {"settings": "setting", "reads": "file", "code": "tool", "libraries": "library"}


def _compare(part: str, before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    word, reasons = _PARTS[part], []
    for key in sorted(before.keys() | now.keys()):
        old, new = before.get(key), now.get(key)
        if old == new:
            continue
        if key not in before:
            reasons.append(f"{word} added: {key}")
        elif key not in now:
            reasons.append(f"{word} gone: {key}")
        elif part in ("settings", "libraries") and not str(old).startswith("sha256 "):
            reasons.append(f"{word} changed: {key} from {old} to {new}")
        else:
            reasons.append(f"{word} changed: {key}")
    return reasons


def flatten(value: Any, folder: str, key: str = "") -> dict[str, str]:
    """Return settings as key -> text, nested records and tables with dotted keys; the project's folder is left out of it."""
    if isinstance(value, msgspec.Struct):
        value = {name: getattr(value, name) for name in value.__struct_fields__}
    if isinstance(value, dict) and value:
        flat: dict[str, str] = {}
        for name, part in value.items():
            flat |= flatten(part, folder, f"{key}.{name}" if key else str(name))
        return flat
    text = repr(value).replace(folder, ".")
    return {key: text if len(text) <= _LONG else "sha256 " + hashlib.sha256(text.encode()).hexdigest()[:16]}
