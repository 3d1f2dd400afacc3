"""Words in pieces, as the English encoder was trained on them: WordPiece, the longest piece first, of lower-case text without accents.

The 30,522 pieces in ``pieces.txt.gz`` are those of BERT, uncased (Apache-2.0); the rank of a piece is its number. Rules: Devlin et al.,
"BERT: Pre-training of Deep Bidirectional Transformers" (2019), and the code published with it.
"""

from __future__ import annotations

import gzip
import re
import unicodedata
from functools import cache
from pathlib import Path

_FIRST, _LAST, _UNKNOWN = "[CLS]", "[SEP]", "[UNK]"
_WORD = re.compile(r"\w+|[^\w\s]")
_MOST = 256  # pieces of a text that are read


@cache
def _pieces() -> dict[str, int]:
    text = gzip.decompress(Path(__file__).with_name("pieces.txt.gz").read_bytes()).decode()
    return {piece: rank for rank, piece in enumerate(text.splitlines())}


def numbers(text: str) -> list[int]:
    """Return the numbers of a text's pieces, between those of its beginning and its end; at most 256."""
    known = _pieces()
    plain = "".join(char for char in unicodedata.normalize("NFD", text.lower()) if unicodedata.category(char) != "Mn")
    found = [known[piece] for word in _WORD.findall(plain[: 8 * _MOST]) for piece in _cut(word.strip("_") or "_", known)]
    return [known[_FIRST], *found[: _MOST - 2], known[_LAST]]


def _cut(word: str, known: dict[str, int]) -> list[str]:
    found, start = [], 0
    while start < len(word):
        lead = "##" if start else ""
        end = next((end for end in range(len(word), start, -1) if lead + word[start:end] in known), start)
        if end == start:
            return [_UNKNOWN]
        found.append(lead + word[start:end])
        start = end
    return found
