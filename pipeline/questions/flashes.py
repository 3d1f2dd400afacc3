"""``doit flashes``: what flashes too often for photosensitive players, in the game's animations or in captured play."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from PIL import Image, ImageDraw

from pipeline.joints.facts import read_facts
from pipeline.joints.map import read_map
from pipeline.plain.errors import BadAnswer, refuse
from pipeline.plain.files import write_bytes
from pipeline.plain.sizes import counted
from pipeline.proofs.canvas import png
from pipeline.proofs.subject import Subject, take
from pipeline.questions.captures import Capture
from pipeline.safety.advice import METHOD, remedy, sentence
from pipeline.safety.clips import Figure
from pipeline.safety.flashes import Finding, FlashMeter
from pipeline.target.calls import Call
from pipeline.target.records import Target

_EDGE = ((0, "black"), (1, "white"), (2, "black"))  # around what flashes, seen on every ground


class _Shown(NamedTuple):
    """What was looked at: its name, the findings that do not pass, ticks in a second, and what would pass."""

    name: str
    bad: list[Finding]
    refresh: float
    advice: str


def show_flashes(
    image: Path, map_file: Path, facts: dict[str, Path], palettes: dict[str, str], decoders: dict[str, Call], target: Target, out: Path
) -> str:
    """Return which animations of sprites flash, from the image's own bytes, as lines for a person; draw the worst moment.

    Args:
        facts: of sprites with animations; palettes: of those that have one.
        decoders: see ``proofs.subject.take``.
        out: the picture; removed where all passes.

    Raises:
        BadAnswer: one fails.
    """
    found = list(_animations(image, map_file, facts, palettes, decoders, target))
    bad = sum(1 for one in found if one.bad)
    count = counted(len(found), "animation")
    last = "all pass" if not bad else f"{bad} {'does' if bad == 1 else 'do'} not pass"
    return _answer(found, f"{count}, {last}", out)


def show_captured(captured: Path, rate: str, refresh: float, out: Path) -> str:
    """Return where captured play flashes, as lines for a person; draw the worst moment.

    Args:
        captured: a folder of pictures or an animation.
        rate: pictures of a folder in a second, as text; empty: one at each refresh of the screen, which ``refresh`` is.
        out: as of ``show_flashes``.

    Raises:
        BadAnswer: it fails.
        ProjectError: it cannot be read, or the rate is not a number of 1 to 240.
    """
    capture, meter, size, count = Capture(captured, _rate(rate, refresh)), None, (1, 1), 0
    for picture, ticks in capture.pictures():
        if meter is None:
            size = (picture.shape[1], picture.shape[0])
            meter = FlashMeter(*size, capture.ticks)
        meter.add(picture, ticks)
        count += ticks
    bad = [one for one in meter.findings() if one.verdict != "pass"] if meter else []
    last = f"{count / capture.ticks:.1f} seconds of {captured.name}: {'does not pass' if bad else 'passes'}"
    return _answer([_Shown(captured.name, bad, capture.ticks, remedy(None, size))], last, out)


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


def _answer(found: list[_Shown], last: str, out: Path) -> str:
    bad = [one for one in found if one.bad]
    findings = [finding for one in bad for finding in one.bad]
    lines = [line for one in bad for line in _lines(one)]
    if findings:
        _draw(max(findings, key=lambda finding: (finding.verdict == "fail", finding.transitions, finding.area)), out)
        lines += [f"The worst moment, with a frame around what flashes: {out.name} in the build folder", ""]
    else:
        out.unlink(missing_ok=True)
    answer = "\n".join([*lines, f"{last}.", "", METHOD])
    if any(finding.verdict == "fail" for finding in findings):
        raise BadAnswer(answer)
    return answer


def _animations(
    image: Path, map_file: Path, facts: dict[str, Path], palettes: dict[str, str], decoders: dict[str, Call], target: Target
) -> Iterator[_Shown]:
    entries, screen = read_map(map_file).by_name(), (target.screen.width, target.screen.height)
    for name, file in facts.items():
        colours = take(image, palettes[name], entries, target, decoders) if name in palettes else None
        subject = Subject(name, take(image, name, entries, target, decoders), colours, read_facts(file), target, (1, 1))
        figure = Figure(*subject.coloured(), screen, target.screen.refresh)
        for animation, loop, steps in subject.animations():
            measured = figure.measure(steps, loop)
            bad = [one for one in measured.findings if one.verdict != "pass"] if measured else []
            ground, times = (measured.ground, measured.times) if measured else ("", 1)
            yield _Shown(f"{name}, {animation}, on {ground}", bad, target.screen.refresh, remedy(times, screen))


def _lines(one: _Shown) -> list[str]:
    return [one.name, *(f"  {finding.verdict}  {sentence(finding, one.refresh)}" for finding in one.bad), f"        {one.advice}", ""]


def _draw(finding: Finding, out: Path) -> None:
    assert finding.picture is not None
    picture = Image.fromarray(finding.picture)
    left, top, width, height = finding.box or (0, 0, *picture.size)
    draw = ImageDraw.Draw(picture)
    for inner, colour in _EDGE:
        draw.rectangle((left + inner, top + inner, left + width - 1 - inner, top + height - 1 - inner), outline=colour)
    write_bytes(out, png(picture))
