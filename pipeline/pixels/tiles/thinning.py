"""Far too many tiles made fewer, before all of them are compared with each other.

Tiles are parted into groups that look alike as a whole, and of each group the tiles that are missed least are dropped.
"""

from __future__ import annotations

import numpy as np

from pipeline.pixels.tiles.medoids import costs, drop

_GROUP = 768  # tiles compared with each other


def thin(tiles: np.ndarray, uses: np.ndarray, most: int, points: np.ndarray, flips: list[int]) -> tuple[np.ndarray, np.ndarray]:
    """Return at most ``most`` tiles, and their uses together with those of the tiles they replace.

    Args:
        tiles, uses, points, flips: as ``medoids.costs`` takes them.
        most: at least 1.

    Returns:
        Numbers of tiles, rising, int64, shape (m,), and uses, int64, shape (lines, m).
    """
    kept, moved = [], []
    # No group is smaller than half of the most, so each of them keeps a tile of its share.
    for group in _groups(_looks(tiles, uses, points), max(_GROUP, 2 * -(-len(tiles) // most))):
        share = max(1, len(group) * most // len(tiles))
        cost = costs(tiles[group], uses[:, group], tiles[group], points, flips)
        left = drop(cost, share)
        owner = np.argmin(cost[:, left], axis=1)
        kept.append(group[left])
        moved.append(np.stack([np.bincount(owner, one[group], minlength=share).astype(np.int64) for one in uses]))
    order = np.argsort(np.concatenate(kept))
    return np.concatenate(kept)[order], np.concatenate(moved, axis=1)[:, order]


def _looks(tiles: np.ndarray, uses: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Return what each tile looks like as a whole, mirrored or not: sums of its points, and of the squares of the first."""
    line = np.argmax(uses, axis=0)
    seen = points[line[:, None, None], tiles].reshape(len(tiles), -1, points.shape[-1])
    size = seen.shape[1]
    spread = (seen[..., 0] * seen[..., 0]).sum(axis=1) * size - seen[..., 0].sum(axis=1) ** 2  # of whole numbers, exact
    return np.concatenate([seen.sum(axis=1), np.floor(np.sqrt(spread))[:, None]], axis=1)


def _groups(looks: np.ndarray, most: int) -> list[np.ndarray]:
    """Halve the tiles along the axis on which they differ most, again and again, until no group has more than ``most``."""
    ready, waiting = [], [np.arange(len(looks))]
    while waiting:
        group = waiting.pop()
        if len(group) <= most:
            ready.append(group)
            continue
        axis = int(np.argmax(np.ptp(looks[group], axis=0)))
        order = group[np.argsort(looks[group, axis], kind="stable")]
        waiting += [np.sort(order[: len(order) // 2]), np.sort(order[len(order) // 2 :])]
    return ready
