"""Notes on the frames of a sprite, as numbers and as words, with the marks of the proofs."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.joints.facts import NotesFacts
from pipeline.joints.shown import FORMAT, Mark, NotedOn, ShownNotes
from pipeline.plain.sizes import counted
from pipeline.proofs.marks import line_of
from pipeline.proofs.subject import Subject
from pipeline.reading.decoded import Decoded, NotedFrame


def noted_frames(subject: Subject, variants: Mapping[str, Decoded]) -> tuple[ShownNotes, None]:
    """Return what is noted on each frame; it has no colours, so no variants, and no picture of its own."""
    facts = subject.facts
    assert isinstance(facts, NotesFacts)
    frames = [NotedOn(boxes=one.boxes, points=one.points, said=_said(facts, one)) for one in subject.decoded.noted]
    marks = {"boxes": _marks(facts.box_kinds), "points": _marks(facts.point_kinds)}
    words = f"Notes on {counted(len(frames), 'frame')} of {facts.of}"
    return ShownNotes(version=FORMAT, words=words, of=facts.of, frames=frames, **marks), None


def _marks(words: list[str]) -> list[Mark]:
    marks = []
    for kind, word in enumerate(words):
        colour, dashes, double = line_of(kind)
        marks.append(Mark(word=word, colour="#" + bytes(colour).hex(), dashes=list(dashes), double=double))
    return marks


def _said(facts: NotesFacts, one: NotedFrame) -> str:
    events = [word for rank, word in enumerate(facts.event_kinds) if one.events >> rank & 1]
    numbers = [f"{word} {value}" for word, value in zip(facts.number_kinds, one.numbers, strict=True) if value]
    return ", ".join([*events, *numbers, *([f"{one.ticks} ticks"] if one.ticks else [])])
