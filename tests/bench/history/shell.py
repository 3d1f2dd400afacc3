"""Showing a history as a shell script: every file with its bytes, every edit, every command."""

from __future__ import annotations

import base64
import copy
import shlex
from pathlib import Path

from .machine import Documents, Files
from .world import Operation, World

_DOIT = 'python -m doit -f dodo.py project="$P"'


def as_script(start: tuple[str, Documents, Files], log: list[Operation], scratch: Path, allowed: frozenset[str]) -> str:
    """Return a script for ``sh``, run in a clone; sources that nothing names are still written, so that patterns match alike."""
    world = World(scratch, *start, allowed)
    first = 0
    while first < len(log) and log[first][0] in ("drop", "purge", "doc"):  # a start made smaller
        world.apply(log[first])
        first += 1
    lines = ["set -u", 'T=$(mktemp -d); P=$T/game; mkdir "$P"']
    for name in sorted(world.sources()):
        lines += _written(world, name)
    for operation in log[first:]:
        lines += _shown(world, operation)
    return "\n".join(lines) + "\n"


def _shown(world: World, operation: Operation) -> list[str]:
    word, *values = operation
    said = f"# {word} {' '.join(map(str, values))}"[:160]
    build = lambda name: f'"$P"/build/{shlex.quote(name)}'  # noqa: E731
    if word == "run":
        return [_command(world, values[0])]
    if word == "compare":
        words = " ".join(values[0])
        clean = [f'C="$T/somewhere else/a copy"; rm -rf "$C"; mkdir -p "$C"; cp -a "$P"/. "$C"; rm -rf "$C/build"; {_clean(world, words)}']
        asks = [_command(world, []) if ask == ["again"] else f"{_command(world, ask)}; {_clean(world, ' '.join(ask))}" for ask in values[1]]
        return [said, _command(world, values[0]), *clean, 'diff -rq -x .state "$P/build" "$C/build"', *asks]
    if word in ("harm", "foreign", "clear"):
        return [said, *_in_build(word, values, build)]
    if word == "away":
        world.apply(operation)
        return [f'mv "$P" "$T/{values[0]}"; P="$T/{values[0]}"']
    before, times = world.sources(), world.how
    world.apply(copy.deepcopy(operation))
    after, lines = world.sources(), [said]
    for name in sorted(before.keys() - after.keys()):
        lines.append(f'rm "$P"/{shlex.quote(name)}')
    for name in sorted(after):
        if name not in before or (before[name].data, before[name].link) != (after[name].data, after[name].link):
            lines += _written(world, name, keep=times == "keep" and name in before)
    if word == "touch":
        lines.append(f'touch "$P"/{shlex.quote(values[0])}')
    return lines


def _command(world: World, words: list[str]) -> str:
    settings = " ".join(f"{name}={value}" for name, value in world.environment.items())
    return f"{settings} {_DOIT} {' '.join(word.replace('{project}', '$P') for word in words)}".strip()


def _clean(world: World, words: str) -> str:
    epoch = world.environment.get("SOURCE_DATE_EPOCH")
    return f'{f"SOURCE_DATE_EPOCH={epoch} " if epoch else ""}{_DOIT.replace("$P", "$C")} {words}'.strip()


def _in_build(word: str, values: list, build) -> list[str]:
    if word == "clear":
        return [f"rm -rf {build(values[0])}"]
    if word == "foreign":
        return [f"echo {values[1]} | base64 -d > {build(values[0])}"]
    path = build(values[0])
    return {
        "remove": [f"rm {path}"],
        "empty": [f": > {path}"],
        "cut": [f"truncate -s $(( $(stat -c %s {path}) / 2 )) {path}"],
        "append": [f"echo >> {path}"],
        "rubbish": [f"printf 'rubbish%.0s' $(seq 40) > {path}"],
        "outside": [f'rev {path} > "$T/outside"; ln -sf "$T/outside" {path}'],
        "folder": [f"rm {path}; mkdir {path}; echo mine > {path}/mine.txt"],
        "older": [f"printf 0 | dd of={path} bs=1 seek=7 conv=notrunc 2>/dev/null"],
        "other": [f'cp "$(ls -d "$(dirname {path})"/* | grep -v "$(basename {path})" | head -1)" {path}'],
        "sneak": [f'touch -r {path} "$T/time"; printf x | dd of={path} bs=1 conv=notrunc 2>/dev/null; touch -r "$T/time" {path}'],
    }[values[1]]


def _written(world: World, name: str, keep: bool = False) -> list[str]:
    source, path = world.sources()[name], f'"$P"/{shlex.quote(name)}'
    folder = f'mkdir -p "$(dirname {path})"; ' if "/" in name else ""
    if source.link:
        return [f"{folder}ln -sf {shlex.quote(source.link)} {path}"]
    if name == "fonts/mono.ttf":
        return [f"{folder}cp templates/fonts/DejaVuSansMono.ttf {path}"]
    lines = [f'touch -r {path} "$T/time"'] if keep else []
    try:
        text = source.data.decode()
        plain = text.endswith("\n") and text.isascii() and "\r" not in text and "\0" not in text
    except UnicodeDecodeError:
        plain = False
    if plain:
        lines.append(f"{folder}cat > {path} <<'END'\n{text}END")
    else:
        lines.append(f"{folder}echo {base64.b64encode(source.data).decode()} | base64 -d > {path}")
    return lines + ([f'touch -r "$T/time" {path}'] if keep else [])
