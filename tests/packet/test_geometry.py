"""Where things of a packet go, without setting a page: labels of pads, keys, shares, gaps, styles. As they were looked at.

No outside source, since taste has none; ``test_pad_leaders`` and ``test_shares`` say what must hold. For a change: ``tests.recorded``.
"""

from __future__ import annotations

import itertools
import random

from reportlab.lib.styles import ParagraphStyle

from pipeline.packet.content.party import find_gaps, share_out
from pipeline.packet.content.shares import deal
from pipeline.packet.sections.pad_keys import keys_of
from pipeline.packet.sections.pad_leaders import Callout, Room, extent, place_labels, spread
from pipeline.packet.typeset.letters import letter_fault, texts_of, unknown_letter
from pipeline.packet.typeset.style import Look
from pipeline.project.plan import Grid
from tests.recorded import differing, hash_of

SHAPES = ("round", "square", "cross", "bar", "shoulder")


def rounded(value: object) -> object:
    """Return a value with its numbers to 6 digits after the point."""
    if isinstance(value, float):
        return round(value, 6) + 0.0
    return tuple(rounded(one) for one in value) if isinstance(value, tuple | list) else value


def said(value: object) -> str:
    return hash_of(repr(rounded(value)).encode())


def test_labels_lead_where_they_did():
    """Of pads with one to eight buttons in rows, columns and anywhere, one just over the most that are tried, and stacked labels."""
    found = {}
    for seed in range(40):
        chance = random.Random(seed)
        count = 25 if seed == 39 else 1 + seed % 6
        places = [(chance.randint(0, 11), chance.randint(0, 4)) if seed % 3 else (2 * rank, 2) for rank in range(count)]
        boxes = [(125.0 + 20 * x, 20.0 * y, 141.0 + 20 * x, 20.0 * y + 16) for x, y in places]
        callouts = tuple(Callout(box, (11.0 * chance.randint(1, 3), 11.0 * chance.randint(1, 3))) for box in boxes)
        room = Room(100.0, 380.0, (116.0, -9.0, 364.0, 109.0), 6.0, 2.2)
        labels = place_labels(callouts, room)
        found[f"{seed}"] = said((labels, extent(callouts, room, labels)))
    for seed in range(20):
        chance = random.Random(seed)
        wanted = sorted(float(chance.randint(0, 60)) for _ in range(seed % 7))
        found[f"spread {seed}"] = repr(rounded(spread(wanted, [float(chance.randint(5, 20)) for _ in wanted])))
    assert differing("labels of pads", found) == set()


def test_keys_of_pads():
    """Buttons of every shape; crosses whole, of two arms, that share an arm, with a button in the middle; arms that do the same."""
    found = {}
    for seed in range(40):
        chance, buttons = random.Random(seed), []
        for hub in [(2.0, 2.0), (6.0, 2.0), (4.0, 2.0), (2.5, 1.0)][: seed % 5]:
            for dx, dy in ((0, -1), (1, 0), (0, 1), (-1, 0)):
                if chance.random() < 0.8:
                    x, y = hub[0] + dx, hub[1] + dy
                    buttons.append({"name": f"b{len(buttons)}", "shape": "cross", "box": [x, y, x + 1, y + 1], "does": []})
        for rank in range(chance.randint(0, 4)):
            x, y = chance.randint(0, 9) / chance.choice((1, 2)), chance.randint(0, 3)
            wide = chance.choice((1, 2))
            buttons.append({"name": f"c{rank}", "shape": chance.choice(SHAPES), "box": [x, y, x + wide, y + 1], "does": []})
        for button in buttons:
            button["does"] = chance.choice(([], ["jump"], ["run", "stop"]))
        found[f"{seed}"] = said([tuple(vars(one).values()) for one in _plain(keys_of({"buttons": buttons, "columns": 12}, 12.5, 20.0))])
    assert differing("keys of pads", found) == set()


def _plain(keys: list) -> list:
    for key in keys:
        object.__setattr__(key, "caps", tuple(tuple(vars(cap).values()) for cap in key.caps))
    return keys


def test_shares_and_gaps():
    """Among one to six people who lack pads or not, with limits and without; what is nobody's, by the pad that is missing."""
    found = {}
    for seed in range(60):
        chance = random.Random(seed)
        sides = [chance.randint(1, 4) for _ in range(chance.randint(1, 3))]
        cells = tuple(itertools.product(*map(range, sides)))
        people = chance.randint(1, 6)
        able = [[chance.random() < 0.7 for _ in cells] for _ in range(people)]
        limits = [chance.choice((None, 1, 2, 3)), chance.choice((None, 1, 4))]
        before = [chance.randrange(3) for _ in range(people)]
        found[f"dealt {seed}"] = said(deal(cells, able, *limits, before if seed % 2 else ()))
        grids = []
        for _ in range(3):
            heads = ("a", "b", "c")[: len(sides)] if chance.random() < 0.7 else ()
            own = cells if heads else ((),)
            pads = tuple(chance.choice(("", "", "two", "gun")) for _ in own)
            grids.append(Grid("Go", heads, tuple(("x",) * 4 for _ in heads), own, pads, chance.choice((None, 2)), chance.choice((None, 2))))
        owned = {number: chance.choice((None, [], ["two"], ["gun", "two"])) for number in range(3, 3 + people)}
        shares = share_out(grids, owned)
        found[f"shares {seed}"] = said([shares[number] for number in owned])
        found[f"gaps {seed}"] = repr([tuple(vars(one).values()) for one in find_gaps(grids, owned, shares)])
    assert find_gaps(grids, {}, {}) == []
    assert differing("shares of plans", found) == set()


def test_styles_of_both_prints():
    """Size, leading, font, colour and lengths of every style, in points."""
    keys = ("fontName", "fontSize", "leading", "spaceBefore", "spaceAfter", "leftIndent", "bulletIndent", "alignment", "bulletFontSize")
    found = {}
    for text in ("normal", "large"):
        look = Look(text)
        for name, style in vars(look).items():
            if isinstance(style, ParagraphStyle):
                values = [rounded(float(one) if isinstance(one, int | float) else one) for one in (getattr(style, key) for key in keys)]
                more = (style.textColor.hexval(), style.allowWidows, style.allowOrphans, getattr(style, "keepWithNext", 0))
                found[f"{text}, {name}"] = f"{values} {more}"
        found[f"{text}, lengths"] = repr(rounded([look.large, look.grown(10.0), look.FOOT_SIZE]))
    assert differing("styles of packets", found) == set()


def test_letters_that_cannot_be_set():
    """The first of a text, with what is around it; texts of tables by their path, names of buttons and of links too."""
    found = {}
    for at in (0, 1, 19, 20, 21, 39, 40, 41, 80):
        text = f"{'a' * at}๑{'b' * 30}"
        assert unknown_letter(text) == "๑"
        found[f"at {at}"] = letter_fault(text, "๑")[0]
    found["right to left"] = " ".join(letter_fault("abc שלום", "ש"))
    for text, letter in {"Zoë Ω Ж → …": None, "a\nb": None, "": None, "ש": "ש", "a\u0627": "\u0627", "漢字": "漢"}.items():
        assert unknown_letter(text) == letter
    spec = {"game": {"target": "x", "title": "t"}, "links": {"more": {"A": "b"}}, "list": ["q", 7]}
    spec |= {"pad": {"p": {"buttons": {"up": {"k": "v"}}}}}
    found["texts"] = repr(list(texts_of(spec)))
    assert differing("letters of packets", found) == set()
