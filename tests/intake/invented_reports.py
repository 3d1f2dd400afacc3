"""Invented bug reports that are labelled with the bug they are of: no tester wrote them, and the game is made up too.

A bug is a place, a figure, what one does and what goes wrong; a report says it in one of several ways, leaves parts out, adds
fillers and misspells. ``first`` and ``second`` share no place, figure, deed or fault, so that what is tuned on one can be
measured on the other. Many bugs differ from another in a single part: the same fault elsewhere, another fault at the same place.
"""

from __future__ import annotations

import random
from dataclasses import dataclass


@dataclass(frozen=True)
class Labelled:
    """One report and the number of its bug."""

    what: str
    where: str
    bug: int


# One thing on a line, in all the ways it is said.
_FIRST = {
    "places": """
        Slatequay | the Slatequay harbour | slatequay level
        Emberdock | Ember Dock | the Emberdock pier
        Northpier | North Pier | the snow pier
        Boot notice | the first screen | start-up notice
        Pause menu | the pause screen | while paused
        Results | the score table | end of race results
        Fogbank | the fog bank | in the fog
        Ropeway | Rope Way | the ropeway station
    """,
    "figures": """
        Tove | the girl with the hat | Tove
        Orrin | Orrin (helmet guy) | orrin
        Bram | Bram | the bearded one
        Isk | Isk | cloak figure Isk
        the crane | crane | the big crane
        the gull | a gull | seagull
        the timer | timer | the clock in the corner
    """,
    "deeds": """
        jump | jumping | leap
        press Start twice | hit start two times | double tapping Start
        walk left along the edge | walking to the left edge | go left at the border
        pick up the parcel | taking the parcel | collect a package
        turn round quickly | fast turning | spin round
        wait for a minute | idling a while | leave the pad alone
        finish a lap | end of the lap | crossing the line
    """,
    "faults": """
        freezes | hangs and does nothing | gets stuck completely
        falls through the floor | drops through the ground | sinks into the planks
        the horn sound repeats for ever | horn keeps playing | endless horn noise
        turns pink | wrong colours, all pinkish | is coloured pink
        flickers | keeps blinking | flashes on and off
        leaves a trail behind | smears across the screen | trail of copies stays visible
        is drawn behind the houses | stands behind the buildings | hidden by houses
        slows everything down | lag, all is slow | big slowdown
        shows a zero | says 0 | number is nought
    """,
}
_SECOND = {
    "places": """
        Millrace | the millrace | level Millrace
        Gullgate | Gull Gate | the gullgate tower
        Lantern Row | lantern row street | Lanternrow
        Option page | the options | settings page
        Tutorial | the training run | first lesson
        Credits | credits roll | the closing credits
        Cellar | the cellar | down in the cellar
        Weir Bridge | the weir bridge | Weirbridge
    """,
    "figures": """
        Maud | Maud | the old baker
        Pell | Pell (scarf) | pell
        Sorrel | the red-haired rider Sorrel | Sorrel
        Wick | Wick | tiny Wick
        the barrel | a barrel | rolling barrel
        the compass | compass | compass needle
        the ferry | ferry | the ferry boat
    """,
    "deeds": """
        climb the ladder | climbing up a ladder | go up the rungs
        open the gate | opening gates | pulling the gate open
        throw a rope | rope throwing | toss the rope
        unplug the second pad | pulling out pad two | disconnecting controller 2
        skip the dialogue | skipping text | clicking past the conversation
        save twice | saving two times | make a second save
        run downhill | running down the hill | sprint down the slope
    """,
    "faults": """
        crashes to a black screen | black screen, had to restart | resets to black
        floats in the air | hovers above ground | is suspended midair
        the music goes silent | no more music | soundtrack mutes
        has no head | head is missing | head vanished
        score counts backwards | the points go down | negative score counting
        gets squashed flat | is drawn too flat | looks compressed vertically
        shakes up and down | trembles | jitters vertically
        shows letters from another language | weird letters | text is unreadable signs
        comes back after it was destroyed | reappears | respawns at once
    """,
}


def _parts(half: str) -> dict[str, list[list[str]]]:
    """Return part -> things -> how each is said."""
    parts = _FIRST if half == "first" else _SECOND
    return {part: [line.strip().split(" | ") for line in lines.strip().splitlines()] for part, lines in parts.items()}


def names_of(half: str) -> dict[str, list[str]]:
    """Return what an author could give the tool: the places' and figures' names, and what else they are called."""
    parts = _parts(half)
    return {one[0]: list(one[1:]) for one in parts["places"] + parts["figures"]}


_FILLERS = ("", "", "", "Hi! ", "not sure if known: ", "Again: ", "Great demo by the way. ")
_TEMPLATES = (
    "When I {deed}, {figure} {fault}.",
    "{figure}: {fault} after {deed}",
    "{fault} - {figure}, {deed}, {place}",
    "At {place} {figure} {fault} if you {deed}",
    "{figure} {fault}. Happened while {deed}.",
    "i was {deed} with {figure} and then: {fault}",
    "{fault} ({figure})",
    "{place}: {deed} -> {fault}, with {figure}",
)


def labelled_set(half: str, bugs: int = 70, seed: int = 1) -> list[Labelled]:
    """Return reports in mixed order: about half the bugs are reported once, the others two to nine times.

    Args:
        half: ``first`` or ``second``.
        bugs: how many; at most 3528.
        seed: of the generator; the same seed gives the same reports on every machine (random.Random, Mersenne Twister).
    """
    parts, chance = _parts(half), random.Random(seed)
    every = [(p, f, d, w) for p in parts["places"] for f in parts["figures"] for d in parts["deeds"] for w in parts["faults"]]
    reports = []
    for number, bug in enumerate(chance.sample(every, bugs)):
        for _ in range(chance.choice((1, 1, 1, 2, 3, 4, 6, 9))):
            reports.append(_report(chance, number, *bug))
    chance.shuffle(reports)
    return reports


def _report(chance: random.Random, number: int, place: list[str], figure: list[str], deed: list[str], fault: list[str]) -> Labelled:
    words = {"place": chance.choice(place), "figure": chance.choice(figure), "deed": chance.choice(deed), "fault": chance.choice(fault)}
    text = chance.choice(_FILLERS) + chance.choice(_TEMPLATES).format(**words)
    where = chance.choice((words["place"], place[0], place[0], ""))
    return Labelled(_misspelt(chance, text), where, number)


def _misspelt(chance: random.Random, text: str) -> str:
    words = text.split(" ")
    for rank, word in enumerate(words):
        if len(word) > 4 and chance.random() < 0.04:
            at = chance.randrange(1, len(word) - 2)
            words[rank] = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    return " ".join(words)
