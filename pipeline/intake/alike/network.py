"""A sentence encoder of six transformer layers, read from its ONNX file and reckoned by numpy in float32.

The network is all-MiniLM-L6-v2 (Apache-2.0), its weights whole numbers of 8 bits, each column (of tables: row) with a scale. Sources: ONNX,
``onnx.proto3``, for the file; Vaswani et al., "Attention Is All You Need" (2017), and Devlin et al. (2019) for the layers; Hendrycks and
Gimpel, "Gaussian Error Linear Units" (2016), for the bend between them, in its form with tanh.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.alike.pieces import numbers

if TYPE_CHECKING:
    import numpy as np

_LAYERS, _HEADS, WIDTH = 6, 12, 384
_AT_ONCE = 400  # pieces of several texts that go through a layer together
_PARTS = ("query", "key", "value", "out", "wide", "narrow")  # matrices of a layer, in the order of the file
_GRAPH, _INITIALIZER = 7, 5  # fields of ModelProto and GraphProto
_DIMS, _TYPE, _NAME, _RAW = 1, 2, 8, 9  # fields of TensorProto


class Network:
    """The encoder."""

    def __init__(self, path: Path) -> None:
        """Read the weights.

        Args:
            path: of the ONNX file, whose digest the caller has compared.
        """
        stored = _stored(path.read_bytes())
        lead = "inner.embeddings."
        self._words = stored[lead + "word_embeddings.weight_q"], stored[lead + "word_embeddings.weight_scale"]
        self._places = stored[lead + "position_embeddings.weight_q"] * stored[lead + "position_embeddings.weight_scale"]
        self._kind = stored[lead + "token_type_embeddings.weight"][0]
        self._first = stored[lead + "LayerNorm.weight"], stored[lead + "LayerNorm.bias"]
        columns = [name[:-2] for name in stored if name.startswith("val_") and name.endswith("_q")]
        self._layers = [_layer(stored, rank, columns[rank * len(_PARTS) : (rank + 1) * len(_PARTS)]) for rank in range(_LAYERS)]

    def __call__(self, texts: Sequence[str]) -> np.ndarray:
        """Return the vectors of some texts, each of length 1: float32 [texts, 384]."""
        import numpy as np

        found = np.zeros((len(texts), WIDTH), np.float32)
        waiting: list[tuple[int, list[int]]] = []
        for rank, text in enumerate(texts):
            waiting.append((rank, numbers(text)))
            if rank == len(texts) - 1 or sum(len(pieces) for _, pieces in waiting) >= _AT_ONCE:
                found[[at for at, _ in waiting]] = self._encoded([pieces for _, pieces in waiting])
                waiting = []
        return found

    def _encoded(self, texts: list[list[int]]) -> np.ndarray:
        import numpy as np

        flat = np.concatenate([np.array(pieces) for pieces in texts])
        places = np.concatenate([np.arange(len(pieces)) for pieces in texts])
        ends = np.cumsum([len(pieces) for pieces in texts])
        spans = [slice(end - len(pieces), end) for pieces, end in zip(texts, ends.tolist(), strict=True)]
        table, scale = self._words
        state = _levelled(table[flat] * scale[flat] + self._places[places] + self._kind, *self._first)
        for layer in self._layers:
            state = _levelled(state + _mixed(state, layer, spans) @ layer["out"] + layer["out.bias"], *layer["after out"])
            wide = state @ layer["wide"] + layer["wide.bias"]
            wide *= 0.5 * (1 + np.tanh(np.float32(0.7978845608) * wide * (1 + np.float32(0.044715) * wide * wide)))
            state = _levelled(state + wide @ layer["narrow"] + layer["narrow.bias"], *layer["after narrow"])
        means = np.stack([state[span].mean(0) for span in spans])
        return means / np.linalg.norm(means, axis=1, keepdims=True)


def _mixed(state: np.ndarray, layer: dict, spans: list[slice]) -> np.ndarray:
    """Return what each piece takes from the pieces of its text: float32 [pieces, 384]."""
    import numpy as np

    query, key, value = (
        (state @ layer[part] + layer[part + ".bias"]).reshape(-1, _HEADS, WIDTH // _HEADS).transpose(1, 0, 2)
        for part in ("query", "key", "value")
    )
    found = np.empty_like(state)
    for span in spans:
        score = query[:, span] @ key[:, span].transpose(0, 2, 1) / np.float32((WIDTH // _HEADS) ** 0.5)
        score = np.exp(score - score.max(-1, keepdims=True))
        score /= score.sum(-1, keepdims=True)
        found[span] = (score @ value[:, span]).transpose(1, 0, 2).reshape(-1, WIDTH)
    return found


def _levelled(state: np.ndarray, weight: np.ndarray, bias: np.ndarray) -> np.ndarray:
    import numpy as np

    state = state - state.mean(-1, keepdims=True)
    return state / np.sqrt((state * state).mean(-1, keepdims=True) + np.float32(1e-12)) * weight + bias


def _layer(stored: dict[str, np.ndarray], rank: int, columns: list[str]) -> dict:
    import numpy as np

    lead = f"inner.encoder.layer.{rank}."
    kept: dict = {part: np.float32(stored[name + "_q"] * stored[name + "_scale"]) for part, name in zip(_PARTS, columns, strict=True)}
    kept |= {f"{part}.bias": stored[f"{lead}attention.self.{part}.bias"] for part in ("query", "key", "value")}
    for part, name in (("out", "attention.output"), ("narrow", "output")):
        kept[f"{part}.bias"] = stored[f"{lead}{name}.dense.bias"]
        kept[f"after {part}"] = stored[f"{lead}{name}.LayerNorm.weight"], stored[f"{lead}{name}.LayerNorm.bias"]
    return kept | {"wide.bias": stored[f"{lead}intermediate.dense.bias"]}


def _stored(data: bytes) -> dict[str, np.ndarray]:
    """Return the arrays of an ONNX file by name, in the order of the file; those of other types than float and int8 are left out."""
    import numpy as np

    types = {1: np.dtype("<f4"), 3: np.dtype("i1")}
    graph = next(value for field, value in _fields(memoryview(data)) if field == _GRAPH and isinstance(value, memoryview))
    found = {}
    for field, value in _fields(graph):
        if field == _INITIALIZER and isinstance(value, memoryview):
            parts: dict[int, list] = {}
            for part, content in _fields(value):
                parts.setdefault(part, []).append(content)
            if parts[_TYPE][0] in types and _RAW in parts:
                shape = parts.get(_DIMS, [])
                found[bytes(parts[_NAME][0]).decode()] = np.frombuffer(parts[_RAW][0], types[parts[_TYPE][0]]).reshape(shape)
    return found


def _fields(data: memoryview) -> Iterator[tuple[int, int | memoryview]]:
    """Yield number and value of each field of a message in the wire format of Protocol Buffers."""
    at = 0
    while at < len(data):
        tag, at = _varint(data, at)
        if tag & 7 == 0:
            value, at = _varint(data, at)
        else:
            size, at = _varint(data, at) if tag & 7 == 2 else ({1: 8, 5: 4}[tag & 7], at)
            value, at = data[at : at + size], at + size
        yield tag >> 3, value


def _varint(data: memoryview, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = data[at]
        value, shift, at = value | (byte & 127) << shift, shift + 7, at + 1
        if byte < 128:
            return value, at
