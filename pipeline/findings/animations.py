"""A sprite's animations measured, from the image's own bytes."""

from __future__ import annotations

from pathlib import Path

from pipeline.findings.measured import kept
from pipeline.joints.facts import read_facts
from pipeline.joints.found.flashes import write_flashes
from pipeline.joints.map import read_map
from pipeline.plain.sizes import counted
from pipeline.proofs.subject import Subject, take_both
from pipeline.safety.clips import Figure, Steps
from pipeline.target.calls import Call
from pipeline.target.records import Target


def measure_animations(
    image: Path, map_file: Path, facts: Path, out: Path, name: str, palette: str | None, decoders: dict[str, Call], target: Target
) -> str:
    """Write how each animation of a sprite flashes, see ``joints.found.flashes``; return one line about it.

    Args:
        facts: of the sprite.
        palette: its palette's name.
        decoders: see ``proofs.subject.take``.
    """
    figure, animations = figure_of(image, map_file, facts, name, palette, decoders, target)
    screen, played = figure.screen, []
    for animation, loop, steps in animations:
        found = figure.measure(steps, loop)
        played.append(kept(animation, found.ground, found.findings, found.times, screen, found.reach))
    write_flashes(out, "sprite", name, target.screen.refresh, played)
    bad = sum(one.verdict != "pass" for one in played)
    return f"{counted(len(played), 'animation')}" + (f", {bad} to look at: see doit flashes" if bad else "")


def figure_of(
    image: Path, map_file: Path, facts: Path, name: str, palette: str | None, decoders: dict[str, Call], target: Target
) -> tuple[Figure, list[tuple[str, bool, Steps]]]:
    """Return a sprite as the image holds it, and its animations: name, whether it loops, steps."""
    decoded, colours = take_both(image, name, palette, read_map(map_file).by_name(), target, decoders)
    subject = Subject(name, decoded, colours, read_facts(facts), target, (1, 1))
    return Figure(*subject.coloured(), (target.screen.width, target.screen.height), target.screen.refresh), subject.animations()
