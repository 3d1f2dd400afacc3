"""Where a result changes as one number grows: every limit of a function, to be compared with what it should be."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from tests.recorded import differing, hash_of

Ramp = tuple[Callable[[int], Any], int, int]  # a result, and the numbers between which it is looked at
_STARTS = 12


def changes(result: Callable[[int], Any], first: int, last: int) -> dict[int, Any]:
    """Return the result for ``first``, and each number up to ``last`` with a result that differs from that of the number before.

    Found by halving, from some numbers on: between two of them with the same result no other one is looked for.
    """
    starts = sorted({first, *range(first, last, max(1, (last - first) // _STARTS)), last})
    results = {at: result(at) for at in starts}
    found = {first: results[first]}
    waiting = list(zip(starts, starts[1:], strict=False))
    while waiting:
        low, high = waiting.pop()
        if results[low] == results[high]:
            continue
        if high - low == 1:
            found[high] = results[high]
            continue
        middle = (low + high) // 2
        results[middle] = result(middle)
        waiting += [(low, middle), (middle, high)]
    return dict(sorted(found.items()))


def recorded(record: str, ramps: dict[str, Ramp]) -> set[str]:
    """Return the ramps on which something changes elsewhere than recorded, a long list of changes being kept as its hash."""
    found = {}
    for name, (result, first, last) in ramps.items():
        text = "; ".join(f"{at}: {one}" for at, one in changes(result, first, last).items())
        found[name] = text if len(text) < 400 else f"{text[:200]} ... {hash_of(text.encode())}"
    return differing(record, found)


def without_numbers(text: str) -> str:
    """Return a text that stays the same while only numbers in it change."""
    return re.sub(r"[0-9.,]*[0-9]", "0", text)
