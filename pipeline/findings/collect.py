"""One list of all findings, and what testers read about them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from pipeline.findings.cast import Cast
from pipeline.findings.scenes import together
from pipeline.joints.found.findings import Finding, Looked, Said, write_cautions, write_findings
from pipeline.joints.found.flashes import Flashes, Played, read_flashes
from pipeline.plain.sizes import counted
from pipeline.project.file import Caution
from pipeline.safety.advice import METHOD, sentence
from pipeline.safety.reach import Reach, passes

FLASHES = "flashes"
_WORST_FIRST = ("fail", "near", "open")
_COUNTED = {"sprite": "animation", "effect": "effect", "background": "background"}


def collect(
    flashes: dict[str, Path],
    scenes: dict[str, Cast],
    unused: tuple[str, ...],
    cautions: list[Caution],
    screen: tuple[int, int],
    out: Path,
    cautions_out: Path,
) -> str:
    """Write ``findings.json`` and ``work/cautions.json``; return one line about them.

    Args:
        flashes: name -> what was measured of it.
        scenes: name -> the sprites that it may show.
        unused: names of effects that the game does not show.
        cautions: the author's.
        screen: its width and height in pixels.
    """
    measured = [read_flashes(file) for file in flashes.values()]
    found = [one for flash in measured for one in _of(flash, unused, cautions)]
    found += [one for name, cast in scenes.items() for one in _of_scene(name, cast, measured, screen)]
    found.sort(key=lambda one: (not one.used, _WORST_FIRST.index(one.verdict)))
    counts = dict.fromkeys(_COUNTED.values(), 0)
    for flash in measured:
        counts[_COUNTED[flash.kind]] += len(flash.played)
    looked = [Looked(about=FLASHES, counts={**counts, "scene": len(scenes)}, method=METHOD.replace("\n", " "))] if measured else []
    write_findings(out, looked, found)
    write_cautions(cautions_out, [*_sentences(found)] if measured else [])
    return f"{counted(len(found), 'finding')}: see doit flashes" if found else "nothing beyond a limit"


def _of(flash: Flashes, unused: Sequence[str], cautions: list[Caution]) -> Iterator[Finding]:
    for played in flash.played:
        if played.verdict == "pass":
            continue
        name = f"{flash.name}/{played.name}" if played.name else flash.name
        said = [f"{one.verdict}  {sentence(one, flash.refresh)}" for one in played.limits]
        caution = next((one.text for one in cautions if one.kind == FLASHES and one.of in (name, flash.name)), "")
        used = flash.kind != "effect" or flash.name not in unused
        yield Finding(about=FLASHES, of=name, verdict=played.verdict, said=said, remedy=played.remedy, used=used, caution=caution)


def reaches_of(measured: Sequence[Flashes]) -> dict[str, dict[str, Reach]]:
    """Return of each sprite, by limit, the most that any of its animations can flash."""
    return {flash.name: _most(flash.played) for flash in measured if flash.kind == "sprite" and flash.played}


def _most(played: list[Played]) -> dict[str, Reach]:
    return {limit: Reach(*map(max, zip(*(one.reach[limit] for one in played), strict=True))) for limit in played[0].reach}


def _of_scene(name: str, cast: Cast, measured: Sequence[Flashes], screen: tuple[int, int]) -> Iterator[Finding]:
    shares = together(cast, reaches_of(measured), screen)
    if not shares or passes(shares):
        return
    limit = max(shares, key=lambda one: shares[one])
    often = f"{shares[limit]:.1f} times the allowed area"
    said = f"open  {limit}: its animations together may change up to {often}, all at their worst"
    remedy = "nothing is wrong yet, but nothing shows that it passes: capture its busiest moment, and check it with doit flashes of=FOLDER"
    yield Finding(about=FLASHES, of=f"scene {name}", verdict="open", said=[said], remedy=remedy)


def _sentences(found: list[Finding]) -> Iterator[Said]:
    """Yield what testers read: about what fails and what is near a limit, else that nothing does."""
    shown = {verdict: [one.of for one in found if one.used and one.verdict == verdict] for verdict in ("fail", "near")}
    for verdict, names in shown.items():
        if names:
            yield Said(key=f"{FLASHES}_{verdict}", names=names)
    if not any(shown.values()):
        yield Said(key=f"{FLASHES}_pass", names=[], good=True)
