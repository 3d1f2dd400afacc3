"""Where a result changes as one number grows: every limit of a function, to be compared with what it should be."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

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
