"""Documents as trees of parts, so that they can be damaged and made smaller without losing their structure.

A leaf is bytes. A ``Part`` is a list of nodes and a rule by which their bytes become its own: a chunk's rule adds length
and sum, a TOML array's the commas. What is done to a node inside therefore leaves everything around it in order.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

Node = "Part | bytes"
EXTREMES = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
MOST_BYTES = 1 << 20  # of a document; one that grew beyond is cut


def joined(pieces: list[bytes]) -> bytes:
    """Return the pieces one after another."""
    return b"".join(pieces)


@dataclass
class Part:
    """Some nodes, and how their bytes become one."""

    nodes: list = field(default_factory=list)
    rule: Callable[[list[bytes]], bytes] = joined


def rendered(node: Node) -> bytes:
    """Return the bytes of a tree."""
    return node if isinstance(node, bytes) else node.rule([rendered(one) for one in node.nodes])


def copied(node: Node) -> Node:
    """Return a copy that shares nothing that changes."""
    return node if isinstance(node, bytes) else Part([copied(one) for one in node.nodes], node.rule)


def places(node: Node, path: tuple[int, ...] = ()) -> Iterator[tuple[int, ...]]:
    """Yield the path of every node below the top, the nearest to it first within each branch."""
    if isinstance(node, Part):
        for rank, one in enumerate(node.nodes):
            yield (*path, rank)
            yield from places(one, (*path, rank))


def owner(node: Part, path: tuple[int, ...]) -> Part:
    """Return the part that holds the node at a path."""
    for rank in path[:-1]:
        node = node.nodes[rank]
    return node


def damaged(chance: random.Random, top: Part, count: int) -> Part:
    """Return a copy with some changes of structure, and now and then of bytes whose sums are then not corrected."""
    top = copied(top)
    for _ in range(count):
        _CHANGES[chance.randrange(len(_CHANGES))](chance, top)
    if count and chance.random() < 0.25:
        data = _changed_bytes(chance, rendered(top)[:MOST_BYTES])
        top = Part([data[at : at + 64] for at in range(0, len(data), 64)])
    return top


def _some_place(chance: random.Random, top: Part, leaf: bool | None = None) -> tuple[Part, int] | None:
    found = list(places(top))
    if leaf is not None:
        found = [path for path in found if isinstance(owner(top, path).nodes[path[-1]], bytes) == leaf]
    if not found:
        return None
    path = chance.choice(found)
    return owner(top, path), path[-1]


def _drop(chance: random.Random, top: Part) -> None:
    if place := _some_place(chance, top):
        del place[0].nodes[place[1]]


def _repeat(chance: random.Random, top: Part) -> None:
    if place := _some_place(chance, top):
        times = chance.choice((1, 1, 1, 2, 7, 50))
        place[0].nodes[place[1] : place[1]] = [copied(place[0].nodes[place[1]]) for _ in range(times)]


def _swap(chance: random.Random, top: Part) -> None:
    first, second = _some_place(chance, top), _some_place(chance, top)
    if first and second and first[0] is second[0]:
        nodes, (one, other) = first[0].nodes, (first[1], second[1])
        nodes[one], nodes[other] = nodes[other], nodes[one]
    elif first and len(first[0].nodes) > 1:
        chance.shuffle(first[0].nodes)


def _move(chance: random.Random, top: Part) -> None:
    first, second = _some_place(chance, top), _some_place(chance, top)
    if first and second:
        second[0].nodes.insert(second[1], copied(first[0].nodes[first[1]]))


def _resize(chance: random.Random, top: Part) -> None:
    place = _some_place(chance, top, leaf=True)
    if place:
        data = place[0].nodes[place[1]]
        cut = data[: chance.randrange(len(data) + 1)]
        place[0].nodes[place[1]] = chance.choice((cut, data + data, data + bytes(chance.choice((1, 3, 300))), b""))


def _change_leaf(chance: random.Random, top: Part) -> None:
    place = _some_place(chance, top, leaf=True)
    if place and place[0].nodes[place[1]]:
        place[0].nodes[place[1]] = _changed_bytes(chance, place[0].nodes[place[1]])


def _changed_bytes(chance: random.Random, data: bytes) -> bytes:
    """Return bytes with one place flipped, overwritten, lengthened or taken out."""
    if not data:
        return bytes([chance.randrange(256)])
    changed, at = bytearray(data), chance.randrange(len(data))
    kind = chance.randrange(6)
    if kind == 0:
        changed[at] ^= 1 << chance.randrange(8)
    elif kind == 1:
        width = chance.choice((1, 2, 4))
        number = (chance.choice(EXTREMES) & ((1 << 8 * width) - 1)).to_bytes(width, chance.choice(("big", "little")))
        changed[at : at + width] = number
    elif kind == 2:
        changed[at:at] = chance.randbytes(chance.choice((1, 2, 5, 40)))
    elif kind == 3:
        del changed[at : at + chance.choice((1, 2, 8, 100))]
    elif kind == 4:
        changed[at : at + 4] = changed[chance.randrange(len(data)) :][:4]
    else:
        changed[at] = chance.randrange(256)
    return bytes(changed)


_CHANGES = (_drop, _repeat, _swap, _move, _resize, _change_leaf, _change_leaf)


def smaller(top: Part) -> Iterator[Part]:
    """Yield copies of a tree that lack some nodes of a part, then one, then copies with a shorter leaf; large ones first."""
    every = sorted(
        ((len(rendered(owner(top, path).nodes[path[-1]])), path) for path in places(top)), key=lambda one: (-one[0], len(one[1]))
    )
    for _, path in [(0, ()), *every]:
        part = top if not path else owner(top, path).nodes[path[-1]]
        if isinstance(part, Part) and len(part.nodes) > 3:
            for half in (slice(None, len(part.nodes) // 2), slice(len(part.nodes) // 2, None)):
                made = copied(top)
                del (made if not path else owner(made, path).nodes[path[-1]]).nodes[half]
                yield made
    for _, path in every:
        made = copied(top)
        del owner(made, path).nodes[path[-1]]
        yield made
    for _, path in every:
        leaf = owner(top, path).nodes[path[-1]]
        if isinstance(leaf, bytes) and len(leaf) > 1:
            for kept in (leaf[: len(leaf) // 2], leaf[len(leaf) // 2 :], leaf[:-1], leaf[1:]):
                made = copied(top)
                owner(made, path).nodes[path[-1]] = kept
                yield made
