"""Growth: the totals of every finished build, kept beside the build's own records, and what became larger since the last.

``.state/growth.json`` is a list, oldest first: ``build_code``, ``version``, ``used``, ``most`` (bytes of the image),
``memory``, and ``scenes``: name -> bytes of its worst case. It is history, so no step reads it and no output holds it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import msgspec

from pipeline.graph.freshness.state_folder import read_record
from pipeline.joints.budget import Budget
from pipeline.joints.map import MappedImage
from pipeline.plain.files import write_json
from pipeline.plain.sizes import show_size

_KEPT = 500  # builds
_Bytes = Annotated[int, msgspec.Meta(ge=0, le=1 << 40)]


class _Entry(msgspec.Struct):
    build_code: Annotated[str, msgspec.Meta(max_length=80)]
    version: Annotated[str, msgspec.Meta(max_length=200)]
    used: _Bytes
    most: _Bytes
    memory: _Bytes
    scenes: dict[str, _Bytes]


def note_build(log: Path, image: MappedImage, budget: Budget, version: str) -> list[str]:
    """Add a finished build to the log unless it is the last one there; return a line for everything that grew.

    Args:
        log: ``growth.json``; made when missing, started again when it cannot be read.
        image: as ``map.json`` describes it; ``budget``: what it needs of memory.
    """
    entries = read_log(log)
    last = entries[-1] if entries else None
    now = {
        "build_code": image.build_code,
        "version": version,
        "used": image.used,
        "most": image.bytes,
        "memory": budget.memory,
        "scenes": {name: scene.bytes for name, scene in budget.scenes.items()},
    }
    if now == last:
        return []
    write_json(log, [*entries, now][-_KEPT:])
    return _grown(last, now) if last else []


def read_log(log: Path) -> list[dict[str, Any]]:
    """Return the builds of a log, oldest first; what is not an entry as ``note_build`` writes it is left out."""
    return [found for one in read_record(log, list[Any]) or [] if (found := _entry(one))]


def _entry(one: Any) -> dict[str, Any] | None:
    try:
        return msgspec.to_builtins(msgspec.convert(one, _Entry))
    except msgspec.ValidationError:
        return None


def _grown(last: dict[str, Any], now: dict[str, Any]) -> list[str]:
    lines = []
    for name, count in now["scenes"].items():
        more = count - last["scenes"].get(name, count)
        if more > 0:
            lines.append(f"{name} grew by {show_size(more)} at worst since build {last['build_code']}")
    return lines
