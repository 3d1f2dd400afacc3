"""How alike words are spelled: runs of two to four letters, the rarer the more they count, hashed into a vector of fixed width."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING
from zlib import crc32

if TYPE_CHECKING:
    import numpy as np

WIDTH = 1024  # of a vector; two runs of letters that fall on one place are rare enough
_RUNS = (2, 3, 4)


def spelling_vectors(words: Sequence[str]) -> np.ndarray:
    """Return float32 [words, WIDTH], each of length 1, so that the product of two is their cosine, 0 to 1."""
    import numpy as np

    runs = [Counter(_runs(word)) for word in words]
    seen = Counter(run for one in runs for run in one)
    vectors = np.zeros((len(words), WIDTH), np.float32)
    for rank, one in enumerate(runs):
        for run, count in one.items():
            vectors[rank, crc32(run.encode()) % WIDTH] += (1 + math.log(count)) * math.log((1 + len(words)) / seen[run])
    return vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-6)


def _runs(word: str) -> list[str]:
    bounded = f" {word} "
    return [bounded[at : at + size] for size in _RUNS for at in range(len(bounded) - size + 1)]
