"""Numbers in answers as people write them: 4, 4.5, 4,5, 4/5, 4 of 5, 4 stars, 4 - good, ★★★★☆."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from fractions import Fraction

_NUMBER = r"[+-]?[0-9]{1,6}(?:[.,][0-9]{1,2})?"
_ALONE = re.compile(_NUMBER)
# English, German, Spanish and French; common practice, no source.
_OF = re.compile(rf"({_NUMBER})\s*(?:/|of|out of|von|de|sur)\s*({_NUMBER})", re.IGNORECASE)
_COUNTED = re.compile(rf"({_NUMBER})\s*(?:stars?|points?|sterne?|punkte?|estrellas?|puntos?|[*★])", re.IGNORECASE)
_LABELLED = re.compile(rf"({_NUMBER})\s*[-–—:=(,!]\s*[^0-9]{{0,40}}")
_STARS = re.compile(r"(★+)(☆*)")


def read_numbers(answers: Counter[str]) -> dict[str, Fraction]:
    """Return the number that each answer says, for those that say one.

    "4/5" is 4 if the other answers may be marks of 1 to 5: their largest is at most 5, and more than half of it. "8/10" among marks up
    to 5 is not read, since it is of another scale; without other numbers the scale named most often counts.

    Args:
        answers: as typed -> how often.
    """
    plain: dict[str, Fraction] = {}
    shares: dict[str, tuple[Fraction, Fraction]] = {}
    for text in answers:
        folded = unicodedata.normalize("NFKC", text).strip()
        stars = _STARS.fullmatch(folded)
        if match := _ALONE.fullmatch(folded) or _COUNTED.fullmatch(folded) or _LABELLED.fullmatch(folded):
            plain[text] = _number(match[1] if match.re.groups else match[0])
        elif match := _OF.fullmatch(folded):
            shares[text] = _number(match[1]), _number(match[2])
        elif stars:
            shares[text] = Fraction(len(stars[1])), Fraction(len(folded))
    top = _top(plain, shares, answers)
    return plain | {text: mark for text, (mark, most) in shares.items() if most == top and mark <= most}


def _top(plain: dict[str, Fraction], shares: dict[str, tuple[Fraction, Fraction]], answers: Counter[str]) -> Fraction | None:
    """Return the end of the scale that answers such as 4/5 name, if the plain numbers may be of it."""
    named: Counter[Fraction] = Counter()
    largest = max(plain.values(), default=None)
    for text, (_, most) in shares.items():
        if largest is None or largest <= most < 2 * largest:
            named[most] += answers[text]
    return min(named, key=lambda most: (-named[most], most), default=None)


def _number(text: str) -> Fraction:
    return Fraction(text.replace(",", "."))


def show_number(value: Fraction, digits: int = 2) -> str:
    """Return a number rounded half away from zero, without zeros at its end."""
    text = show_rounded(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def show_rounded(value: Fraction, digits: int = 2, sign: bool = False) -> str:
    """Return a number rounded half away from zero to so many digits, with its sign if asked for."""
    scaled = (abs(value) * 2 * 10**digits + 1) // 2
    before = "−" if value < 0 and scaled else "+" if sign and scaled else ""
    whole, part = divmod(scaled, 10**digits)
    return f"{before}{whole}" + (f".{part:0{digits}}" if digits else "")
