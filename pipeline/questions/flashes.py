"""``doit flashes``: what flashes too often for photosensitive players, in the game's own art and effects or in captured play."""

from __future__ import annotations

from pathlib import Path

from pipeline.findings.cast import Drawn
from pipeline.findings.shown import Read, drawn, picture_of, worst_of
from pipeline.joints.found.findings import Finding, read_findings
from pipeline.joints.found.flashes import read_flashes
from pipeline.plain.errors import BadAnswer, refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted, listed
from pipeline.project.file import Effect
from pipeline.questions.captures import Capture
from pipeline.safety.advice import METHOD, remedy, sentence
from pipeline.safety.flashes import FlashMeter
from pipeline.safety.stripes import StripeMeter
from pipeline.target.calls import Call
from pipeline.target.records import Target

FLASHES = "flashes"


def show_flashes(
    findings_file: Path,
    flashes: dict[str, Path],
    image: Path,
    map_file: Path,
    facts: dict[str, Path],
    palettes: dict[str, str],
    effects: dict[str, tuple[Effect, Drawn]],
    decoders: dict[str, Call],
    target: Target,
    out: Path,
) -> str:
    """Return what flashes of all that was measured, as lines for a person; draw the worst moment.

    Args:
        findings_file: ``findings.json``.
        flashes: name -> what was measured of it.
        image, map_file, facts, palettes, decoders, target: see ``findings.shown.Read``.
        effects: each effect and the assets that it shows, by its name.
        out: the picture; removed where all passes.

    Raises:
        BadAnswer: something fails that the game shows, and no caution is written for it.
    """
    known = read_findings(findings_file)
    found = [one for one in known.findings if one.about == FLASHES]
    lines = [line for one in found for line in _lines(one)]
    worst = worst_of(read_flashes(file) for file in flashes.values())
    if worst is None:
        out.unlink(missing_ok=True)
    else:
        pixels = picture_of(*worst, Read(image, map_file, facts, palettes, decoders, target), effects)
        lines += _draw(drawn(pixels, worst[2].box), out)
    counts = [counted(count, what) for one in known.looked if one.about == FLASHES for what, count in one.counts.items() if count]
    bad = sum(one.verdict in ("fail", "near") for one in found)
    said = "all pass" if not found else f"{bad} {'does' if bad == 1 else 'do'} not pass" if bad else "none fails"
    answer = "\n".join([*lines, f"{listed(counts)}: {said}." if counts else "Nothing moves, so nothing was measured.", "", METHOD])
    if any(one.verdict == "fail" and one.used and not one.caution for one in found):
        raise BadAnswer(answer)
    return answer


def _lines(one: Finding) -> list[str]:
    notes = [] if one.used else ["        the game does not show it, so no release is refused and testers read nothing about it"]
    notes += [f"        testers read: {one.caution}"] if one.caution else []
    return [one.of, *(f"  {said}" for said in one.said), f"        {one.remedy}", *notes, ""]


def _draw(picture: bytes, out: Path) -> list[str]:
    write_bytes(out, picture)
    return [f"The worst moment, as a still picture with a frame around it: {out.name} in the build folder", ""]


def show_captured(captured: Path, rate: str, refresh: float, out: Path) -> str:
    """Return where captured play flashes, as lines for a person; draw the worst moment.

    Args:
        captured: a folder of pictures, an animation or a video.
        rate: pictures of a folder in a second, as text; empty: one at each refresh of the screen, which ``refresh`` is.
        out: as of ``show_flashes``.

    Raises:
        BadAnswer: it fails.
        ProjectError: it cannot be read, or the rate is not a number of 1 to 240.
    """
    capture, meters, size, count = Capture(captured, _rate(rate, refresh)), (), (1, 1), 0
    for picture, ticks in capture.pictures():
        if not meters:
            size = (picture.shape[1], picture.shape[0])
            meters = (FlashMeter(*size, capture.ticks), StripeMeter(*size, capture.ticks))
        for meter in meters:
            meter.add(picture, ticks)
        count += ticks
    found = [*meters[0].findings(), meters[1].finding] if meters else []
    bad = [one for one in found if one.verdict != "pass"]
    lines = [captured.name] if bad else []
    lines += [f"  {one.verdict}  {sentence(one, capture.ticks)}" for one in bad]
    if bad:
        worst = max(bad, key=lambda one: (one.verdict == "fail", one.transitions, one.area))
        assert worst.picture is not None
        lines += [f"        {remedy(None, size, [one.limit for one in bad])}", "", *_draw(drawn(worst.picture, worst.box), out)]
    else:
        out.unlink(missing_ok=True)
    last = f"{count / capture.ticks:.1f} seconds of {captured.name}{capture.scaled}: {'does not pass' if bad else 'passes'}."
    answer = "\n".join([*lines, last, "", METHOD])
    if any(one.verdict == "fail" for one in bad):
        raise BadAnswer(answer)
    return answer


def _rate(rate: str, refresh: float) -> float:
    if not rate:
        return refresh
    try:
        number = float(rate)
    except ValueError:
        number = 0.0
    if not 1 <= number <= 240:
        raise refuse("rate=", "", f"{rate!r} is not a number of pictures in a second, 1 to 240", "for example: rate=30")
    return number
